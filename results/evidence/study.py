"""What a study's page shows: every series with its footings, numbers, specimens and findings."""

from __future__ import annotations

from dataclasses import dataclass, field

from results.models import Finding, Series, SeriesFooting, Specimen, Study
from stats.errors import StatsError
from stats.footing.ladder import FOOTINGS, FootingKind
from stats.inference import describe

from .frames import specimen_field

# Most like-for-like first: the footing a series is described on unless somebody asks for another.
BEST_FIRST = ("ratio_solid", "stress", "at_joint", "peak_load")


@dataclass(frozen=True)
class OnFooting:
    """A series on one footing: the stored row, what it is, and its numbers with and without flagged specimens."""

    info: FootingKind
    stored: SeriesFooting
    numbers: describe.SeriesSummary | None
    numbers_without: describe.SeriesSummary | None

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
    def best(self) -> OnFooting | None:
        """The most comparable footing that this series has."""
        return next((self.footings[code] for code in BEST_FIRST if self.footings[code].available), None)

    @property
    def flagged(self) -> int:
        return sum(specimen.flagged for specimen in self.specimens)

    @property
    def void(self) -> int:
        return sum(specimen.outcome == Specimen.Outcome.VOID for specimen in self.specimens)


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
                footings=_footings(one, stored.get(one.pk, []), specimens.get(one.pk, [])),
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


def _footings(series: Series, stored: list[SeriesFooting], specimens: list[Specimen]) -> dict[str, OnFooting]:
    by_code = {row.code: row for row in stored}
    action = series.setup.loading.action
    told = [one for one in specimens if one.outcome != Specimen.Outcome.VOID]
    kept = [one for one in told if not one.flagged]
    views = {}
    for code, info in FOOTINGS.items():
        name = specimen_field(code, action)
        row = by_code.get(code) or SeriesFooting(series=series, code=code, unit=info.unit)
        numbers = _numbers(told, name)
        without = _numbers(kept, name) if len(kept) < len(told) else numbers
        views[code] = OnFooting(info=info, stored=row, numbers=numbers, numbers_without=without)
    return views


def _numbers(specimens: list[Specimen], name: str) -> describe.SeriesSummary | None:
    having = [one for one in specimens if getattr(one, name) is not None]
    if not having:
        return None
    try:
        return describe.summary(
            [getattr(one, name) for one in having],
            [one.outcome == Specimen.Outcome.BROKE for one in having],
        )
    except StatsError:
        return None
