"""Readings as typed, climbed from reading to ratio without saving anything."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from typing import Any, NoReturn

from results.evidence import Draft, Noticed
from results.evidence.frames import specimen_field
from results.intake.columns import normal
from results.intake.examine import Examination, examine
from results.intake.findings import ERROR, Place
from results.intake.headings import known
from results.intake.read_records import text_of
from results.intake.rows import Cell, Row, Rows
from results.models import Series, SeriesFooting, Setup, Specimen
from stats.footing.ladder import FOOTINGS
from stats.footing.reading import to_force

from .errors import BadParameters, Fault, nearest, shorten
from .sent import plain

PARTS = ("length_unit", "setup", "series", "readings", "control")
READINGS_MOST = 2_000
LABEL, CONTROL = "series", "control"
# A study needs these to be saved; here nothing is.
_STUDY = {"title": "normalise", "question": "none", "workshop": "none", "licence": "CC0-1.0"}


def examined(body: Any) -> Examination:
    """What the intake makes of a body: the draft with its footings, and everything noticed.

    Raises
    ------
    BadParameters
        For a body that isn't made of the parts it should be.
    """
    return examine(_Body(body).rows(), sheet=False)


class _Body:
    """Turns the parts of a body into rows as typed; a place's sheet is the JSON pointer (RFC 6901) to it."""

    def __init__(self, body: Any) -> None:
        self.body = self._object(body, "", PARTS)
        self.noticed: list[Noticed] = []

    def rows(self) -> Rows:
        study = Row("study", Place("", 0), {name: Cell(text, Place("", 0)) for name, text in _STUDY.items()})
        if unit := self._text(self.body.get("length_unit"), "/length_unit"):
            study.cells["length unit"] = Cell(unit, Place("/length_unit", 0))
        setup = self._row("setup", self.body.get("setup", {}), "/setup")
        series, specimens = self._series(self.body, "", LABEL)
        found = Rows(study, [setup], [series], specimens, decimal=".")
        if self.body.get("control") is not None:
            control = self._object(self.body["control"], "/control", ("series", "readings"))
            other, more = self._series(control, "/control", CONTROL)
            series.cells["control"] = Cell(CONTROL, Place("/control", 0))
            found.series.append(other)
            found.specimens += more
        found.noticed = self.noticed
        return found

    def _series(self, part: Mapping[str, Any], at: str, label: str) -> tuple[Row, list[Row]]:
        series = self._row("series", part.get("series", {}), f"{at}/series")
        for name in ("series", "setup", "control"):
            series.cells.pop(name, None)
        series.cells["series"] = Cell(label, Place(f"{at}/series", 0))
        readings = part.get("readings", [])
        if not isinstance(readings, list) or len(readings) > READINGS_MOST:
            _refuse(f"{at}/readings", readings, f"is no list of at most {READINGS_MOST} readings.")
        specimens = []
        for number, one in enumerate(readings):
            pointer = f"{at}/readings/{number}"
            row = self._row("specimen", one if isinstance(one, dict) else {}, pointer)
            if not isinstance(one, dict) and (text := self._text(one, pointer)):
                row.cells["reading"] = Cell(text, row.place)
            row.cells["series"] = Cell(label, row.place)
            row.cells["specimen"] = Cell(str(number + 1), row.place)
            specimens.append(row)
        return series, specimens

    def _row(self, record: str, given: Any, at: str) -> Row:
        names = known(record)
        row = Row(record, Place(at, 0))
        for name, value in self._object(given, at).items():
            pointer = f"{at}/{_escaped(name)}"
            column, unit = names.get(normal(name), (None, ""))
            text = self._text(value, pointer)
            if column is None:
                self.noticed.append(_unknown(record, name, text, names, pointer))
            elif column.name in row.cells:
                _refuse(pointer, name, f"says again what another name for {column.name!r} says.")
            elif text:
                row.cells[column.name] = Cell(text, Place(pointer, 0), unit)
        return row

    @staticmethod
    def _object(given: Any, at: str, names: Iterable[str] = ()) -> dict[str, Any]:
        if not isinstance(given, dict):
            _refuse(at, given, "is no object.")
        known_names = list(names)
        for name in given if known_names else ():
            if name not in known_names:
                _refuse(f"{at}/{_escaped(name)}", name, f"is no part of the body. {nearest(name, known_names)}")
        return given

    @staticmethod
    def _text(value: Any, at: str) -> str:
        try:
            return text_of(value)
        except TypeError:
            _refuse(at, value, "is neither a text nor a number.")


def _escaped(name: str) -> str:
    return name.replace("~", "~0").replace("/", "~1")


def _refuse(at: str, value: Any, why: str) -> NoReturn:
    shown = shorten(repr(value))
    raise BadParameters([Fault(at or "/", shown, f"{shorten(at) or 'The body'} ({shown}) {why}")])


def _unknown(record: str, name: str, text: str, names: Mapping[str, Any], pointer: str) -> Noticed:
    near = difflib.get_close_matches(normal(name[:80]), names, n=1, cutoff=0.6)
    return Noticed(
        "unknown-heading",
        ERROR,
        f"{name[:60]!r} is no name of a {record} that the book knows.",
        f"Did you mean {names[near[0]][0].name!r}?" if near else "Take the names of the flat template's columns.",
        record=record,
        field=name[:60],
        value=text[:200],
        place=Place(pointer, 0),
    )


def findings(noticed: Iterable[Noticed]) -> list[dict[str, Any]]:
    """What was noticed, each with the pointer to what it is about."""
    return [{**plain(one), "pointer": one.place.sheet if one.place else ""} for one in noticed]


def answer(draft: Draft, noticed: Iterable[Noticed]) -> dict[str, Any]:
    """The ladder of the series, with its working."""
    series = next(one for one in draft.series if one.label == LABEL)
    specimens = draft.specimens[LABEL]
    action = series.setup.loading.action
    return {
        "action": action,
        "reads": series.setup.reads,
        "reading_steps": _reading_steps(series.setup),
        "readings": [_reading(one, action) for one in specimens],
        "footings": [_footing(one, series, specimens) for one in draft.footings if one.series is series],
        "findings": findings(noticed),
    }


def _reading(one: Specimen, action: str) -> dict[str, Any]:
    return {
        "reading_typed": one.reading_typed,
        "reading_unit": one.reading_unit,
        "outcome": one.outcome,
        "flagged": one.flagged,
        "footings": {code: getattr(one, specimen_field(code, action)) for code in FOOTINGS},
    }


def _footing(one: SeriesFooting, series: Series, specimens: list[Specimen]) -> dict[str, Any]:
    kind = FOOTINGS[one.code]
    field = specimen_field(one.code, series.setup.loading.action)
    return {
        "code": one.code,
        "name": kind.name,
        "symbol": kind.symbol,
        "unit": one.unit,
        "values": [getattr(specimen, field) for specimen in specimens],
        "factor": one.factor,
        "basis": one.basis,
        "worked": one.worked,
        "steps": one.steps,
        "missing": one.missing,
    }


def _reading_steps(setup: Setup) -> list[dict[str, Any]]:
    """How what the instrument shows became a force."""
    if setup.instrument_id is None or setup.reads == Setup.Reads.STRESS:
        return []
    lengths = {"ram_diameter_mm": setup.ram_diameter_mm, "lever_ratio": setup.lever_ratio}
    return [step.to_dict() for step in to_force(1.0, setup.instrument_id, **lengths).steps]
