"""The blank spreadsheets are read by the reader as they are, filled or not."""

from __future__ import annotations

import csv
import io

import pytest
from openpyxl import load_workbook

from results.intake.columns import RECORDS, SHEETS
from results.intake.headings import FLAT, recognise
from results.intake.read import read
from results.intake.template import blank_csv, blank_xlsx
from results.models import Joint, Timber

from .made import FLAT as FILLED
from .made import examine_file

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def _filled(data: bytes) -> bytes:
    """The workbook filled in as a person would."""
    book = load_workbook(io.BytesIO(data))
    values = {"title": "Rails", "question": "Which?", "workshop": "Shop", "length unit": "mm"}
    for row in book["study"].iter_rows(min_row=2):
        if row[0].value in values:
            row[1].value = values[row[0].value]
    for record, cells in {
        "setup": {"setup": "arm", "loading": "Cantilever arm", "instrument": "Luggage scale", "arm": "300"},
        "series": {"series": "A", "joint": "Glued butt", "member thickness": "20", "member depth": "40"},
        "specimen": {"series": "A", "specimen": "A1", "reading": "40 kg", "outcome": "broke"},
    }.items():
        sheet = book[SHEETS[record]]
        headings = [cell.value for cell in sheet[1]]
        for name, value in cells.items():
            sheet.cell(2, headings.index(name) + 1, value)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_workbook_filled_in_is_read_without_an_error():
    examination = examine_file(_filled(blank_xlsx()), "a.xlsx")

    assert examination.may_be_saved
    assert not [one for one in examination.noticed if one.severity == "doubt"]
    assert examination.draft.specimens["A"][0].label == "A1"


def test_workbook_names_every_column_and_marks_those_that_are_needed():
    book = load_workbook(io.BytesIO(blank_xlsx()))

    for record in ("setup", "series", "specimen"):
        sheet = book[SHEETS[record]]
        assert [cell.value for cell in sheet[1]] == [column.name for column in RECORDS[record]]
        needed = [cell.value for cell in sheet[1] if cell.fill.fgColor.rgb.endswith("F6DDB5")]
        assert needed == [column.name for column in RECORDS[record] if column.required]
        assert sheet.freeze_panes == "B2"
    assert [cell.value for cell in book["study"]["A"]][1:] == [column.name for column in RECORDS["study"]]


def test_workbook_offers_the_vocabulary_from_a_hidden_sheet():
    book = load_workbook(io.BytesIO(blank_xlsx()))

    assert book["lists"].sheet_state == "hidden"
    lists = {column[0].value: [cell.value for cell in column[1:] if cell.value] for column in book["lists"].columns}
    assert lists["series timber"] == sorted((timber.name for timber in Timber.objects.all()), key=str.casefold)
    rules = {str(rule.sqref): rule for rule in book["specimens"].data_validations.dataValidation}
    outcome = rules["D2:D500"]
    assert outcome.formula1.startswith("lists!$")
    assert outcome.errorStyle == "warning"


def test_workbook_explains_itself_on_its_first_sheet():
    readme = load_workbook(io.BytesIO(blank_xlsx())).worksheets[0]

    text = "\n".join(str(cell) for row in readme.iter_rows(values_only=True) for cell in row if cell)
    assert readme.title == "readme"
    for columns in RECORDS.values():
        for column in columns:
            assert column.help in text


def test_workbook_for_some_joints_asks_for_their_sizes_and_lays_out_their_specimens():
    joints = list(Joint.objects.filter(pk__in=["butt", "dowel"]))

    book = load_workbook(io.BytesIO(blank_xlsx(joints, specimens=3)))

    headings = [cell.value for cell in book["series"][1]]
    assert "fastener diameter" in headings
    assert "tenon length" not in headings
    assert [row[:2] for row in book["specimens"].iter_rows(min_row=2, values_only=True)] == [
        (label, f"{label}{number}") for label in "AB" for number in (1, 2, 3)
    ]


def test_blank_workbook_sent_as_it_is_says_what_is_missing():
    codes = {one.code for one in examine_file(blank_xlsx(), "a.xlsx").noticed}

    assert codes == {"missing", "no-setup", "no-series"}


def test_table_has_headings_that_the_reader_knows():
    (headings,) = csv.reader(io.StringIO(blank_csv()))

    assert not recognise(1, headings, FLAT).unknown
    assert set(FILLED) <= set(headings)
    assert read(blank_csv().encode(), "a.csv").specimens == []
