"""Tables as lines: CSV (RFC 4180) and a JSON object a line, some hundred rows at a time.

Both join what they say of a cell by commas, so that a line can be put together from pieces made apart.
"""

from __future__ import annotations

import csv
import json
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from itertools import islice
from typing import Any

from rest_framework.utils.encoders import JSONEncoder

from ..columns import BOOLEAN, NESTED, TEXT, TIME
from .table import Heading, Table

# A spreadsheet takes a text that begins with one of these for a formula, or for the start of one.
FORMULA_STARTS = frozenset("=+-@\t\r\n")
# Lines are sent by the block: one at a time would cost more than making them.
BLOCK_ROWS = 500
Rows = Sequence[Sequence[Any]]


class LineFormat(ABC):
    """A format of lines. `start` and `end` stand around the pieces of a line."""

    suffix: str
    media_type: str
    start: str
    end: str

    @abstractmethod
    def head(self, headings: Sequence[Heading]) -> str:
        """What stands above the first row."""

    @abstractmethod
    def pieces(self, headings: Sequence[Heading], rows: Rows) -> list[str]:
        """Some columns of each row, joined by commas."""

    def whole(self, headings: Sequence[Heading], rows: Rows) -> str:
        """Lines of rows that are not put together from pieces."""
        return self.lines([self.pieces(headings, rows)])

    def lines(self, pieces: Sequence[Sequence[str]]) -> str:
        """Lines from their pieces, which are given by column."""
        joined = pieces[0] if len(pieces) == 1 else map(",".join, zip(*pieces, strict=True))
        between = self.end + self.start
        return f"{self.start}{between.join(joined)}{self.end}"


def _guarded(cells: Sequence[str | None]) -> Sequence[str | None]:
    """Texts that a spreadsheet would run as a formula get an apostrophe before them."""
    if FORMULA_STARTS.isdisjoint({cell[0] for cell in cells if cell}):
        return cells
    return ["'" + cell if cell and cell[0] in FORMULA_STARTS else cell for cell in cells]


def _booleans(cells: Sequence[bool | None]) -> list[str | None]:
    return [None if cell is None else "true" if cell else "false" for cell in cells]


def _times(cells: Sequence[datetime | None]) -> list[str | None]:
    return [None if cell is None else cell.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ") for cell in cells]


def _nested(cells: Sequence[Any]) -> list[str | None]:
    return [None if cell is None else json.dumps(cell, ensure_ascii=False) for cell in cells]


class _CSV(LineFormat):
    """Commas, CRLF, UTF-8; missing is empty. Numbers are never touched, so that -1.5 stays a number."""

    suffix, media_type, start, end = "csv", "text/csv", "", "\r\n"
    # Numbers need no writer: Python prints the shortest text that reads back as the same number.
    _WRITERS: dict[str, Callable[[Sequence[Any]], Sequence[Any]]] = {
        TEXT: _guarded,
        BOOLEAN: _booleans,
        TIME: _times,
        NESTED: _nested,
    }

    def head(self, headings: Sequence[Heading]) -> str:
        return ",".join(heading.name for heading in headings) + self.end

    def pieces(self, headings: Sequence[Heading], rows: Rows) -> list[str]:
        if any(heading.kind in self._WRITERS for heading in headings):
            columns: list[Sequence[Any]] = list(zip(*rows, strict=True))
            for place, heading in enumerate(headings):
                if heading.kind in self._WRITERS:
                    columns[place] = self._WRITERS[heading.kind](columns[place])
            rows = list(zip(*columns, strict=True))
        written: list[str] = []
        csv.writer(_Lines(written)).writerows(rows)
        if len(headings) == 1:  # the writer marks an only cell that is empty, which a piece of a line is not
            return ["" if line == '""\r\n' else line[:-2] for line in written]
        return [line[:-2] for line in written]

    def whole(self, headings: Sequence[Heading], rows: Rows) -> str:
        pieces = self.pieces(headings, rows)
        if len(headings) == 1:  # a blank line would be skipped by whoever reads it
            pieces = [piece or '""' for piece in pieces]
        return self.lines([pieces])


class _Lines:
    """Keeps each line that is written."""

    def __init__(self, lines: list[str]) -> None:
        self.write = lines.append


class _NDJSON(LineFormat):
    """Each line an object, as the rows of a page in JSON."""

    suffix, media_type, start, end = "ndjson", "application/x-ndjson", "{", "}\n"

    def __init__(self) -> None:
        self._encode = JSONEncoder(ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode

    def head(self, headings: Sequence[Heading]) -> str:
        return ""

    def pieces(self, headings: Sequence[Heading], rows: Rows) -> list[str]:
        names, encode = [heading.name for heading in headings], self._encode
        blank_is_missing = [
            [None if cell == "" else cell for cell in row] if "" in row else row for row in map(tuple, rows)
        ]
        return [encode(dict(zip(names, row, strict=True)))[1:-1] for row in blank_is_missing]


CSV, NDJSON = _CSV(), _NDJSON()


def line_blocks(form: LineFormat, table: Table) -> Iterator[bytes]:
    """The table in a format of lines. Memory does not grow with the rows, if they come from an iterator."""
    if head := form.head(table.headings):
        yield head.encode()
    rows = iter(table.rows)
    while block := list(islice(rows, BLOCK_ROWS)):
        yield form.whole(table.headings, block).encode()
