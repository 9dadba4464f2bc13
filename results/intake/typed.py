"""Records with their values, as the checks leave them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from .columns import RECORDS, Column
from .findings import Noticed
from .rows import Row, Rows
from .values import Quantity, Values

COLUMNS = {record: {column.name: column for column in columns} for record, columns in RECORDS.items()}


@dataclass(slots=True)
class Typed:
    """A record with its values.

    Parameters
    ----------
    row : Row
        As typed.
    values : dict of str to object
        By the record's field (by the column's name where it fills none): text, code, vocabulary row, whole
        number or `Quantity`. What is blank or could not be read is absent.
    """

    row: Row
    values: dict[str, Any] = field(default_factory=dict)

    def si(self, name: str) -> Any:
        """A value ready for the record: quantities in SI."""
        value = self.values.get(name)
        return value.si if isinstance(value, Quantity) else value

    @property
    def label(self) -> str:
        return str(self.values.get("label") or "")


@dataclass(slots=True)
class TypedSetup(Typed):
    """A setup, and how readings on it are read.

    Parameters
    ----------
    kind : str
        Kind of quantity typed: force, pressure, moment or stress; empty if that can't be told.
    unit : str or None
        Unit of readings typed without one; None if one was named that can't be read.
    reads : str
        What a reading is once converted: force, moment or stress.
    factor : float or None
        From a reading in SI to N, N·m or MPa; None if it can't be told.
    """

    kind: str = "force"
    unit: str | None = ""
    reads: str = "force"
    factor: float | None = 1.0


@dataclass(slots=True)
class TypedSeries(Typed):
    """A series with what it belongs to and what belongs to it."""

    setup: TypedSetup | None = None
    control: TypedSeries | None = None
    specimens: list[Typed] = field(default_factory=list)


@dataclass
class Checked:
    """A submission with its values and findings.

    Parameters
    ----------
    rows : Rows
        As typed.
    study : Typed
        The study.
    setups, series : list
        The setups; the series, each with its specimens.
    noticed : list of Noticed
        Everything the reader and the checks noticed.
    """

    rows: Rows
    study: Typed
    setups: list[TypedSetup]
    series: list[TypedSeries]
    noticed: list[Noticed]


def read_all(values: Values, row: Row, skip: tuple[str, ...] = (), unit: str | None = "") -> dict[str, Any]:
    """Values of a row by field, but for the columns to skip; `unit` is that of lengths typed without one."""
    read = {}
    for name, column in COLUMNS[row.record].items():
        if name in skip or (name not in row.cells and not column.required):
            continue
        value = values.read(row, column, unit=unit if column.kind == "length" else "")
        if value is not None:
            read[column.field or name] = value
    return read


def column_of(record: str, field_name: str) -> Column | None:
    """The column that fills a field; none for no field, which some columns don't fill either."""
    return next((column for column in RECORDS[record] if field_name and column.field == field_name), None)


def the_column_of(record: str, field_name: str) -> Column:
    """The column that fills a field which has one."""
    return next(column for column in RECORDS[record] if column.field == field_name)
