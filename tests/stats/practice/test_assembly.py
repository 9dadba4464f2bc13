"""Joints that share a load: exact order statistics, plain simulations, bounds in order, refusals."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import special, stats

from stats.errors import StatsError
from stats.practice.assembly import share
from stats.practice.strength_law import (
    StrengthLaw,
    bundle_below,
    bundle_mean,
    bundle_quantile,
    weakest_quantile,
    weakest_share,
    weibull_shape,
)

MODELS = ("lognormal", "weibull")


def daniels(law: StrengthLaw, n: int, load: float) -> float:
    """The chance that a bundle holds less, by Daniels's own recursion: alternating, and so for few joints only."""
    held = [1.0]
    for m in range(1, n + 1):
        f = float(law.below(load / m))
        held.append(sum((-1) ** (i + 1) * math.comb(m, i) * f**i * held[m - i] for i in range(1, m + 1)))
    return held[n]


@pytest.mark.parametrize("model", MODELS)
@pytest.mark.parametrize("cv", [0.05, 0.15, 0.6])
def test_law_has_the_mean_and_spread_asked_for(model, cv):
    law = StrengthLaw(300.0, cv, model)

    known = (
        stats.lognorm(law.shape, scale=law.scale)
        if model == "lognormal"
        else stats.weibull_min(law.shape, scale=law.scale)
    )
    assert known.mean() == pytest.approx(300.0)
    assert known.std() == pytest.approx(300.0 * cv)
    at = np.array([100.0, 250.0, 300.0, 500.0])
    np.testing.assert_allclose(law.below(at), known.cdf(at), rtol=1e-9)
    np.testing.assert_allclose(law.quantile(known.cdf(at[:3])), at[:3], rtol=1e-6)


@pytest.mark.parametrize("n", [1, 2, 4, 9])
def test_weakest_of_weibull_joints_is_exact(n):
    """The least of n Weibull strengths is Weibull with the scale times n^(-1/k)."""
    law = StrengthLaw(300.0, 0.2, "weibull")

    assert weakest_share(law, n) == pytest.approx(n ** (-1 / weibull_shape(0.2)))
    least = stats.weibull_min(law.shape, scale=law.scale * n ** (-1 / law.shape))
    assert weakest_quantile(law, n, 0.05) == pytest.approx(least.ppf(0.05))


@pytest.mark.parametrize("cv", [0.05, 0.2, 0.8])
def test_weakest_of_two_lognormal_joints_is_exact(cv):
    """E min(X, Y) = 2 m Φ(-s/√2) for two alike."""
    law = StrengthLaw(300.0, cv)

    assert weakest_share(law, 2) == pytest.approx(2 * special.ndtr(-law.shape / math.sqrt(2)), rel=1e-9)


@pytest.mark.parametrize(("n", "score"), [(2, -1 / math.sqrt(math.pi)), (3, -1.5 / math.sqrt(math.pi)), (5, -1.16296)])
def test_weakest_of_joints_that_differ_little_follows_normal_scores(n, score):
    """Expected least of n normal scores: -1/√π, -3/(2√π), -1.16296 (David and Nagaraja)."""
    law = StrengthLaw(1.0, 0.001)

    assert (weakest_share(law, n) - 1) / 0.001 == pytest.approx(score, abs=2e-3)


@pytest.mark.parametrize("model", MODELS)
@pytest.mark.parametrize("n", [1, 2, 3, 6])
def test_bundle_agrees_with_the_recursion_of_daniels(model, n):
    law = StrengthLaw(300.0, 0.25, model)

    for load in np.linspace(0.3, 1.1, 9) * 300 * n:
        assert bundle_below(law, n, load) == pytest.approx(daniels(law, n, load), abs=1e-9)


def test_bundle_of_two_is_exact_by_hand():
    """Holds less than F when both lie below F and the weaker below F/2."""
    law = StrengthLaw(300.0, 0.25)
    load = 520.0
    half, whole = float(law.below(load / 2)), float(law.below(load))

    assert bundle_below(law, 2, load) == pytest.approx(2 * half * whole - half**2)


