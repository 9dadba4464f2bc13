"""Ratios of geometric means."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from scipy import stats
from statsmodels.stats import weightstats

from stats.inference import groups, sample
from tests.stats.inference.strategies import scales, series

A, B = [410.0, 455.0, 431.0, 398.0], [352.0, 310.0, 371.0, 340.0, 362.0]


@settings(max_examples=30, deadline=None)
@given(series(least=2), series(least=2))
def test_ratio_agrees_with_scipy(a, b):
    found = groups.ratio(a, b, level=0.9)
    t = stats.ttest_ind(np.log(a), np.log(b), equal_var=False)
    ends = np.exp(t.confidence_interval(0.9))
    assert (found.t, found.df, found.p) == pytest.approx((t.statistic, t.df, t.pvalue), rel=1e-7, abs=1e-12)
    assert (found.interval.low, found.interval.high) == pytest.approx(tuple(ends), rel=1e-7)
    assert found.ratio == pytest.approx(stats.gmean(a) / stats.gmean(b), rel=1e-10)
    assert found.ratio in found.interval


@settings(max_examples=30, deadline=None)
@given(series(least=2), series(least=2), scales)
def test_ratio_turned_round_is_the_reciprocal_and_units_cancel(a, b, scale):
    one, other = groups.ratio(a, b), groups.ratio(b * scale, a * scale)
    assert other.ratio == pytest.approx(1 / one.ratio, rel=1e-8)
    assert other.interval.low == pytest.approx(1 / one.interval.high, rel=1e-7)
    assert other.p == pytest.approx(one.p, rel=1e-6)


def test_ratio_from_sums_equals_ratio():
    logs = [np.log(A), np.log(B)]
    numbers = [x for log in logs for x in (log.mean(), log.var(ddof=1), log.size)]
    found, whole = groups.ratio_from_sums(*numbers), groups.ratio(A, B)
    assert (found.ratio, found.df, found.interval.low) == pytest.approx((whole.ratio, whole.df, whole.interval.low))
    assert (found.n_a, found.n_b) == (4, 5)


def test_ratio_with_one_group_of_no_spread_rests_on_the_other():
    assert groups.ratio([5.0, 5.0], B).df == pytest.approx(4.0)


def test_equivalent_agrees_with_statsmodels():
    for margin in (1.05, 1.3, 1.6):
        found = groups.equivalent(A, B, margin)
        reach = np.log(margin)
        p, _, _ = weightstats.ttost_ind(np.log(A), np.log(B), -reach, reach, usevar="unequal")
        assert found.p == pytest.approx(p, rel=1e-9)
        assert found.equivalent == (p < 0.05)


def test_equivalent_says_the_same_as_its_interval():
    for margin in np.linspace(1.01, 1.8, 30):
        found = groups.equivalent(A, B, float(margin))
        inside = 1 / margin < found.ratio.interval.low and found.ratio.interval.high < margin
        assert found.equivalent == inside
        assert found.ratio.interval.level == pytest.approx(0.90)


def test_a_large_p_is_no_equivalence():
    noisy_a, noisy_b = [200.0, 400.0, 700.0], [250.0, 380.0, 600.0]
    assert groups.ratio(noisy_a, noisy_b).p > 0.8
    assert not groups.equivalent(noisy_a, noisy_b, 1.2).equivalent


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda: groups.ratio([5.0], B), sample.TooFew, "a has 1 readings; at least 2"),
        (lambda: groups.ratio(A, [5.0, 0.0]), sample.BadSample, r"b\[1\] is 0; every one must be above zero"),
        (lambda: groups.ratio([5.0, 5.0], [6.0, 6.0]), sample.NoSpread, "neither a nor b shows any spread"),
        (lambda: groups.ratio(A, B, level=95), sample.BadSetting, "level is 95"),
        (lambda: groups.ratio_from_sums(6.0, 0.01, 1, 6.0, 0.01, 4), sample.TooFew, "n_a is 1; each group needs"),
        (lambda: groups.ratio_from_sums(6.0, -0.01, 3, 6.0, 0.01, 4), sample.BadSample, "var_log_a is -0.01"),
        (
            lambda: groups.ratio_from_sums(6.0, 0.01, 3, float("nan"), 0.01, 4),
            sample.BadSample,
            "mean_log_b is nan",
        ),
        (lambda: groups.ratio_from_sums(6.0, 0.0, 3, 6.0, 0.0, 4), sample.NoSpread, "neither a nor b"),
        (lambda: groups.equivalent(A, B, 1.0), sample.BadSetting, "margin is 1.0; it must be a finite number above 1"),
        (lambda: groups.equivalent(A, B, 1.2, alpha=0.6), sample.BadSetting, "alpha is 0.6; it must be below 0.5"),
    ],
)
def test_ratios_refuse_by_name(call, error, words):
    with pytest.raises(error, match=words):
        call()
