from __future__ import annotations

import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stats.errors import StatsError
from stats.footing.reading_errors import (
    Absurd,
    AmbiguousNumber,
    NotANumber,
    NotFinite,
    ReadingError,
    UnitMissing,
    UnknownUnit,
    WrongUnitKind,
)
from stats.footing.unit_names import NAMES, REFUSED, SI, spellings
from stats.footing.units import UNITS, Reading, factor, from_si, read, show, to_si


@pytest.mark.parametrize(
    ("text", "kind", "si"),
    [
        ("1 1/2 in", "length", 38.1),
        ('3/4"', "length", 19.05),
        ("2' 6\"", "length", 762.0),
        ("2' 6", "length", 762.0),
        ("2'-6 1/2\"", "length", 774.7),
        ("2 ft 6 in", "length", 762.0),
        ('1½"', "length", 38.1),
        ("5′ 3″", "length", 1600.2),
        ("6\u201d", "length", 152.4),
        ("25.4mm", "length", 25.4),
        ("12,5 mm", "length", 12.5),
        ("12 in.", "length", 304.8),
        ("1.5 m", "length", 1500.0),
        ("280 lbf", "force", 1245.50205227294),
        ("280lb", "force", 1245.50205227294),
        ("280 #", "force", 1245.50205227294),
        ("127 kg", "force", 1245.44455),
        ("5 lb 8 oz", "force", 24.46521888),
        ("1 240 N", "force", 1240.0),
        ("1.240,5 N", "force", 1240.5),
        ("1,240.5 N", "force", 1240.5),
        ("1.2 kN", "force", 1200.0),
        ("30 ft-lb", "moment", 40.6745384),
        ("30 ft·lbf", "moment", 40.6745384),
        ("30 lb-ft", "moment", 40.6745384),
        ("30 foot-pounds", "moment", 40.6745384),
        ("30 in-lb", "moment", 3.38954487),
        ("30 N·m", "moment", 30.0),
        ("30 N m", "moment", 30.0),
        ("30 Nm", "moment", 30.0),
        ("100 psi", "pressure", 0.6894757293),
        ("5 bar", "pressure", 0.5),
        ("12 N/mm²", "stress", 12.0),
        ("3 in²", "area", 1935.48),
        ("45 lb/ft³", "density", 720.8308518),
        ("12 %", "percent", 12.0),
        ("12", "percent", 12.0),
        ("36 h", "hours", 36.0),
        ("2 days", "hours", 48.0),
        ("5 min", "seconds", 300.0),
        ("68 °F", "temperature", 20.0),
        ("−5 °C", "temperature", -5.0),
        ("0.2 in/min", "rate", 5.08),
        ("45°", "angle", 45.0),
        ("8", "number", 8.0),
    ],
)
def test_read_gives_the_si_value(text, kind, si):
    assert read(text, kind).si == pytest.approx(si, rel=1e-8, abs=1e-9)


def test_read_keeps_what_was_typed():
    assert read("1 1/2 in", "length") == Reading("1 1/2 in", 1.5, "in", "length", 38.1, "mm")


def test_read_marks_a_unit_from_the_default():
    assert read("12", "length", default_unit="in") == Reading("12", 12.0, "", "length", 304.8, "mm")


def test_read_takes_a_unit_before_the_default():
    assert read("12 mm", "length", default_unit="in").si == 12.0


def test_read_takes_numbers_from_a_sheet():
    assert read(12.5, "number").si == 12.5
    assert read(1240, "force", default_unit="N").si == 1240.0


