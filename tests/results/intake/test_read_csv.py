"""Delimited files of every make are read alike; what can't be read says why."""

from __future__ import annotations

import pytest

from results.intake import read_csv
from results.intake.findings import Unreadable, where
from results.intake.read import kind_of, read

from .made import csv_of, examine_file, flat, sent, told

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_read_takes_any_usual_encoding(encoding):
    data = csv_of(flat(study_title="Zapfen in Weißbuche, 1½ Zoll")).encode(encoding)

    assert read(data, "tests.csv").study.text("title") == "Zapfen in Weißbuche, 1½ Zoll"


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_read_takes_any_usual_delimiter(delimiter):
    examination = examine_file(csv_of(flat(), delimiter).encode(), "tests.csv")

    assert len(examination.draft.specimens["A"]) == 5


def test_read_takes_a_semicolon_to_mean_decimal_commas():
    draft = sent(flat(series_moisture="8,5", setup_arm="1.200 mm"), ";").draft

    assert draft.series[0].moisture_pct == 8.5
    assert draft.setups[0].arm_mm == 1200


def test_read_takes_points_under_semicolons_where_only_points_are_seen():
    draft = sent(flat(series_moisture="8.5"), ";").draft

    assert draft.series[0].moisture_pct == 8.5


def test_read_numbers_rows_as_a_spreadsheet_does_around_line_breaks_in_cells():
    rows = flat({"specimen notes": "two\nlines"}, {"specimen reading": "far"})

    found = next(one for one in sent(rows).noticed if one.code == "not-a-number")

    assert where(found.place) == "cell S3"


def test_read_fills_study_setup_and_series_down_where_they_are_left_blank():
    rows = flat()
    bare = [key for key in rows[0] if not key.startswith("specimen")]
    for row in rows[1:]:
        row |= dict.fromkeys(bare, "")

    draft = sent(rows).draft

    assert [one.label for one in draft.specimens["A"]] == ["1", "2", "3", "4", "5"]
    assert draft.study.title == "Rails into posts"


@pytest.mark.parametrize(
    ("key", "value", "message"),
    [
        ("study title", "Another", "The study has title 'Rails into posts' in row 2 but 'Another' in row 4. One file"),
        ("setup arm", "200 mm", "Setup 'arm' has arm '300 mm' in row 2 but '200 mm' in row 4. Make them the same"),
        ("series joint", "butt", "Series 'A' has joint 'Blind mortise and tenon' in row 2 but 'butt' in row 4."),
    ],
)
def test_read_refuses_repeats_that_contradict_and_names_both_rows(key, value, message):
    assert message in told(sent(flat({}, {}, {key: value})), "contradiction")


def test_read_gives_each_series_its_own_setup():
    rows = flat()
    for row in rows[3:]:
        row |= {"series": "B", "setup": "short", "setup arm": "150 mm"}

    draft = sent(rows).draft

    assert [(one.label, one.setup.label, one.setup.arm_mm) for one in draft.series] == [
        ("A", "arm", 300.0),
        ("B", "short", 150.0),
    ]


@pytest.mark.parametrize(
    "heading", ["SPECIMEN READING", "specimen_reading", " Specimen  Reading (kg)", "reading", "reading [kg]"]
)
def test_read_takes_headings_in_any_dress(heading):
    rows = [{heading if key == "specimen reading" else key: value for key, value in row.items()} for row in flat()]

    assert sent(rows).may_be_saved


def test_read_suggests_the_heading_that_was_meant():
    rows = [{key.replace("outcome", "outcmoe"): value for key, value in row.items()} for row in flat()]

    assert "'specimen outcmoe' is not a name the book knows. Did you mean 'specimen outcome'?" in told(
        sent(rows), "unknown-heading"
    )


def test_read_passes_over_columns_of_ones_own_with_a_word():
    examination = sent([{**row, "photo": "IMG_1"} for row in flat()])

    assert "'photo' is not a name the book knows, so what it holds (5 cells) would not be saved." in told(
        examination, "unread-column"
    )
    assert examination.may_be_saved


def test_read_refuses_a_heading_that_is_there_twice():
    text = (
        csv_of(flat()).replace('"specimen wood failure"', '"reading"').replace('"broke","","",""', '"broke","","","9"')
    )

    assert "'reading' is the heading of two columns." in told(examine_file(text.encode(), "a.csv"), "repeated-heading")


def test_read_refuses_filled_cells_under_a_merged_heading():
    text = csv_of(flat()).replace('"specimen outcome"', '""')

    message = told(examine_file(text.encode(), "a.csv"), "no-heading")

    assert message.startswith("cell T1 has no heading, but 5 cells below it hold something (the first in row 2).")
    assert "one merged over several columns names the first only" in message


def test_read_finds_headings_under_a_title_and_says_that_it_was_passed_over():
    examination = examine_file(f"My tests,,\n{csv_of(flat())}".encode(), "a.csv")

    assert "What stands above the headings is not read: 'My tests'." in told(examination, "above-headings")
    assert examination.may_be_saved


def test_read_refuses_a_file_without_headings():
    with pytest.raises(Unreadable, match="No row of headings was found in the file; its first row holds '1', '2'"):
        read(b"1,2\n3,4\n", "a.csv")


@pytest.mark.parametrize(
    ("data", "name", "code", "message"),
    [
        (b"", "a.csv", "empty", "The file 'a.csv' is empty \\(0 bytes\\)"),
        (b"\n\n,,\n", "a.csv", "empty", "The file holds no text"),
        (b"x" * 50_000_000, "a.csv", "too-large", "'a.csv' has 50 MB; at most 20 MB are taken"),
        (b"a", "a.pdf", "wrong-ending", "Files ending in '.pdf' aren't taken. Send a CSV"),
        (b"a", "tests", "wrong-ending", "Files ending in 'nothing' aren't taken"),
        (b"a,b", "a.xlsx", "wrong-content", "'a.xlsx' ends in .xlsx but holds no workbook"),
        (b"PK\x03\x04", "a.csv", "wrong-content", "'a.csv' ends in .csv but holds a workbook"),
        (b"\x00\x01\x00\x02", "a.csv", "wrong-content", "holds bytes that are no text \\(NUL\\)"),
        (b"\xd0\xcf\x11\xe0", "a.xlsx", "old-workbook", "an old or a password-protected workbook"),
        (b"study\x81title", "a.csv", "encoding", "in no encoding known here. Save it again as 'CSV UTF-8'"),
    ],
)
def test_read_refuses_a_file_it_can_not_read(data, name, code, message):
    with pytest.raises(Unreadable, match=message) as refused:
        read(data, name)
    assert refused.value.code == code


def test_read_refuses_ten_thousand_columns_and_too_many_rows(monkeypatch):
    with pytest.raises(Unreadable, match="has text beyond its first 256 columns \\(it is 10000 wide\\)"):
        read(",".join(f"c{n}" for n in range(10_000)).encode(), "a.csv")
    monkeypatch.setattr(read_csv, "ROWS_MOST", 4)
    with pytest.raises(Unreadable, match="has 6 or more filled rows; 4 are taken at once. Split it"):
        read(csv_of(flat()).encode(), "a.csv")


def test_read_takes_wide_blank_rows(settings):
    text = "\n".join(line + "," * 300 for line in csv_of(flat()).splitlines())

    assert examine_file(text.encode(), "a.csv").may_be_saved


def test_kind_goes_by_ending_and_content_together():
    assert kind_of(b"a,b", "A.TXT") == "csv"
    assert kind_of(b"PK\x03\x04", "A.XLSX") == "xlsx"
