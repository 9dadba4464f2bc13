"""Fits with specimens that held."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from scipy import optimize, stats

from stats.inference import censored, sample, tolerance
from tests.stats.inference.strategies import scales, series

VALUES = np.array([2210.0, 2480.0, 2350.0, 2500.0, 2290.0, 2500.0, 2120.0])
BROKE = VALUES < 2500.0
MODELS = ["weibull", "lognormal"]


def slow_loglik(model, values, broke, first, second):
    """Sum of log densities of the broken and log survival of the held, from scipy."""
    weibull = model == "weibull"
    law = stats.weibull_min(first, scale=second) if weibull else stats.lognorm(second, scale=np.exp(first))
    return law.logpdf(values[broke]).sum() + law.logsf(values[~broke]).sum()


@pytest.mark.parametrize("model", MODELS)
def test_fit_is_where_a_plain_search_ends(model):
    fit = censored.fit(VALUES, BROKE, model)
    best = (fit.shape, fit.scale) if model == "weibull" else (fit.mean_log, fit.sd_log)
    start = (10.0, 2400.0) if model == "weibull" else (7.7, 0.1)
    scale = np.abs(start)
    found = optimize.minimize(
        lambda x: -slow_loglik(model, VALUES, BROKE, *(x * scale)),
        np.ones(2),
        method="Nelder-Mead",
        options={"xatol": 1e-10, "fatol": 1e-12},
    )
    assert found.x * scale == pytest.approx(best, rel=1e-6)
    assert fit.loglik == pytest.approx(slow_loglik(model, VALUES, BROKE, *best), rel=1e-12)


@pytest.mark.parametrize("model", MODELS)
def test_fit_agrees_with_scipy_censored_fit(model):
    fit = censored.fit(VALUES, BROKE, model)
    data = stats.CensoredData(uncensored=VALUES[BROKE], right=VALUES[~BROKE])
    law = stats.weibull_min if model == "weibull" else stats.lognorm
    shape, _, scale = law.fit(data, floc=0)
    ours = (fit.shape, fit.scale) if model == "weibull" else (fit.sd_log, fit.geometric_mean)
    assert (shape, scale) == pytest.approx(ours, rel=1e-3)  # as far as scipy's search goes


@pytest.mark.parametrize("model", MODELS)
def test_covariance_is_the_inverse_curvature(model):
    fit = censored.fit(VALUES, BROKE, model)
    best = np.array((fit.shape, fit.scale) if model == "weibull" else (fit.mean_log, fit.sd_log))
    step = 1e-4 * np.abs(best)

    def at(i, j):
        return slow_loglik(model, VALUES, BROKE, *(best + np.array([i, j]) * step))

    cross = (at(1, 1) - at(1, -1) - at(-1, 1) + at(-1, -1)) / (4 * step.prod())
    hessian = np.array(
        [
            [(at(1, 0) - 2 * at(0, 0) + at(-1, 0)) / step[0] ** 2, cross],
            [cross, (at(0, 1) - 2 * at(0, 0) + at(0, -1)) / step[1] ** 2],
        ]
    )
    np.testing.assert_allclose(fit.covariance, np.linalg.inv(-hessian), rtol=1e-4)


@pytest.mark.parametrize("model", MODELS)
@settings(max_examples=25, deadline=None)
@given(values=series())
def test_censoring_nothing_equals_the_uncensored_fit(model, values):
    assert censored.fit(values, None, model).location == censored.fit(values, [1] * values.size, model).location


@settings(max_examples=25, deadline=None)
@given(values=series())
def test_lognormal_fit_of_broken_specimens_is_mean_and_sd_of_logs(values):
    fit, logs = censored.fit_lognormal(values), np.log(values)
    assert fit.mean_log == pytest.approx(logs.mean(), rel=1e-10, abs=1e-10)
    assert fit.sd_log == pytest.approx(logs.std(), rel=1e-10)


@pytest.mark.parametrize("model", MODELS)
@settings(max_examples=25, deadline=None)
@given(values=series(least=5), scale=scales)
def test_fit_follows_the_unit_and_not_the_order(model, values, scale):
    cut = np.sort(values)[-2]
    broke, read = values < cut, np.minimum(values, cut)
    one = censored.fit(read, broke, model)
    other = censored.fit(read[::-1] * scale, broke[::-1], model)
    assert other.location == pytest.approx(one.location + np.log(scale), rel=1e-7, abs=1e-7)
    assert other.log_scale == pytest.approx(one.log_scale, rel=1e-6, abs=1e-6)
    assert other.quantile(0.05).estimate == pytest.approx(one.quantile(0.05).estimate * scale, rel=1e-6)
    assert other.lower_limit(0.05, 0.75) == pytest.approx(one.lower_limit(0.05, 0.75) * scale, rel=1e-5)


@pytest.mark.parametrize("model", MODELS)
def test_a_specimen_held_far_below_says_nothing(model):
    broke = VALUES[BROKE]
    alone = censored.fit(broke, None, model)
    with_idle = censored.fit(np.append(broke, 1.0), [True] * broke.size + [False], model)
    assert with_idle.location == pytest.approx(alone.location, rel=1e-9)
    assert with_idle.log_scale == pytest.approx(alone.log_scale, rel=1e-6)


def test_lognormal_limit_of_broken_specimens_is_the_noncentral_t_limit():
    for n in (3, 5, 12, 60):
        values = np.random.default_rng(n).lognormal(7.5, 0.15, n)
        for coverage, confidence in ((0.95, 0.75), (0.90, 0.90)):
            by_likelihood = censored.fit_lognormal(values).lower_limit(1 - coverage, confidence)
            by_factor = tolerance.lower_limit(values, coverage, confidence).value
            assert by_likelihood == pytest.approx(by_factor, rel=1e-4)


def test_weibull_limit_keeps_its_confidence_over_samples():
    draws = np.random.default_rng(21)
    fifth = (-np.log(0.95)) ** (1 / 7.0)
    kept = np.mean([censored.fit_weibull(draws.weibull(7.0, 6)).lower_limit(0.05, 0.75) <= fifth for _ in range(600)])
    assert kept == pytest.approx(0.75, abs=0.045)


def test_lognormal_limit_keeps_its_confidence_where_testing_stops_after_some_breaks():
    # the three strongest of nine are never broken: exact by theory, so a count over samples must agree
    draws = np.random.default_rng(22)
    fifth, kept = np.exp(0.15 * stats.norm.ppf(0.05)), 0
    for _ in range(150):
        values = np.sort(np.exp(0.15 * draws.standard_normal(9)))
        values[6:] = values[5]
        kept += censored.fit_lognormal(values, [True] * 6 + [False] * 3).lower_limit(0.05, 0.75) <= fifth
    assert kept / 150 == pytest.approx(0.75, abs=0.09)


@pytest.mark.parametrize("model", MODELS)
def test_limit_nears_the_delta_bound_in_a_large_sample(model):
    values = np.random.default_rng(4).weibull(8.0, 2000)
    broke, read = values < 1.0, np.minimum(values, 1.0)
    fit = censored.fit(read, broke, model)
    delta = fit.quantile(0.05, level=0.5).interval.low  # one-sided 75 %
    assert fit.lower_limit(0.05, 0.75) == pytest.approx(delta, rel=2e-3)


def test_goodness_tells_a_weibull_from_a_crooked_sample():
    # evenly spaced quantiles are as straight as can be; two far clusters are not
    p = (np.arange(40) + 0.5) / 40
    straight = censored.fit_weibull(stats.weibull_min.ppf(p, 6.0)).goodness()
    crooked = censored.fit_weibull(np.concatenate([np.linspace(1, 1.1, 20), np.linspace(9, 9.9, 20)])).goodness()
    assert straight.p > 0.9
    assert crooked.p < 0.01
    assert (straight.n_broke, straight.method) == (40, "probability-plot correlation, weibull")


def test_goodness_p_is_uniform_where_the_model_holds():
    draws = np.random.default_rng(6)
    p = [censored.fit_lognormal(np.exp(draws.standard_normal(8))).goodness().p for _ in range(200)]
    assert stats.kstest(p, "uniform").pvalue > 0.01


def test_goodness_needs_three_that_broke():
    with pytest.raises(sample.TooFew, match="2 specimens broke; a goodness of fit needs at least 3"):
        censored.fit_lognormal([1.0, 2.0, 3.0], [1, 1, 0]).goodness()


@pytest.mark.parametrize("model", MODELS)
def test_fit_refuses_by_name(model):
    with pytest.raises(sample.TooFew, match="all 2 specimens held; a fit needs at least 2 that broke"):
        censored.fit([5.0, 6.0], [False, False], model)
    with pytest.raises(sample.TooFew, match="1 of 3 specimens broke"):
        censored.fit([5.0, 6.0, 7.0], [True, False, False], model)
    with pytest.raises(sample.NoSpread, match="all 2 broken specimens read 5"):
        censored.fit([5.0, 5.0, 7.0], [True, True, False], model)
    with pytest.raises(sample.BadSample, match=r"values\[0\] is -5"):
        censored.fit([-5.0, 5.0], None, model)
    with pytest.raises(sample.BadSetting, match="p is 5"):
        censored.fit([4.0, 5.0], None, model).quantile(5)


def test_fit_refuses_an_unknown_model():
    with pytest.raises(sample.BadSetting, match="model is 'gamma'"):
        censored.fit([4.0, 5.0], None, "gamma")


@pytest.mark.parametrize("model", MODELS)
def test_fit_bears_heavy_censoring(model):
    values = np.array([900.0, 1000.0] + [1100.0] * 30)
    fit = censored.fit(values, [True, True] + [False] * 30, model)
    assert np.isfinite(fit.location)
    assert 0 < fit.lower_limit(0.05, 0.75) < fit.quantile(0.5).estimate
