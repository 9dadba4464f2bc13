"""Workbooks are looked over before they are opened, and read to the cell."""

from __future__ import annotations

import datetime
import io
import time
import zipfile

import pytest
from openpyxl import Workbook, load_workbook

from results.intake import read_csv
from results.intake.findings import Unreadable, where
from results.intake.read import read

from .made import FLAT, examine_file, flat, four_sheets, told, workbook

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def _examined(sheets):
    return examine_file(workbook(sheets), "tests.xlsx")


def test_read_takes_four_sheets():
    draft = _examined(four_sheets()).draft

    assert draft.study.title == "Rails into posts"
    assert draft.setups[0].arm_mm == 300
    assert {label: len(found) for label, found in draft.specimens.items()} == {"butt": 4, "tenon": 4}
    assert draft.specimens["butt"][0].reading_typed == "40.5"


def test_read_takes_one_flat_sheet_whatever_its_name():
    rows = [list(FLAT), *(list(row.values()) for row in flat())]

    assert _examined({"Sheet1": rows}).may_be_saved
    assert _examined({"specimens": rows}).may_be_saved


def test_read_takes_the_study_as_a_row_too():
    sheets = four_sheets()
    fields = sheets["study"][1:]
    sheets["study"] = [[name for name, _ in fields], [value for _, value in fields]]

    assert _examined(sheets).draft.study.workshop == "Shop by the river"


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (120, "120"),
        (120.0, "120"),
        (12.5, "12.5"),
        (True, "yes"),
        (datetime.date(2025, 3, 14), "2025-03-14"),
        (datetime.datetime(2025, 3, 14), "2025-03-14"),
        (" A ", "A"),
    ],
)
def test_read_writes_cells_as_they_show(value, text):
    sheets = four_sheets()
    sheets["specimens"][1][1] = value

    assert read(workbook(sheets), "a.xlsx").specimens[0].text("specimen") == text


def test_read_takes_a_percent_format_as_percent():
    book = load_workbook(io.BytesIO(workbook(four_sheets())))
    sheet = book["specimens"]
    sheet["E1"], sheet["E2"] = "wood failure", 0.85
    sheet["E2"].number_format = "0%"
    out = io.BytesIO()
    book.save(out)

    assert examine_file(out.getvalue(), "a.xlsx").draft.specimens["butt"][0].wood_failure_pct == 85


def test_read_refuses_a_formula_and_says_to_paste_values():
    sheets = four_sheets()
    sheets["specimens"][1][2] = "=2*20"

    examination = _examined(sheets)

    assert told(examination, "formula").endswith("Paste the value over it (paste special, values only).")
    assert where(examination.noticed[0].place) == "sheet specimens, cell C2"


def test_read_refuses_filled_cells_under_a_merged_heading():
    sheets = four_sheets()
    book = load_workbook(io.BytesIO(workbook(sheets)))
    book["specimens"].merge_cells("C1:D1")
    out = io.BytesIO()
    book.save(out)

    message = told(examine_file(out.getvalue(), "a.xlsx"), "no-heading")

    assert message.startswith("sheet specimens, cell D1 has no heading, but 8 cells below it hold something")


def test_read_says_what_it_did_not_read():
    sheets = four_sheets() | {"my sums": [["mean", 42]]}
    sheets["study"].append(["colour", "brown"])

    examination = _examined(sheets)

    assert "Sheet 'my sums' holds text but is not read." in told(examination, "unread-sheet")
    assert "'colour' is not a name the book knows" in told(examination, "unread-column")
    assert examination.may_be_saved


def test_read_misses_a_sheet_by_name():
    sheets = four_sheets()
    del sheets["setups"]

    assert "The workbook has no sheet named 'setups'." in told(_examined(sheets), "missing-sheet")


def test_read_passes_over_hidden_sheets():
    book = load_workbook(io.BytesIO(workbook(four_sheets() | {"old": [["x"]]})))
    book["old"].sheet_state = "hidden"
    out = io.BytesIO()
    book.save(out)

    assert examine_file(out.getvalue(), "a.xlsx").noticed == ()


