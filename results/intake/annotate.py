"""A sent file given back as it was, with a last column that says what was found in each row."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from . import read_csv, read_xlsx
from .findings import Noticed, Unreadable
from .headings import FINDINGS, is_ours, row_of_headings

# Above this a workbook can't be held in memory whole; its findings are on the page all the same.
UNPACKED_MOST = 30_000_000
_WRAP = Alignment(wrap_text=True, vertical="top")


def annotated(data: bytes, kind: str, noticed: Iterable[Noticed]) -> bytes:
    """The file with its findings in a column after the last; all that was typed stays as typed.

    Parameters
    ----------
    data : bytes
        The file as sent.
    kind : str
        ``csv`` or ``xlsx``.
    noticed : iterable of Noticed
        What was found in it.

    Returns
    -------
    bytes
        A file of the same kind.

    Raises
    ------
    Unreadable
        If a workbook is too large to be given back.
    """
    by_sheet: dict[str, dict[int, list[str]]] = {}
    for one in noticed:
        sheet, row = (one.place.sheet, max(one.place.row, 1)) if one.place else ("", 1)
        by_sheet.setdefault(sheet, {}).setdefault(row, []).append(_line(one))
    return _csv(data, by_sheet) if kind == "csv" else _xlsx(data, by_sheet)


def _line(one: Noticed) -> str:
    return f"{one.severity}: {one.message} {one.remedy}".strip()


def _csv(data: bytes, by_sheet: dict[str, dict[int, list[str]]]) -> bytes:
    grid, _, delimiter = read_csv.grid(data)
    rows = list(csv.reader(io.StringIO(read_csv.decode(data), newline=""), delimiter=delimiter))
    heading = row_of_headings(grid.rows)
    ours = next((at for at, cell in enumerate(rows[heading - 1]) if is_ours(cell)), None)
    if ours is not None:
        rows = [row[:ours] + row[ours + 1 :] for row in rows]
    width = max(len(row) for row in rows)
    findings = {row: lines for found in by_sheet.values() for row, lines in found.items()}
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\r\n")
    for number, row in enumerate(rows, 1):
        said = ([FINDINGS] if number == heading else []) + findings.get(number, [])
        writer.writerow([*row, *[""] * (width - len(row)), "\n".join(said)])
    return out.getvalue().encode("utf-8-sig")


def _xlsx(data: bytes, by_sheet: dict[str, dict[int, list[str]]]) -> bytes:
    read_xlsx.look_over(data)
    if read_xlsx.unpacked(data) > UNPACKED_MOST:
        raise Unreadable(
            "too-large-to-give-back",
            "The workbook is too large to be given back with its findings.",
            "Read them on the page; and delete the blank rows below your data.",
        )
    with read_xlsx.opened(data, read_only=False) as book:
        first = next(sheet for sheet in book.worksheets if sheet.sheet_state == "visible")
        names = {sheet.title for sheet in book.worksheets}
        for name in [name for name in by_sheet if name not in names]:
            for lines in by_sheet.pop(name).values():
                by_sheet.setdefault(first.title, {}).setdefault(1, []).extend(lines)
        for sheet in book.worksheets:
            if sheet.title in by_sheet:
                _beside(sheet, by_sheet[sheet.title])
        out = io.BytesIO()
        book.save(out)
    return out.getvalue()


def _beside(sheet: Worksheet, findings: dict[int, list[str]]) -> None:
    top = [
        (number, ["" if cell.value is None else str(cell.value) for cell in cells])
        for number, cells in enumerate(sheet.iter_rows(max_row=20), 1)
    ]
    heading = row_of_headings(top)
    ours = [at for at, text in enumerate(top[heading - 1][1], 1) if is_ours(text)]
    column = ours[0] if ours else sheet.max_column + 1
    for number in range(1, sheet.max_row + 1) if ours else ():
        sheet.cell(number, column).value = None
    for number in sorted({heading, *findings}):
        said = ([FINDINGS] if number == heading else []) + findings.get(number, [])
        cell = sheet.cell(number, column, "\n".join(said))
        cell.data_type, cell.alignment, cell.font = "s", _WRAP, Font(bold=number == heading)
    sheet.column_dimensions[get_column_letter(column)].width = 60
