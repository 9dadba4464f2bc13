"""Workbooks, looked over before they are opened, then read row by row."""

from __future__ import annotations

import datetime
import io
import warnings
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager

from openpyxl import load_workbook
from openpyxl.workbook import Workbook
from openpyxl.worksheet._read_only import ReadOnlyWorksheet

from . import read_csv
from .findings import DOUBT, Noticed, Place, Unreadable
from .read_csv import COLUMNS_MOST, too_many_columns, too_many_rows
from .tables import Grid

# A workbook is a zip: what it unpacks to is known before it is unpacked, and zipfile never yields more.
UNPACKED_MOST = 300_000_000
OTHER_PARTS_MOST = 60_000_000
RATIO_MOST = 120
RATIO_FROM = 10_000_000
PARTS_MOST = 2_000
# Programs that "format the whole column" leave rows without text; after so many the rest is not looked at.
BLANK_ROWS_MOST = 20_000
# Rows of all sheets together, blank ones too: a bound on the time that one workbook can take.
ROWS_LOOKED_AT = 250_000


def grids(data: bytes) -> tuple[list[Grid], list[Noticed]]:
    """The texts of all visible sheets, and what was noticed on the way."""
    look_over(data)
    with opened(data, read_only=True) as workbook:
        found: list[Grid] = []
        noticed: list[Noticed] = []
        room = ROWS_LOOKED_AT
        for sheet in workbook.worksheets:
            if sheet.sheet_state == "visible":
                grid, room = _grid(sheet, noticed, room)
                found.append(grid)
        return found, noticed


@contextmanager
def opened(data: bytes, *, read_only: bool) -> Iterator[Workbook]:
    """A workbook with its formulas as typed."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # about drawings and styles that don't matter here
        try:
            workbook = load_workbook(io.BytesIO(data), read_only=read_only, data_only=False, keep_links=False)
        except Unreadable:
            raise
        except Exception as error:  # openpyxl raises whatever the broken XML leads to
            raise _broken(error) from None
        try:
            yield workbook
        finally:
            workbook.close()


def look_over(data: bytes) -> None:
    """Refuse what is no workbook, or would unpack to something no workbook of tests is.

    Raises
    ------
    Unreadable
        With what is wrong and what to do.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = archive.infolist()
            names = {part.filename for part in parts}
            if "xl/workbook.xml" not in names:
                raise Unreadable(
                    "not-a-workbook",
                    "The file is a zip archive but no XLSX workbook.",
                    "Send the workbook itself, saved as XLSX.",
                )
            _weigh(parts, len(data))
            for part in parts:
                with archive.open(part) as opened_part:
                    start = opened_part.read(2_000).upper()
                if b"<!DOCTYPE" in start or b"<!ENTITY" in start:
                    raise _broken(f"{part.filename} declares a document type")
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, OSError) as error:
        raise _broken(error) from None


def _weigh(parts: list[zipfile.ZipInfo], size: int) -> None:
    total = sum(part.file_size for part in parts)
    other = sum(part.file_size for part in parts if not part.filename.startswith("xl/worksheets/"))
    packed_tight = total > RATIO_FROM and total > RATIO_MOST * size
    if total > UNPACKED_MOST or other > OTHER_PARTS_MOST or len(parts) > PARTS_MOST or packed_tight:
        raise Unreadable(
            "unpacks-too-large",
            f"The workbook of {size / 1e6:.2g} MB unpacks to {total / 1e6:.0f} MB in {len(parts)} parts, "
            "far more than a table of tests.",
            "Copy the filled cells into the blank template, values only, and send that.",
        )


def unpacked(data: bytes) -> int:
    """Bytes that a workbook unpacks to."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return sum(part.file_size for part in archive.infolist())


def _broken(error: object) -> Unreadable:
    return Unreadable(
        "broken-workbook",
        f"The workbook can't be opened ({str(error)[:120]}).",
        "Open it in your spreadsheet program, save it again as XLSX, and send that; or send it as CSV.",
    )


def _grid(sheet: ReadOnlyWorksheet, noticed: list[Noticed], room: int) -> tuple[Grid, int]:
    """The texts of one sheet, and how many rows of the room are left."""
    # What a sheet says of its own size may be anything; without it each row is as wide as its cells.
    sheet.reset_dimensions()
    rows: list[tuple[int, list[str]]] = []
    last = number = 0
    try:
        for number, cells in enumerate(sheet.iter_rows(), 1):
            texts = [text_of(cell) for cell in cells]
            while texts and not texts[-1]:
                texts.pop()
            if texts:
                last = number
                rows.append((number, texts))
                if len(texts) > COLUMNS_MOST:
                    raise too_many_columns(f"sheet {sheet.title}", len(texts))
            elif number - last >= BLANK_ROWS_MOST:
                noticed.append(_blank_rows(sheet.title, last))
                break
            if len(rows) > read_csv.ROWS_MOST or number > room:
                raise too_many_rows(f"sheet {sheet.title}", len(rows))
    except Unreadable:
        raise
    except Exception as error:  # openpyxl raises whatever the broken XML leads to
        raise _broken(f"sheet {sheet.title}, row {number + 1}: {error}") from None
    return Grid(sheet.title, rows), room - number


def _blank_rows(title: str, last: int) -> Noticed:
    return Noticed(
        "blank-rows",
        DOUBT,
        f"Sheet {title} goes on for more than {BLANK_ROWS_MOST:,} rows without text after row {last}; "
        "what may stand below was not looked at.".replace(",", " ", 1),
        "Check that the counts agree; to be sure, delete the blank rows below your data and send it again.",
        record="study",
        place=Place(title, last, 0),
    )


def text_of(cell) -> str:
    """What a cell shows, as text that reads back to the same."""
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, str):
        return value.strip()
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        if "%" in (cell.number_format or ""):
            return f"{value * 100:.12g} %"
        return str(int(value)) if float(value).is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, datetime.datetime):
        return value.date().isoformat() if value.time() == datetime.time() else value.isoformat(" ")
    if hasattr(value, "text"):  # an array formula
        return str(value.text).strip()
    return str(value)
