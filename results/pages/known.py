"""What the book knows of a joint: its rules, its dimensions, and how much stands on each footing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count

from results.evidence import Choices, Comparison, compare, unit_of
from results.models import Joint, Loading, Series, SeriesFooting, Specimen, Study
from stats.footing.fields import FIELDS
from stats.footing.ladder import FOOTINGS
from stats.footing.section import AREA_RULES, SECTION_RULES, Rule

from .wording import footing_name, with_unit

# On these footings a mean over rigs, sizes and timbers means something without further choices.
ACROSS = ("ratio_solid", "ratio_solid_matched")


@dataclass(frozen=True)
class OnFooting:
    """How much is known of a joint under one action on one footing."""

    action: str
    name: str
    series: int
    studies: int
    query: str
    row: dict | None = None


def footings_of(joint: Joint) -> list[OnFooting]:
    """What stands on each footing; with the mean over studies where one is meaningful."""
    rows = (
        SeriesFooting.objects.filter(
            series__joint=joint, series__study__status=Study.Status.ACCEPTED, sum_log__isnull=False
        )
        .order_by()
        .values_list("series__setup__loading__action", "code", "series__tests")
        .annotate(n_series=Count("series"), n_studies=Count("series__study", distinct=True))
    )
    counts = {(action, code, tests): (series, studies) for action, code, tests, series, studies in rows}
    found = []
    for action, name in Loading.ACTIONS:
        for code, kind in FOOTINGS.items():
            for tests in ("joint", "bond"):
                if (action, code, tests) not in counts:
                    continue
                choices = Choices(joints=(joint.pk,), action=action, footing=code, tests=tests)
                label = name if tests == "joint" else f"{name}, bond tests"
                row = _mean(compare(choices)) if code in ACROSS else None
                series, studies = counts[action, code, tests]
                unit = unit_of(code, action)
                footing = with_unit(footing_name(kind, unit), unit)
                found.append(OnFooting(label, footing, series, studies, choices.query(), row))
    return found


def _mean(found: Comparison) -> dict | None:
    return None if found.empty else found.groups.iloc[0].to_dict()


def rules_of(joint: Joint) -> list[tuple[str, Rule]]:
    """The rules that its bonded area and its section are computed by."""
    rules = [
        ("Bonded area", AREA_RULES.get(joint.area_rule)),
        ("Section that carries a moment", SECTION_RULES.get(joint.section_rule)),
    ]
    return [(name, rule) for name, rule in rules if rule]


def dims_of(joint: Joint) -> list[tuple[str, str, bool]]:
    """Its dimensions: name, what it is, whether the rules need it."""
    needed = set(joint.needs_dims.split())
    return [(name, FIELDS[name].words if name in FIELDS else "", name in needed) for name in joint.dims]


def specimens_of(studies: Iterable[Study]) -> dict[int, int]:
    """Specimens of each study, one query."""
    rows = Specimen.objects.filter(series__study__in=[study.pk for study in studies]).order_by()
    return dict(rows.values_list("series__study").annotate(n=Count("id")))


def joints_of(studies: Iterable[Study]) -> dict[int, list[str]]:
    """Names of the joints in each study, one query."""
    rows = Series.objects.filter(study__in=[study.pk for study in studies]).order_by("joint__position")
    found: dict[int, list[str]] = {}
    for study, name in rows.values_list("study_id", "joint__name").distinct():
        found.setdefault(study, []).append(name)
    return found
