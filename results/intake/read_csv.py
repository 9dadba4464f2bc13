"""Delimited text as people's programs write it: any usual encoding, delimiter and decimal sign."""

from __future__ import annotations

import csv
import io
import re

from .findings import Unreadable
from .headings import FLAT, recognise
from .tables import Grid

COLUMNS_MOST = 256
# A hundred thousand specimens, with what stands around them.
ROWS_MOST = 101_000
_DELIMITERS = ",;\t"
_POINT = re.compile(r"^\s*\d+\.(\d{1,2}|\d{4,})(?!\d|\.)")
_COMMA = re.compile(r"^\s*\d+,\d+")


def grid(data: bytes) -> tuple[Grid, str | None, str]:
    """The texts of a delimited file.

    Returns
    -------
    Grid, str or None, str
        The texts; the decimal sign the file shows it uses; the delimiter.
    """
    text = decode(data)
    delimiter = _delimiter(text)
    rows = [(number, row) for number, row in enumerate(read(text, delimiter), 1) if any(row)]
    if not rows:
        raise Unreadable("empty", "The file holds no text.", "Send the table with its headings.")
    if len(rows) > ROWS_MOST:
        raise too_many_rows("the file", len(rows))
    wide = max(rows, key=lambda row: len(row[1]))
    if len(wide[1]) > COLUMNS_MOST and any(any(row[COLUMNS_MOST:]) for _, row in rows):
        raise too_many_columns("the file", len(wide[1]))
    return Grid("", [(n, row[:COLUMNS_MOST]) for n, row in rows]), _decimal(rows, delimiter), delimiter


def decode(data: bytes) -> str:
    """Text of the bytes: UTF-8, UTF-16 with its mark, or what older Windows programs write."""
    marked = data[:2] in (b"\xff\xfe", b"\xfe\xff")
    for encoding in ["utf-16"] if marked else ["utf-8-sig", "cp1252"]:
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise Unreadable(
        "encoding",
        "The file's text can't be read: it is in no encoding known here.",
        "Save it again as 'CSV UTF-8'.",
    )


def read(text: str, delimiter: str) -> list[list[str]]:
    """All rows, every cell without the blanks around it."""
    try:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
        return [[cell.strip() for cell in row] for row in reader]
    except csv.Error as error:
        raise Unreadable(
            "csv",
            f"The file can't be read as a table ({error}); often a quotation mark is opened and not closed.",
            "Look for a cell that begins with a quotation mark, or send the spreadsheet itself as XLSX.",
        ) from None


def _delimiter(text: str) -> str:
    """The delimiter under which one of the first rows has most of the book's headings."""
    head = "\n".join(text.splitlines()[:20])

    def known(delimiter: str) -> tuple[int, int]:
        rows = read(head, delimiter)
        found = max((len(recognise(0, row, FLAT).columns) for row in rows), default=0)
        return found, max((len(row) for row in rows), default=0)

    return max(_DELIMITERS, key=known)


def _decimal(rows: list[tuple[int, list[str]]], delimiter: str) -> str | None:
    """The comma where a semicolon is the delimiter, unless the numbers show points and no commas."""
    if delimiter != ";":
        return None
    cells = [cell for _, row in rows for cell in row]
    points = any(_POINT.match(cell) for cell in cells)
    commas = any(_COMMA.match(cell) for cell in cells)
    return None if points and not commas else ","


def too_many_rows(what: str, count: int) -> Unreadable:
    """The refusal of a table with more rows than are taken."""
    return Unreadable(
        "too-many-rows",
        f"{what[0].upper()}{what[1:]} has {count} or more filled rows; {ROWS_MOST} are taken at once.",
        "Split it into several studies.",
    )


def too_many_columns(what: str, count: int) -> Unreadable:
    """The refusal of a table with more columns than are looked at."""
    return Unreadable(
        "too-many-columns",
        f"{what[0].upper()}{what[1:]} has text beyond its first {COLUMNS_MOST} columns (it is {count} wide).",
        "Delete the columns that don't belong, or turn the table: one row a specimen, one column a field.",
    )
