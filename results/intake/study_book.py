"""A whole study as a spreadsheet in the template's own columns, as it was typed: to be edited and sent again."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from results.evidence import Draft
from results.models import Series

from . import written
from .columns import RECORDS, SHEETS, Column
from .rows import as_text
from .template import columns_for, options_of
from .words import Words
from .written import Cells

_BOLD = Font(bold=True)
_HEAD = PatternFill("solid", fgColor="EEF3F1")
_ROWS_MORE = 500  # rows below the last that have drop-downs too
_README = """\
This workbook holds one study as it was typed. Change what is wrong, save as XLSX, and send it on the page it came from.
Names say what belongs to what: a series, a setup or a specimen that gets another name is taken for a new one.
A row that is deleted is taken out of the study; a new row is added to it.
You see every difference before anything is saved."""


def study_xlsx(draft: Draft, readme: str = _README) -> bytes:
    """The workbook: sheets for study, setups, series and specimens, with the template's drop-downs.

    Parameters
    ----------
    draft : Draft
        The study, saved or not.
    readme : str, optional
        What its first sheet says.

    Returns
    -------
    bytes
    """
    book = Workbook(write_only=True)
    words = Words()
    first = book.create_sheet("readme")
    for line in readme.splitlines():
        first.append([line])
    lists = _Lists()
    _study_sheet(book, draft, words, lists)
    joints = list({one.joint_id: one.joint for one in draft.series}.values())
    _sheet(book, "setup", columns_for("setup"), _setups(draft), words, lists)
    _sheet(book, "series", columns_for("series", joints), _series(draft), words, lists)
    _sheet(book, "specimen", columns_for("specimen"), _specimens(draft), words, lists)
    lists.write(book)
    book.active = 1
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def study_csv(draft: Draft) -> str:
    """The same as one flat table, a row a specimen; what is said of study, setup and series stands where it begins.

    Parameters
    ----------
    draft : Draft
        The study, saved or not.
    """
    joints = list({one.joint_id: one.joint for one in draft.series}.values())
    skipped = {("series", "setup"), ("specimen", "series")}  # a flat row says these already
    columns = [
        column for record in RECORDS for column in columns_for(record, joints) if (record, column.name) not in skipped
    ]
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(column.key for column in columns)
    for cells in _flat(draft):
        writer.writerow(as_text(cells.get((column.record, column.name), "")) for column in columns)
    return out.getvalue()


def _setups(draft: Draft) -> Iterator[Cells]:
    return (written.setup_cells(draft, one) for one in draft.setups)


def _series(draft: Draft) -> Iterator[Cells]:
    return (written.series_cells(draft, one) for one in draft.series)


def _specimens(draft: Draft) -> Iterator[Cells]:
    units = _units(draft)
    for one in draft.series:
        for cells in written.specimens_cells(draft, one, units[one.setup.label]):
            yield {**cells, "series": one.label}


def _units(draft: Draft) -> dict[str, str]:
    return {setup.label: written.unit_of_readings(draft, setup) for setup in draft.setups}


def _flat(draft: Draft) -> Iterator[dict[tuple[str, str], str]]:
    """The rows of a flat table, each cell by record and column."""
    units, setups = _units(draft), {one.label: one for one in draft.setups}
    head = _of("study", written.study_cells(draft.study))
    for series in draft.series:
        setup = setups.pop(series.setup.label, None)
        head |= _of("setup", written.setup_cells(draft, setup) if setup else {"setup": series.setup.label})
        head |= _of("series", written.series_cells(draft, series))
        for cells in _or_one(draft, series, units[series.setup.label]):
            yield head | _of("specimen", cells)
            head = {("series", "series"): series.label}


def _or_one(draft: Draft, series: Series, unit: str) -> Iterator[Cells]:
    """The specimens of a series; one row without any for a published mean."""
    if not draft.specimens.get(series.label):
        yield {}
    yield from written.specimens_cells(draft, series, unit)


def _of(record: str, cells: Cells) -> dict[tuple[str, str], str]:
    return {(record, name): text for name, text in cells.items()}


class _Lists:
    """What drop-downs offer, on a sheet of its own that is written last."""

    def __init__(self) -> None:
        self.columns: list[list[str]] = []

    def rule(self, column: Column, words: Words) -> DataValidation | None:
        """The drop-down of a column, if it has one; a word that is not in it is warned of only."""
        options = options_of(column, words)
        if not options:
            return None
        self.columns.append([column.key, *options])
        letter = get_column_letter(len(self.columns))
        formula = f"lists!${letter}$2:${letter}${len(options) + 1}"
        return DataValidation("list", formula1=formula, allow_blank=True, errorStyle="warning")

    def write(self, book: Workbook) -> None:
        sheet = book.create_sheet("lists")
        sheet.sheet_state = "hidden"
        for at in range(max(len(one) for one in self.columns)):
            sheet.append([one[at] if at < len(one) else None for one in self.columns])


def _study_sheet(book: Workbook, draft: Draft, words: Words, lists: _Lists) -> None:
    sheet = book.create_sheet(SHEETS["study"])
    said = written.study_cells(draft.study)
    for letter, width in zip("ABC", (16, 50, 70), strict=True):
        sheet.column_dimensions[letter].width = width
    for number, column in enumerate(RECORDS["study"], 2):
        rule = lists.rule(column, words)
        if rule is not None:
            rule.add(f"B{number}")
            sheet.data_validations.append(rule)
    sheet.append([_head(sheet, text) for text in ("field", "value", "what it means")])
    value = WriteOnlyCell(sheet)
    value.number_format = "@"
    for column in RECORDS["study"]:
        value.value = as_text(said.get(column.name, "")) or None
        sheet.append([_head(sheet, column.name), value, column.told])


def _sheet(
    book: Workbook, record: str, columns: Sequence[Column], rows: Iterator[Cells], words: Words, lists: _Lists
) -> None:
    sheet = book.create_sheet(SHEETS[record])
    sheet.freeze_panes = "B2"
    rules = []
    for index, column in enumerate(columns, 1):
        letter = get_column_letter(index)
        sheet.column_dimensions[letter].width = max(12, min(len(column.name) + 4, 24))
        # As text, so that no program makes a date of 3/4.
        sheet.column_dimensions[letter].number_format = "@"
        rule = lists.rule(column, words)
        if rule is not None:
            rules.append((letter, rule))
    sheet.append([_head(sheet, column.name, column.told) for column in columns])
    cells = [WriteOnlyCell(sheet) for _ in columns]
    for cell in cells:
        cell.number_format = "@"
    last = 1
    for said in rows:
        last += 1
        for cell, column in zip(cells, columns, strict=True):
            cell.value = as_text(said.get(column.name, "")) or None
        sheet.append([cell if cell.value else None for cell in cells])  # to write blank ones takes as long
    for letter, rule in rules:
        rule.add(f"{letter}2:{letter}{last + _ROWS_MORE}")
        sheet.data_validations.append(rule)


def _head(sheet: object, text: str, told: str = "") -> WriteOnlyCell:
    cell = WriteOnlyCell(sheet, text)
    cell.font, cell.fill = _BOLD, _HEAD
    if told:
        cell.comment = Comment(told, "Breakbook", width=260, height=90)
    return cell
