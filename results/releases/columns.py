"""A column of a release: its name with its unit, where it comes from, what it means and what it may hold."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from django.db.models import F
from django.db.models.expressions import Combinable

TEXT, NUMBER, INTEGER, BOOLEAN, TIME = "text", "number", "integer", "boolean", "time"
# Nested values, written as JSON text: what was typed by field, steps of a derivation.
OBJECT, LIST = "object", "list"

# The unit is the end of the name, so the two can't disagree. Longer endings stand before their own ends.
UNITS = {
    "_mm_min": "mm/min",
    "_per_pct": "1/%",
    "_kgm3": "kg/m³",
    "_hours": "h",
    "_mpa": "MPa",
    "_gpa": "GPa",
    "_pct": "%",
    "_deg": "°",
    "_mm": "mm",
    "_nm": "N·m",
    "_n": "N",
}
# A spreadsheet takes a text that begins with one of these for a formula, or for the start of one.
FORMULA_STARTS = frozenset("=+-@\t\r\n")


@dataclass(frozen=True)
class Column:
    """One column of a released table, the same in CSV and in Parquet.

    Parameters
    ----------
    name : str
        Its heading; a physical number's name ends in its unit.
    source : str or expression
        A field's path from the table's record, or a database expression.
    kind : {"text", "number", "integer", "boolean", "time", "object", "list"}
        What its cells hold, if they hold anything.
    meaning : str
        One line for the data dictionary.
    required : bool
        Whether every row has it.
    words : tuple of str
        The only values it may hold; empty where it is free.
    low, high : float, optional
        The least and the most it may be.
    """

    name: str
    source: str | Combinable
    kind: str
    meaning: str
    required: bool = False
    words: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None

    @property
    def unit(self) -> str:
        """The unit its name ends in; empty for words, counts and ratios."""
        if self.kind != NUMBER:
            return ""
        return next((unit for ending, unit in UNITS.items() if self.name.endswith(ending)), "")

    @property
    def expression(self) -> Combinable:
        return F(self.source) if isinstance(self.source, str) else self.source


def text(name: str, source: str | Combinable, meaning: str, **more: Any) -> Column:
    return Column(name, source, TEXT, meaning, **more)


def number(name: str, source: str | Combinable, meaning: str, **more: Any) -> Column:
    return Column(name, source, NUMBER, meaning, **more)


def integer(name: str, source: str | Combinable, meaning: str, **more: Any) -> Column:
    return Column(name, source, INTEGER, meaning, **more)


def boolean(name: str, source: str | Combinable, meaning: str, **more: Any) -> Column:
    return Column(name, source, BOOLEAN, meaning, **more)


def time(name: str, source: str | Combinable, meaning: str, **more: Any) -> Column:
    return Column(name, source, TIME, meaning, **more)


# A cell as Parquet keeps it, before CSV makes a text of it.
def _blank_is_missing(value: Any) -> Any:
    return None if value == "" else value


def _whole_seconds(value: datetime | None) -> datetime | None:
    return value if value is None else value.astimezone(UTC).replace(microsecond=0)


def _float(value: Any) -> float | None:
    return value if value is None else float(value)


def _json(value: Any) -> str | None:
    """Nested values as JSON with sorted keys, whichever order the database gives them in."""
    return None if value is None else json.dumps(value, sort_keys=True, ensure_ascii=False)


PLAIN: dict[str, Callable[[Any], Any]] = {
    TEXT: _blank_is_missing,
    NUMBER: _float,
    TIME: _whole_seconds,
    OBJECT: _json,
    LIST: _json,
}


# The same cell as CSV has it; numbers need no writer, Python prints the shortest text that reads back the same.
def _guarded(value: str | None) -> str | None:
    return "'" + value if value and value[0] in FORMULA_STARTS else value


def _boolean(value: bool | None) -> str | None:
    return value if value is None else "true" if value else "false"


def _time(value: datetime | None) -> str | None:
    return value if value is None else value.strftime("%Y-%m-%dT%H:%M:%SZ")


AS_CSV: dict[str, Callable[[Any], Any]] = {TEXT: _guarded, BOOLEAN: _boolean, TIME: _time}
