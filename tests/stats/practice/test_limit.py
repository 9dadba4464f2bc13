"""Lower limits for another shop: refusals, simpler methods that must agree, and whether they keep their word."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from stats.errors import StatsError
from stats.inference import tolerance
from stats.inference.pool import random_effects
from stats.practice.limit import next_shop, shop_tested
from stats.practice.shops import ShopEvidence, TooThin, evidence_of, through_network

from .evaluate import again
from .shopbooks import LIMITS, coverage, make_shops

GOOD = ShopEvidence(3.0, 0.05, 0.10, 0.15, 7.0, 60.0, 8, 68)
PAIRS = [(0.95, 0.75), (0.90, 0.90)]


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"shops": 1, "between_sd": None, "between_df": 0.0}, "Only 1 shop has tested this joint so"),
        ({"specimens": 4}, "Only 4 specimens in all; 5 are the fewest"),
        ({"between_sd": None}, "No prediction for another shop can be had"),
        ({"between_df": 0.0}, "No prediction for another shop can be had"),
        ({"within_sd": None}, "No series tells how much joints made alike differ"),
        ({"within_df": 0.0}, "No series tells how much joints made alike differ"),
    ],
)
def test_thin_evidence_gives_no_number_and_says_why(change, reason):
    with pytest.raises(TooThin, match=reason) as caught:
        next_shop(replace(GOOD, **change))

    assert caught.value.code == "too-thin"
    assert any(reason in one for one in caught.value.reasons)
    assert str(caught.value).startswith("No figure is given: ")


def test_thin_evidence_says_everything_that_is_missing():
    nothing = ShopEvidence(3.0, math.nan, None, None, 0.0, 0.0, 1, 2)

    assert len(nothing.why_thin()) == 4
    assert GOOD.why_thin() == ()


@pytest.mark.parametrize("name", ["coverage", "confidence", "level"])
def test_limit_refuses_a_share_that_is_none(name):
    with pytest.raises(StatsError, match=f"{name} is 1.0; it must lie between 0 and 1"):
        next_shop(GOOD, **{name: 1.0})


@pytest.mark.parametrize(("share", "confidence"), PAIRS)
def test_limit_of_many_shops_comes_to_the_percentile_itself(share, confidence):
    known = replace(GOOD, mean_se=1e-4, between_df=1e6, within_df=1e6)

    limit = next_shop(known, share, confidence)

    truth = math.exp(3.0 - stats.norm.ppf(share) * math.hypot(0.10, 0.15))
    assert limit.value == pytest.approx(truth, rel=0.003)
    assert limit.value < truth
    assert limit.chance_below(truth) == pytest.approx(1 - share, abs=1e-3)


@pytest.mark.parametrize(("share", "confidence"), PAIRS)
def test_limit_where_shops_alone_differ_is_that_of_a_sample_of_shops(share, confidence):
    """Joints of one shop all alike: each shop counts as one specimen, and no more than one can't be known."""
    k, sd = 10, 0.2
    shops = ShopEvidence(3.0, sd / math.sqrt(k), sd, 1e-6, k - 1.0, 1e6, k, 1000)

    limit = next_shop(shops, share, confidence)

    plain = math.exp(3.0 - tolerance.normal_factor(k, share, confidence) * sd)
    assert 0.9 * plain < limit.value < plain


@pytest.mark.parametrize("shops", [3, 8])
def test_limit_lies_near_that_of_the_composite_handbook(shops):
    """One-way batches, the handbook's approximation (MIL-HDBK-17-1F 8.3.5.2) on the same readings."""
    rng = np.random.default_rng(5)
    ours, theirs = [], []
    for _ in range(40):
        levels = rng.normal(3.0, 0.15, shops)
        logs = levels[:, None] + rng.normal(0.0, 0.15, (shops, 8))
        frame = pd.DataFrame(
            {"study": range(shops), "mean_log": logs.mean(axis=1), "sd_log": logs.std(axis=1, ddof=1), "n": 8}
        )
        ours.append(math.log(next_shop(evidence_of(frame), 0.90, 0.90).value))
        batches = np.repeat(np.arange(shops), 8)
        theirs.append(math.log(tolerance.basis_between_batches(np.exp(logs.ravel()), batches, 0.90, 0.90).value))

    assert np.median(ours) == pytest.approx(np.median(theirs), abs=0.15)
    assert np.corrcoef(ours, theirs)[0, 1] > 0.9


