"""A column of an answer: its name with its unit, where it comes from and what it means."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, F, QuerySet, Subquery
from django.db.models.expressions import Combinable
from django.db.models.functions import Coalesce

TEXT, NUMBER, INTEGER, BOOLEAN, TIME = "text", "number", "integer", "boolean", "time"
# A list or an object: nested in JSON, the same as JSON text where a cell holds one text.
NESTED = "nested"

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


@dataclass(frozen=True)
class Column:
    """One column of a table, the same in JSON and in CSV.

    Parameters
    ----------
    name : str
        The key in JSON and the heading in CSV; a physical number's name ends in its unit.
    source : str or expression
        A field's path from the table's record, or a database expression.
    kind : {"text", "number", "integer", "boolean", "time", "nested"}
        What its cells hold, if they hold anything.
    meaning : str
        One line for the data dictionary.
    values : tuple of str
        The words it may hold, where these are few and fixed.
    """

    name: str
    source: str | Combinable
    kind: str
    meaning: str
    values: tuple[str, ...] = ()

    @property
    def unit(self) -> str:
        """The unit its name ends in; empty for words, counts and ratios."""
        if self.kind != NUMBER:
            return ""
        return next((unit for ending, unit in UNITS.items() if self.name.endswith(ending)), "")

    @property
    def expression(self) -> Combinable:
        return F(self.source) if isinstance(self.source, str) else self.source


def text(name: str, source: str | Combinable, meaning: str, values: Iterable[str] = ()) -> Column:
    return Column(name, source, TEXT, meaning, tuple(str(value) for value in values if value))


def number(name: str, source: str | Combinable, meaning: str) -> Column:
    return Column(name, source, NUMBER, meaning)


def integer(name: str, source: str | Combinable, meaning: str) -> Column:
    return Column(name, source, INTEGER, meaning)


def boolean(name: str, source: str | Combinable, meaning: str) -> Column:
    return Column(name, source, BOOLEAN, meaning)


def time(name: str, source: str | Combinable, meaning: str) -> Column:
    return Column(name, source, TIME, meaning)


def nested(name: str, source: str | Combinable, meaning: str) -> Column:
    return Column(name, source, NESTED, meaning)


def counted(rows: QuerySet, key: str) -> Combinable:
    """How many of the rows there are for each value of their key; 0 where there are none.

    Parameters
    ----------
    rows : QuerySet
        Already narrowed to the outer record by an `OuterRef`.
    key : str
        The field that the narrowing is on.
    """
    per_key = rows.order_by().values(key).annotate(rows=Count("pk")).values("rows")
    return Coalesce(Subquery(per_key), 0)


def values_of(rows: QuerySet, columns: Sequence[Column]) -> QuerySet:
    """The rows as tuples in the columns' order, from one query."""
    return rows.values_list(*(column.source for column in columns))


def as_dict(columns: Sequence[Column], row: Sequence[Any]) -> dict[str, Any]:
    """One row of `values_of`, by column name; a text left blank is missing, like anything else not given."""
    return {column.name: None if value == "" else value for column, value in zip(columns, row, strict=True)}