def test_read_refuses_an_empty_workbook():
    with pytest.raises(Unreadable, match="The workbook holds no text. Fill in the template"):
        read(workbook({"specimens": []}), "a.xlsx")


def _zip(parts: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return out.getvalue()


@pytest.mark.parametrize(
    ("parts", "message"),
    [
        ({"word/document.xml": b"<a/>"}, "a zip archive but no XLSX workbook"),
        ({"xl/workbook.xml": b"nonsense"}, "can't be opened"),
        ({"xl/workbook.xml": b'<!DOCTYPE x [<!ENTITY a "b">]><x/>'}, "xl/workbook.xml declares a document type"),
    ],
)
def test_read_refuses_what_is_no_workbook(parts, message):
    with pytest.raises(Unreadable, match=message):
        read(_zip(parts), "a.xlsx")


def test_read_refuses_a_workbook_cut_off_in_the_middle():
    data = workbook(four_sheets())

    with pytest.raises(Unreadable, match="can't be opened .* save it again as XLSX"):
        read(data[: len(data) // 2], "a.xlsx")


def test_read_refuses_a_zip_that_unpacks_to_far_more_than_it_is():
    data = _zip({"xl/workbook.xml": b"<x/>", "xl/worksheets/sheet1.xml": b" " * 40_000_000})
    began = time.perf_counter()

    with pytest.raises(Unreadable, match="unpacks to 40 MB in 2 parts, far more than a table of tests") as refused:
        read(data, "a.xlsx")

    assert refused.value.code == "unpacks-too-large"
    assert time.perf_counter() - began < 2


def test_read_refuses_ten_thousand_columns():
    with pytest.raises(Unreadable, match="Sheet tests has text beyond its first 256 columns"):
        read(workbook({"tests": [[f"c{n}" for n in range(10_000)]]}), "a.xlsx")


def test_read_refuses_text_in_a_far_column_alone():
    sheets = four_sheets()
    sheets["specimens"][2] += [None] * 400 + ["lost?"]

    with pytest.raises(Unreadable, match="Sheet specimens has text beyond its first 256 columns"):
        read(workbook(sheets), "a.xlsx")


def _with_blank_rows(count: int) -> bytes:
    """A workbook whose specimens sheet goes on with rows that hold a style and nothing else."""
    data = workbook(four_sheets())
    blank = "".join(f'<row r="{n}"><c r="A{n}" s="0"/></row>' for n in range(10, count + 10))
    parts = {}
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        for part in archive.namelist():
            parts[part] = archive.read(part)
    name = "xl/worksheets/sheet4.xml"
    parts[name] = parts[name].replace(b"</sheetData>", blank.encode() + b"</sheetData>")
    return _zip(parts)


def test_read_stops_after_many_blank_rows_and_says_so():
    data = _with_blank_rows(1_000_000)
    began = time.perf_counter()

    examination = examine_file(data, "a.xlsx")

    assert time.perf_counter() - began < 20
    assert "Sheet specimens goes on for more than 20 000 rows without text after row 9" in told(
        examination, "blank-rows"
    )
    assert len(examination.draft.specimens["tenon"]) == 4


def test_read_refuses_too_many_filled_rows(monkeypatch):
    monkeypatch.setattr(read_csv, "ROWS_MOST", 6)

    with pytest.raises(Unreadable, match="Sheet specimens has 7 or more filled rows; 6 are taken at once"):
        read(workbook(four_sheets()), "a.xlsx")


def test_read_keeps_a_number_that_is_a_name():
    book = Workbook()
    book.active.append(list(FLAT))
    for row in flat(series="7"):
        book.active.append([7 if key == "series" else value for key, value in row.items()])
    out = io.BytesIO()
    book.save(out)

    assert examine_file(out.getvalue(), "a.xlsx").draft.series[0].label == "7"
