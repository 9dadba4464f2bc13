"""A study made ready to be read: setups, series, numbers, workings and specimens."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

from results.evidence.frames import specimen_field
from results.evidence.study import Numbers, OnFooting, SeriesView
from results.intake.columns import SERIES, SETUP
from results.models import Question, Series, SeriesFooting, Setup, Specimen
from results.models.dimensions import DIMS
from stats.charts.setup_diagram import setup_diagram
from stats.errors import StatsError
from stats.footing.fields import FIELDS
from stats.footing.ladder import READS
from stats.footing.units import show
from stats.inference import describe
from stats.interval import Interval

from . import rigs_shown, scale
from .in_language import figure
from .study_tables import markup, of_columns, of_rows
from .tables import Cell
from .wording import exact, footing_name, footing_symbol, tidy, with_unit

# Specimens a series' table shows; the rest is a download away.
MOST_SPECIMENS = 50
LIMIT = "; the lower limit is what 95 % of such joints exceed, with 75 % confidence"
DRAWN_SIZES = ("member_thickness_mm", "member_depth_mm", "other_depth_mm", "bond_length_mm")
# The rungs that a working goes up by.
CLIMBED = ("at_joint", "stress", "ratio_solid")
UNITS = {"rate_mm_min": "mm/min", "density_kgm3": "kg/m³", "moisture_pct": "%", "cure_hours": "h"}


@dataclass(frozen=True)
class Sheet:
    """One series as the page shows it."""

    series: Series
    working: str
    counts: dict[str, int]
    sizes: list[tuple[str, str, str]]
    numbers: SafeString | None
    specimens: SafeString | None
    there: list[tuple[str, SeriesFooting]] = field(default_factory=list)
    absent: list[tuple[str, str]] = field(default_factory=list)
    more: int = 0
    # Doubts that readers raised: in a word, and where on the page it can be read.
    doubts: list[tuple[str, str, bool]] = field(default_factory=list)


def sheet(view: SeriesView, *, is_control: bool = False, doubts: Iterable[Question] = ()) -> Sheet:
    """Gather what is shown of a series; others may be measured against it, and readers doubt it."""
    label = view.series.label
    raised = [one for one in doubts if one.series_id == view.series.pk]
    there = [on for on in view.footings.values() if on.available]
    numbers = [row for on in there for row in numbers_of(view, on)]
    specimens = view.specimens[:MOST_SPECIMENS]
    caption = f"Specimens of series {label}"
    if len(view.specimens) > MOST_SPECIMENS:
        caption += f", the first {MOST_SPECIMENS} of {tidy(len(view.specimens))}"
    return Sheet(
        series=view.series,
        working=working(view),
        counts={"specimens": len(view.specimens), "flagged": view.flagged, "void": view.void},
        sizes=_sizes(view),
        numbers=markup(of_rows(numbers, f"Series {label} in numbers{LIMIT}")) if numbers else None,
        specimens=markup(of_columns(_specimens(view, specimens, raised), caption)) if specimens else None,
        there=[(_titled(on), on.stored) for on in there],
        absent=[_lacking(on, is_control) for on in view.footings.values() if not on.available and on.stored.missing],
        more=max(len(view.specimens) - MOST_SPECIMENS, 0),
        doubts=_raised(view, raised) if raised else [],
    )


def _raised(view: SeriesView, doubts: list[Question]) -> list[tuple[str, str, bool]]:
    labels = {one.pk: f": specimen {one.label}" for one in view.specimens}
    return [
        (f"doubt {_became(one)}{labels.get(one.specimen_id or 0, '')}", f"#question-{one.pk}", _is_open(one))
        for one in doubts
    ]


def _became(doubt: Question) -> str:
    return "raised" if _is_open(doubt) else "resolved"


def _is_open(doubt: Question) -> bool:
    return doubt.state == Question.State.OPEN


def working(view: SeriesView) -> str:
    """From the first specimen's reading to the footing that holds across most, as one line of numbers."""
    lines = [view.footings[code].stored.worked for code in CLIMBED if view.footings[code].available]
    steps = [line for line in lines if "=" in line]
    if view.series.is_summary or view.first is None:
        return _unbroken("; ".join(steps))
    first = view.first
    unit = view.series.setup.reads
    load = {"force": first.peak_load_n, "moment": first.moment_nm, "stress": first.stress_mpa}[unit]
    # What was typed in the unit that the working goes on with needs no line of its own.
    if load is not None and first.reading_unit not in READS.values():
        steps.insert(0, f"{_typed(first)} read = {show(load, READS[unit], 4)}")
    return _unbroken("; ".join(steps))


