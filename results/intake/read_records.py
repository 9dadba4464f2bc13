"""Records from a program, one a specimen, to the rows that a flat table would give."""

from __future__ import annotations

from typing import Any

from . import tables
from .findings import Place, Unreadable
from .read_csv import COLUMNS_MOST, ROWS_MOST, too_many_columns, too_many_rows
from .rows import Row, Rows

_RIGHT = "Send a list of objects, one for each specimen, keyed by the names of the flat template's columns."


def text_of(value: Any) -> str:
    """A plain value as somebody would type it.

    Raises
    ------
    TypeError
        For a list or an object.
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (str, int, float)):
        return str(value).strip()
    raise TypeError(f"{type(value).__name__} is no plain value")


def read_records(records: Any) -> Rows:
    """Read a list of objects as a flat table; its row 1 are the names, so that the first object is row 2.

    Parameters
    ----------
    records : list of dict
        From JSON.

    Returns
    -------
    Rows
        What was sent, each cell with its place.

    Raises
    ------
    Unreadable
        If it is no such list.
    """
    if not isinstance(records, list) or not all(isinstance(one, dict) for one in records):
        raise Unreadable("not-records", "What was sent is no list of objects.", _RIGHT)
    if not records:
        raise Unreadable("empty", "The list holds no objects.", _RIGHT)
    if len(records) > ROWS_MOST:
        raise too_many_rows("the list", len(records))
    names = list(dict.fromkeys(name for one in records for name in one))
    if len(names) > COLUMNS_MOST:
        raise too_many_columns("the list", len(names))
    grid = [(1, [name.strip() for name in names])]
    for number, one in enumerate(records, 2):
        grid.append((number, [_cell(number, name, one.get(name)) for name in names]))
    rows = Rows(Row("study", Place("", 0, 0)), decimal=".")
    tables.flat(tables.Grid("", [(number, texts) for number, texts in grid if any(texts)]), rows)
    return rows


def _cell(number: int, name: str, value: Any) -> str:
    try:
        return text_of(value)
    except TypeError:
        raise Unreadable(
            "not-plain",
            f"{name[:60]!r} of row {number} holds a list or an object.",
            "Give a text, a number, true, false or null.",
        ) from None
