"""A saved study back in the form, as it was typed, so that a new one can begin from it."""

from __future__ import annotations

import uuid
from collections import Counter
from typing import Any

from results.intake.build import READ_FIELD
from results.intake.columns import RECORDS, Column
from results.intake.words import Words
from results.models import Series, Setup, Specimen, Study
from stats.errors import StatsError
from stats.footing import units
from stats.footing.reading import to_force

from .submit_form import (
    SERIES_MOST,
    SHARED,
    SPECIMENS_MOST,
    SeriesTyped,
    Typed,
    concerns,
    joint_of,
    shared_sizes,
)

# What these say is said by leaving them blank too.
_UNSAID = {"conditioning": "unknown", "tests": "joint", "origin": "own", "invented": "no"}
_SHEAR = ("lap_shear", "block_shear")


def form_holds(study: Study) -> bool:
    """Whether the form has room for a study: one rig, not too many series and specimens."""
    if study.setups.count() != 1:
        return False
    counts = Counter(Specimen.objects.filter(series__study=study).values_list("series_id", flat=True))
    return 1 <= study.series.count() <= SERIES_MOST and max(counts.values(), default=0) <= SPECIMENS_MOST


def typed_again(study: Study, words: Words) -> Typed:
    """A form with a key of its own that holds what a study says.

    Parameters
    ----------
    study : Study
        One that `form_holds`.
    words : Words
        The vocabularies.
    """
    setup = study.setups.select_related("instrument").get()
    series = list(study.series.select_related("summary", "timber"))
    typed = Typed(uuid.uuid4(), study=_cells(study, "study"), setup=_cells(setup, "setup"))
    typed.study |= {"length unit": "mm", "origin": study.origin}
    unit = _unit_of_readings(series)
    _tidy_setup(typed.setup, setup, unit)
    at = {one.pk: str(number) for number, one in enumerate(series)}
    for one in series:
        values = _cells(one, "series")
        for name in ("setup", "control"):
            values.pop(name, None)
        if one.control_id in at:
            values["control"] = at[one.control_id]
        if setup.loading_id in _SHEAR:
            values["tests"] = one.tests
        if one.is_summary:
            values |= _summary(one)
        specimens = [_specimen(each, setup, unit, number) for number, each in enumerate(one.specimens.all(), 1)]
        typed.series.append(SeriesTyped(values, specimens, by_mean=one.is_summary))
    _share(typed, words)
    return typed


def _cells(record: Study | Setup | Series | Specimen, name: str) -> dict[str, str]:
    """What a record says, by column name."""
    found = {}
    for column in RECORDS[name]:
        if not column.field or not hasattr(record, column.field):
            continue
        value = getattr(record, f"{column.field}_id" if column.kind == "word" else column.field)
        text = _text(column, value, getattr(record, "typed", {}))
        if text and column.vocabulary == "Timber":
            text = record.timber.name  # typed, not chosen: a person's word for it
        if text and text != _UNSAID.get(column.name):
            found[column.name] = text
    return found


def _text(column: Column, value: Any, typed: dict[str, str]) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, float):
        return str(value)
    text = str(typed.get(column.field, ""))
    kind = column.kind if column.kind in units.UNITS else "number"
    # A file may have said 1.240 for 1240; here it has to be written so that the form reads it alike.
    return text if _reads(text, kind, value) else f"{value:.10g} {'mm' if kind == 'length' else ''}".strip()


def _reads(text: str, kind: str, value: float, unit: str | None = None) -> bool:
    """Whether the form would read a text as this value in SI."""
    default = unit or (None if kind == "length" else units.SI.get(kind))
    try:
        found = units.read(text, kind, default_unit=default).si
    except StatsError:
        return False
    return abs(found - value) <= 1e-9 * abs(value)


def _tidy_setup(cells: dict[str, str], setup: Setup, unit: str) -> None:
    """Leave out what a setup says by itself."""
    shown = setup.instrument.reads if setup.instrument else "force"
    if setup.reads == (shown if shown in ("moment", "stress") else "force"):
        cells.pop("reads", None)
    if setup.arm_mm is None:
        cells.pop("arm reference", None)
    if setup.label == "the rig":
        cells.pop("setup", None)
    if unit:
        cells["reading unit"] = unit


def _unit_of_readings(series: list[Series]) -> str:
    """The unit that most readings typed without one are in."""
    found = Counter(
        each.reading_unit
        for one in series
        for each in one.specimens.all()
        if each.reading_unit and each.reading_unit not in each.reading_typed
    )
    return found.most_common(1)[0][0] if found else ""


def _specimen(one: Specimen, setup: Setup, unit: str, number: int) -> dict[str, str]:
    cells = _cells(one, "specimen")
    cells.pop("series", None)
    if cells.get("specimen") == str(number):
        del cells["specimen"]  # the line's own number
    text = one.reading_typed
    if text:
        if one.reading_unit != unit and one.reading_unit not in text:
            text = f"{text} {one.reading_unit}"
        cells["reading"] = _reading(one, setup, text)
    return cells


def _reading(one: Specimen, setup: Setup, text: str) -> str:
    """A reading as typed; in SI, where the form would read something else."""
    stored = getattr(one, READ_FIELD[setup.reads])
    shown = setup.instrument.reads if setup.instrument else setup.reads
    kind = "stress" if setup.reads == "stress" else shown
    factor = 1.0
    if kind != "stress":
        code = setup.instrument_id or ("torque_wrench" if shown == "moment" else "force_gauge")
        factor = to_force(1.0, code, ram_diameter_mm=setup.ram_diameter_mm, lever_ratio=setup.lever_ratio).factor
    if stored is None or _reads(text, kind, stored / factor, one.reading_unit):
        return text
    return f"{stored / factor:.10g} {units.SI[kind]}"


def _summary(one: Series) -> dict[str, str]:
    said = {"mean": one.summary.mean_typed, "sd": one.summary.sd_typed, "n": str(one.summary.n or "")}
    return {name: text for name, text in said.items() if text}


def _share(typed: Typed, words: Words) -> None:
    """Say once what all series say alike that it concerns."""
    for name in (*SHARED, *shared_sizes(typed, words)):
        those = [one for one in typed.series if concerns(name, joint_of(one, words))]
        texts = {one.values.get(name) for one in those}
        if len(texts) == 1 and None not in texts:
            typed.shared[name] = texts.pop()
            for one in those:
                del one.values[name]
