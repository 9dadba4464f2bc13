"""What the book knows of a joint: how much stands on each footing, and what was chosen of it, ready to be shown."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import pandas as pd
from django.db.models import Count

from results.evidence import Choices, Comparison, Verdict, compare, unit_of, verdicts
from results.evidence.choices import ACTIONS
from results.evidence.stock import Stock
from results.models import Joint, Series, Specimen, Study
from stats.charts.chart import rows_of
from stats.footing.fields import FIELDS
from stats.footing.ladder import FOOTINGS
from stats.footing.section import AREA_RULES, SECTION_RULES, Rule

from . import scale
from .wording import footing_name, with_unit

TESTS = {"joint": "joint tests", "bond": "bond tests"}
# The footing that is shown unless another is asked for: what holds across most, first.
BEST_FIRST = ("ratio_solid", "stress", "ratio_control", "at_joint", "ratio_solid_matched", "peak_load")
# On these a mean over rigs, sizes and timbers means something without further choices.
ACROSS = ("ratio_solid", "ratio_solid_matched")
CONTROLS = {"solid": "solid wood", "butt": "the plain glued joint"}


def best(stock: Iterable[Stock], action: str = "", tests: str = "", footing: str = "") -> tuple[str, str, str]:
    """Action, kind of test and footing: those asked for, and of what is left open the best-stocked."""
    fitting = [
        one
        for one in stock
        if one.action == (action or one.action)
        and one.tests == (tests or one.tests)
        and one.footing == (footing or one.footing)
    ]
    if not fitting:
        return action or Choices.action, tests or Choices.tests, footing or Choices.footing
    most = max(
        fitting, key=lambda one: (one.studies, one.series, one.tests == "joint", -list(ACTIONS).index(one.action))
    )
    there = {one.footing for one in fitting if (one.action, one.tests) == (most.action, most.tests)}
    return most.action, most.tests, footing or next(code for code in BEST_FIRST if code in there)


@dataclass(frozen=True)
class OnFooting:
    """A joint on one footing: how much there is, and the mean where one is shown."""

    code: str
    name: str
    series: int
    studies: int
    mean: float | None
    low: float | None
    high: float | None
    axis: str
    query: str


@dataclass(frozen=True)
class Against:
    """A joint against a control: in words, with the comparison that says it."""

    control: str
    verdict: Verdict | None
    query: str
    why_not: str = ""


def on_footings(stock: list[Stock], shown: Comparison) -> list[OnFooting]:
    """What stands on each footing under the action and in the kind of test that are shown."""
    choices = shown.choices
    here = {one.footing: one for one in stock if (one.action, one.tests) == (choices.action, choices.tests)}
    return [_on_footing(here[code], shown) for code in FOOTINGS if code in here]


def _on_footing(one: Stock, shown: Comparison) -> OnFooting:
    unit = unit_of(one.footing, one.action)
    choices = replace(shown.choices, footing=one.footing)
    name = with_unit(footing_name(FOOTINGS[one.footing], unit), scale.readers(unit))
    if one.footing == shown.choices.footing:
        found = shown
    elif one.footing in ACROSS:
        found = compare(choices)
    else:
        return OnFooting(one.footing, name, one.series, one.studies, None, None, None, "", choices.query())
    means = () if found.empty else rows_of(scale.frame(found.groups, unit))
    own = ((row.geometric_mean, row.low, row.high) for row in means if row.joint == choices.joints[0])
    mean, low, high = next(own, (None, None, None))
    return OnFooting(one.footing, name, one.series, one.studies, mean, low, high, found.axis, choices.query())


def against_controls(joint: Joint, choices: Choices) -> list[Against]:
    """The joint beside solid wood and beside the plain glued joint, each in words."""
    return [_against(joint, choices, code) for code in CONTROLS if code != joint.pk]


def _against(joint: Joint, choices: Choices, control: str) -> Against:
    both = replace(choices, joints=(joint.pk, control), reference=control)
    found = compare(both)
    own = _plain(found, joint.pk)
    if len(own):
        return Against(CONTROLS[control], verdicts(found.having(ratios=own))[0], both.query())
    there = not found.empty and control in map(found.behind.side.codes().get, found.specimens)
    why = (
        f"No study links it to {CONTROLS[control]}, and this footing doesn't hold across rigs."
        if there
        else f"No test of {CONTROLS[control]} shares this footing with it."
    )
    return Against(CONTROLS[control], None, both.query(), why)


def _plain(found: Comparison, code: str) -> pd.DataFrame:
    """The ratio of a joint itself, not soaked and not cycled; of bonds, of the kind of which there is most."""
    if not len(found.ratios):
        return found.ratios
    told = zip(found.ratios["joint"].tolist(), found.ratios["ratio"].notna().tolist(), strict=True)
    rank = [
        (joint != code, -found.specimens[joint], at)
        for at, (joint, known) in enumerate(told)
        if known and joint.partition("+")[0] == code
    ]
    return found.ratios.iloc[[min(rank)[2]] if rank else []]


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


def series_of(studies: Iterable[Study]) -> dict[int, int]:
    """Series of each study, one query."""
    rows = Series.objects.filter(study__in=[study.pk for study in studies]).order_by()
    return dict(rows.values_list("study").annotate(n=Count("id")))


def joints_of(studies: Iterable[Study]) -> dict[int, list[str]]:
    """Names of the joints in each study, one query."""
    rows = Series.objects.filter(study__in=[study.pk for study in studies]).order_by("joint__position")
    found: dict[int, list[str]] = {}
    for study, name in rows.values_list("study_id", "joint__name").distinct():
        found.setdefault(study, []).append(name)
    return found