@pytest.mark.parametrize(("shops", "n", "tau"), [(3, 5, 0.15), (5, 8, 0.05), (8, 5, 0.3)])
def test_limit_keeps_its_word_over_invented_shops(shops, n, tau):
    """Slow and plain: made with a known truth, seed fixed; the full run is `shopbooks` as a script."""
    books = 150

    found = coverage(seed=11, books=books, shops=shops, n=n, tau=tau)

    for kept, (_, confidence) in zip(found, LIMITS, strict=True):
        assert kept >= confidence - 2.5 * math.sqrt(confidence * (1 - confidence) / books)


def test_a_further_joint_lies_where_the_interval_says():
    """Nine in ten of the next shops' single joints, over invented books."""
    rng = np.random.default_rng(3)
    inside, short = [], []
    for _ in range(150):
        limit = next_shop(evidence_of(make_shops(rng, 5, 6, 0.15)), level=0.9)
        further = math.exp(rng.normal(3.0, math.hypot(0.15, 0.15)))
        inside.append(limit.single.low <= further <= limit.single.high)
        short.append(limit.chance_below(math.exp(2.7)))

    assert np.mean(inside) == pytest.approx(0.90, abs=0.06)
    assert np.mean(short) == pytest.approx(stats.norm.cdf(-0.3 / math.hypot(0.15, 0.15)), abs=0.05)


def test_limit_falls_with_everything_that_is_less_sure():
    best = next_shop(GOOD).value

    for worse in ({"mean_se": 0.10}, {"between_sd": 0.20}, {"within_sd": 0.25}, {"between_df": 2.0}):
        assert next_shop(replace(GOOD, **worse)).value < best
    assert next_shop(GOOD, 0.99).value < best
    assert next_shop(GOOD, confidence=0.95).value < best


def test_limit_shows_its_working_and_its_scope():
    limit = next_shop(GOOD)

    assert limit.words == "5 % lower limit, 75 % confidence, for joints of another shop"
    assert limit.lines[0].worked.startswith("σ_T = √(τ² + σ²) = √((0.100)² + (0.150)²) = 0.180")
    assert again(limit.lines[0]) == pytest.approx(limit.lines[0].value)
    assert again(limit.lines[2]) == pytest.approx(limit.value / limit.typical)
    assert limit.notes == ()
    assert "Only 2 shops" in next_shop(replace(GOOD, shops=2, between_df=1.0)).notes[0]
    assert "agree as closely" in next_shop(replace(GOOD, between_sd=0.0)).notes[0]


def test_evidence_pools_series_by_shop():
    series = pd.DataFrame(
        {
            "study": ["A", "A", "B", "C"],
            "mean_log": [3.0, 3.3, 3.1, 2.9],
            "sd_log": [0.1, 0.2, 0.15, np.nan],
            "n": [5.0, 10.0, 6.0, 4.0],
        }
    )

    found = evidence_of(series)

    within = math.sqrt((4 * 0.01 + 9 * 0.04 + 5 * 0.0225) / 18)
    levels, counts = [(5 * 3.0 + 10 * 3.3) / 15, 3.1, 2.9], np.array([15, 6, 4])
    pooled = random_effects(levels, within**2 / counts)
    assert (found.shops, found.specimens, found.within_df, found.between_df) == (3, 25, 18.0, 2.0)
    assert found.within_sd == pytest.approx(within)
    assert found.mean_log == pytest.approx(pooled.estimate)
    assert found.between_sd == pytest.approx(math.sqrt(pooled.tau2))
    assert found.mean_se >= pooled.se
    assert found.mean_se >= (1 / (within**2 / counts + pooled.tau2)).sum() ** -0.5 * (1 - 1e-12)


