from __future__ import annotations

import pytest

from stats.footing.numerals import NUMBER, plain, value_of
from stats.footing.reading_errors import AmbiguousNumber, NotANumber


def number(text, decimal=None):
    source = plain(text)
    found = NUMBER.match(source)
    assert source[found.end() :].strip() == ""
    return value_of(found, text, decimal)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("12", 12.0),
        ("12.5", 12.5),
        ("12,5", 12.5),
        (".5", 0.5),
        ("5.", 5.0),
        ("-3", -3.0),
        ("−3", -3.0),  # minus sign
        ("+3", 3.0),
        ("3/4", 0.75),
        ("1 1/2", 1.5),
        ("1-1/2", 1.5),
        ("-1 1/2", -1.5),
        ("1½", 1.5),
        ("½", 0.5),
        ("1 240", 1240.0),
        ("1\u202f240", 1240.0),
        ("1\u00a0240,5", 1240.5),
        ("1 240,500", 1240.5),
        ("1.240,5", 1240.5),
        ("1,240.5", 1240.5),
        ("1,240,000", 1_240_000.0),
        ("1.240.000", 1_240_000.0),
        ("1.240", 1.24),
        ("0,240", 0.24),
        ("1240,500", 1240.5),
        ("1e3", 1000.0),
        ("1.5E-2", 0.015),
        ("３", 3.0),  # full-width digit
        ("٣", 3.0),  # Arabic-Indic digit
    ],
)
def test_value_of_reads_what_people_write(text, expected):
    assert number(text) == pytest.approx(expected, rel=1e-15)


@pytest.mark.parametrize(("decimal", "expected"), [(".", 1240.0), (",", 1.24)])
def test_value_of_takes_the_decimal_sign_that_is_said(decimal, expected):
    assert number("1,240", decimal) == expected


@pytest.mark.parametrize(("decimal", "expected"), [(".", 1.24), (",", 1240.0)])
def test_value_of_takes_the_dot_as_said(decimal, expected):
    assert number("1.240", decimal) == expected


def test_value_of_refuses_an_ambiguous_number_with_both_readings():
    with pytest.raises(AmbiguousNumber, match=r"1240 or 1\.240") as caught:
        number("1,240")

    assert (caught.value.code, caught.value.text) == ("ambiguous-number", "1,240")


@pytest.mark.parametrize("text", ["1.2.3", "1,2,3", "12,34,567", "1,240,5", "1.240,5,6"])
def test_value_of_refuses_separators_that_make_no_number(text):
    with pytest.raises(NotANumber, match="separators"):
        number(text)


def test_value_of_refuses_the_other_decimal_sign():
    with pytest.raises(NotANumber, match="with ',' as the decimal sign"):
        number("12.5", ",")


def test_value_of_refuses_a_division_by_zero():
    with pytest.raises(NotANumber, match="divides by zero"):
        number("1/0")