def _typed(one: Specimen) -> str:
    """A reading as it was typed, with its unit once."""
    typed, unit = one.reading_typed, one.reading_unit
    return typed if typed.endswith(unit) else f"{typed} {unit}"


def _unbroken(line: str) -> str:
    """A line that never ends within a number."""
    return re.sub(r"(?<=\d) (?=\d)", "\u00a0", line)


def _titled(on: OnFooting) -> str:
    return f"{footing_name(on.info, on.stored.unit)}, {footing_symbol(on.info, on.stored.unit)}"


def _lacking(on: OnFooting, is_control: bool) -> tuple[str, str]:
    """A footing that can't be had: its name, and what is missing or why no input would help."""
    if is_control and on.info.code == "ratio_control":
        return footing_name(on.info, on.stored.unit), "this series is the control"
    said = "; ".join(on.stored.missing)
    _, not_covered, reason = said.partition("can't be had: ")
    why = reason if not_covered else f"missing: {said}"
    return footing_name(on.info, on.stored.unit), why


@dataclass(frozen=True)
class Rig:
    """A setup as the page shows it: drawn, its lengths by name, as typed, in SI, and how it was calibrated."""

    setup: Setup
    drawing: str
    lengths: list[tuple[str, str, str]]
    calibrations: list[rigs_shown.Shown] = field(default_factory=list)


def rig(setup: Setup, series: Iterable[Series], name: str = "") -> Rig:
    """Draw a setup with the sizes that the series tested on it have in common."""
    names = {column.field: column.name for column in SETUP}
    fields = [*Setup.LENGTHS, *Setup.NUMBERS, "rate_mm_min"]
    rows = [_length(setup, field, names.get(field, field)) for field in fields if getattr(setup, field) is not None]
    drawing = setup_diagram(
        setup.loading_id,
        setup.parameters(),
        shared_sizes(series),
        reads=setup.reads,
        instrument=setup.instrument_id or "",
        label=setup.label,
        name=name or f"setup-{setup.pk}-drawing",
    )
    # Every text in the drawing is escaped where it is drawn.
    return Rig(setup, mark_safe(drawing), rows, rigs_shown.of_setup(setup) if setup.rig_id else [])


def shared_sizes(series: Iterable[Any], size_of: Callable[[Any, str], float | None] = getattr) -> dict[str, float]:
    """The sizes a drawing needs, where all series that give one give the same; `size_of` tells one of a series."""
    found: dict[str, set[float]] = {}
    for one in series:
        for size in DRAWN_SIZES:
            value = size_of(one, size)
            if value is not None:
                found.setdefault(size, set()).add(value)
    return {size: next(iter(values)) for size, values in found.items() if len(values) == 1}


def _sizes(view: SeriesView) -> list[tuple[str, str, str]]:
    names = {column.field: column.name for column in SERIES}
    fields = [*DIMS, "moisture_pct", "density_kgm3", "cure_hours", "cycles"]
    given = [name for name in fields if getattr(view.series, name) is not None]
    return [_length(view.series, name, names.get(name, name)) for name in given]


def _length(record: Any, name: str, words: str) -> tuple[str, str, str]:
    unit = FIELDS[name].unit if name in FIELDS else UNITS.get(name, "")
    value = scale.scaled(float(getattr(record, name)), unit)
    return words, str(record.typed.get(name, "")), figure(f"{exact(value)} {scale.readers(unit)}".strip())


