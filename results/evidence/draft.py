"""A whole study in memory, saved or not, and what the checks noticed about it."""

from __future__ import annotations

from dataclasses import dataclass, field

from results.models import Series, SeriesFooting, Setup, Specimen, Study, Summary


@dataclass(frozen=True, slots=True)
class Place:
    """Where in what was sent something stands: a sheet (or form part), a row and a column, both from 1."""

    sheet: str
    row: int
    column: int = 0


@dataclass(frozen=True, slots=True)
class Noticed:
    """A finding before it is saved.

    Parameters
    ----------
    code : str
        Stable name of the check.
    severity : {"error", "doubt", "remark"}
        Errors stop saving; doubts flag; remarks inform.
    message, remedy : str
        What was found and means; what to do.
    record : str
        ``study``, ``setup``, ``series`` or ``specimen``.
    series, specimen : str
        Labels of the series and specimen concerned, where there is one.
    field, value : str
        Which field, and what was typed.
    place : Place, optional
        Where it stands in what was sent.
    """

    code: str
    severity: str
    message: str
    remedy: str = ""
    record: str = "study"
    series: str = ""
    specimen: str = ""
    field: str = ""
    value: str = ""
    place: Place | None = None

    @property
    def names_series(self) -> bool:
        """Whether the message begins with the name of its series."""
        return bool(self.series) and self.message.startswith(f"Series {self.series}: ")


@dataclass
class Draft:
    """Model instances that belong together, keyed by the series' labels; nothing here needs a database row."""

    study: Study
    setups: list[Setup] = field(default_factory=list)
    series: list[Series] = field(default_factory=list)
    specimens: dict[str, list[Specimen]] = field(default_factory=dict)
    summaries: dict[str, Summary] = field(default_factory=dict)
    footings: list[SeriesFooting] = field(default_factory=list)
    # Where each specimen stood in what was sent, by (series label, specimen label).
    places: dict[tuple[str, str], Place] = field(default_factory=dict)

    @classmethod
    def of(cls, study: Study) -> Draft:
        """A saved study read back whole."""
        series = list(
            study.series.select_related(
                "setup__loading", "setup__instrument", "joint", "timber", "adhesive", "control", "summary"
            )
        )
        # The control must be the very object whose footings are computed here, not a second copy of the row.
        by_id = {one.pk: one for one in series}
        for one in series:
            one.study = study
            if one.control_id:
                one.control = by_id[one.control_id]
        specimens: dict[str, list[Specimen]] = {one.label: [] for one in series}
        for specimen in Specimen.objects.filter(series__study=study):
            specimen.series = by_id[specimen.series_id]
            specimens[specimen.series.label].append(specimen)
        return cls(
            study=study,
            setups=list(study.setups.select_related("loading", "instrument", "rig")),
            series=series,
            specimens=specimens,
            summaries={one.label: one.summary for one in series if one.is_summary},
        )
