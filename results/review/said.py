"""A document's records in words, as a reader reads them."""

from __future__ import annotations

from typing import Any

from django.db.models import Model

from results import models
from results.intake.columns import RECORDS, Column

from .document import READING, Document

# What a document says in other words than a submission does, or that no column fills.
_OWN_WORDS = {"typed", "reading_typed", "reading_unit", "specimens", "summary", *READING.values()}
_UNITS = {"mm_min": "mm/min", "mm": "mm", "deg": "°", "pct": "%", "kgm3": "kg/m³", "hours": "h"}
_READ_UNITS = {"force": "N", "moment": "N·m", "stress": "MPa"}
DIGITS = 6


class Words:
    """Names of the vocabulary's rows, each vocabulary read when it is first asked for."""

    def __init__(self) -> None:
        self._names: dict[str, dict[str, str]] = {}

    def name(self, vocabulary: str, code: str) -> str:
        if vocabulary not in self._names:
            model: type[Model] = getattr(models, vocabulary)
            self._names[vocabulary] = dict(model._default_manager.values_list("pk", "name"))
        return self._names[vocabulary].get(code, code)


class Said:
    """Says what records of documents hold: the columns' names, and each value as typed and in SI.

    Parameters
    ----------
    digits : int
        Of a number in SI.
    """

    def __init__(self, digits: int = DIGITS) -> None:
        self.words = Words()
        self.digits = digits

    def study(self, said: dict[str, Any]) -> dict[str, str]:
        return self._columns("study", said)

    def setup(self, said: dict[str, Any]) -> dict[str, str]:
        found = self._columns("setup", said)
        if "rig" in said:
            found["rig kept"] = said["rig"]
        return found

    def series(self, said: dict[str, Any]) -> dict[str, str]:
        found = self._columns("series", said)
        summary = said.get("summary")
        if summary:
            unit = _READ_UNITS[summary["quantity"]]
            found["mean"] = self._both(summary["mean_typed"], summary["mean_si"], unit)
            if "sd_si" in summary:
                found["sd"] = self._both(summary.get("sd_typed", ""), summary["sd_si"], unit)
            if "n" in summary:
                found["n"] = str(summary["n"])
        return found

    def specimen(self, said: dict[str, Any], reads: str) -> dict[str, str]:
        found = {}
        typed, unit = said.get("reading_typed", ""), said.get("reading_unit", "")
        if typed or READING[reads] in said:
            text = typed if not unit or unit in typed else f"{typed} {unit}"
            found["reading"] = self._both(text, said.get(READING[reads]), _READ_UNITS[reads])
        return found | self._columns("specimen", said)

    def _columns(self, record: str, said: dict[str, Any]) -> dict[str, str]:
        """In the columns' order; the record's own label is its name and not said again."""
        typed = said.get("typed", {})
        found = {}
        for column in RECORDS[record]:
            if column.field in said and column.field != "label" and column.field not in _OWN_WORDS:
                found[column.name] = self._text(column, said[column.field], str(typed.get(column.field, "")))
        return found

    def _text(self, column: Column, value: Any, typed: str) -> str:
        if column.vocabulary:
            return self.words.name(column.vocabulary, value)
        if isinstance(value, bool):
            return "yes" if value else "no"
        if column.choices:
            return dict(column.choices).get(value, str(value))
        if isinstance(value, (int, float)):
            return self._both(typed, value, unit_of(column.field))
        return str(value)

    def _both(self, typed: str, value: float | None, unit: str) -> str:
        """A number as typed, and in SI unless that is the same."""
        if value is None:
            return typed
        si = f"{value:.{self.digits}g} {unit}".strip()
        return si if not typed or "".join(typed.split()) == "".join(si.split()) else f"{typed} = {si}"


def unit_of(field: str) -> str:
    """The unit that a field's name ends in."""
    return next((unit for ending, unit in _UNITS.items() if field.endswith(f"_{ending}")), "")


def reads_of(written: Document) -> dict[str, str]:
    """What a reading is on each setup of a document, by the setup's label."""
    return {one["label"]: one["reads"] for one in written["setups"]}
