"""Database constraints that many records share."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import CheckConstraint, Q

# Beyond this no reading, length or strength in a wood shop is real; it also keeps infinities out.
LARGEST = 1e9


def positive(fields: Iterable[str]) -> list[CheckConstraint]:
    """Each field is empty or a number above zero and below `LARGEST`."""
    return [
        CheckConstraint(
            condition=Q(**{f"{field}__isnull": True}) | Q(**{f"{field}__gt": 0, f"{field}__lt": LARGEST}),
            name=f"%(class)s_{field}_gt0",
        )
        for field in fields
    ]


def between(field: str, low: float, high: float) -> CheckConstraint:
    """The field is empty or lies from `low` to `high`."""
    return CheckConstraint(
        condition=Q(**{f"{field}__isnull": True}) | Q(**{f"{field}__gte": low, f"{field}__lte": high}),
        name=f"%(class)s_{field}_range",
    )


def one_of(field: str, values: Iterable[str]) -> CheckConstraint:
    """The field holds one of the values."""
    return CheckConstraint(condition=Q(**{f"{field}__in": list(values)}), name=f"%(class)s_{field}_known")