def numbers_of(view: SeriesView, on: OnFooting) -> list[dict[str, Any]]:
    """One row for all specimens and, where a check doubts any, one without those."""
    name = with_unit(footing_name(on.info, on.stored.unit), scale.readers(on.stored.unit))
    if view.series.is_summary:
        return [{"Footing": name, "Specimens": "published mean", **_published(on)}]
    if not on.numbers:
        return []
    unit = on.stored.unit
    rows = [{"Footing": name, "Specimens": "all" if view.flagged else "", **_described(on.numbers, unit)}]
    if view.flagged and on.numbers_without:
        rows.append({"Footing": name, "Specimens": "without flagged", **_described(on.numbers_without, unit)})
    return rows


def _described(numbers: Numbers, unit: str) -> dict[str, Any]:
    mean = figure(show(scale.scaled(numbers.geometric_mean, unit)))
    return {
        "Geometric mean": gettext("at least %(value)s") % {"value": mean} if numbers.at_least else mean,
        "95 % interval": _ends(numbers.interval, unit),
        "n": numbers.n,
        "Held": numbers.held,
        "CV, %": 100 * numbers.cv if numbers.cv is not None else None,
        "Lower limit": None if numbers.limit is None else scale.scaled(numbers.limit, unit),
    }


def _ends(interval: Interval | None, unit: str) -> str:
    if interval is None:
        return ""
    low, high = (show(scale.scaled(end, unit)) for end in (interval.low, interval.high))
    return f"{low} to {high}"


def _published(on: OnFooting) -> dict[str, Any]:
    n = on.stored.n
    sum_log = on.stored.sum_log or 0.0  # a footing that is there has a sum
    mean = math.exp(sum_log / (n or 1))
    interval = None
    if n and n > 1 and on.stored.sum_sq_log is not None:
        try:
            interval = describe.from_sums(n, sum_log, on.stored.sum_sq_log).interval
        except StatsError:
            interval = None
    return {
        "Geometric mean": figure(show(scale.scaled(mean, on.stored.unit))),
        "95 % interval": _ends(interval, on.stored.unit),
        "n": n if n else "not stated",
    }


def _specimens(view: SeriesView, specimens: list[Specimen], doubts: list[Question]) -> dict[str, list[Any]]:
    """As typed, then on each footing, then how it ended, and what is doubted of it."""
    action = view.series.setup.loading.action
    columns: dict[str, list[Any]] = {
        "Specimen": [one.label for one in specimens],
        "As typed": [_typed(one) for one in specimens],
    }
    for code, on in view.footings.items():
        if on.available:
            name = specimen_field(code, action)
            unit = on.stored.unit
            heading = with_unit(footing_symbol(on.info, unit), scale.readers(unit))
            values = (getattr(one, name) for one in specimens)
            columns[heading] = [None if value is None else scale.scaled(value, unit) for value in values]
    columns["Outcome"] = [
        f"void: {one.void_reason}" if one.outcome == Specimen.Outcome.VOID else one.outcome for one in specimens
    ]
    columns["Where it broke"] = [one.failure_place.name if one.failure_place else "" for one in specimens]
    columns["Wood failure, %"] = [one.wood_failure_pct for one in specimens]
    columns["Moisture, %"] = [one.moisture_pct for one in specimens]
    columns["Doubt"] = ["flagged" if one.flagged else "" for one in specimens]
    if doubts:
        # One that is still open goes before those resolved.
        newest = {one.specimen_id: one for one in sorted(doubts, key=_is_open)}
        cells = {pk: Cell(f"doubt {_became(one)}", url=f"#question-{one.pk}") for pk, one in newest.items()}
        columns["By readers"] = [cells.get(one.pk, "") for one in specimens]
    columns["Notes"] = [one.notes for one in specimens]
    return columns
