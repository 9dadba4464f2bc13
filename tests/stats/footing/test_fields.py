from __future__ import annotations

import pytest

from stats.errors import MissingInputs, StatsError
from stats.footing import fields
from stats.footing.fields import FIELDS, count, given, number, words


def test_words_hold_the_name_of_the_field():
    assert words("arm_mm") == "the distance from the joint to the line of the load (arm_mm)"
    assert words("unheard_of") == "unheard_of"


def test_fields_in_a_unit_end_in_it():
    endings = {"mm": "_mm", "°": "_deg", "%": "_pct", "kg/m³": "_kgm3", "s": "_s", "MPa": "_mpa"}

    assert [f.name for f in FIELDS.values() if f.unit and not f.name.endswith(endings[f.unit])] == []


def test_field_tables_do_not_overlap():
    tables = (fields.SETUP_FIELDS, fields.INSTRUMENT_FIELDS, fields.DIM_FIELDS, fields.OTHER_FIELDS)

    assert sum(map(len, tables)) == len(FIELDS)


def test_given_names_all_that_is_missing():
    with pytest.raises(MissingInputs) as caught:
        given({"a": 1, "b": None, "c": ""}, ["a", "b", "c", "d"], "the sum")

    assert caught.value.missing == ("b", "c", "d")


def test_number_takes_zero_only_where_it_may_be():
    assert number({"x": 0}, "x", open_low=False) == 0.0
    with pytest.raises(StatsError, match=r"x \(0\) must be above 0\."):
        number({"x": 0}, "x")


@pytest.mark.parametrize("value", ["tall", float("nan"), float("inf"), -1, 11])
def test_number_refuses_what_can_not_be(value):
    with pytest.raises(StatsError, match="x \\("):
        number({"x": value}, "x", high=10)


def test_number_without_value_or_default_is_missing():
    assert number({}, "x", 3.0) == 3.0
    with pytest.raises(MissingInputs, match="x"):
        number({"x": None}, "x")


def test_count_refuses_a_fraction():
    assert count({"n": 3.0}, "n") == 3
    with pytest.raises(StatsError, match=r"n \(2\.5\) must be a whole number"):
        count({"n": 2.5}, "n")
