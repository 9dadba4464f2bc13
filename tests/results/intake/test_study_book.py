"""A study written back as a spreadsheet reads as it was, in every cell."""

from __future__ import annotations

import csv
import io

import pytest
from openpyxl import load_workbook

from results.demo import FOLDER
from results.evidence import Draft
from results.intake.columns import RECORDS, SHEETS
from results.intake.examine import examine_file
from results.intake.rows import AsText, as_text, from_text
from results.intake.study_book import study_csv, study_xlsx
from results.review.differences import differences
from results.review.document import document
from results.review.hand_in import hand_in
from tests.factories import make_user

from .made import csv_of, flat, four_sheets, sent, workbook

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def _again(draft: Draft, kind: str):
    data = study_xlsx(draft) if kind == "xlsx" else study_csv(draft).encode("utf-8-sig")
    read = examine_file(data, f"study.{kind}")
    assert read.draft is not None, [one.message for one in read.noticed]
    return read


def _differs(draft: Draft, kind: str) -> list:
    return differences(document(draft), document(_again(draft, kind).draft))


@pytest.mark.parametrize("kind", ["xlsx", "csv"])
def test_study_of_four_sheets_reads_the_same_again(kind):
    assert _differs(examine_file(workbook(four_sheets()), "a.xlsx").draft, kind) == []


@pytest.mark.parametrize("kind", ["xlsx", "csv"])
@pytest.mark.parametrize("name", sorted(path.name for path in FOLDER.glob("*.csv"))[::4])
def test_studies_of_the_demonstration_read_the_same_again(name, kind):
    draft = examine_file((FOLDER / name).read_bytes(), name).draft

    assert _differs(draft, kind) == []


@pytest.mark.parametrize("kind", ["xlsx", "csv"])
def test_study_from_the_database_reads_the_same_again(kind):
    read = examine_file(workbook(four_sheets()), "a.xlsx")
    study = hand_in(read.draft, make_user(), read.noticed)

    assert _differs(Draft.of(study), kind) == []


@pytest.mark.parametrize("kind", ["xlsx", "csv"])
def test_mean_jack_and_void_read_the_same_again(kind):
    changed = {"setup instrument": "jack_gauge", "setup ram diameter": "25 mm", "setup reading unit": "bar"}
    rows = [{**row, **changed, "specimen reading": "20"} for row in flat()]
    rows[1]["specimen reading"] = "290 psi"
    rows[2] |= {"specimen reading": "", "specimen outcome": "void", "specimen void reason": "slipped"}
    rows.append({"series": "B", "series joint": "butt", "series mean": "9 bar", "series sd": "1", "series n": "8"})

    assert _differs(sent(rows).draft, kind) == []


@pytest.mark.parametrize("kind", ["xlsx", "csv"])
@pytest.mark.parametrize("text", ["'=1+1", "'-see below", "''=1", "'quoted'", "two\nlines", "a,b;c\td", '"x"'])
def test_texts_that_a_program_would_run_read_the_same_again(kind, text):
    rows = flat({"specimen notes": text}, setup=text.replace("\n", " "))
    draft = sent(rows).draft

    assert _differs(draft, kind) == []


@pytest.mark.parametrize("text", ["=1+1", "+1+cmd", "-2+3", "@sum(1)", "\t=1", "=HYPERLINK(1)"])
def test_texts_are_written_so_that_no_program_runs_them(text):
    assert as_text(text) == f"'{text}"
    assert from_text(as_text(text)) == text
    assert isinstance(from_text(as_text(text)), AsText)


@pytest.mark.parametrize("text", ["", "oak", "-5", "-5 mm", "- 12,5°", "+3 %", "it's", "'", "''", "'a'", "1/2 in"])
def test_texts_that_are_harmless_are_left_alone(text):
    assert as_text(text) == text
    assert from_text(text) == text


def test_text_of_a_cell_with_an_apostrophe_is_no_formula():
    read = sent(flat({"specimen notes": "'=see the photo"}))

    assert read.draft.specimens["A"][0].notes == "=see the photo"
    assert [
        one.code for one in sent(flat({"specimen notes": "=see the photo"})).noticed if one.severity == "error"
    ] == ["formula"]


def test_workbook_has_the_columns_and_drop_downs_of_the_template():
    book = load_workbook(io.BytesIO(study_xlsx(examine_file(workbook(four_sheets()), "a.xlsx").draft)))

    assert book.sheetnames == ["readme", "study", "setups", "series", "specimens", "lists"]
    assert book["lists"].sheet_state == "hidden"
    for record in ("setup", "specimen"):
        names = [cell.value for cell in book[SHEETS[record]][1]]
        assert names == [column.name for column in RECORDS[record]]
    series = book["series"]
    assert "tenon length" in [cell.value for cell in series[1]]
    assert "slot length" not in [cell.value for cell in series[1]]  # no joint of the study has one
    assert series["A2"].number_format == "@"
    rules = {str(rule.sqref): rule.formula1 for rule in book["specimens"].data_validations.dataValidation}
    assert any(area.startswith("D2:D") and formula.startswith("lists!") for area, formula in rules.items())
    assert [cell.value for cell in book["study"]["A"]][1:] == [column.name for column in RECORDS["study"]]


def test_csv_says_study_setup_and_series_where_they_begin():
    draft = sent(flat()).draft

    rows = list(csv.DictReader(io.StringIO(study_csv(draft))))

    assert [row["study title"] for row in rows] == [draft.study.title, *[""] * (len(rows) - 1)]
    assert {row["series"] for row in rows} == {"A"}
    assert rows[0]["setup loading"] and not rows[1]["setup loading"]
    assert csv_of(flat()).count("\n") >= len(rows)
