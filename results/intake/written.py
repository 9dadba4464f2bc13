"""A study's records back as the texts that were typed, by column: for the form, and for a spreadsheet to edit."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from functools import lru_cache
from typing import Any

from results.evidence import Draft
from results.models import Series, Setup, Specimen, Study, Summary
from stats.errors import StatsError
from stats.footing import units
from stats.footing.reading import to_force

from .build import READ_FIELD
from .columns import RECORDS, Column
from .not_known import is_not_known

# Columns of the registry that a record of another kind holds, or none.
_ELSEWHERE = {("specimen", "series"), ("series", "setup"), ("series", "control")}

Cells = dict[str, str]


def study_cells(study: Study) -> Cells:
    """What a study says of itself, by column name."""
    return _cells(study, "study")


def setup_cells(draft: Draft, setup: Setup) -> Cells:
    """What a setup says, with the unit that most of its bare readings are in."""
    found = _cells(setup, "setup")
    unit = unit_of_readings(draft, setup)
    return found | {"reading unit": unit} if unit else found


def series_cells(draft: Draft, series: Series) -> Cells:
    """What a series says, with its setup, its control, and the published mean it may have."""
    found = _cells(series, "series") | {"setup": series.setup.label}
    if series.control is not None:
        found["control"] = series.control.label
    summary = draft.summaries.get(series.label)
    return found | _summed_up(summary) if summary is not None else found


def specimens_cells(draft: Draft, series: Series, unit: str) -> Iterator[Cells]:
    """What each specimen of a series says, with its reading as typed where bare readings are in this unit."""
    for one in draft.specimens.get(series.label, []):
        found = _cells(one, "specimen")
        text = one.reading_typed
        if text:
            if one.reading_unit != unit and one.reading_unit not in text:
                text = f"{text} {one.reading_unit}"
            found["reading"] = _reading(one, series.setup, text)
        yield found


def unit_of_readings(draft: Draft, setup: Setup) -> str:
    """The unit that most readings typed without one on a setup are in."""
    found = Counter(
        each.reading_unit
        for one in draft.series
        if one.setup.label == setup.label
        for each in draft.specimens.get(one.label, [])
        if each.reading_unit and each.reading_unit not in each.reading_typed
    )
    return found.most_common(1)[0][0] if found else ""


def _cells(record: Study | Setup | Series | Specimen, name: str) -> Cells:
    typed: dict[str, str] = getattr(record, "typed", {})
    found = {}
    for column in RECORDS[name]:
        if not column.field or (name, column.name) in _ELSEWHERE or not hasattr(record, column.field):
            continue
        value = getattr(record, f"{column.field}_id" if column.kind in ("word", "plan") else column.field)
        said = str(typed.get(column.field, ""))
        text = said if value is None and is_not_known(column, said) else _text(column, value, said)
        if text and isinstance(record, Series) and record.timber and column.vocabulary == "Timber":
            text = record.timber.name  # typed, not chosen: a person's word for it
        if text:
            found[column.name] = text
    return found


def _text(column: Column, value: Any, typed: str) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, float):
        return str(value)
    kind = column.kind if column.kind in units.UNITS else "number"
    # A file may have said 1.240 for 1240; here it has to be written so that it is read alike.
    return typed if _reads(typed, kind, value) else f"{_plain(value)} {'mm' if kind == 'length' else ''}".strip()


def _plain(value: float) -> str:
    """A number in all its digits."""
    return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)


def _reads(text: str, kind: str, value: float, unit: str = "") -> bool:
    """Whether a text would be read as this value in SI."""
    found = _si(text, kind, unit or ("" if kind == "length" else units.SI.get(kind, "")))
    return found is not None and abs(found - value) <= 1e-9 * abs(value)


@lru_cache(maxsize=10_000)
def _si(text: str, kind: str, unit: str) -> float | None:
    try:
        return units.read(text, kind, default_unit=unit or None).si
    except StatsError:
        return None


def _reading(one: Specimen, setup: Setup, text: str) -> str:
    """A reading as typed; in SI, where something else would be read."""
    stored = getattr(one, READ_FIELD[setup.reads])
    shown = setup.instrument.reads if setup.instrument else setup.reads
    kind = "stress" if setup.reads == "stress" else shown
    factor = 1.0
    if kind != "stress":
        code = setup.instrument_id or ("torque_wrench" if shown == "moment" else "force_gauge")
        factor = _factor(code, setup.ram_diameter_mm, setup.lever_ratio)
    if stored is None or _reads(text, kind, stored / factor, one.reading_unit):
        return text
    return f"{_plain(stored / factor)} {units.SI[kind]}"


@lru_cache(maxsize=100)
def _factor(code: str, ram_diameter_mm: float | None, lever_ratio: float | None) -> float:
    return to_force(1.0, code, ram_diameter_mm=ram_diameter_mm, lever_ratio=lever_ratio).factor


def _summed_up(summary: Summary) -> Cells:
    said = {"mean": summary.mean_typed, "sd": summary.sd_typed, "n": str(summary.n or "")}
    return {name: text for name, text in said.items() if text}
