"""Seasonal movement: by hand, properties, what a cross-grain joint holds, refusals."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stats.errors import StatsError
from stats.footing.adjust import emc
from stats.practice.movement import MONTHS, coefficient, cross_grain, freshness, movement, year

from .evaluate import again

OAK_R, OAK_T = 0.00158, 0.00369


def test_movement_by_hand():
    """300 mm of flatsawn red oak from 6 to 12 %: 300 · 0.00369 · 6 = 6.64 mm."""
    found = movement(300, OAK_T, 6, 12)

    assert found.change_mm == pytest.approx(6.642)
    assert found.strain == pytest.approx(0.02214)
    assert found.notes == ()
    assert found.lines[0].worked == "ΔD = D · C · (M_2 - M_1) = 300 mm · 0.00369 1/% · (12.0 % - 6.00 %) = 6.642 mm"
    assert again(found.lines[0]) == pytest.approx(found.change_mm)


@settings(max_examples=30, deadline=None)
@given(d=st.floats(1, 2000), c=st.floats(1e-4, 0.006), a=st.floats(0, 30), b=st.floats(0, 30))
def test_movement_there_and_back_is_none_and_halves_add_up(d, c, a, b):
    middle = (a + b) / 2

    whole = movement(d, c, a, b).change_mm
    assert movement(d, c, b, a).change_mm == pytest.approx(-whole)
    assert movement(d, c, a, middle).change_mm + movement(d, c, middle, b).change_mm == pytest.approx(whole, abs=1e-9)
    assert movement(2 * d, c, a, b).strain == pytest.approx(whole / d, abs=1e-12)


def test_movement_beyond_the_table_is_flagged():
    assert movement(100, OAK_T, 12, 16).notes == ("The coefficients hold from 6 to 14 % moisture; this goes beyond.",)


@settings(max_examples=30, deadline=None)
@given(angle=st.floats(0, 90))
def test_coefficient_between_the_rings_lies_between_the_two(angle):
    found = coefficient(OAK_R, OAK_T, angle)

    assert OAK_R * (1 - 1e-12) <= found <= OAK_T * (1 + 1e-12)
    assert found + coefficient(OAK_R, OAK_T, 90 - angle) == pytest.approx(OAK_R + OAK_T)


def test_cross_grain_joint_is_forced_to_hold_the_whole_movement():
    moved = movement(100, OAK_T, 12, 7)

    found = cross_grain(moved, moe_gpa=12.5, tension_perp_mpa=5.5)

    assert found.strain == pytest.approx(OAK_T * 5)
    assert found.free_mm == pytest.approx(-moved.change_mm) == pytest.approx(1.845)
    assert found.stress_mpa.low == pytest.approx(OAK_T * 5 * 0.04 * 12_500)
    assert found.stress_mpa.high == pytest.approx(OAK_T * 5 * 0.12 * 12_500)
    assert any("It shrinks: even the least of it, 9.2" in note for note in found.notes)
    for line in found.lines:
        assert again(line) == pytest.approx(line.value), line.worked


def test_cross_grain_joint_that_swells_is_crushed():
    found = cross_grain(movement(100, OAK_T, 7, 12), moe_gpa=12.5, tension_perp_mpa=5.5)

    assert any(note.startswith("It swells") for note in found.notes)
    assert not any("It shrinks" in note for note in found.notes)


def test_cross_grain_joint_without_a_modulus_has_a_strain_only():
    found = cross_grain(movement(100, OAK_T, 12, 7))

    assert found.stress_mpa is None
    assert "the strain alone is known" in found.notes[-1]


def test_year_follows_the_air():
    temperature = [20.0] * 12
    humidity = [30, 30, 35, 40, 50, 60, 65, 65, 55, 45, 35, 30]

    found = year(temperature, humidity, width_mm=500, coefficient_per_pct=OAK_T, glued_pct=8)

    assert found["month"].tolist() == list(MONTHS)
    np.testing.assert_allclose(found["emc_pct"], emc(temperature, humidity))
    july = found.set_index("month").loc["Jul"]
    assert july["change_mm"] == pytest.approx(500 * OAK_T * (emc(20, 65) - 8))
    assert found["change_mm"].idxmin() in (0, 1, 11)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: movement(0, OAK_T, 6, 12), r"width_mm \(0\) must be above 0 and at most 5000"),
        (lambda: movement(math.nan, OAK_T, 6, 12), r"width_mm \(nan\)"),
        (lambda: movement(300, 0.4, 6, 12), r"coefficient_per_pct \(0.4\) must be above 0 and at most 0.006"),
        (lambda: movement(300, OAK_T, -1, 12), r"from_pct \(-1\) must be 0 or more and at most 30"),
        (lambda: movement(300, OAK_T, 6, 45), r"to_pct \(45\)"),
        (lambda: coefficient(OAK_R, OAK_T, 100), r"ring_deg \(100\) must be 0 or more and at most 90"),
        (lambda: coefficient(0, OAK_T, 10), r"radial_per_pct \(0\)"),
        (lambda: cross_grain(movement(9, OAK_T, 6, 12), moe_gpa=12_500), r"moe_gpa \(12500\) must be"),
        (lambda: cross_grain(movement(9, OAK_T, 6, 12), tension_perp_mpa=0), r"tension_perp_mpa \(0\)"),
        (lambda: year([20] * 11, [50] * 12, width_mm=9, coefficient_per_pct=OAK_T, glued_pct=8), "twelve finite"),
        (lambda: year([20] * 12, [150] * 12, width_mm=9, coefficient_per_pct=OAK_T, glued_pct=8), r"rh_pct \(150\)"),
        (lambda: freshness(["indoors"], []), r"cycles \(0\) must be as many as conditioning \(1\)"),
    ],
)  # fmt: skip
def test_movement_refuses_what_cannot_be(make, message):
    with pytest.raises(StatsError, match=message):
        make()


@pytest.mark.parametrize(
    ("conditioning", "cycles", "counts", "words"),
    [
        ([], [], (0, 0, 0), "has no series to tell by"),
        (["indoors", "unknown"], [None, None], (2, 0, 1), "None of 2 series was cycled"),
        (["cycled", "soaked", "climate", "unknown"], [None, None, None, 500], (4, 3, 0), "3 of 4 series were cycled"),
    ],
)
def test_freshness_counts_what_lived_through_something(conditioning, cycles, counts, words):
    found = freshness(conditioning, cycles)

    assert (found.series, found.seasoned, found.unknown) == counts
    assert words in found.words and found.words.startswith("Fresh glue-ups flatter a joint")
    assert ("1 don't say." in found.words) == (counts[2] == 1)
