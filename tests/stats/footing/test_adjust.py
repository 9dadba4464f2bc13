from __future__ import annotations

import numpy as np
import pytest

from stats.errors import StatsError
from stats.footing import adjust
from stats.footing.adjustment import CAP_HIGH, CAP_LOW


def test_moisture_at_12_pct_changes_nothing():
    assert adjust.moisture(103, 66, 12).factor == 1.0


def test_moisture_above_the_intersection_gives_the_green_value():
    assert 103 * adjust.moisture(103, 66, [24, 30, 80], 24).factor == pytest.approx([66.0] * 3)


def test_moisture_agrees_with_a_straight_line_in_logs():
    # Eq. 5-3 is a straight line of ln P over M through (12, P12) and (Mp, Pg)
    moistures = np.linspace(8, 24, 33)
    line = np.exp(np.interp(moistures, [8, 12, 24], np.log([103 * (103 / 66) ** (4 / 12), 103, 66])))

    np.testing.assert_allclose(103 * adjust.moisture(103, 66, moistures, 24).factor, line)


def test_moisture_below_8_pct_is_flagged_and_below_4_held():
    found = adjust.moisture(103, 66, [2, 4, 7], 24)

    assert found.flagged
    assert "below 8 %" in found.note
    assert found.factor[0] == found.factor[1] > found.factor[2]


def test_moisture_not_known_is_taken_as_12_pct_and_says_so():
    found = adjust.moisture(103, 66, [8, np.nan], 24)

    assert found.factor[1] == 1.0
    assert "an assumption" in found.note
    assert not found.flagged


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: adjust.moisture(0, 66, 8), r"dry \(0\) must be above 0"),
        (lambda: adjust.moisture(103, 66, -1), r"moisture_pct \(-1\) must be 0 or more"),
        (lambda: adjust.moisture(103, 66, 8, 12), r"intersection_pct \(12\) must be above 12"),
        (lambda: adjust.density(2.0, 0.6, 1.0), r"sg \(2\) must be above 0 and at most 1\.5"),
        (lambda: adjust.rate(0), r"from_s \(0\) must be above 0"),
        (lambda: adjust.rate(1e-9, 1e9), "too far apart"),
        (lambda: adjust.duration(300, float("nan")), r"to_s \(nan\)"),
        (lambda: adjust.size_depth(-5), r"depth_mm \(-5\) must be above 0"),
        (lambda: adjust.hankinson(50, 5, 95), r"angle_deg \(95\) must be 0 or more and at most 90"),
        (lambda: adjust.hankinson(50, 5, 30, 3.1), r"exponent \(3\.1\) must be 1 or more and at most 3"),
        (lambda: adjust.hankinson(50, 5, 30, 0.9), r"exponent \(0\.9\) must be 1 or more"),
        (lambda: adjust.emc(20, 120), r"rh_pct \(120\) must be 0 or more and at most 100"),
        (lambda: adjust.cap(0), r"total \(0\) must be above 0"),
    ],
)
def test_adjustments_refuse_what_can_not_be(call, message):
    with pytest.raises(StatsError, match=message):
        call()


def test_rate_forth_and_duration_agree_over_one_decade():
    assert adjust.rate(30, 300).factor == pytest.approx(adjust.duration(30, 300).factor, abs=0.01)


def test_rate_and_duration_at_one_time_change_nothing():
    assert adjust.rate(300, 300).factor == adjust.duration(300, 300).factor == 1.0


def test_hankinson_ends_are_the_two_strengths():
    factor = adjust.hankinson(51.3, 7.4, [0, 90]).factor

    np.testing.assert_allclose(51.3 * factor, [51.3, 7.4])


def test_hankinson_at_45_degrees_is_the_harmonic_mean_of_the_two():
    # sin² = cos² = 1/2 at the usual exponent of 2, so that 1/N = (1/P + 1/Q)/2.
    assert 51.3 * adjust.hankinson(51.3, 7.4, 45).factor == pytest.approx(2 / (1 / 51.3 + 1 / 7.4))


def test_emc_of_dry_air_is_nothing():
    assert adjust.emc(20, 0) == 0.0


def test_cap_holds_the_product_and_flags_it():
    found = adjust.cap([0.5, 0.75, 1.0, 1.33, 2.0])

    np.testing.assert_allclose(
        np.array([0.5, 0.75, 1.0, 1.33, 2.0]) * found.factor, [CAP_LOW, 0.75, 1.0, 1.33, CAP_HIGH]
    )
    assert found.flagged
    assert found.source == "recommendation of this book"
    assert not adjust.cap(1.1).flagged


def test_adjustment_as_a_step_keeps_factor_and_source():
    found = adjust.size_depth(100)
    step = found.step()

    assert (step.name, step.factor, step.source) == ("size_depth", found.factor, found.source)
