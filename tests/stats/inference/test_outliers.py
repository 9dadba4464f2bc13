"""Outliers within a series, and readings no timber could have borne."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from stats.inference import outliers, sample
from tests.stats.inference.strategies import series

LOGS = np.log([310.0, 350.0, 362.0, 371.0, 400.0, 355.0, 342.0, 3600.0])


def slow_esd(values, most, alpha):
    """Rosner's test as its formulas read."""
    left, found, last = list(range(len(values))), [], 0
    for i in range(1, most + 1):
        rest = [values[j] for j in left]
        mean, sd = np.mean(rest), np.std(rest, ddof=1)
        worst = max(left, key=lambda j: abs(values[j] - mean))
        n = len(values)
        t = stats.t.ppf(1 - alpha / (2 * (n - i + 1)), n - i - 1)
        critical = (n - i) * t / np.sqrt((n - i - 1 + t**2) * (n - i + 1))
        found.append(worst)
        if abs(values[worst] - mean) / sd > critical:
            last = i
        left.remove(worst)
    return tuple(found[:last])


def test_esd_agrees_with_the_formulas_read_slowly():
    draws = np.random.default_rng(9)
    for _ in range(40):
        values = draws.standard_normal(20)
        values[:3] += draws.choice([0, 5], 3)
        assert outliers.generalised_esd(values, 5).indices == slow_esd(values, 5, 0.05)


def test_esd_with_one_outlier_is_the_test_of_grubbs():
    # for one outlier Rosner's critical value is Grubbs's
    n, t = 12, stats.t.ppf(1 - 0.05 / 24, 10)
    grubbs = (n - 1) / np.sqrt(n) * np.sqrt(t**2 / (n - 2 + t**2))
    assert outliers.generalised_esd(np.arange(12.0), 1).critical[0] == pytest.approx(grubbs, rel=1e-12)


def test_esd_stops_where_the_rest_are_equal():
    found = outliers.generalised_esd([5.0] * 6 + [9.0], 3)
    assert len(found.statistics) == 1
    assert found.order == (6,)


def test_esd_says_when_its_critical_values_are_rough():
    assert "rough" in outliers.generalised_esd(LOGS, 1).notes[0]
    # Rosner (1983): approximate below about 25 numbers.
    assert "approximate" in outliers.generalised_esd(np.random.default_rng(1).random(24), 1).notes[0]
    assert outliers.generalised_esd(np.random.default_rng(1).random(25), 1).notes == ()


def test_esd_names_an_outlier_as_seldom_as_it_says():
    draws = np.random.default_rng(10)
    named = np.mean([bool(outliers.generalised_esd(draws.standard_normal(30), 3).indices) for _ in range(1500)])
    assert named == pytest.approx(0.05, abs=0.02)


@settings(max_examples=30, deadline=None)
@given(series(least=5), st.floats(-5, 5), st.floats(0.1, 10))
def test_esd_minds_neither_shift_nor_scale_nor_order(values, shift, scale):
    logs = np.log(values)
    one = outliers.generalised_esd(logs, 3)
    other = outliers.generalised_esd(logs[::-1] * scale + shift, 3)
    assert other.statistics == pytest.approx(one.statistics, rel=1e-6)
    assert {values.size - 1 - i for i in other.indices} == set(one.indices)


@pytest.mark.parametrize(
    ("arguments", "error", "words"),
    [
        (([1.0, 2.0], 1), sample.TooFew, "values has 2 readings; at least 3"),
        (([1.0, 2.0, 3.0], 2), sample.BadSetting, "max_outliers is 2; with 3 values it can be 1 at most"),
        (([1.0, 2.0, 3.0], 0), sample.BadSetting, "max_outliers is 0"),
        (([1.0, 2.0, 3.0], 1, 5), sample.BadSetting, "alpha is 5"),
        (([2.0, 2.0, 2.0], 1), sample.NoSpread, "all 3 values are 2"),
        (([1.0, float("nan"), 3.0], 1), sample.BadSample, r"values\[1\] is nan"),
    ],
)
def test_esd_refuses_by_name(arguments, error, words):
    with pytest.raises(error, match=words):
        outliers.generalised_esd(*arguments)


def test_median_score_agrees_with_scipy():
    found = outliers.median_score(LOGS)
    expected = (LOGS - np.median(LOGS)) / stats.median_abs_deviation(LOGS, scale="normal")
    assert found.scores == pytest.approx(expected, rel=1e-12)
    assert found.indices == (7,)


def test_median_score_bears_many_equal_readings():
    found = outliers.median_score([5.0] * 6 + [5.1, 9.0])
    assert found.indices == (7,)
    assert "mean absolute deviation" in found.method


def test_median_score_refuses_by_name():
    with pytest.raises(sample.NoSpread, match="all 3 values are 5"):
        outliers.median_score([5.0, 5.0, 5.0])
    with pytest.raises(sample.TooFew, match="at least 3"):
        outliers.median_score([5.0, 6.0])
    with pytest.raises(sample.BadSetting, match="limit is -1"):
        outliers.median_score([5.0, 6.0, 7.0], -1)


def test_impossible_flags_what_the_timber_could_not_bear():
    # a red oak rail of 22.2 x 63.5 mm breaks at about 1477 N·m
    assert outliers.impossible([353.0, 410.0, 1620.0, 1477.0], 1477.0) == (2,)
    assert outliers.impossible([353.0, 410.0], 1477.0) == ()


def test_impossible_allows_for_stronger_pieces():
    # a thousandth of members exceed the typical one by exp(3.09 x 0.16) = 1.64
    assert outliers.impossible([1620.0, 2400.0, 2450.0], 1477.0, ceiling_sd_log=0.16) == (2,)


def test_impossible_takes_a_ceiling_for_each_reading():
    assert outliers.impossible([100.0, 100.0], [90.0, 110.0]) == (0,)
    with pytest.raises(sample.BadSample, match="ceiling has 3 values; it needs one, or one for each of 2"):
        outliers.impossible([100.0, 100.0], [90.0, 110.0, 120.0])
    with pytest.raises(sample.BadSample, match=r"ceiling\[0\] is 0"):
        outliers.impossible([100.0], 0.0)
    with pytest.raises(sample.BadSetting, match="ceiling_sd_log is -1"):
        outliers.impossible([100.0], 90.0, ceiling_sd_log=-1)
