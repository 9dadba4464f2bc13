"""What would be saved, as a reader sees it before it is: normalised, with its working."""

from __future__ import annotations

import math
from dataclasses import dataclass

import pandas as pd

from results.evidence import Draft
from results.evidence.frames import specimen_field
from results.intake.columns import RECORDS
from results.models import Series, SeriesFooting, Setup, Specimen
from results.models.dimensions import DIMS
from stats.footing.footings import FOOTINGS

from . import tables
from .submit_beside import side_by_side
from .wording import exact

SPECIMENS_MOST = 200
# The rungs of which everybody wants to know; own bars and controls are a bonus.
_ASKED_FOR = ("at_joint", "stress", "ratio_solid")


@dataclass(frozen=True)
class SeriesPreview:
    """One series: in words, its numbers, and what can't be had."""

    label: str
    words: str
    table: tables.Table | None
    worked: str
    missing: list[str]


@dataclass(frozen=True)
class Preview:
    """The whole draft: how much of it there is, its rigs and its series."""

    counts: dict[str, int]
    setups: list[str]
    series: list[SeriesPreview]
    left_out: int
    beside: tables.Table | None = None
    shown_most: int = SPECIMENS_MOST


def preview(draft: Draft, most: int = SPECIMENS_MOST) -> Preview:
    """Make a draft ready to be looked at.

    Parameters
    ----------
    draft : Draft
        With its footings stated.
    most : int
        Specimens shown over all series.

    Returns
    -------
    Preview
    """
    room, shown = most, []
    footings: dict[str, list[SeriesFooting]] = {}
    for one in draft.footings:
        footings.setdefault(one.series.label, []).append(one)
    for series in draft.series:
        specimens = draft.specimens.get(series.label, [])
        shown.append(_series(draft, series, specimens[:room], footings.get(series.label, [])))
        room = max(room - len(specimens), 0)
    total = sum(len(found) for found in draft.specimens.values())
    counts = {"setup": len(draft.setups), "series": len(draft.series), "specimen": total}
    setups, left_out = [_setup(one) for one in draft.setups], max(total - most, 0)
    return Preview(counts, setups, shown, left_out, side_by_side(draft), most)


def _setup(setup: Setup) -> str:
    parts = [setup.loading.name.lower()]
    parts += [f"{name} {text}" for name, text in _given(setup, "setup", setup.LENGTHS)]
    if setup.instrument is not None:
        parts.append(f"read on: {setup.instrument.name.lower()}")
    return f"{setup.label}: {', '.join(parts)}."


def _given(record: Setup | Series, name: str, fields: tuple[str, ...]) -> list[tuple[str, str]]:
    """Sizes in words, each as typed and in millimetres where that differs."""
    names = {column.field: column.name for column in RECORDS[name]}
    given = []
    for field in fields:
        value = getattr(record, field)
        if value is None:
            continue
        unit = "mm" if field.endswith("_mm") else "°" if field.endswith("_deg") else ""
        si = f"{exact(value)} {unit}".strip()
        typed = str(record.typed.get(field, ""))
        same = not typed or "".join(typed.split()) == "".join(si.split())
        given.append((names[field], si if same else f"{typed} = {si}"))
    return given


def _series(draft: Draft, series: Series, specimens: list[Specimen], footings: list[SeriesFooting]) -> SeriesPreview:
    parts = [series.joint.name]
    for word in (series.timber, series.adhesive):
        if word is not None:
            parts.append(word.name)
    parts += [f"{name} {text}" for name, text in _given(series, "series", DIMS)]
    if series.control is not None:
        parts.append(f"measured against {series.control.label}")
    summary = draft.summaries.get(series.label)
    if summary is not None:
        spread = f", sd {summary.sd_typed}" if summary.sd_typed else ""
        parts.append(f"mean {summary.mean_typed}{spread}, n {summary.n or 'not stated'}")
    missing = [
        f"{FOOTINGS[one.code].name}: {'; '.join(one.missing)}"
        for one in footings
        if one.missing and one.code in _ASKED_FOR
    ]
    worked = "; ".join(one.worked for one in footings if one.worked and one.code in _ASKED_FOR)
    return SeriesPreview(
        series.label, ", ".join(parts) + ".", _table(series, specimens, footings, summary is None), worked, missing
    )


def _table(
    series: Series, specimens: list[Specimen], footings: list[SeriesFooting], single: bool
) -> tables.Table | None:
    if not single:
        means = {_heading(one): [_mean(one)] for one in footings if _mean(one) is not None}
        frame = pd.DataFrame({"": ["geometric mean"], **means})
        return tables.of_frame(frame, f"Series {series.label}, published mean")
    if not specimens:
        return None
    action = series.setup.loading.action
    columns: dict[str, list] = {
        "specimen": [one.label for one in specimens],
        "as typed": [_typed(one) for one in specimens],
        "outcome": [one.outcome for one in specimens],
    }
    for one in footings:
        name = specimen_field(one.code, action)
        columns[_heading(one)] = [math.nan if getattr(row, name) is None else getattr(row, name) for row in specimens]
    columns["broke at"] = [one.failure_place.name if one.failure_place else "" for one in specimens]
    columns["doubted"] = ["doubted" if one.flagged else "" for one in specimens]
    return tables.of_frame(pd.DataFrame(columns), f"Series {series.label} as it would be saved")


def _heading(footing: SeriesFooting) -> str:
    return f"{FOOTINGS[footing.code].name}{f', {footing.unit}' if footing.unit else ''}"


def _mean(footing: SeriesFooting) -> float | None:
    if footing.sum_log is None:
        return None
    return math.exp(footing.sum_log / (footing.n or 1))


def _typed(specimen: Specimen) -> str:
    text, unit = specimen.reading_typed, specimen.reading_unit
    return text if not text or unit in text else f"{text} {unit}"
