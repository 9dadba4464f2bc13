"""Typed rows without errors, to records that are not saved yet."""

from __future__ import annotations

from typing import Any

from results.evidence import Draft
from results.models import Series, Setup, Specimen, Study, Summary
from results.models.dimensions import DIMS

from . import not_known
from .findings import has_errors
from .typed import COLUMNS, Checked, Typed, TypedSeries, TypedSetup
from .values import Quantity

STUDY = (
    "title",
    "question",
    "workshop",
    "tested_on",
    "plan",
    "origin",
    "citation",
    "source_url",
    "licence",
    "invented",
    "notes",
)
SETUP = (
    "label",
    "loading",
    "instrument",
    *Setup.LENGTHS,
    *Setup.NUMBERS,
    "arm_reference",
    "rate_mm_min",
    "notes",
)
SERIES = (
    "label",
    "joint",
    "tests",
    "timber",
    "adhesive",
    "adhesive_note",
    "grain_a",
    "grain_b",
    *DIMS,
    "moisture_pct",
    "density_kgm3",
    "cure_hours",
    "conditioning",
    "cycles",
    "notes",
)
SPECIMEN = (
    "label",
    "outcome",
    "void_reason",
    "failure_place",
    "wood_failure_pct",
    "moisture_pct",
    "density_kgm3",
    "notes",
)
READ_FIELD = {"force": "peak_load_n", "moment": "moment_nm", "stress": "stress_mpa"}


def build(checked: Checked) -> Draft:
    """Make the records of a checked submission, tied to each other.

    Parameters
    ----------
    checked : Checked
        Without errors.

    Returns
    -------
    Draft
        Nothing in it is saved; footings are not stated yet.

    Raises
    ------
    ValueError
        If a finding is an error.
    """
    if has_errors(checked.noticed):
        raise ValueError("A submission with errors can't be built; mend them first.")
    study = Study(**_given(checked.study, STUDY))
    setups = {id(one): _setup(one, study) for one in checked.setups}
    draft = Draft(study=study, setups=list(setups.values()))
    made = {id(one): _series(one, study, setups[id(one.setup)]) for one in checked.series}
    for one in checked.series:
        series, setup = made[id(one)], _setup_of(one)
        if one.control is not None:
            series.control = made[id(one.control)]
        draft.series.append(series)
        draft.specimens[series.label] = [
            _specimen(typed, series, setup, position) for position, typed in enumerate(one.specimens)
        ]
        if "mean" in one.values:
            draft.summaries[series.label] = _summary(one, series)
        for typed in one.specimens:
            draft.places[series.label, typed.label] = typed.row.place
    return draft


def _setup_of(one: TypedSeries) -> TypedSetup:
    if one.setup is None:
        raise ValueError(f"Series {one.label} has no setup, which is an error; mend it first.")
    return one.setup


def _given(typed: Typed, names: tuple[str, ...]) -> dict[str, Any]:
    return {name: typed.si(name) for name in names if name in typed.values}


def _as_typed(typed: Typed) -> dict[str, str]:
    """Each number as it was typed, and the word for one that nobody noted."""
    numbers = {name: value.typed for name, value in typed.values.items() if isinstance(value, Quantity)}
    columns = COLUMNS[typed.row.record]
    return numbers | not_known.said((columns[name], cell.text) for name, cell in typed.row.cells.items())


def _setup(one: TypedSetup, study: Study) -> Setup:
    return Setup(study=study, reads=one.reads, typed=_as_typed(one), **_given(one, SETUP))


def _series(one: TypedSeries, study: Study, setup: Setup) -> Series:
    typed = {name: text for name, text in _as_typed(one).items() if name not in ("mean", "sd")}
    return Series(study=study, setup=setup, typed=typed, **_given(one, SERIES))


def _specimen(typed: Typed, series: Series, setup: TypedSetup, position: int) -> Specimen:
    specimen = Specimen(series=series, position=position, **_given(typed, SPECIMEN))
    reading = typed.values.get("reading")
    if reading is not None:
        specimen.reading_typed = reading.text
        specimen.reading_unit = reading.unit[:20]
        setattr(specimen, READ_FIELD[setup.reads], reading.si * setup.factor)
    return specimen


def _summary(one: TypedSeries, series: Series) -> Summary:
    mean, sd = one.values["mean"], one.values.get("sd")
    setup = _setup_of(one)
    factor = setup.factor
    return Summary(
        series=series,
        quantity=setup.reads,
        mean_typed=mean.typed[:60],
        mean_si=mean.si * factor,
        sd_typed=sd.typed[:60] if sd else "",
        sd_si=sd.si * factor if sd else None,
        n=one.values.get("n"),
    )
