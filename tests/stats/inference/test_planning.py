"""How many specimens."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.power import TTestIndPower

from stats.inference import planning, planning_one, sample, tolerance


def test_n_for_ratio_agrees_with_statsmodels():
    effect = np.log(1.25) / planning.sd_log_from_cv(0.18)
    plan = planning.n_for_ratio(1.25, 0.18, 0.8, both_tails=True)
    assert plan.exact == pytest.approx(TTestIndPower().solve_power(effect, power=0.8, alpha=0.05), rel=1e-6)
    assert plan.n == np.ceil(plan.exact)
    assert plan.power_at_n >= 0.8


def test_n_for_ratio_gives_its_power_over_samples():
    plan, draws = planning.n_for_ratio(1.2, 0.15), np.random.default_rng(2)
    sd = planning.sd_log_from_cv(0.15)
    a, b = (at + sd * draws.standard_normal((4000, plan.n)) for at in (0.0, np.log(1.2)))
    told = (stats.ttest_ind(a, b, axis=1).pvalue < 0.05).mean()
    assert told == pytest.approx(plan.power_at_n, abs=0.02)


@settings(max_examples=30, deadline=None)
@given(st.floats(1.05, 3.0), st.floats(0.05, 0.4))
def test_n_for_ratio_is_alike_both_ways_and_detectable_ratio_undoes_it(ratio, cv):
    plan = planning.n_for_ratio(ratio, cv)
    assert planning.n_for_ratio(1 / ratio, cv).n == plan.n
    assert planning.detectable_ratio(plan.n, cv).ratio <= ratio * (1 + 1e-9)
    if plan.n > 2:
        assert planning.detectable_ratio(plan.n - 1, cv).ratio > ratio * (1 - 1e-9)


@pytest.mark.parametrize(("ratio", "cv"), [(1.1, 0.15), (1.2, 0.15), (1.3, 0.25), (1 / 1.2, 0.15)])
def test_power_agrees_with_the_sample_size_it_goes_with(ratio, cv):
    plan = planning.n_for_ratio(ratio, cv)

    assert planning.power_at(plan.n, ratio, cv) == pytest.approx(plan.power_at_n)
    assert planning.power_at(plan.n - 1, ratio, cv) < 0.8 <= planning.power_at(plan.n, ratio, cv)


def test_power_agrees_with_a_plain_simulation():
    rng = np.random.default_rng(8)
    sd = np.sqrt(np.log1p(0.15**2))
    a, b = (rng.normal(mean, sd, (8000, 8)) for mean in (0.0, np.log(1.25)))
    told = stats.ttest_ind(b, a, axis=1)

    assert planning.power_at(8, 1.25, 0.15) == pytest.approx(
        np.mean((told.pvalue < 0.05) & (told.statistic > 0)), abs=0.015
    )


def test_power_of_no_difference_is_half_of_alpha():
    assert planning.power_at(10, 1.0, 0.15) == pytest.approx(0.025)


@settings(max_examples=60, deadline=None)
@given(st.integers(2, 2000), st.floats(1.0, 4.0), st.floats(0.02, 0.6), st.floats(1e-6, 0.5))
def test_power_agrees_with_the_noncentral_t_of_a_general_library(n, ratio, cv, alpha):
    """scipy.stats.nct, the slow way to the same."""
    df, shift = 2 * n - 2, np.log(ratio) / planning.sd_log_from_cv(cv) * np.sqrt(n / 2)

    found = planning.power_at(n, ratio, cv, alpha)

    assert found == pytest.approx(stats.nct.sf(stats.t.isf(alpha / 2, df), df, shift), abs=1e-9)


@pytest.mark.parametrize(
    "bad", [(1, 1.2, 0.15), (2.5, 1.2, 0.15), (6, 0.0, 0.15), (6, 1.2, np.nan), (6, 1.2, 0.15, 1.0)]
)
def test_power_refuses_what_cannot_be(bad):
    with pytest.raises(sample.BadSetting, match="must"):
        planning.power_at(*bad)


def test_n_for_ratio_never_goes_below_two():
    plan = planning.n_for_ratio(100.0, 0.1)
    assert (plan.n, plan.exact) == (2, 2.0)
    assert plan.power_at_n > 0.99


def test_one_sided_needs_fewer():
    both, one = (planning.n_for_ratio(1.2, 0.15, alternative=a).n for a in ("two-sided", "one-sided"))
    assert one < both


@pytest.mark.parametrize(("width", "cv"), [(0.10, 0.15), (0.05, 0.15), (0.5, 0.1), (0.02, 0.3)])
def test_n_for_precision_is_the_least_that_serves(width, cv):
    plan, sd = planning_one.n_for_precision(width, cv), planning.sd_log_from_cv(cv)

    def reach(n):
        return np.expm1(stats.t.ppf(0.975, n - 1) * sd / np.sqrt(n))

    assert reach(plan.n) <= width
    assert plan.n == 2 or reach(plan.n - 1) > width


@pytest.mark.parametrize(("coverage", "confidence", "share"), [(0.95, 0.75, 0.9), (0.9, 0.9, 0.97), (0.99, 0.95, 0.8)])
def test_n_for_lower_limit_is_the_least_that_serves(coverage, confidence, share):
    plan = planning_one.n_for_lower_limit(coverage, confidence, 0.15, share)
    sd = planning.sd_log_from_cv(0.15)

    def reached(n):
        return np.exp(-(tolerance.normal_factor(n, coverage, confidence) - stats.norm.ppf(coverage)) * sd)

    assert reached(plan.n) >= share
    assert plan.n == 2 or reached(plan.n - 1) < share
    assert plan.n_order == tolerance.order_minimum_n(1 - coverage, confidence)


def test_sd_log_from_cv_is_that_of_a_lognormal():
    law = stats.lognorm(planning.sd_log_from_cv(0.25))
    assert law.std() / law.mean() == pytest.approx(0.25, rel=1e-12)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: planning.n_for_ratio(1.0, 0.15), "ratio is 1; there is no difference to tell"),
        (lambda: planning.n_for_ratio(-1.2, 0.15), "ratio is -1.2"),
        (lambda: planning.n_for_ratio(1.2, 0.0), "cv is 0.0"),
        (lambda: planning.n_for_ratio(1.2, 0.15, 80), "power is 80"),
        (lambda: planning.n_for_ratio(1.2, 0.15, 0.04), "power must be the larger"),
        (lambda: planning.n_for_ratio(1.2, 0.15, alternative="greater"), "alternative is 'greater'"),
        (lambda: planning.n_for_ratio(1.00001, 0.15), "more than 1000000 specimens"),
        (lambda: planning.detectable_ratio(1, 0.15), "n is 1"),
        (lambda: planning.detectable_ratio(5, 0.15, 0.05), "power must be the larger"),
        (lambda: planning_one.n_for_precision(0.0, 0.15), "relative_width is 0.0"),
        (lambda: planning_one.n_for_precision(1e-6, 0.15), "more than 1000000 specimens"),
        (lambda: planning_one.n_for_lower_limit(0.95, 0.75, share=1.0), "share is 1.0"),
        (lambda: planning_one.n_for_lower_limit(0.95, 0.75, share=0.9999), "more than 1000000 specimens"),
    ],
)
def test_plans_refuse_by_name(call, words):
    with pytest.raises(sample.BadSetting, match=words):
        call()


@pytest.mark.parametrize("cv", [0.01, 0.15, 0.2, 1.0])
def test_coefficient_of_variation_and_sd_of_logs_are_each_others_inverse(cv):
    """By scipy's lognormal: its standard deviation over its mean."""
    sd = planning.sd_log_from_cv(cv)

    assert planning.cv_from_sd_log(sd) == pytest.approx(cv, rel=1e-12)
    assert planning.cv_from_sd_log(sd) == pytest.approx(stats.lognorm.std(sd) / stats.lognorm.mean(sd), rel=1e-9)


def test_coefficients_of_variation_of_many_keep_what_is_unknown():
    found = planning.cv_from_sd_log(np.array([0.0, 0.2, np.nan]))

    np.testing.assert_allclose(found, [0.0, planning.cv_from_sd_log(0.2), np.nan])
