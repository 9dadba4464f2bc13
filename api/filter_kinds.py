"""What a parameter that chooses rows may hold, and which rows it leaves."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

import django_filters
from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Model, Q, QuerySet
from django.http import HttpRequest

from results.evidence.choices import is_a_family
from results.models import Joint

from .errors import nearest

Known = Callable[[HttpRequest], Iterable[str]]


class _Values(forms.Field):
    """All values of a repeated parameter; a value left empty, as a form sends it, is no value."""

    widget = forms.MultipleHiddenInput

    def __init__(self, *, check: Callable[[list[str]], list[tuple[str, str]]], **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.check = check

    def clean(self, value: Sequence[str] | None) -> list[str]:
        given = list(dict.fromkeys(one for one in value or () if one != ""))
        if given and (faults := self.check(given)):
            raise ValidationError([ValidationError("%(detail)s", params={"value": v, "detail": d}) for v, d in faults])
        return given


class Words(django_filters.Filter):
    """Rows whose field holds one of the words given; repeating the parameter means "or".

    Parameters
    ----------
    field_name : str
        Path of the field.
    known : callable
        Takes the request, gives the words that may be asked for.
    default : sequence of str, optional
        What is meant when none is given; without it all rows are.
    """

    field_class = _Values

    def __init__(self, field_name: str, known: Known, default: Sequence[str] = ()) -> None:
        super().__init__(field_name)
        self.known = known
        self.default = list(default)

    @property
    def field(self) -> forms.Field:
        if not hasattr(self, "_field"):
            self._field = _Values(required=False, check=self.faults)
        return self._field

    def faults(self, given: list[str]) -> list[tuple[str, str]]:
        """Each value that can't be used, and why."""
        known = list(self.known(self.parent.request))
        return [(value, f"is not known. {nearest(value, known)}") for value in given if value not in known]

    def wanted(self, given: list[str]) -> list[Any]:
        """What the field may hold."""
        return given or self.default

    def filter(self, rows: QuerySet, given: list[str], path: str = "") -> QuerySet:
        wanted = self.wanted(given)
        return rows.filter(**{f"{path or self.field_name}__in": wanted}) if wanted else rows


class Joints(Words):
    """Rows of some joints; whoever names a family is told its joints, and not another joint of a like name."""

    def __init__(self, field_name: str) -> None:
        super().__init__(field_name, codes(Joint))

    def faults(self, given: list[str]) -> list[tuple[str, str]]:
        return [(value, is_a_family(value) or why) for value, why in super().faults(given)]


class Flags(Words):
    """Rows that are something, or aren't; "with" and "without" are what the pages say: both, or those that aren't."""

    MEANS: Mapping[str, tuple[bool, ...]] = {
        "true": (True,),
        "false": (False,),
        "with": (True, False),
        "without": (False,),
    }

    def __init__(self, field_name: str) -> None:
        super().__init__(field_name, lambda request: self.MEANS)

    def wanted(self, given: list[str]) -> list[bool]:
        return sorted({state for word in given for state in self.MEANS[word]})


class Present(Flags):
    """Rows that have something, or haven't."""

    MEANS: Mapping[str, tuple[bool, ...]] = {"true": (True,), "false": (False,)}

    def filter(self, rows: QuerySet, given: list[str], path: str = "") -> QuerySet:
        wanted = self.wanted(given)
        return rows.filter(**{f"{path or self.field_name}__isnull": not wanted[0]}) if len(wanted) == 1 else rows


class Numbers(Words):
    """Rows that belong to the studies or series of these numbers."""

    def __init__(self, field_name: str, what: str) -> None:
        super().__init__(field_name, lambda request: ())
        self.what = what

    def faults(self, given: list[str]) -> list[tuple[str, str]]:
        return [
            (value, f"is not a number of a {self.what}; it is a whole number, as in {self.what}=12.")
            for value in given
            if not (value.isascii() and value.isdigit() and len(value) < 19)
        ]

    def wanted(self, given: list[str]) -> list[int]:
        return [int(value) for value in given]


class Search(Words):
    """Rows in which each of the words given stands in one of some fields, whatever its case.

    Parameters
    ----------
    *fields : str
        Paths of the fields.
    """

    MOST = 100

    def __init__(self, *fields: str) -> None:
        super().__init__(fields[0], lambda request: ())
        self.fields = fields

    def faults(self, given: list[str]) -> list[tuple[str, str]]:
        return [
            (value, f"can't be looked for; it is words of at most {self.MOST} letters in all.")
            for value in given
            if len(value) > self.MOST or "\0" in value
        ]

    def filter(self, rows: QuerySet, given: list[str], path: str = "") -> QuerySet:
        for word in " ".join(given).split():
            anywhere = Q()
            for field in self.fields:
                anywhere |= Q(**{f"{field}__icontains": word})
            rows = rows.filter(anywhere)
        return rows


def codes(model: type[Model]) -> Known:
    """The codes of a vocabulary table."""
    return lambda request: model._default_manager.values_list("pk", flat=True)


def choices(pairs: Iterable[tuple[str, str]]) -> Known:
    """The codes of a fixed choice."""
    known = [str(code) for code, _ in pairs if code]
    return lambda request: known
