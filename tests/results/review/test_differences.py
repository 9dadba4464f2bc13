"""What two documents say differently, as a reader reads it."""

from __future__ import annotations

import copy

import pytest

from results.review.differences import differences, summary

from .made import heavier, said

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def _after(mend):
    before = said()
    after = copy.deepcopy(before)
    mend(after)
    return differences(before, after)


def _rows(found):
    return [(one.kind, one.where, one.field, one.before, one.after) for one in found]


def test_nothing_differs_between_a_document_and_itself_in_another_order():
    assert _after(lambda now: now["series"].reverse()) == []


def test_reading_shows_as_typed_and_in_newtons():
    assert _rows(_after(heavier)) == [
        ("changed", "specimen t0 of series tenon", "reading", "118.5 kg = 1162.09 N", "119.5 kg = 1171.89 N")
    ]


def test_each_record_tells_its_fields_in_the_books_words():
    def mend(now):
        now["study"]["notes"] = "Wet day."
        now["setups"][0] |= {"arm_mm": 305.0, "typed": {"arm_mm": "30.5 cm"}}
        now["series"][1] |= {"timber": "ash_white", "tenon_length_mm": 28.0}
        del now["series"][1]["control"]
        now["series"][0]["specimens"][1] |= {"failure_place": "bond_line"}

    assert _rows(_after(mend)) == [
        ("changed", "the study", "notes", "", "Wet day."),
        ("changed", "setup arm", "arm", "300 mm", "30.5 cm = 305 mm"),
        ("changed", "specimen b1 of series butt", "failure place", "", "Bond line"),
        ("changed", "series tenon", "timber", "Oak, northern red", "Ash, white"),
        ("changed", "series tenon", "control", "butt", ""),
        ("changed", "series tenon", "tenon length", "30 mm", "30 mm = 28 mm"),
    ]


def test_records_are_added_and_removed_whole():
    def mend(now):
        now["series"][0]["label"] = "plain butt"
        now["series"][1]["control"] = "plain butt"
        now["series"][1]["specimens"][0]["label"] = "first"

    found = _after(mend)

    assert [(one.kind, one.where) for one in found] == [
        ("removed", "series butt"),
        ("changed", "series tenon"),
        ("removed", "specimen t0 of series tenon"),
        ("added", "specimen first of series tenon"),
        ("added", "series plain butt"),
    ]
    assert found[0].before.endswith("4 specimens") and found[0].after == ""
    assert found[3].after.startswith("reading 118.5 kg")


def test_a_mean_differs_in_its_own_unit():
    before = said()
    mean = {"quantity": "moment", "mean_typed": "120", "mean_si": 120.0, "sd_typed": "9", "sd_si": 9.0}
    before["series"][0] |= {"specimens": [], "summary": {**mean, "n": 6}}
    after = copy.deepcopy(before)
    after["series"][0]["summary"] |= {"mean_typed": "90 ft lbf", "mean_si": 122.023, "n": 8}

    assert [(one.field, one.before, one.after) for one in differences(before, after)] == [
        ("mean", "120 = 120 N·m", "90 ft lbf = 122.023 N·m"),
        ("n", "6", "8"),
    ]


def test_a_difference_too_small_for_few_digits_is_shown_in_all_of_them():
    def mend(now):
        now["series"][1]["specimens"][0]["peak_load_n"] *= 1 + 1e-14

    (found,) = _after(mend)

    assert found.before != found.after


def test_summary_counts_each_sort():
    def mend(now):
        for one in now["series"][1]["specimens"]:
            one["reading_typed"] += "0"
        now["series"][0]["specimens"].pop()

    assert summary(_after(mend)) == [("specimens removed", 1), ("specimens: reading changed", 4)]
