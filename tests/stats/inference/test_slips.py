"""Unit slips: found, named, and not seen where there are none."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stats.inference import outliers, sample, slips
from tests.stats.inference.strategies import scales, series

GOOD = [2210.0, 2480.0, 2350.0, 2290.0, 2610.0]

SLIPS = [
    (1 / 4.4482216, "read as newtons but looks like pounds-force"),
    (4.4482216, "read as pounds-force but looks like newtons"),
    (1 / 9.80665, "read as newtons but looks like kilograms-force"),
    (9.80665, "read as kilograms-force but looks like newtons"),
    (2.2046226, "read as kilograms but looks like pounds"),
    (1000.0, "read as kilonewtons but looks like newtons"),
    (1 / 1000.0, "read as newtons but looks like kilonewtons"),
    (100.0, "decimal point two places too far right"),
]


@pytest.mark.parametrize(("off", "text"), SLIPS)
def test_a_slip_is_found_and_named(off, text):
    report = outliers.unit_slips([*GOOD, 2400.0 * off])
    (slip,) = report.slips
    assert (slip.index, slip.likely) == (5, text)
    assert slip.odds > 2
    assert slip.factor == pytest.approx(1 / off, rel=1e-6)
    assert slip.probability == pytest.approx(slip.odds / (1 + slip.odds))


@pytest.mark.parametrize(
    ("kind", "off", "text"),
    [
        ("length", 1 / 25.4, "read as millimetres but looks like inches"),
        ("length", 12.0, "read as feet but looks like inches"),
        ("moment", 12.0, "read as foot-pounds but looks like inch-pounds"),
        ("stress", 145.03774, "read as megapascals but looks like pounds per square inch"),
        ("mass", 1000.0, "read as kilograms but looks like grams"),
    ],
)
def test_a_slip_is_named_for_what_was_measured(kind, off, text):
    (slip,) = outliers.unit_slips([*GOOD, 2400.0 * off], kind=kind).slips
    assert (slip.index, slip.likely) == (5, text)


def test_nine_point_eight_and_ten_are_both_named():
    (slip,) = outliers.unit_slips([*GOOD, 240.0]).slips
    assert {round(candidate.factor, 1) for candidate in slip.candidates} == {9.8, 10.0}
    assert sum(candidate.share for candidate in slip.candidates) == pytest.approx(1.0, abs=0.06)


@pytest.mark.parametrize("ratio", [0.45, 0.6, 0.75, 1.3, 1.6])
def test_a_weak_or_strong_joint_is_no_slip(ratio):
    assert outliers.unit_slips([*GOOD, 2400.0 * ratio]).slips == ()


@settings(max_examples=60, deadline=None, derandomize=True)  # a few in ten thousand honest series do mislead
@given(series(least=2))
def test_honest_series_are_let_be(values):
    assert outliers.unit_slips(values).slips == ()


@settings(max_examples=20, deadline=None)
@given(scales, st.permutations(range(6)))
def test_slips_follow_the_unit_and_the_order(scale, order):
    values = np.array([*GOOD, 530.0])
    one = outliers.unit_slips(values).slips[0]
    other = outliers.unit_slips(values[list(order)] * scale).slips[0]
    assert order[other.index] == one.index
    assert other.likely == one.likely
    assert other.odds == pytest.approx(one.odds, rel=0.05)  # the grid of centres starts elsewhere


def test_two_slips_of_six_do_not_hide_each_other():
    report = outliers.unit_slips([2210.0, 530.0, 2350.0, 510.0, 2610.0, 2400.0])
    assert sorted(slip.index for slip in report.slips) == [1, 3]


def test_one_reading_has_nothing_to_be_set_against():
    report = outliers.unit_slips([2210.0])
    assert report.slips == ()
    assert "nothing beside it" in report.notes[0]


def test_of_two_readings_it_is_not_told_which():
    report = outliers.unit_slips([2210.0, 2210.0 / 4.4482216])
    (slip,) = report.slips
    assert slip.index is None
    assert "can't be told which" in report.notes[0]


def test_of_three_readings_two_outvote_one():
    (slip,) = outliers.unit_slips([2210.0, 2480.0, 530.0]).slips
    assert slip.index == 2


def test_a_known_spread_sharpens_the_odds():
    values = [2210.0, 2480.0, 530.0]
    tight, wide = (outliers.unit_slips(values, sd_log=s, least_odds=1e-9) for s in (0.08, 0.3))
    assert tight.slips[0].odds > wide.slips[0].odds
    assert tight.sd_log == pytest.approx(0.08)


def test_odds_follow_the_prior():
    values = [*GOOD, 530.0]
    rare, common = (outliers.unit_slips(values, prior=p, least_odds=1e-9).slips[0] for p in (0.002, 0.02))
    assert common.odds == pytest.approx(10 * rare.odds, rel=0.1)


def test_series_slip_agrees_with_the_mixture_worked_by_hand():
    slip = outliers.series_slip(np.log(52.0), 6, np.log(240.0), 0.25, sd_log=0.15, prior=0.02)
    s, x = np.sqrt(0.25**2 + 0.15**2 / 6), np.log(52.0 / 240.0)

    def normal(at):
        return np.exp(-(((x - at) / s) ** 2) / 2) / (s * np.sqrt(2 * np.pi))

    factors = slips.FACTORS["force"]
    weights = np.array([f.weight for f in factors])
    either = [normal(-np.log(f.value)) + normal(np.log(f.value)) for f in factors]
    slipped = 0.02 * (weights * either).sum() / (2 * weights.sum())
    weaker, stronger = np.hypot(0.35, s), np.hypot(0.15, s)
    honest = (1 - 0.02 - 0.05) * normal(0.0) + 0.05 * np.exp(x / weaker) / (weaker + stronger)
    assert slip.odds == pytest.approx(slipped / honest, rel=1e-9)


def test_a_series_typed_in_pounds_is_seen_against_like_series():
    slip = outliers.series_slip(np.log(2400 / 4.4482216), 6, np.log(2400), 0.2)
    assert slip.index is None
    assert slip.likely == "read as newtons but looks like pounds-force"
    assert slip.odds > 3


def test_a_series_a_third_weaker_is_no_slip():
    assert outliers.series_slip(np.log(1600), 6, np.log(2400), 0.25).odds < 0.05


def test_a_wide_expectation_shows_only_large_slips():
    narrow, wide = (outliers.series_slip(np.log(540), 6, np.log(2400), s).odds for s in (0.2, 0.7))
    assert narrow > 1 > wide
    assert outliers.series_slip(np.log(2.4), 6, np.log(2400), 0.7).odds > 1


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda: outliers.unit_slips([]), sample.TooFew, "values has 0 readings"),
        (lambda: outliers.unit_slips([1.0, -2.0]), sample.BadSample, r"values\[1\] is -2"),
        (lambda: outliers.unit_slips([1.0], kind="weight"), sample.BadSetting, "kind is 'weight'; .* force, mom"),
        (lambda: outliers.unit_slips([1.0], prior=0.0), sample.BadSetting, "prior is 0.0"),
        (lambda: outliers.unit_slips([1.0], prior=0.96), sample.BadSetting, "prior is 0.96"),
        (lambda: outliers.unit_slips([1.0], sd_log=0.0), sample.BadSetting, "sd_log is 0.0"),
        (lambda: outliers.unit_slips([1.0], least_odds=0), sample.BadSetting, "least_odds is 0"),
        (lambda: outliers.series_slip(float("nan"), 5, 7.0, 0.2), sample.BadSample, "mean_log is nan"),
        (lambda: outliers.series_slip(7.0, 0, 7.0, 0.2), sample.BadSetting, "n is 0"),
        (lambda: outliers.series_slip(7.0, 5, 7.0, 0.0), sample.BadSetting, "expected_sd_log is 0.0"),
    ],
)
def test_slips_refuse_by_name(call, error, words):
    with pytest.raises(error, match=words):
        call()
