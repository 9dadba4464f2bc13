"""Blank spreadsheets to fill in, and a sent one given back with its findings beside each row."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from openpyxl import Workbook
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from results.models import Joint

from .columns import DIMENSIONS, RECORDS, SHEETS, Column
from .words import Words

_BOLD = Font(bold=True)
_NEEDED = PatternFill("solid", fgColor="F6DDB5")
_PLAIN = PatternFill("solid", fgColor="EEF3F1")
_WRAP = Alignment(wrap_text=True, vertical="top")
_ROWS = 500  # rows with drop-downs
_README = """\
One workbook holds one study: fill in the four sheets, save as XLSX, and send it on the page it came from.
Sheet "study": one value a line. Sheet "setups": one row for each rig.
Sheet "series": one row for the specimens made alike and broken on one rig.
Sheet "specimens": one row for each joint broken.
Columns marked dark are needed; all others help to compare. Leave blank what you don't know.
Write quantities with their unit, as you would on paper: 280 lbf, 127 kg, 12,5 mm, 1 1/2 in, 20 bar.
A unit in brackets in a heading, such as arm (mm), holds for the whole column.
Paste values, not formulas. Columns of your own are passed over; you are told before anything is saved.
Nothing is saved before you have seen what was read, in SI units, with what looks wrong beside it."""
_KINDS = {
    "text": "text",
    "choice": "one of a list",
    "word": "from the vocabulary",
    "date": "date",
    "plan": "number of a plan",
    "count": "whole number",
    "yesno": "yes or no",
    "number": "number",
    "length": "length: mm, cm, in, ft",
    "angle": "angle in degrees",
    "percent": "%",
    "density": "density: kg/m³, g/cm³, lb/ft³",
    "hours": "time: h, d, weeks",
    "rate": "mm/min, in/min",
    "reading": "load N, lbf, kg; moment N·m, ft·lbf; pressure bar, psi",
}


def columns_for(record: str, joints: Sequence[Joint] = ()) -> list[Column]:
    """The columns of a sheet, without the sizes that none of these joints has.

    Parameters
    ----------
    record : str
        Which record.
    joints : sequence of Joint
        The joints to be tested; none for all columns.
    """
    wanted = {name for joint in joints for name in joint.dims}
    return [column for column in RECORDS[record] if not joints or column not in DIMENSIONS or column.field in wanted]


def blank_xlsx(joints: Sequence[Joint] = (), specimens: int = 0, sizes_of: Sequence[Joint] = ()) -> bytes:
    """A blank workbook with drop-downs, for any joints or for these.

    Parameters
    ----------
    joints : sequence of Joint
        A series is laid out for each, with the sizes it needs.
    specimens : int
        Specimens to lay out for each series.
    sizes_of : sequence of Joint
        The joints whose sizes have columns; those of `joints` unless given.

    Returns
    -------
    bytes
        The workbook.
    """
    book = Workbook()
    readme = book.active
    lists = book.create_sheet("lists")
    _fill_readme(readme)
    words = Words()
    names: dict[Column, str] = {}
    for record in RECORDS:
        sheet = book.create_sheet(SHEETS[record])
        if record == "study":
            _fill_study(sheet, lists, words, names)
        else:
            _fill_table(sheet, columns_for(record, sizes_of or joints), lists, words, names)
    _lay_out(book, joints, specimens)
    lists.sheet_state = "hidden"
    book.move_sheet(lists, offset=len(RECORDS))
    book.active = 1
    for sheet in book.worksheets:
        sheet.sheet_view.tabSelected = sheet is book.active
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def blank_csv(joints: Sequence[Joint] = ()) -> str:
    """The headings of a flat table, a row for each specimen."""
    out = io.StringIO()
    skipped = {("series", "setup"), ("specimen", "series")}  # a flat row says these already
    csv.writer(out).writerow(
        column.key
        for record in RECORDS
        for column in columns_for(record, joints)
        if (record, column.name) not in skipped
    )
    return out.getvalue()


def _fill_readme(sheet: Worksheet) -> None:
    sheet.title = "readme"
    for line in _README.splitlines():
        sheet.append([line])
    sheet.append([])
    sheet.append(["sheet", "column", "needed", "what it means", "what it holds", "example"])
    for cell in sheet[sheet.max_row]:
        cell.font, cell.fill = _BOLD, _PLAIN
    for record, columns in RECORDS.items():
        for column in columns:
            needed = "needed" if column.required else ""
            sheet.append([SHEETS[record], column.name, needed, column.told, _KINDS[column.kind], column.example])
    for letter, width in zip("ABCDEF", (12, 22, 9, 70, 40, 22), strict=True):
        sheet.column_dimensions[letter].width = width


def _fill_study(sheet: Worksheet, lists: Worksheet, words: Words, names: dict[Column, str]) -> None:
    sheet.append(["field", "value", "what it means"])
    for cell in sheet[1]:
        cell.font, cell.fill = _BOLD, _PLAIN
    for number, column in enumerate(RECORDS["study"], 2):
        value = column.example if column.kind == "choice" else None
        sheet.append([column.name, value, column.told])
        sheet.cell(number, 1).fill = _NEEDED if column.required else _PLAIN
        sheet.cell(number, 2).number_format = "@"
        sheet.cell(number, 2).alignment = _WRAP
        _drop_down(sheet, column, f"B{number}", lists, words, names)
    for letter, width in zip("ABC", (16, 50, 70), strict=True):
        sheet.column_dimensions[letter].width = width
    sheet.freeze_panes = "B2"


def _fill_table(
    sheet: Worksheet, columns: list[Column], lists: Worksheet, words: Words, names: dict[Column, str]
) -> None:
    for index, column in enumerate(columns, 1):
        letter = get_column_letter(index)
        head = sheet.cell(1, index, column.name)
        head.font, head.alignment = _BOLD, _WRAP
        head.fill = _NEEDED if column.required else _PLAIN
        head.comment = Comment(column.told, "Breakbook", width=260, height=90)
        sheet.column_dimensions[letter].width = max(12, min(len(column.name) + 4, 24))
        # As text, so that no program makes a date of 3/4.
        sheet.column_dimensions[letter].number_format = "@"
        _drop_down(sheet, column, f"{letter}2:{letter}{_ROWS}", lists, words, names)
    sheet.freeze_panes = "B2"


def _drop_down(
    sheet: Worksheet,
    column: Column,
    cells: str,
    lists: Worksheet,
    words: Words,
    names: dict[Column, str],
) -> None:
    options = options_of(column, words)
    if not options:
        return
    if column not in names:
        at = len(names) + 1
        letter = get_column_letter(at)
        for row, option in enumerate([column.key, *options], 1):
            lists.cell(row, at, option)
        names[column] = f"lists!${letter}$2:${letter}${len(options) + 1}"
    # A word that is not in the list is read too, with the nearest one suggested; so this only warns.
    rule = DataValidation("list", formula1=names[column], allow_blank=True, errorStyle="warning")
    rule.error = "This is not in the list; other names of the same thing are understood too."
    sheet.add_data_validation(rule)
    rule.add(cells)


def options_of(column: Column, words: Words) -> list[str]:
    """What may be chosen in a column, as it is shown to people; empty if it is free."""
    if column.kind == "choice":
        return [code for code, _ in column.choices]
    if column.kind == "word":
        return [row.name for row in words.rows(column.vocabulary)]
    return ["yes", "no"] if column.kind == "yesno" else []


def _lay_out(book: Workbook, joints: Iterable[Joint], specimens: int) -> None:
    """Write the names of series and specimens to be filled in."""
    series, rows = book[SHEETS["series"]], book[SHEETS["specimen"]]
    joint_at = [cell.value for cell in series[1]].index("joint") + 1
    at = 2
    for index, joint in enumerate(joints):
        label = get_column_letter(index + 1)
        series.cell(index + 2, 1, label)
        series.cell(index + 2, joint_at, joint.name)
        for number in range(1, specimens + 1):
            rows.cell(at, 1, label)
            rows.cell(at, 2, f"{label}{number}")
            at += 1
