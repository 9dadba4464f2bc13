"""Pooling one contrast over studies."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from stats.inference import pool

Y = [-0.21, -0.35, -0.10, -0.42, -0.18]
V = [0.010, 0.012, 0.008, 0.020, 0.015]


@pytest.mark.parametrize(
    ("y", "v", "options", "message"),
    [
        ([], [], {}, "y is empty"),
        ([0.1, 0.2], [0.01], {}, r"y has shape \(2,\) and v \(1,\)"),
        ([[0.1]], [[0.01]], {}, "one value a study"),
        ([0.1, np.nan], [0.01, 0.01], {}, "y of study #2 is nan; it must be a finite number"),
        ([0.1, np.inf], [0.01, 0.01], {}, "y of study #2 is inf"),
        ([0.1, 0.2], [0.01, 0.0], {"labels": ["A", "B"]}, "v of study B is 0.0; it must be a finite variance above"),
        ([0.1, 0.2], [-0.01, 0.01], {}, "v of study #1 is -0.01"),
        ([0.1, 0.2], [np.inf, 0.01], {}, "v of study #1 is inf"),
        (["a", "b"], [0.01, 0.01], {}, "plain lists of numbers"),
        ([0.1, 0.2], [0.01, 0.01], {"labels": ["A"]}, "labels has 1 entries for 2 studies"),
        ([0.1, 0.2], [0.01, 0.01], {"method": "ML"}, "method is 'ML'; it must be one of 'REML', 'PM', 'DL'"),
        ([0.1, 0.2], [0.01, 0.01], {"knapp_hartung": "no"}, "knapp_hartung is 'no'"),
        ([0.1, 0.2], [0.01, 0.01], {"prediction": "k"}, "prediction is 'k'"),
        ([0.1, 0.2], [0.01, 0.01], {"level": 95}, "level is 95; it must lie between 0 and 1"),
        ([0.1], [0.01], {"v_df": [0]}, "v_df"),
    ],
)
def test_random_effects_refuses(y, v, options, message):
    with pytest.raises(pool.BadContrasts, match=message):
        pool.random_effects(y, v, **options)


def test_random_effects_of_one_study_gives_its_own_interval_and_says_so():
    pooled = pool.random_effects([0.2], [0.04])
    assert (pooled.estimate, pooled.se) == (0.2, 0.2)
    np.testing.assert_allclose(pooled.interval.high, 0.2 + 1.959963985 * 0.2)
    absent = (pooled.tau2, pooled.tau2_interval, pooled.i2, pooled.h2, pooled.q, pooled.q_p, pooled.prediction)
    assert absent == (None,) * 7
    assert "single study" in pooled.notes[0]


def test_random_effects_of_one_study_widens_for_few_specimens():
    pooled = pool.random_effects([0.2], [0.04], v_df=[4])
    np.testing.assert_allclose(pooled.interval.high, 0.2 + stats.t.ppf(0.975, 4) * 0.2)
    assert pooled.df == 4


def test_random_effects_of_equal_variances_is_a_one_sample_t_interval():
    # with equal v, Knapp-Hartung is the plain t interval of the k values, whatever tau2
    pooled = pool.random_effects(Y, [0.002] * 5)
    expected = stats.t.interval(0.95, 4, np.mean(Y), stats.sem(Y))
    np.testing.assert_allclose([pooled.interval.low, pooled.interval.high], expected)
    np.testing.assert_allclose(pooled.tau2, np.var(Y, ddof=1) - 0.002)


def test_random_effects_prediction_of_known_equal_variances_matches_by_hand():
    pooled = pool.random_effects(Y, [0.002] * 5)
    wide = stats.t.ppf(0.975, 3) * np.sqrt(pooled.tau2 + pooled.se**2)
    np.testing.assert_allclose(pooled.prediction.high, np.mean(Y) + wide)


@pytest.mark.parametrize("seed", range(8))
def test_reml_agrees_with_a_search_over_the_plain_likelihood(seed):
    rng = np.random.default_rng(seed)
    k = int(rng.integers(3, 25))
    v = rng.uniform(0.002, 0.05, k)
    y = rng.normal(0.1, np.sqrt(v + rng.choice([0.0, 0.01, 0.09])))

    def minus_two(t):
        s = np.diag(v + t)
        w = np.linalg.inv(s)
        one = np.ones(k)
        r = y - (one @ w @ y) / (one @ w @ one)
        return np.linalg.slogdet(s)[1] + np.log(one @ w @ one) + r @ w @ r

    plain = optimize.minimize_scalar(minus_two, bounds=(0, 2), method="bounded", options={"xatol": 1e-10})

    np.testing.assert_allclose(pool.random_effects(y, v).tau2, plain.x, rtol=1e-4, atol=1e-6)


def test_equal_contrasts_do_not_give_a_vanishing_interval():
    pooled = pool.random_effects([0.1, 0.1, 0.1], [0.01, 0.01, 0.01])
    assert pooled.tau2 == 0.0
    np.testing.assert_allclose(pooled.se, np.sqrt(0.01 / 3))
    assert any("last digit" in note for note in pooled.notes)


def test_studies_that_agree_too_well_are_said_to():
    pooled = pool.random_effects([0.10, 0.101, 0.102, 0.099], [0.04] * 4)
    assert pooled.tau2_interval.high == 0.0
    assert any("more closely" in note for note in pooled.notes)


def test_dersimonian_laird_and_paule_mandel_solve_their_equations():
    dl, pm = (pool.random_effects(Y, [v / 5 for v in V], method=m) for m in ("DL", "PM"))
    y, v = np.array(Y), np.array(V) / 5
    w = 1 / v
    q = np.sum(w * (y - np.average(y, weights=w)) ** 2)
    np.testing.assert_allclose(dl.tau2, (q - 4) / (w.sum() - (w**2).sum() / w.sum()))
    w = 1 / (v + pm.tau2)
    np.testing.assert_allclose(np.sum(w * (y - np.average(y, weights=w)) ** 2), 4)


@settings(max_examples=30, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1),
    shift=st.floats(-5, 5),
    factor=st.floats(0.05, 20),
)
def test_random_effects_moves_and_scales_with_its_contrasts(seed, shift, factor):
    rng = np.random.default_rng(seed)
    k = int(rng.integers(2, 15))
    y, v = rng.normal(0, 0.3, k), rng.uniform(0.005, 0.05, k)
    order = rng.permutation(k)

    plain = pool.random_effects(y, v)
    moved = pool.random_effects((factor * y + shift)[order], (factor**2 * v)[order])

    np.testing.assert_allclose(moved.estimate, factor * plain.estimate + shift, rtol=1e-7, atol=1e-7)
    np.testing.assert_allclose(moved.se, factor * plain.se, rtol=1e-6)
    np.testing.assert_allclose(moved.tau2, factor**2 * plain.tau2, rtol=1e-6, atol=1e-9)
    np.testing.assert_allclose(moved.weights, plain.weights[order], rtol=1e-6)


def test_leave_one_out_pools_what_is_left():
    table = pool.leave_one_out(Y, V, labels=list("ABCDE"))
    assert table["left_out"].tolist() == list("ABCDE")
    without_c = pool.random_effects([Y[i] for i in (0, 1, 3, 4)], [V[i] for i in (0, 1, 3, 4)])
    row = table.set_index("left_out").loc["C"]
    assert (row["estimate"], row["low"], row["high"]) == (
        without_c.estimate,
        without_c.interval.low,
        without_c.interval.high,
    )
    np.testing.assert_allclose(row["shift"], without_c.estimate - pool.random_effects(Y, V).estimate)


def test_leave_one_out_refuses_one_study():
    with pytest.raises(pool.BadContrasts, match="at least two studies; y has 1"):
        pool.leave_one_out([0.1], [0.01])


def test_small_study_finds_a_slope_that_was_put_in():
    s = np.linspace(0.05, 0.3, 12)
    wobble = 0.01 * np.array([1, -1] * 6)
    found = pool.small_study(0.1 + 1.5 * s + wobble * s, s**2)
    np.testing.assert_allclose(found.slope, 1.5, atol=0.05)
    np.testing.assert_allclose(found.limit, 0.1, atol=0.005)
    assert found.p < 1e-6
    assert found.notes == ()


def test_small_study_says_when_it_can_see_little():
    assert "Only 5 studies" in pool.small_study(Y, V).notes[0]


@pytest.mark.parametrize(
    ("y", "v", "message"),
    [([0.1, 0.2], [0.01, 0.02], "at least three"), ([0.1, 0.2, 0.3], [0.01] * 3, "all v are equal")],
)
def test_small_study_refuses(y, v, message):
    with pytest.raises(pool.BadContrasts, match=message):
        pool.small_study(y, v)
