"""Lower tolerance limits and their factors."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from stats.inference import batches, sample, tolerance
from stats.inference.tolerance_factors import noncentral_factor
from tests.stats.inference.strategies import scales, series

SERIES = [2210.0, 2480.0, 2350.0, 2290.0, 2610.0, 2120.0]
PARAMETRIC = ["lognormal", "weibull", "hanson-koopmans"]


def test_normal_factor_agrees_with_plain_integration():
    for n, coverage, confidence in ((2, 0.95, 0.75), (7, 0.9, 0.9), (30, 0.99, 0.95)):
        k, z = tolerance.normal_factor(n, coverage, confidence), stats.norm.ppf(coverage)

        def kept(v, n=n, k=k, z=z):
            s = np.sqrt(v / (n - 1))
            return stats.norm.cdf(np.sqrt(n) * (k * s - z)) * stats.chi2.pdf(v, n - 1)

        share = integrate.quad(kept, 0, np.inf, epsabs=1e-12, limit=200)[0]
        assert share == pytest.approx(confidence, abs=1e-8)


@pytest.mark.parametrize(("df", "m"), [(1.3, 2.5), (6.0, 7.0), (41.7, 3.2)])
def test_noncentral_factor_is_the_quantile_of_a_general_library(df, m):
    """scipy.stats.nct, at degrees of freedom that need not be whole; for a sample it is the normal factor."""
    found = noncentral_factor(df, m, 0.95, 0.75)

    assert found == pytest.approx(stats.nct.ppf(0.75, df, np.sqrt(m) * stats.norm.ppf(0.95)) / np.sqrt(m), rel=1e-7)
    assert noncentral_factor(9, 10, 0.9, 0.9) == tolerance.normal_factor(10, 0.9, 0.9)


def test_normal_factor_falls_to_the_quantile():
    factors = [tolerance.normal_factor(n, 0.95, 0.75) for n in (2, 5, 20, 200, 20000)]
    assert factors == sorted(factors, reverse=True)
    assert factors[-1] == pytest.approx(1.645, abs=0.01)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((1, 0.95, 0.75), "n is 1; it must be a whole number of at least 2"),
        ((5, 95, 0.75), "coverage is 95"),
        ((5, 0.95, 1.0), "confidence is 1.0"),
    ],
)
def test_normal_factor_refuses_settings_out_of_range(arguments, words):
    with pytest.raises(sample.BadSetting, match=words):
        tolerance.normal_factor(*arguments)


def test_order_rank_agrees_with_a_count_over_samples():
    # how often the reading of that rank lies below the true 10th percentile, in 20000 uniform samples
    n, rank = 50, tolerance.order_rank(50, 0.10, 0.75)
    ordered = np.sort(np.random.default_rng(11).random((20000, n)), axis=1)
    assert rank == 3
    assert (ordered[:, rank - 1] < 0.10).mean() > 0.75
    assert (ordered[:, rank] < 0.10).mean() < 0.75


@given(st.integers(1, 400), st.floats(0.02, 0.3), st.floats(0.5, 0.95))
@settings(max_examples=40, deadline=None)
def test_order_rank_and_minimum_n_say_the_same(n, quantile, confidence):
    rank = tolerance.order_rank(n, quantile, confidence)
    if rank is None:
        assert tolerance.order_minimum_n(quantile, confidence) > n
    else:
        assert tolerance.order_minimum_n(quantile, confidence, rank) <= n
        assert tolerance.order_minimum_n(quantile, confidence, rank + 1) > n


def test_hanson_koopmans_factor_agrees_with_a_count_over_samples():
    # x_r (x_1/x_r)^k on uniform order statistics, the least favourable case, is exact: 40000 samples of 8
    rank, k = tolerance.hanson_koopmans_factor(8, 0.95, 0.75)
    ordered = np.sort(np.random.default_rng(12).random((40000, 8)), axis=1)
    limit = ordered[:, rank - 1] * (ordered[:, 0] / ordered[:, rank - 1]) ** k
    assert (limit <= 0.05).mean() == pytest.approx(0.75, abs=0.008)


def test_hanson_koopmans_limit_is_safe_for_lognormal_and_weibull():
    draws = np.random.default_rng(13)
    rank, k = tolerance.hanson_koopmans_factor(6, 0.95, 0.75)
    lognormal = np.exp(0.15 * draws.standard_normal((8000, 6)))
    weibull = draws.weibull(8.0, (8000, 6))
    for strengths, fifth in (
        (lognormal, np.exp(0.15 * stats.norm.ppf(0.05))),
        (weibull, (-np.log(0.95)) ** (1 / 8.0)),
    ):
        ordered = np.sort(strengths, axis=1)
        limit = ordered[:, rank - 1] * (ordered[:, 0] / ordered[:, rank - 1]) ** k
        assert (limit <= fifth).mean() > 0.75


def test_hanson_koopmans_factor_nears_one_where_the_lowest_reading_begins_to_serve():
    assert tolerance.hanson_koopmans_factor(27, 0.95, 0.75)[1] == pytest.approx(1.0, abs=0.02)
    with pytest.raises(sample.BadSetting, match="from 28 on the lowest reading serves by itself"):
        tolerance.hanson_koopmans_factor(28, 0.95, 0.75)
    with pytest.raises(sample.BadSetting, match="rank is 7; it must lie between 2 and n, 6"):
        tolerance.hanson_koopmans_factor(6, 0.95, 0.75, 7)


def test_lower_limit_is_mean_less_factor_by_sd():
    logs, k = np.log(SERIES), tolerance.normal_factor(6, 0.95, 0.75)
    limit = tolerance.lower_limit(SERIES, 0.95, 0.75)
    assert limit.value == pytest.approx(np.exp(logs.mean() - k * logs.std(ddof=1)), rel=1e-13)
    assert (limit.n, limit.coverage, limit.confidence, limit.model) == (6, 0.95, 0.75, "lognormal")
    plain = tolerance.lower_limit(SERIES, 0.95, 0.75, "normal")
    assert plain.value == pytest.approx(np.mean(SERIES) - k * np.std(SERIES, ddof=1), rel=1e-13)


def test_lower_limit_by_order_takes_the_lowest_that_serves():
    many = np.random.default_rng(3).lognormal(7, 0.2, 60)
    limit = tolerance.lower_limit(many, 0.95, 0.75, "order")
    assert (limit.value, limit.rank) == (np.sort(many)[1], 2)
    with pytest.raises(sample.TooFew, match="values has 6 readings; .* needs 28"):
        tolerance.lower_limit(SERIES, 0.95, 0.75, "order")


def test_lower_limit_by_order_takes_a_single_reading_where_it_serves():
    # One reading lies below the 80th percentile with a probability of 0.8.
    limit = tolerance.lower_limit([310.0], 0.2, 0.75, "order")
    assert (limit.value, limit.rank) == (310.0, 1)


def test_lower_limit_below_zero_says_so():
    limit = tolerance.lower_limit([1.0, 5.0, 9.0], 0.95, 0.95, "normal")
    assert limit.value < 0
    assert "below zero" in limit.notes[0]


def test_lower_limit_refuses_what_the_model_cannot_take():
    broke = [True] * 5 + [False]
    with pytest.raises(sample.BadSample, match="1 specimens held, which the normal limit can't take"):
        tolerance.lower_limit(SERIES, 0.95, 0.75, "normal", broke=broke)
    with pytest.raises(sample.BadSample, match="a specimen held below the reading of rank"):
        tolerance.lower_limit(SERIES, 0.95, 0.75, "hanson-koopmans", broke=broke)
    with pytest.raises(sample.NoSpread, match="all 3 readings are 5"):
        tolerance.lower_limit([5.0, 5.0, 5.0])
    with pytest.raises(sample.NoSpread, match="lowest readings are all 5"):
        tolerance.lower_limit([5.0, 5.0, 5.0], model="hanson-koopmans")
    with pytest.raises(sample.TooFew, match="at least 2"):
        tolerance.lower_limit([5.0])
    with pytest.raises(sample.BadSetting, match="model is 'gamma'; it must be one of lognormal, normal"):
        tolerance.lower_limit(SERIES, model="gamma")


@pytest.mark.parametrize("n", [3, 6, 20])
def test_lower_limit_by_hanson_koopmans_carries_the_lowest_reading_on(n):
    values = np.random.default_rng(n).lognormal(6, 0.2, n)
    rank, k = tolerance.hanson_koopmans_factor(n, 0.95, 0.75)
    lowest, upper = sorted(values)[0], sorted(values)[rank - 1]
    found = tolerance.lower_limit(values, 0.95, 0.75, "hanson-koopmans")
    # On logs: from the reading of that rank, k times its distance to the lowest.
    assert np.log(found.value) == pytest.approx(np.log(upper) - k * (np.log(upper) - np.log(lowest)), rel=1e-12)
    assert (found.rank, found.factor) == (rank, k)


def test_lower_limit_by_hanson_koopmans_minds_no_specimen_that_held_above():
    broke = [True, True, True, True, False, True]
    limits = [tolerance.lower_limit(SERIES, 0.95, 0.75, "hanson-koopmans", broke=b) for b in (None, broke)]
    assert limits[0].value == limits[1].value
    assert limits[1].held == 1


@pytest.mark.parametrize("model", ["lognormal", "weibull"])
def test_lower_limit_with_nothing_held_equals_the_uncensored(model):
    whole = tolerance.lower_limit(SERIES, 0.95, 0.75, model)
    told = tolerance.lower_limit(SERIES, 0.95, 0.75, model, broke=[True] * 6)
    assert whole == told


@pytest.mark.parametrize("model", ["lognormal", "weibull"])
def test_lower_limit_with_a_specimen_held_loses_information(model):
    broke = np.array(SERIES) < max(SERIES)
    whole = tolerance.lower_limit(SERIES, 0.95, 0.75, model)
    held = tolerance.lower_limit(SERIES, 0.95, 0.75, model, broke=broke)
    assert held.value < whole.value
    assert "as strong as their reading" in held.notes[0]


@pytest.mark.parametrize("model", PARAMETRIC)
@settings(max_examples=20, deadline=None)
@given(values=series(), scale=scales)
def test_lower_limit_follows_the_unit_and_not_the_order(model, values, scale):
    one = tolerance.lower_limit(values, 0.95, 0.75, model).value
    other = tolerance.lower_limit(values[::-1] * scale, 0.95, 0.75, model).value
    assert other == pytest.approx(one * scale, rel=1e-7)


@pytest.mark.parametrize("model", PARAMETRIC)
@settings(max_examples=20, deadline=None)
@given(values=series())
def test_lower_limit_falls_with_coverage_and_confidence(model, values):
    limits = [
        tolerance.lower_limit(values, coverage, confidence, model).value
        for coverage, confidence in ((0.90, 0.75), (0.95, 0.75), (0.95, 0.95))
    ]
    assert limits == sorted(limits, reverse=True)


def test_limit_between_batches_lies_between_its_two_extremes():
    draws = np.random.default_rng(5)
    batch = np.repeat(np.arange(6), 5)
    alike = np.exp(7 + 0.1 * draws.standard_normal(30))
    apart = np.exp(7 + np.repeat(0.3 * draws.standard_normal(6), 5) + 1e-4 * draws.standard_normal(30))
    # batches alike (MSB below MSE is taken as equal): the factor is that of 30 readings
    for values in (alike, apart):
        limit = tolerance.basis_between_batches(values, batch)
        low, high = (tolerance.normal_factor(n, 0.95, 0.75) for n in (30, 6))
        assert low - 1e-9 <= limit.factor <= high + 1e-9
    assert tolerance.basis_between_batches(apart, batch).factor == pytest.approx(high, rel=1e-4)


def test_limit_between_batches_equals_the_plain_one_where_batches_are_alike():
    # within each batch the same readings: no difference between batches at all
    values, batch = np.tile([31.0, 36.0, 42.0, 39.0], 5), np.repeat(np.arange(5), 4)
    logs = np.log(values)
    limit = tolerance.basis_between_batches(values, batch)
    within = np.sqrt(((logs - logs.mean()) ** 2).sum() / 15)
    k = tolerance.normal_factor(20, 0.95, 0.75)
    assert (limit.sd_between, limit.variance_ratio) == (0.0, pytest.approx(0.0, abs=1e-12))
    assert limit.value == pytest.approx(np.exp(logs.mean() - k * within), rel=1e-12)


def test_limit_between_batches_keeps_its_confidence_over_samples():
    draws = np.random.default_rng(8)
    batch, fifth = np.repeat(np.arange(5), 4), stats.norm.ppf(0.05) * np.sqrt(2.0)
    kept = 0
    for _ in range(1000):
        logs = np.repeat(draws.standard_normal(5), 4) + draws.standard_normal(20)
        kept += tolerance.basis_between_batches(np.exp(0.1 * logs), batch).value <= np.exp(0.1 * fifth)
    assert 0.74 < kept / 1000 < 0.84


def test_limit_between_batches_refuses_what_are_no_batches():
    with pytest.raises(sample.TooFew, match="3 readings in 1 batches"):
        tolerance.basis_between_batches([1.0, 2.0, 3.0], ["a", "a", "a"])
    with pytest.raises(sample.TooFew, match="3 readings in 3 batches"):
        tolerance.basis_between_batches([1.0, 2.0, 3.0], ["a", "b", "c"])
    with pytest.raises(sample.BadSample, match=r"batch\[2\] is None"):
        tolerance.basis_between_batches([1.0, 2.0, 3.0], ["a", "b", None])
    with pytest.raises(sample.NoSpread, match="all 4 readings are 2"):
        tolerance.basis_between_batches([2.0] * 4, ["a", "a", "b", "b"])
    assert "Only 2 batches" in tolerance.basis_between_batches([1.0, 2.0, 3.0], ["a", "a", "b"]).notes[0]


def test_limits_of_many_samples_come_from_sums_as_from_readings():
    draw = np.random.default_rng(2)
    sample, batch = np.repeat([0, 1, 2], 30), np.tile(np.repeat([0, 1, 2, 3, 4, 5], 5), 3)
    logs = draw.normal(5, 0.1, 90) + 0.2 * draw.normal(size=18)[sample * 6 + batch]
    cell = sample * 6 + batch
    sizes, means = np.bincount(cell), np.bincount(cell, logs) / 5
    squares = np.bincount(cell, (logs - means[cell]) ** 2)

    found = batches.limits_from_sums(sizes, means, squares, np.repeat([0, 1, 2], 6), 4)

    for at in range(3):
        alone = tolerance.basis_between_batches(np.exp(logs[sample == at]), batch[sample == at], 0.95, 0.75)
        assert np.exp(found.limit[at]) == pytest.approx(alone.value, rel=1e-12)
    assert np.isnan(found.limit[3])  # no batch at all


@pytest.mark.parametrize(
    ("sizes", "means", "squares"),
    [([5], [1.0], [0.2]), ([1, 1], [1.0, 2.0], [0.0, 0.0]), ([2, 2], [1.0, 1.0], [0.0, 0.0])],
    ids=["one batch", "batches of one", "no spread"],
)
def test_limit_from_sums_is_missing_where_readings_would_be_refused(sizes, means, squares):
    found = batches.limits_from_sums(sizes, means, squares, np.zeros(len(sizes), dtype=int), 1)

    assert np.isnan(found.limit[0])
