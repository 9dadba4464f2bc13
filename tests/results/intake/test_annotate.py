"""A file given back holds all that was typed, and its findings."""

from __future__ import annotations

import csv
import io

import pytest
from openpyxl import load_workbook

from results.intake import annotate
from results.intake.annotate import annotated
from results.intake.findings import Unreadable

from .made import csv_of, examine_file, flat, four_sheets, workbook

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def _spoiled() -> bytes:
    sheets = four_sheets()
    sheets["specimens"][1][2] = "=2*20"
    sheets["specimens"][2][3] = "exploded"
    sheets["study"][1][1] = None
    return workbook(sheets)


def test_annotated_workbook_keeps_every_cell_and_adds_a_column():
    data = _spoiled()

    book = load_workbook(io.BytesIO(annotated(data, "xlsx", examine_file(data, "a.xlsx").noticed)))

    before = load_workbook(io.BytesIO(data))
    for sheet in before.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                assert book[sheet.title][cell.coordinate].value == cell.value
    specimens = book["specimens"]
    assert specimens["C2"].value == "=2*20"
    assert specimens["E1"].value == "findings"
    assert specimens["E2"].value.startswith("error: Reading is a formula, '=2*20'")
    assert specimens["E3"].value.startswith("error: Outcome 'exploded' is none of the choices. Write broke")
    assert book["study"]["C2"].value.startswith("error: Title is blank")


def test_annotated_workbook_can_be_mended_and_sent_again():
    data = _spoiled()
    book = load_workbook(io.BytesIO(annotated(data, "xlsx", examine_file(data, "a.xlsx").noticed)))
    book["specimens"]["C2"], book["specimens"]["D3"], book["study"]["B2"] = 40.5, "broke", "Rails"
    out = io.BytesIO()
    book.save(out)

    examination = examine_file(out.getvalue(), "a.xlsx")

    assert examination.may_be_saved
    assert not examination.noticed


def test_annotated_workbook_has_one_column_of_findings_however_often_it_is_given_back():
    data = _spoiled()
    for _ in range(2):
        data = annotated(data, "xlsx", examine_file(data, "a.xlsx").noticed)

    assert [cell.value for cell in load_workbook(io.BytesIO(data))["specimens"][1]][3:] == ["outcome", "findings"]


@pytest.mark.parametrize("delimiter", [",", ";"])
def test_annotated_table_keeps_every_cell_and_adds_a_column(delimiter):
    rows = flat({"specimen reading": "far"}, {"specimen notes": ' "two\nlines" '}, {"specimen outcome": "gone"})
    data = f"My tests\n{csv_of(rows, delimiter)}".encode("cp1252")

    back = annotated(data, "csv", examine_file(data, "a.csv").noticed).decode("utf-8-sig")

    before = list(csv.reader(io.StringIO(data.decode("cp1252")), delimiter=delimiter))
    after = list(csv.reader(io.StringIO(back, newline=""), delimiter=delimiter))
    assert [row[: len(old)] for row, old in zip(after, before, strict=True)] == before
    assert after[1][-1] == "findings"
    assert after[2][-1].startswith("error: Reading 'far' does not start with a number.")
    assert after[4][-1].startswith("error: Outcome 'gone'")
    assert after[3][-1] == ""


def test_annotated_table_sent_again_is_read_without_a_word_about_our_column():
    data = csv_of(flat({"specimen reading": "far"})).encode()
    back = annotated(data, "csv", examine_file(data, "a.csv").noticed)

    again = examine_file(back, "a.csv")

    assert [one.code for one in again.noticed] == [one.code for one in examine_file(data, "a.csv").noticed]
    assert annotated(back, "csv", again.noticed) == back


def test_annotated_refuses_a_workbook_that_is_too_large_to_hold(monkeypatch):
    monkeypatch.setattr(annotate, "UNPACKED_MOST", 100)

    with pytest.raises(Unreadable, match="too large to be given back with its findings"):
        annotated(workbook(four_sheets()), "xlsx", [])