@pytest.mark.parametrize("model", MODELS)
@pytest.mark.parametrize("n", [2, 5, 20])
def test_assembly_agrees_with_a_plain_simulation(model, n):
    law = StrengthLaw(300.0, 0.25, model)
    drawn = np.sort(law.quantile(np.random.default_rng(4).random((10_000, n))), axis=1)
    held = (drawn * np.arange(n, 0, -1)).max(axis=1)

    found = share(300.0, n, cv=0.25, model=model)

    assert found["bundle"].mean == pytest.approx(held.mean(), rel=0.005)
    assert found["bundle"].low == pytest.approx(np.quantile(held, 0.05), rel=0.015)
    assert found["weakest"].mean == pytest.approx(n * drawn[:, 0].mean(), rel=0.005)
    assert found["weakest"].low == pytest.approx(n * np.quantile(drawn[:, 0], 0.05), rel=0.015)
    assert bundle_mean(law, n) == found["bundle"].mean
    assert bundle_below(law, n, bundle_quantile(law, n, 0.05)) == pytest.approx(0.05, abs=1e-6)


def test_unequal_shares_break_the_joint_that_takes_most():
    parts = np.array([0.4, 0.3, 0.2, 0.1])
    drawn = StrengthLaw(300.0, 0.2).quantile(np.random.default_rng(5).random((20_000, 4)))
    first = (drawn / parts).min(axis=1)

    found = share(300.0, 4, cv=0.2, shares=[4, 3, 2, 1])

    assert found.shares == pytest.approx(tuple(parts))
    assert found["frame"].mean == pytest.approx(300 / 0.4)
    assert found["weakest"].mean == pytest.approx(first.mean(), rel=0.005)
    assert found["weakest"].low == pytest.approx(np.quantile(first, 0.05), rel=0.01)
    even = share(300.0, 4, cv=0.2, shares=[1.0, 1.0, 1.0, 1.0 + 1e-9])
    assert even["weakest"].mean == pytest.approx(share(300.0, 4, cv=0.2)["weakest"].mean, rel=1e-4)


def test_one_joint_is_all_bounds_at_once():
    found = share(300.0, 1, cv=0.2)

    for one in found.bounds:
        assert one.mean == pytest.approx(300.0, rel=1e-6)


@settings(max_examples=10, deadline=None)
@given(n=st.integers(2, 12), cv=st.floats(0.03, 0.6), model=st.sampled_from(MODELS))
def test_bounds_keep_their_order(n, cv, model):
    found = share(100.0, n, cv=cv, model=model)

    means = [found[code].mean for code in ("product", "bundle", "weakest")]
    assert all(a >= b * (1 - 1e-6) for a, b in pairwise(means))
    assert found["product"].mean == 100.0 * n == pytest.approx(found["frame"].mean)
    assert found["bundle"].low >= found["weakest"].low * (1 - 1e-6)
    assert found["weakest"].low < found["weakest"].mean


def test_joints_all_alike_come_to_the_product():
    found = share(100.0, 6, cv=1e-4)

    for one in found.bounds:
        assert one.of_product == pytest.approx(1.0, abs=2e-4)


def test_bounds_say_what_they_assume():
    found = share(473.0, 4, cv=0.15, unit="lbf")

    assert [one.code for one in found.bounds] == ["product", "frame", "bundle", "weakest"]
    assert "the upper bound" in found["product"].assumption
    assert "4 times one joint, 1 890 lbf, the upper bound, which no frame reaches" in found.words
    assert all(one.assumption.endswith((".", "it.")) and one.formula for one in found.bounds)


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"mean": 0}, r"mean \(0\) must be above zero"),
        ({"mean": math.nan}, r"mean \(nan\) must be above zero"),
        ({"n": 0}, r"n \(0\) must be a whole number of joints, 1 to 40"),
        ({"n": 2.0}, r"n \(2.0\) must be a whole number"),
        ({"cv": 0}, r"cv \(0\) must be above 0 and at most 1"),
        ({"cv": 15}, r"cv \(15\) must be above 0 and at most 1: 0.15 for 15 %"),
        ({"model": "normal"}, r"model \('normal'\) must be lognormal or weibull"),
        ({"shares": [0.5, 0.5]}, r"shares \(\[0.5, 0.5\]\) must be 4 numbers of 0 or more"),
        ({"shares": [0, 0, 0, 0]}, "not all 0"),
        ({"shares": [-1, 1, 1, 1]}, "4 numbers of 0 or more"),
    ],
)
def test_share_refuses_what_cannot_be(given, message):
    asked = {"mean": 300.0, "n": 4} | given

    with pytest.raises(StatsError, match=message):
        share(asked.pop("mean"), asked.pop("n"), **asked)
