"""Records from a program, read as a flat table."""

from __future__ import annotations

import pytest

from results.intake.findings import Unreadable
from results.intake.read_records import read_records, text_of


@pytest.mark.parametrize(
    ("value", "text"),
    [(None, ""), (True, "yes"), (False, "no"), (12, "12"), (0.5, "0.5"), (1e-7, "1e-07"), (" 280 lbf ", "280 lbf")],
)
def test_plain_value_is_what_somebody_would_type(value, text):
    assert text_of(value) == text


def test_records_are_sorted_into_study_setup_series_and_specimens():
    rows = read_records(
        [
            {"study title": "Rails", "setup": "rig", "series": "A", "specimen": "A1", "specimen reading": 280},
            {"series": "A", "specimen": "A2", "specimen reading": "265 lbf", "specimen notes": None},
            {},
        ]
    )

    assert rows.study.text("title") == "Rails"
    assert [row.text("setup") for row in rows.setups] == ["rig"]
    assert [row.text("series") for row in rows.series] == ["A"]
    assert [(row.text("specimen"), row.text("reading")) for row in rows.specimens] == [("A1", "280"), ("A2", "265 lbf")]
    # The names are row 1.
    assert rows.specimens[1].place.row == 3
    assert rows.decimal == "."


@pytest.mark.parametrize(
    ("records", "code", "message"),
    [
        ({}, "not-records", "no list of objects"),
        ([[]], "not-records", "no list of objects"),
        ([], "empty", "holds no objects"),
        ([{"series": {}}], "not-plain", "'series' of row 2 holds a list or an object"),
        ([{}] * 101_001, "too-many-rows", "101001"),
        ([{str(at): 1 for at in range(257)}], "too-many-columns", "257"),
    ],
)
def test_what_is_no_table_is_refused(records, code, message):
    with pytest.raises(Unreadable, match=message) as refused:
        read_records(records)

    assert refused.value.code == code
