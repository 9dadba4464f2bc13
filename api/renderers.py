"""Tables as CSV that any program reads and no spreadsheet runs; which of JSON and CSV is asked for."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import islice
from typing import Any

from django.http import StreamingHttpResponse
from rest_framework.negotiation import DefaultContentNegotiation
from rest_framework.renderers import BaseRenderer

from .columns import BOOLEAN, TEXT, TIME, Column
from .errors import BadParameters, Fault

FORMATS = ("json", "csv")
# A spreadsheet takes a text that begins with one of these for a formula, or for the start of one.
FORMULA_STARTS = frozenset("=+-@\t\r\n")
# Lines are sent by the block: one at a time would cost more than making them.
BLOCK_ROWS = 500


@dataclass(frozen=True)
class Table:
    """Named columns and their rows, which may be an iterator that is read once.

    Parameters
    ----------
    columns : sequence of (name, kind)
        Headings and what their cells hold, see `api.columns`.
    rows : iterable of sequences
        Cells in the columns' order; None is missing.
    """

    columns: Sequence[tuple[str, str]]
    rows: Iterable[Sequence[Any]]

    @classmethod
    def of(cls, columns: Sequence[Column], rows: Iterable[Sequence[Any]]) -> Table:
        return cls([(column.name, column.kind) for column in columns], rows)


def _text(value: Any) -> Any:
    return "'" + value if value and value[0] in FORMULA_STARTS else value


def _boolean(value: Any) -> Any:
    return value if value is None else "true" if value else "false"


def _time(value: datetime | None) -> str | None:
    return value if value is None else value.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


# Numbers need no writer: Python prints the shortest text that reads back as the same number.
WRITERS: dict[str, Callable[[Any], Any]] = {TEXT: _text, BOOLEAN: _boolean, TIME: _time}


def csv_blocks(table: Table) -> Iterator[bytes]:
    """The table as CSV (RFC 4180: commas, CRLF, UTF-8), some hundred lines at a time.

    Memory does not grow with the rows, if they come from an iterator. Text that a spreadsheet would run as a
    formula gets an apostrophe before it; numbers are never touched, so -1.5 stays a number.
    """
    writers = [(place, WRITERS[kind]) for place, (_, kind) in enumerate(table.columns) if kind in WRITERS]
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow([name for name, _ in table.columns])
    yield _drain(out)
    rows = iter(table.rows)
    while block := list(islice(rows, BLOCK_ROWS)):
        for row in block:
            cells = list(row)
            for place, write in writers:
                cells[place] = write(cells[place])
            writer.writerow(cells)
        yield _drain(out)


def _drain(out: io.StringIO) -> bytes:
    """What was written since the last time."""
    written = out.getvalue().encode()
    out.seek(0)
    out.truncate()
    return written


def stream(table: Table, file_name: str) -> StreamingHttpResponse:
    """The whole table as a download, sent while it is read."""
    response = StreamingHttpResponse(csv_blocks(table), content_type="text/csv; charset=utf-8")
    response.headers["Content-Disposition"] = f'attachment; filename="{file_name}.csv"'
    return response


class CSVRenderer(BaseRenderer):
    """A table that is already in memory: a page of rows, one record, a comparison."""

    media_type = "text/csv"
    format = "csv"
    charset = "utf-8"

    def render(self, data: Table, accepted_media_type: str | None = None, renderer_context: Any = None) -> bytes:
        return b"".join(csv_blocks(data))


class Negotiation(DefaultContentNegotiation):
    """The address decides (``.csv`` or ``?format=csv``); only without it does the Accept header."""

    def select_renderer(self, request, renderers, format_suffix=None):
        asked = format_suffix or request.query_params.get("format")
        if not asked:
            return super().select_renderer(request, renderers)
        for renderer in renderers:
            if renderer.format == asked:
                return renderer, renderer.media_type
        detail = f"format={asked[:20]!r} is not offered; it may be {' or '.join(FORMATS)}."
        raise BadParameters([Fault("format", asked, detail)])
