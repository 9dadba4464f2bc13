"""Many contrasts pooled at once, beside one by one."""

from __future__ import annotations

import numpy as np
import pytest

from stats.inference import pool
from stats.inference.pool_each import falling_to_rising, random_effects_each
from stats.inference.study_contrasts import BadContrasts


def contrasts(tau: float, seed: int = 4):
    draw = np.random.default_rng(seed)
    studies = np.concatenate([[1, 1, 2, 2, 3, 5], draw.integers(2, 60, 20)])
    of = np.repeat(np.arange(len(studies)), studies)
    v = np.exp(draw.normal(-4, 1, len(of)))
    return draw.normal(0, np.sqrt(v + tau**2)), v, of, len(studies)


@pytest.mark.parametrize("tau", [0.0, 0.05, 0.4])
@pytest.mark.parametrize("level", [0.9, 0.95])
def test_each_contrast_is_pooled_as_by_itself(tau, level):
    y, v, of, count = contrasts(tau)

    found = random_effects_each(y, v, of, count, level=level)

    for at in range(count):
        alone = pool.random_effects(y[of == at], v[of == at], level=level)
        assert (found.estimate[at], found.se[at]) == pytest.approx((alone.estimate, alone.se), rel=1e-9)
        assert (found.low[at], found.high[at]) == pytest.approx((alone.interval.low, alone.interval.high), rel=1e-9)
        assert found.k[at] == alone.k
        if alone.prediction is None:
            assert np.isnan([found.tau2[at], found.prediction_low[at], found.prediction_high[at]]).all()
        else:
            assert found.tau2[at] == pytest.approx(alone.tau2, rel=1e-8, abs=1e-14)
            assert found.prediction_low[at] == pytest.approx(alone.prediction.low, rel=1e-9)


def test_of_two_minima_the_better_is_kept():
    # Two tight clusters of studies and one far off: the likelihood dips at a small variance and again at a large one.
    y = np.array([0.0, 0.001, 0.0, 0.002, 0.001, 0.0, 0.001, 6.0])
    v = np.array([1e-6] * 7 + [9.0])

    found = random_effects_each(y, v, np.zeros(8, dtype=int), 1)

    assert found.tau2[0] == pytest.approx(pool.random_effects(y, v).tau2, rel=1e-8, abs=1e-16)


def test_root_is_found_between_its_ends():
    scale = np.array([1.0, 1.0, 1e-3])

    root = falling_to_rising(lambda t: t**3 - scale**3, np.zeros(3), 100 * scale, scale)

    assert root == pytest.approx(scale, rel=1e-12)


def test_roots_that_are_found_at_once_wait_for_those_that_take_long():
    # A straight line, a step that only halving gets through, a root at the upper end, and one a billionth of the way.
    root = np.array([0.25, 0.7, 1.0, 1e-9])

    def f(t):
        return np.where([True, False, True, True], t - root, np.sign(t - root) * np.abs(t - root) ** (1 / 9))

    found = falling_to_rising(f, np.zeros(4), np.ones(4), np.ones(4))

    assert found == pytest.approx(root, rel=1e-12, abs=1e-13)


@pytest.mark.parametrize(
    ("v", "contrast", "says"),
    [([0.1, 0.0], [0, 1], "above zero"), ([0.1, 0.1], [0, 0], "a number below 2"), ([0.1, 0.1], [0], "shape")],
)
def test_what_can_not_be_pooled_is_refused(v, contrast, says):
    with pytest.raises(BadContrasts, match=says):
        random_effects_each([0.0, 1.0], v, contrast, 2)
