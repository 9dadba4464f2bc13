"""Series in a few numbers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from scipy import stats

from stats.inference import censored, describe, sample
from tests.stats.inference.strategies import scales, series

SERIES = [2210.0, 2480.0, 2350.0, 2290.0, 2610.0, 2120.0]


def test_summary_agrees_with_scipy():
    found = describe.summary(SERIES)
    logs = np.log(SERIES)
    assert (found.n, found.held, found.reasons.keys()) == (
        6,
        0,
        {"order_limit_95_75", "order_limit_90_90"},
    )
    assert found.geometric_mean == pytest.approx(stats.gmean(SERIES), rel=1e-13)
    assert found.cv == pytest.approx(stats.variation(SERIES, ddof=1), rel=1e-13)
    low, high = stats.t.interval(0.95, 5, np.mean(SERIES), stats.sem(SERIES))
    assert (found.mean_interval.low, found.mean_interval.high) == pytest.approx((low, high), rel=1e-12)
    low, high = np.exp(stats.t.interval(0.95, 5, logs.mean(), stats.sem(logs)))
    assert (found.geometric_interval.low, found.geometric_interval.high) == pytest.approx((low, high), rel=1e-12)
    assert found.geometric_interval.level == 0.95
    assert (found.limit_95_75.coverage, found.limit_95_75.confidence) == (0.95, 0.75)
    assert (found.limit_90_90.coverage, found.limit_90_90.confidence) == (0.90, 0.90)
    assert found.limit_95_75.value < min(SERIES)


def test_summary_of_one_has_reasons_and_no_failure():
    found = describe.summary([420.0])
    assert (found.n, found.mean) == (1, 420.0)
    assert found.geometric_mean == pytest.approx(420.0)
    missing = ("sd", "cv", "sd_log", "mean_interval", "geometric_interval", "limit_95_75", "limit_90_90")
    for name in missing:
        assert getattr(found, name) is None
        assert found.reasons[name]
    assert found.reasons["sd"] == "One specimen shows no spread; two are the fewest that do."


def test_summary_of_one_that_held_says_why_nothing_is_fitted():
    found = describe.summary([420.0], [False])
    assert found.lower_bound
    assert found.censored is None
    assert "all 1 specimens held" in found.reasons["censored"]


def test_summary_of_equal_readings_gives_no_false_certainty():
    found = describe.summary([0.1 + 0.2] * 5)
    assert (found.sd, found.sd_log, found.cv) == (0.0, 0.0, 0.0)
    assert found.geometric_interval is None
    assert "All 5 readings are equal" in found.reasons["geometric_interval"]
    assert "needs some spread" in found.reasons["limit_95_75"]


def test_summary_with_held_specimens_keeps_both_figures():
    broke = [True, True, True, True, False, True]
    found, as_read = describe.summary(SERIES, broke), describe.summary(SERIES)
    assert (found.held, found.lower_bound) == (1, True)
    assert found.geometric_mean == as_read.geometric_mean
    assert found.censored.geometric_mean > found.geometric_mean
    assert found.geometric_interval is None
    assert "held; an interval as read would be too low" in found.reasons["geometric_interval"]
    fit = censored.fit_lognormal(SERIES, broke)
    assert found.censored.geometric_mean == fit.geometric_mean
    assert found.censored.interval == fit.quantile(0.5).interval
    assert found.limit_95_75.held == 1
    assert found.limit_95_75.notes


def test_summary_with_all_held_but_one_says_why_nothing_is_fitted():
    found = describe.summary(SERIES, [True] + [False] * 5)
    assert found.censored is None
    assert "at least 2 that broke" in found.reasons["censored"]
    assert found.limit_95_75 is None


def test_summary_gives_order_limits_where_there_are_enough():
    many = np.exp(np.linspace(7.0, 8.0, 28))
    found = describe.summary(many)
    assert found.order_limit_95_75.value == pytest.approx(many[0])
    assert (found.order_limit_95_75.rank, found.order_limit_90_90.rank) == (1, 1)


def test_summary_refuses_what_is_no_series():
    with pytest.raises(sample.TooFew, match="values has 0 readings"):
        describe.summary([])
    with pytest.raises(sample.BadSample, match=r"values\[1\] is nan"):
        describe.summary([310, float("nan")])
    with pytest.raises(sample.BadSample, match="one true or false for each of 2"):
        describe.summary([310, 320], [True])
    with pytest.raises(sample.BadSetting, match="level is 95"):
        describe.summary([310, 320], level=95)


@settings(max_examples=30, deadline=None)
@given(series(), scales)
def test_summary_follows_the_unit_and_not_the_order(values, scale):
    one, other = describe.summary(values), describe.summary(values[::-1] * scale)
    assert other.geometric_mean == pytest.approx(one.geometric_mean * scale, rel=1e-9)
    assert (other.cv, other.sd_log) == pytest.approx((one.cv, one.sd_log), rel=1e-9)
    assert other.geometric_interval.low == pytest.approx(one.geometric_interval.low * scale, rel=1e-9)
    assert other.limit_95_75.value == pytest.approx(one.limit_95_75.value * scale, rel=1e-9)


@settings(max_examples=30, deadline=None)
@given(series(least=2))
def test_from_sums_agrees_with_summary(values):
    logs = np.log(values)
    found, whole = describe.from_sums(values.size, logs.sum(), (logs**2).sum()), describe.summary(values)
    assert found.geometric_mean == pytest.approx(whole.geometric_mean, rel=1e-10)
    assert found.sd_log == pytest.approx(whole.sd_log, rel=1e-6)
    interval = (found.interval.low, found.interval.high)
    assert interval == pytest.approx((whole.geometric_interval.low, whole.geometric_interval.high), rel=1e-6)


def test_from_sums_takes_many_series_at_once():
    rows = [np.log([310.0, 350.0]), np.log([42.0]), np.log([7.0, 8.0, 9.0])]
    n = [row.size for row in rows]
    found = describe.from_sums(n, [row.sum() for row in rows], [(row**2).sum() for row in rows], [0, 0, 2])
    assert found.has_spread.tolist() == [True, False, True]
    assert np.isnan(found.sd_log).tolist() == [False, True, False]
    assert found.lower_bound.tolist() == [False, False, True]
    for i, row in enumerate(rows):
        one = describe.from_sums(row.size, row.sum(), (row**2).sum())
        assert found.geometric_mean[i] == one.geometric_mean
        if row.size > 1:
            assert (found.low[i], found.high[i]) == (one.low, one.high)


def test_from_sums_of_one_has_no_interval():
    found = describe.from_sums(1, np.log(42.0), np.log(42.0) ** 2)
    assert (found.sd_log, found.low, found.interval, found.has_spread) == (None, None, None, False)


def test_from_sums_takes_rounding_for_no_spread():
    logs = np.log(np.full(9, 2345.6))
    assert describe.from_sums(9, logs.sum(), (logs**2).sum()).sd_log == 0.0


def test_from_sums_takes_a_series_of_which_all_held():
    logs = np.log([310.0, 350.0])
    found = describe.from_sums(2, logs.sum(), (logs**2).sum(), held=2)
    assert (found.held, found.lower_bound) == (2, True)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((0, 0.0, 0.0), "n must be a whole number of at least one"),
        ((2.5, 12.0, 80.0), "n must be a whole number"),
        ((2, 12.0, 80.0, 3), "held must lie between 0 and n"),
        ((2, float("nan"), 80.0), "sums must be finite numbers"),
        ((2, 12.0, 60.0), "the squares are too small for this sum"),
        (([2, 2], [12.0, 12.0, 12.0], 80.0), "must be of one length"),
    ],
)
def test_from_sums_refuses_sums_that_do_not_belong_together(arguments, words):
    with pytest.raises(sample.BadSample, match=words):
        describe.from_sums(*arguments)


def test_from_sums_names_the_series_at_fault():
    with pytest.raises(sample.BadSample, match="series 1 has n 0"):
        describe.from_sums([2, 0], [12.0, 0.0], [73.0, 0.0])