def test_evidence_of_one_shop_is_told_but_gives_no_limit():
    series = pd.DataFrame({"study": ["A", "A"], "mean_log": [3.0, 3.1], "sd_log": [0.1, 0.1], "n": [8, 8]})

    found = evidence_of(series)

    assert (found.between_sd, found.shops, found.specimens) == (None, 1, 16)
    with pytest.raises(TooThin, match="Only 1 shop"):
        next_shop(found)


def test_evidence_without_any_spread_gives_no_limit():
    series = pd.DataFrame({"study": ["A", "B"], "mean_log": [3.0, 3.1], "sd_log": [np.nan, np.nan], "n": [8, 8]})

    with pytest.raises(TooThin, match="No series tells how much joints made alike differ"):
        next_shop(evidence_of(series))


@pytest.mark.parametrize(
    ("frame", "message"),
    [
        (pd.DataFrame({"study": ["A"], "n": [3]}), "columns missing: mean_log, sd_log"),
        (pd.DataFrame({"study": [], "mean_log": [], "sd_log": [], "n": []}), "no rows"),
        (pd.DataFrame({"study": ["A"], "mean_log": [np.nan], "sd_log": [0.1], "n": [3]}), "mean_log of a series"),
    ],
)
def test_evidence_refuses_what_is_none(frame, message):
    with pytest.raises(StatsError, match=message):
        evidence_of(frame)


def test_level_through_the_network_adds_the_ratio_and_what_is_not_known_of_it():
    found = through_network(GOOD, math.log(0.5), 0.12, tau2=0.08, df=4, shops=2, specimens=9)

    assert found.mean_log == pytest.approx(3.0 + math.log(0.5))
    assert found.mean_se == pytest.approx(0.13)
    assert found.between_sd == pytest.approx(0.2)  # √(0.08 / 2), more than the reference's 0.10
    assert (found.between_df, found.shops, found.specimens) == (4, 2, 9)
    assert (found.within_sd, found.within_df) == (0.15, 60.0)
    assert next_shop(found).value < 0.5 * next_shop(GOOD).value


@pytest.mark.parametrize("bad", [{"log_ratio": math.nan}, {"log_ratio_se": -1.0}, {"tau2": -0.1}])
def test_level_through_the_network_refuses_what_is_no_ratio(bad):
    given = {"log_ratio": 0.0, "log_ratio_se": 0.1, "tau2": 0.01} | bad

    with pytest.raises(StatsError, match=f"{next(iter(bad))} \\(.*\\) must be a finite number"):
        through_network(GOOD, given["log_ratio"], given["log_ratio_se"], tau2=given["tau2"], df=3, shops=2, specimens=9)


@pytest.mark.parametrize("model", ["normal", "lognormal"])
@pytest.mark.parametrize(("share", "confidence"), PAIRS)
def test_limit_of_one_series_is_the_usual_tolerance_limit(model, share, confidence):
    readings = np.exp(np.random.default_rng(2).normal(5.0, 0.15, 12))
    if model == "lognormal":  # of the readings' own logs
        cv = math.sqrt(math.expm1(np.log(readings).var(ddof=1)))
        mean = math.exp(np.log(readings).mean() + np.log(readings).var(ddof=1) / 2)
        mean_sd = (mean, cv * mean)
    else:
        mean_sd = (readings.mean(), readings.std(ddof=1))

    found = shop_tested(*mean_sd, 12, share, confidence, model=model)

    assert found.value == pytest.approx(tolerance.lower_limit(readings, share, confidence, model).value)
    assert (found.scope, found.shops, found.specimens) == ("the shop tested", 1, 12)
    assert again(found.lines[0]) == pytest.approx(found.value)


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ((353, 48, 4), "Only 4 specimens in all"),
        ((0, 48, 20), "mean is 0"),
        ((353, math.nan, 20), "sd is nan"),
        ((353, 300, 6), "so large beside mean"),
        ((353, 48, 2.5), "n is 2.5"),
    ],
)
def test_limit_of_one_series_refuses_what_is_none(given, message):
    with pytest.raises(StatsError, match=message):
        shop_tested(*given)


def test_limit_of_one_series_refuses_an_unknown_model():
    with pytest.raises(StatsError, match=r"model \('weibull'\) must be normal or lognormal"):
        shop_tested(353, 48, 20, model="weibull")
