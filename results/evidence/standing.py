"""What was handed in against what the book would lead one to expect, for whoever reviews it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from results.models import Finding, Series, Setup

from .beside import FOOTINGS, beside
from .draft import Draft, Noticed
from .expect import Expected, expectations
from .restate import as_findings
from .study import Numbers, SeriesView, StudyView, footings_of

# Of the log of a ratio, for 95 % of a normal distribution.
Z95 = 1.96
IMPOSSIBLE = "impossible"


@dataclass(frozen=True)
class Against:
    """One series against the book.

    Parameters
    ----------
    label, joint, action, timber : str
        The series, and in words what it is.
    footing, unit : str
        The footing that it is told on: the first on which others stand beside it, else the first it has; empty
        where it has none.
    mean, low, high : float or None
        Its geometric mean there, and the interval where it has one.
    n : int or None
        Specimens behind it; None for a published mean without a count.
    at_least : bool
        Whether the mean is only a lower bound.
    others : dict or None
        A row of `beside`: what the other studies gave for this joint, action and, where it matters, timber.
    alone : str
        Why nothing stands beside it, if nothing does.
    ratio_solid : float or None
        What it shows as a ratio to solid wood.
    expected : Expected or None
        What that ratio was expected to be.
    tried, beyond : int
        How many values were asked whether wood can take so much, and of how many that was doubted.
    """

    label: str
    joint: str
    action: str
    timber: str
    footing: str
    unit: str
    mean: float | None
    low: float | None
    high: float | None
    n: int | None
    at_least: bool
    others: dict[str, Any] | None
    alone: str
    ratio_solid: float | None
    expected: Expected | None
    tried: int
    beyond: int

    @property
    def within(self) -> bool | None:
        """Whether it lies where the next shop should expect to; None below three other studies."""
        if self.others is None or math.isnan(self.others["others_prediction_low"]):
            return None
        low, high = (self.others[f"others_prediction_{end}"] for end in ("low", "high"))
        return bool(low <= self.others["mean"] <= high)

    @property
    def expected_range(self) -> tuple[float, float, float] | None:
        """The ratio to solid wood that was expected, and the range of 95 %."""
        if self.expected is None:
            return None
        mean, reach = self.expected.mean_log, Z95 * self.expected.sd_log
        return math.exp(mean), math.exp(mean - reach), math.exp(mean + reach)


def proposed_view(draft: Draft, noticed: list[Noticed]) -> StudyView:
    """What `study_view` gathers, of a study that needn't be saved.

    Parameters
    ----------
    draft : Draft
        With its footings stated. Records that have no number yet get one below zero.
    noticed : list of Noticed
        All its findings.
    """
    _number(draft)
    stored: dict[str, list] = {}
    for row in draft.footings:
        stored.setdefault(row.series.label, []).append(row)
    findings = as_findings(draft, noticed)
    of_series: dict[str, list[Finding]] = {}
    for told, finding in zip(noticed, findings, strict=True):
        of_series.setdefault(told.series, []).append(finding)
    series = []
    for one in draft.series:
        specimens = draft.specimens.get(one.label, [])
        footings = footings_of(one, stored.get(one.label, []), specimens)
        series.append(SeriesView(one, footings, specimens, of_series.get(one.label, [])))
    return StudyView(draft.study, series, findings)


def against_book(draft: Draft, noticed: list[Noticed], *, invented: bool) -> list[Against]:
    """Set each series of a study, accepted or not, against all other accepted studies.

    Parameters
    ----------
    draft : Draft
        With its footings stated.
    noticed : list of Noticed
        All its findings.
    invented : bool
        Whether invented studies are among the others.

    Returns
    -------
    list of Against
        One a series, in their order.
    """
    view = proposed_view(draft, noticed)
    found = beside(view, invented=invented)
    rows = {row["series"]: row for row in found.rows.to_dict("records")}
    alone = dict(found.alone)
    ratios = {one.series.label: _numbers(one, "ratio_solid") for one in view.series}
    expected = expectations(draft.series, {label: on.geometric_mean if on else None for label, on in ratios.items()})
    beyond: dict[str, int] = {}
    for one in noticed:
        if one.code == IMPOSSIBLE:
            beyond[one.series] = beyond.get(one.series, 0) + 1
    return [
        _against(
            one,
            rows.get(one.series.label),
            alone.get(one.series.label, ""),
            ratios[one.series.label],
            expected.get(one.series.label),
            beyond.get(one.series.label, 0),
        )
        for one in view.series
    ]


def _against(
    one: SeriesView,
    row: dict[str, Any] | None,
    alone: str,
    ratio: Numbers | None,
    expected: Expected | None,
    beyond: int,
) -> Against:
    series = one.series
    first = next((code for code in (*FOOTINGS, "peak_load") if _numbers(one, code)), "")
    footing = row["footing"] if row else first
    numbers = _numbers(one, footing) if footing else None
    interval = numbers.interval if numbers else None
    if row:
        mean, low, high = row["mean"], row["low"], row["high"]
    else:
        mean = numbers.geometric_mean if numbers else None
        low, high = (interval.low, interval.high) if interval else (None, None)
    return Against(
        label=series.label,
        joint=series.joint.name,
        action=series.setup.loading.get_action_display(),
        timber=series.timber.name if series.timber else "",
        footing=footing,
        unit=one.footings[footing].stored.unit if footing else "",
        mean=mean,
        low=None if low is None or math.isnan(low) else low,
        high=None if high is None or math.isnan(high) else high,
        n=numbers.n if numbers else None,
        at_least=bool(numbers and numbers.at_least),
        others=row,
        alone=alone,
        ratio_solid=ratio.geometric_mean if ratio else None,
        expected=expected,
        tried=ratio.n if ratio else 0,
        beyond=beyond,
    )


def _numbers(one: SeriesView, code: str) -> Numbers | None:
    """A series on a footing, published means among them."""
    on = one.footings[code]
    if not on.available or not one.series.is_summary:
        return on.numbers
    n = on.stored.n or 1
    return Numbers(n, 0, math.exp((on.stored.sum_log or 0.0) / n), None, False, None, None)


def _number(draft: Draft) -> None:
    """Give records that aren't saved numbers to be told apart by, which no saved record has."""
    for at, setup in enumerate(draft.setups, 1):
        setup.pk = setup.pk or -at
    for at, series in enumerate(draft.series, 1):
        series.pk = series.pk or -at
        if series.label not in draft.summaries:
            # Known to have none, so that the database isn't asked for it.
            Series._meta.get_field("summary").set_cached_value(series, None)
    for series in draft.series:
        # Set anew, so that they hold the number too.
        series.setup = _same(draft.setups, series.setup)
        series.control = series.control


def _same(setups: list[Setup], wanted: Setup) -> Setup:
    return next(one for one in setups if one.label == wanted.label)