@pytest.mark.parametrize(
    ("text", "kind", "error", "message"),
    [
        ("abc", "force", NotANumber, "does not start with a number"),
        ("", "force", NotANumber, "nothing to read"),
        ("   ", "force", NotANumber, "nothing to read"),
        ("~5 N", "force", NotANumber, "does not start with a number"),
        ("3-4 mm", "length", NotANumber, "more than one number"),
        ("12 5 mm", "length", NotANumber, "more than one number"),
        ("9" * 5000, "length", NotANumber, "too long"),
        (True, "number", NotANumber, "is not a number"),
        ("1,240 N", "force", AmbiguousNumber, "1240 or 1.240"),
        ("12", "force", UnitMissing, "A load needs one of N, kN, lbf, kgf"),
        ("12 mm", "force", WrongUnitKind, "mm is a length. A load needs N, kN, lbf, kgf"),
        ("12 N", "length", WrongUnitKind, "N is a force. A length needs mm"),
        ("110 kg", "length", WrongUnitKind, "kg is a mass. A length needs mm"),
        ("110 lb", "moment", WrongUnitKind, "lb is a mass. A moment needs"),
        ("110 lbf", "length", WrongUnitKind, "lbf is a force. A length needs mm"),
        ("5 mm", "number", WrongUnitKind, "needs no unit"),
        ("12 kgx", "force", UnknownUnit, "Did you mean kgf"),
        ("12 furlong", "length", UnknownUnit, "A length takes mm"),
        ("5 mPa", "stress", UnknownUnit, "write MPa"),
        ("5 ton", "force", UnknownUnit, "907, 1000 or 1016"),
        ("nan", "force", NotFinite, "not a finite number"),
        ("1e999 N", "force", NotFinite, "not a finite number"),
        (float("inf"), "number", NotFinite, "not a finite number"),
        ("1e300 N", "force", Absurd, "beyond anything in a workshop"),
        ("2e9 mm", "length", Absurd, "beyond anything in a workshop"),
    ],
)
def test_read_refuses_and_says_why(text, kind, error, message):
    with pytest.raises(error) as caught:
        read(text, kind)

    assert message in str(caught.value)
    assert caught.value.hint
    assert caught.value.code == error.code


def test_reading_errors_have_codes_of_their_own():
    codes = [error.code for error in ReadingError.__subclasses__()]

    assert len(set(codes)) == len(codes) == 7
    assert issubclass(ReadingError, StatsError)


def test_read_refuses_an_unknown_kind():
    with pytest.raises(StatsError, match="kind \\('colour'\\) must be one of force"):
        read("12", "colour")


def test_read_refuses_an_unknown_decimal_sign():
    with pytest.raises(StatsError, match="decimal"):
        read("12", "number", decimal=";")


@settings(deadline=None, max_examples=300)
@given(st.text(max_size=40), st.sampled_from(sorted(SI)))
def test_read_never_fails_but_by_its_own_errors(text, kind):
    try:
        found = read(text, kind)
    except ReadingError as error:
        assert error.hint
    else:
        assert abs(found.si) <= 1e9


@settings(deadline=None, max_examples=200)
@given(st.floats(0.001, 1e5), st.sampled_from([(k, u) for k in NAMES for u in NAMES[k] if k != "number"]))
def test_from_si_undoes_to_si(value, unit):
    kind, name = unit

    assert from_si(to_si(value, name, kind), kind, name) == pytest.approx(value, rel=1e-9, abs=1e-9)


def test_every_shown_unit_is_read_back():
    for kind, names in UNITS.items():
        for name in names:
            assert read(f"2 {name}", kind).si == pytest.approx(to_si(2, name, kind))


def test_no_spelling_stands_for_two_units():
    for kind, names in NAMES.items():
        every = [spelling for name, (_, others) in names.items() for spelling in (name, *others.split())]

        assert len(set(every)) == len(every), kind


def test_refused_spellings_are_not_accepted():
    assert [word for word in REFUSED if any(word in spellings(kind) for kind in NAMES)] == []


def test_factor_of_a_temperature_is_the_size_of_its_degree():
    assert factor("°F", "temperature") == pytest.approx(5 / 9)


@pytest.mark.parametrize(
    ("value", "unit", "digits", "expected"),
    [
        (1243.7, "N", 3, "1 240 N"),
        (0.3, "m", 3, "0.300 m"),
        (99.96, "MPa", 3, "100 MPa"),
        (0.01234, "", 3, "0.0123"),
        (123_456.0, "N", 4, "123 500 N"),
        (-5.5, "N", 3, "-5.50 N"),
        (0.0, "N", 3, "0 N"),
        (45.0, "°", 3, "45.0°"),
        (float("nan"), "N", 3, "– N"),
        (1e-9, "N", 3, "1.00e-09 N"),
    ],
)
def test_show_keeps_sensible_digits(value, unit, digits, expected):
    assert show(value, unit, digits) == expected


def test_show_refuses_no_digits():
    with pytest.raises(StatsError, match="digits"):
        show(1.0, "N", 0)


def test_read_of_ten_thousand_texts_is_quick():
    texts = [f"{i * 1.37:.2f} lbf" if i % 2 else f"{i} 1/2 in" for i in range(10_000)]
    read("1 lbf", "force"), read("1 in", "length")

    start = time.perf_counter()
    for text in texts:
        read(text, "force" if text.endswith("f") else "length")

    assert time.perf_counter() - start < 2.0  # a fifth of a second when nothing else runs
