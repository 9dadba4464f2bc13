"""Rows as lines and lines as rows, some at a time: the same lines on every database.

A line is what PostgreSQL's COPY calls its text format: cells parted by tabs, ``\\N`` for nothing, a backslash before a
backslash and in place of tabs and ends of lines. So there the database reads and writes them itself.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

from django.db import connection

from .tables import BOOLEAN, BYTES, DATE, INTEGER, JSON, REAL, TEXT, TIME, UUID, Column, Table

ROWS, LARGE_ROWS = 2_000, 50
BLOCK = 1 << 18
NOTHING = "\\N"
_ESCAPES = {"\\": "\\\\", "\t": "\\t", "\n": "\\n", "\r": "\\r", "\b": "\\b", "\f": "\\f", "\v": "\\v"}
_PLAIN = {escape[1]: plain for plain, escape in _ESCAPES.items()}
_ODD = re.compile(r"[\\\t\n\r\b\f\v]")
_ESCAPED = re.compile(r"\\(.)", re.DOTALL)
_NO_FRACTION = ".000000"


def lines_of(table: Table) -> Iterator[bytes]:
    """All rows of a table as lines, in the order of its key, a block at a time."""
    return _lines_of_postgresql(table) if connection.vendor == "postgresql" else _lines_of_sqlite(table)


def load(table: Table, blocks: Iterable[bytes]) -> int:
    """Add rows from lines; how many."""
    return _load_postgresql(table, blocks) if connection.vendor == "postgresql" else _load_sqlite(table, blocks)


def _quoted(names: Iterable[str]) -> str:
    return ", ".join(connection.ops.quote_name(name) for name in names)


# -- PostgreSQL: the database's own COPY -----------------------------------------------------------
def _lines_of_postgresql(table: Table) -> Iterator[bytes]:
    quote = connection.ops.quote_name
    forms = {
        TIME: "to_char({} AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI:SS.US')",
        DATE: "to_char({}, 'YYYY-MM-DD')",
    }
    cells = ", ".join(forms.get(column.kind, "{}").format(quote(column.name)) for column in table.columns)
    query = f"COPY (SELECT {cells} FROM {quote(table.name)} ORDER BY {quote(table.key)}) TO STDOUT"
    with connection.cursor() as cursor, cursor.copy(query) as copy:
        held = bytearray()
        for row in copy:
            held += row
            if len(held) >= BLOCK:
                yield bytes(held)
                held.clear()
        if held:
            yield bytes(held)


def _load_postgresql(table: Table, blocks: Iterable[bytes]) -> int:
    name = connection.ops.quote_name(table.name)
    with connection.cursor() as cursor:
        with cursor.copy(f"COPY {name} ({_quoted(table.names)}) FROM STDIN") as copy:
            for block in blocks:
                copy.write(block)
        return int(cursor.rowcount)


# -- SQLite: cell by cell, a column of a block at a time -------------------------------------------
def _lines_of_sqlite(table: Table) -> Iterator[bytes]:
    quote = connection.ops.quote_name
    # With the sign a column has no declared type, by which the driver would make dates and truth values of its own.
    cells = ", ".join(f"+{quote(column.name)}" for column in table.columns)
    at_a_time = LARGE_ROWS if any(column.kind == BYTES for column in table.columns) else ROWS
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {cells} FROM {quote(table.name)} ORDER BY {quote(table.key)}")
        while rows := cursor.fetchmany(at_a_time):
            by_column = [
                as_text(column, cells) for column, cells in zip(table.columns, zip(*rows, strict=True), strict=True)
            ]
            text = "\n".join(map("\t".join, zip(*by_column, strict=True)))
            yield f"{text}\n".encode()


def as_text(column: Column, cells: Sequence[Any]) -> list[str]:
    """Cells of one column as lines have them, from what SQLite holds."""
    write = _WRITERS.get(column.kind)
    if write is not None:
        return [NOTHING if cell is None else write(cell) for cell in cells]
    if _ODD.search("".join([cell for cell in cells if cell is not None])):
        return [NOTHING if cell is None else _ODD.sub(lambda odd: _ESCAPES[odd[0]], cell) for cell in cells]
    return [NOTHING if cell is None else cell for cell in cells]


def _time_written(cell: str) -> str:
    return cell if "." in cell else cell + _NO_FRACTION


def _uuid_written(cell: str) -> str:
    return f"{cell[:8]}-{cell[8:12]}-{cell[12:16]}-{cell[16:20]}-{cell[20:]}"


def _bytes_written(cell: bytes) -> str:
    return f"\\\\x{cell.hex()}"


_WRITERS: dict[str, Callable[[Any], str]] = {
    INTEGER: str,
    REAL: repr,
    BOOLEAN: lambda cell: "t" if cell else "f",
    TIME: _time_written,
    DATE: str,
    UUID: _uuid_written,
    BYTES: _bytes_written,
}


def _load_sqlite(table: Table, blocks: Iterable[bytes]) -> int:
    marks = ", ".join(["%s"] * len(table.columns))
    order = f"INSERT INTO {connection.ops.quote_name(table.name)} ({_quoted(table.names)}) VALUES ({marks})"
    count = 0
    with connection.cursor() as cursor:
        for lines in whole_lines(blocks):
            split = [line.split("\t") for line in lines]
            by_column = [
                as_cells(column, cells) for column, cells in zip(table.columns, zip(*split, strict=True), strict=True)
            ]
            cursor.executemany(order, list(zip(*by_column, strict=True)))
            count += len(lines)
    return count


def whole_lines(blocks: Iterable[bytes]) -> Iterator[list[str]]:
    """The lines of blocks that end anywhere, as text and without their ends."""
    rest = b""
    for block in blocks:
        whole, end, after = (rest + block).rpartition(b"\n")
        rest = after
        if end:
            yield whole.decode().split("\n")
    if rest:
        raise ValueError("the last line has no end")


def as_cells(column: Column, cells: Sequence[str]) -> list[Any]:
    """The way back."""
    read = _READERS[column.kind]
    return [None if cell == NOTHING else read(cell) for cell in cells]


def _text_read(cell: str) -> str:
    return _ESCAPED.sub(lambda found: _PLAIN.get(found[1], found[1]), cell) if "\\" in cell else cell


def _time_read(cell: str) -> str:
    """As Django writes it, which compares such texts: no fraction where it is none."""
    return cell.removesuffix(_NO_FRACTION)


_READERS: dict[str, Callable[[str], Any]] = {
    INTEGER: int,
    REAL: float,
    BOOLEAN: lambda cell: int(("f", "t").index(cell)),
    TEXT: _text_read,
    JSON: _text_read,
    TIME: _time_read,
    DATE: str,
    UUID: lambda cell: cell.replace("-", ""),
    BYTES: lambda cell: bytes.fromhex(cell.removeprefix("\\\\x")),
}
