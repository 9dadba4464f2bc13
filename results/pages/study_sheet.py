"""A study made ready to be read: setups, series, numbers, workings and specimens."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import pandas as pd

from results.evidence.frames import specimen_field
from results.evidence.study import OnFooting, SeriesView
from results.intake.columns import SERIES, SETUP
from results.models import Setup, Specimen, Study
from results.models.dimensions import DIMS
from stats.errors import StatsError
from stats.footing.fields import FIELDS
from stats.footing.units import show
from stats.inference import describe

from . import tables
from .wording import exact, footing_name, footing_symbol, tidy, with_unit

# Specimens a series' table shows; the rest is a download away.
MOST_SPECIMENS = 50
LIMIT = "; the lower limit is what 95 % of such joints exceed, with 75 % confidence"
UNITS = {"rate_mm_min": "mm/min", "density_kgm3": "kg/m³", "moisture_pct": "%", "cure_hours": "h"}


@dataclass(frozen=True)
class Sheet:
    """One series as the page shows it."""

    view: SeriesView
    sizes: list[tuple[str, str, str]]
    numbers: tables.Table | None
    specimens: tables.Table | None
    there: list[tuple[str, OnFooting]] = field(default_factory=list)
    absent: list[tuple[str, str]] = field(default_factory=list)
    more: int = 0


def sheet(view: SeriesView, *, is_control: bool = False) -> Sheet:
    """Gather what is shown of a series; others may be measured against it."""
    label = view.series.label
    there = [on for on in view.footings.values() if on.available]
    numbers = [row for on in there for row in _numbers(view, on)]
    specimens = view.specimens[:MOST_SPECIMENS]
    caption = f"Specimens of series {label}"
    if len(view.specimens) > MOST_SPECIMENS:
        caption += f", the first {MOST_SPECIMENS} of {tidy(len(view.specimens))}"
    return Sheet(
        view=view,
        sizes=_sizes(view),
        numbers=tables.of_frame(pd.DataFrame(numbers), f"Series {label} in numbers{LIMIT}") if numbers else None,
        specimens=tables.of_frame(_specimens(view, specimens), caption) if specimens else None,
        there=[(_titled(on), on) for on in there],
        absent=[_lacking(on, is_control) for on in view.footings.values() if not on.available and on.stored.missing],
        more=max(len(view.specimens) - MOST_SPECIMENS, 0),
    )


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


def setup_sheet(setup: Setup) -> tuple[Setup, list[tuple[str, str, str]]]:
    """A setup with its lengths: name, as typed, in SI."""
    names = {column.field: column.name for column in SETUP}
    fields = [*Setup.LENGTHS, *Setup.NUMBERS, "rate_mm_min"]
    rows = [_length(setup, name, names.get(name, name)) for name in fields if getattr(setup, name) is not None]
    return setup, rows


def _sizes(view: SeriesView) -> list[tuple[str, str, str]]:
    names = {column.field: column.name for column in SERIES}
    fields = [*DIMS, "moisture_pct", "density_kgm3", "cure_hours", "cycles"]
    given = [name for name in fields if getattr(view.series, name) is not None]
    return [_length(view.series, name, names.get(name, name)) for name in given]


def _length(record: Any, name: str, words: str) -> tuple[str, str, str]:
    unit = FIELDS[name].unit if name in FIELDS else UNITS.get(name, "")
    value = getattr(record, name)
    return words, str(record.typed.get(name, "")), f"{exact(value)} {unit}".strip()


def _numbers(view: SeriesView, on: OnFooting) -> list[dict[str, Any]]:
    """One row for all specimens and, where a check doubts any, one without those."""
    name = with_unit(footing_name(on.info, on.stored.unit), on.stored.unit)
    if view.series.is_summary:
        return [{"Footing": name, "Specimens": "published mean", **_published(on)}]
    if not on.numbers:
        return []
    rows = [{"Footing": name, "Specimens": "all" if view.flagged else "", **_described(on.numbers)}]
    if view.flagged and on.numbers_without:
        rows.append({"Footing": name, "Specimens": "without flagged", **_described(on.numbers_without)})
    return rows


def _described(numbers: describe.SeriesSummary) -> dict[str, Any]:
    """Where some held, the figures that count them as stronger than read."""
    best = numbers.censored
    mean = best.geometric_mean if best else numbers.geometric_mean
    interval = best.interval if best else numbers.geometric_interval
    at_least = numbers.held > 0 and not best
    return {
        "Geometric mean": f"at least {show(mean)}" if at_least else show(mean),
        "95 % interval": f"{show(interval.low)} to {show(interval.high)}" if interval else "",
        "n": numbers.n,
        "Held": numbers.held,
        "CV, %": 100 * numbers.cv if numbers.cv is not None and not numbers.held else None,
        "Lower limit": numbers.limit_95_75.value if numbers.limit_95_75 else None,
    }


def _published(on: OnFooting) -> dict[str, Any]:
    n = on.stored.n
    mean = math.exp(on.stored.sum_log / (n or 1))
    interval = None
    if n and n > 1 and on.stored.sum_sq_log is not None:
        try:
            interval = describe.from_sums(n, on.stored.sum_log, on.stored.sum_sq_log).interval
        except StatsError:
            interval = None
    return {
        "Geometric mean": show(mean),
        "95 % interval": f"{show(interval.low)} to {show(interval.high)}" if interval else "",
        "n": n if n else "not stated",
    }


def _specimens(view: SeriesView, specimens: list[Specimen]) -> pd.DataFrame:
    """As typed, then on each footing, then how it ended."""
    action = view.series.setup.loading.action
    on_footings = {
        with_unit(footing_symbol(on.info, on.stored.unit), on.stored.unit): specimen_field(code, action)
        for code, on in view.footings.items()
        if on.available
    }
    columns: dict[str, list[Any]] = {
        "Specimen": [one.label for one in specimens],
        "As typed": [f"{one.reading_typed} {one.reading_unit}".strip() for one in specimens],
    }
    for heading, name in on_footings.items():
        columns[heading] = [getattr(one, name) for one in specimens]
    columns["Outcome"] = [
        f"void: {one.void_reason}" if one.outcome == Specimen.Outcome.VOID else one.outcome for one in specimens
    ]
    columns["Where it broke"] = [one.failure_place.name if one.failure_place else "" for one in specimens]
    columns["Wood failure, %"] = [one.wood_failure_pct for one in specimens]
    columns["Moisture, %"] = [one.moisture_pct for one in specimens]
    columns["Doubt"] = ["flagged" if one.flagged else "" for one in specimens]
    columns["Notes"] = [one.notes for one in specimens]
    frame = pd.DataFrame(columns)
    for heading in [*on_footings, "Wood failure, %", "Moisture, %"]:
        frame[heading] = frame[heading].astype(float)
    return frame


def citation(study: Study, address: str) -> str:
    """How to cite the study, in one line."""
    year = study.tested_on[:4] or str((study.accepted_at.date() if study.accepted_at else date.today()).year)
    made_up = " Invented data." if study.invented else ""
    return f"{study.workshop} ({year}). {study.title}. Breakbook, study {study.pk}. {address}.{made_up}"
