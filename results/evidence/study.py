"""What a study's page shows: every series with its footings, numbers, specimens and findings."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from results.models import Finding, Series, SeriesFooting, Specimen, Study
from stats.errors import StatsError
from stats.footing.ladder import FOOTINGS, FootingKind
from stats.inference import censored, describe, tolerance
from stats.interval import Interval

from .frames import specimen_field

T = TypeVar("T")
LEVEL = 0.95
# Values of one footing over those of another that differ by no more than this have one factor between them.
ONE_FACTOR = 1e-9


@dataclass(frozen=True)
class Numbers:
    """The figures of a series that its page shows; held specimens count as stronger than read.

    Where none can be counted so (fewer than two broke), ``at_least`` is true: the mean is as read, a lower bound.
    """

    n: int
    held: int
    geometric_mean: float
    interval: Interval | None
    at_least: bool
    cv: float | None
    limit: float | None

    def times(self, factor: float) -> Numbers:
        """The same series on a footing that is so many times this one: all figures but the cv follow."""
        interval = self.interval
        return replace(
            self,
            geometric_mean=self.geometric_mean * factor,
            interval=interval and Interval(interval.low * factor, interval.high * factor, interval.level),
            limit=self.limit and self.limit * factor,
        )


@dataclass(frozen=True)
class OnFooting:
    """A series on one footing: the stored row, what it is, and its numbers with and without flagged specimens."""

    info: FootingKind
    stored: SeriesFooting
    numbers: Numbers | None
    numbers_without: Numbers | None

    @property
    def available(self) -> bool:
        return self.stored.sum_log is not None


@dataclass(frozen=True)
class SeriesView:
    series: Series
    footings: dict[str, OnFooting]
    specimens: list[Specimen]
    findings: list[Finding]

    @property
    def flagged(self) -> int:
        return sum(specimen.flagged for specimen in self.specimens)

    @property
    def void(self) -> int:
        return sum(specimen.outcome == Specimen.Outcome.VOID for specimen in self.specimens)

    @property
    def first(self) -> Specimen | None:
        """The first specimen that says something: the one that workings are shown for."""
        return next((one for one in self.specimens if one.outcome != Specimen.Outcome.VOID), None)


@dataclass(frozen=True)
class StudyView:
    study: Study
    series: list[SeriesView]
    findings: list[Finding] = field(default_factory=list)

    @property
    def counts(self) -> dict[str, int]:
        """Findings by severity."""
        counts: dict[str, int] = {}
        for finding in self.findings:
            counts[finding.severity] = counts.get(finding.severity, 0) + 1
        return counts


def study_view(study: Study) -> StudyView:
    """Gather a study's records, stored footings and numbers in a fixed number of queries."""
    series = list(
        study.series.select_related(
            "setup__loading", "setup__instrument", "joint__family", "timber", "adhesive", "control", "summary"
        )
    )
    specimens = _by_series(
        Specimen.objects.filter(series__study=study).select_related("failure_place").order_by("position", "id")
    )
    stored = _by_series(SeriesFooting.objects.filter(series__study=study))
    findings = list(study.findings.select_related("series", "specimen"))
    of_series = _by_series([one for one in findings if one.series_id])
    return StudyView(
        study=study,
        series=[
            SeriesView(
                series=one,
                footings=footings_of(one, stored.get(one.pk, []), specimens.get(one.pk, [])),
                specimens=specimens.get(one.pk, []),
                findings=of_series.get(one.pk, []),
            )
            for one in series
        ],
        findings=findings,
    )


def _by_series(rows) -> dict[int, list]:
    found: dict[int, list] = {}
    for row in rows:
        found.setdefault(row.series_id, []).append(row)
    return found


def footings_of(series: Series, stored: list[SeriesFooting], specimens: list[Specimen]) -> dict[str, OnFooting]:
    """A series on every footing, by code: what is stored of it, and its numbers with and without flagged specimens."""
    by_code = {row.code: row for row in stored}
    action = series.setup.loading.action
    told = [one for one in specimens if one.outcome != Specimen.Outcome.VOID]
    kept = [one for one in told if not one.flagged]
    every, unflagged = _Described(told), _Described(kept)
    views = {}
    for code, info in FOOTINGS.items():
        name = specimen_field(code, action)
        row = by_code.get(code) or SeriesFooting(series=series, code=code, unit=info.unit)
        numbers = every.on(name)
        without = unflagged.on(name) if len(kept) < len(told) else numbers
        views[code] = OnFooting(info=info, stored=row, numbers=numbers, numbers_without=without)
    return views


class _Described:
    """Describes specimens on one footing after another; where one factor leads from footing to footing, only once."""

    def __init__(self, specimens: list[Specimen]) -> None:
        self.specimens = specimens
        self.known: list[tuple[NDArray[np.float64], Numbers]] = []

    def on(self, name: str) -> Numbers | None:
        having = [one for one in self.specimens if getattr(one, name) is not None]
        if not having:
            return None
        values = np.array([getattr(one, name) for one in having], dtype=float)
        for before, numbers in self.known:
            if before.size == values.size == len(self.specimens):
                factor = values / before
                if np.ptp(factor) <= ONE_FACTOR * factor[0]:
                    return numbers.times(float(factor[0]))
        try:
            found = described(values, np.array([one.outcome == Specimen.Outcome.BROKE for one in having], dtype=bool))
        except StatsError:
            return None
        self.known.append((values, found))
        return found


def described(values: NDArray[np.float64], broke: NDArray[np.bool_]) -> Numbers:
    """The figures that a page shows of a series, and no more: `describe.summary` gives them all, which takes longer.

    Raises
    ------
    StatsError
        If a value is not a positive number.
    """
    n, held = values.size, int((~broke).sum())
    logs = np.log(values)
    as_read = describe.from_sums(n, float(logs.sum()), float((logs**2).sum()), held, level=LEVEL)
    # All readings alike say nothing of the spread.
    spread = n > 1 and float(np.ptp(values)) > 0
    limit = _or_none(lambda: tolerance.lower_limit(values, 0.95, 0.75, broke=broke).value)
    if not held:
        cv = float(values.std(ddof=1) / values.mean()) if n > 1 else None
        interval = as_read.interval if spread else None
        return Numbers(n, 0, float(as_read.geometric_mean), interval, False, cv, limit)
    fit = _or_none(lambda: censored.fit_lognormal(values, broke))
    if fit is None:
        return Numbers(n, held, float(as_read.geometric_mean), None, True, None, limit)
    return Numbers(n, held, fit.geometric_mean, fit.quantile(0.5, LEVEL).interval, False, None, limit)


def _or_none(call: Callable[[], T]) -> T | None:
    try:
        return call()
    except StatsError:
        return None
