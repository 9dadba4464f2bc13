"""What can be chosen on the comparison page, with how much there is of each."""

from __future__ import annotations

from django.db.models import Count

from results.models import Series
from stats.footing.ladder import FOOTINGS

from .choices import ACTIONS, TESTS


def facets() -> dict[str, list[tuple[str, str, int]]]:
    """Choices that some accepted series stands behind, as (code, name, number of series).

    Returns
    -------
    dict
        ``joints`` (with the family's name as a fourth item), ``actions``, ``tests``, ``footings``, ``timbers``,
        ``adhesives``.
    """
    counting = Series.objects.counting()

    def count(*fields: str) -> list[tuple]:
        rows = counting.order_by().values_list(*fields).annotate(n=Count("id"))
        return [row for row in rows if row[0]]

    actions = dict(count("setup__loading__action"))
    tests = dict(count("tests"))
    footings = dict(
        counting.order_by()
        .filter(footings__sum_log__isnull=False)
        .values_list("footings__code")
        .annotate(n=Count("id"))
    )
    joints = count("joint_id", "joint__name", "joint__family__name", "joint__position")
    return {
        "joints": [(code, name, n, family) for code, name, family, _, n in sorted(joints, key=lambda r: r[3])],
        "actions": [(code, name, actions[code]) for code, name in ACTIONS.items() if code in actions],
        "tests": [(code, TESTS[code], tests[code]) for code in ("joint", "bond") if code in tests],
        "footings": [(code, info.name, footings.get(code, 0)) for code, info in FOOTINGS.items()],
        "timbers": sorted(count("timber_id", "timber__name"), key=lambda row: row[1].casefold()),
        "adhesives": sorted(count("adhesive_id", "adhesive__name"), key=lambda row: row[1]),
    }
