"""The one-dimensional searches."""

from __future__ import annotations

import numpy as np
import pytest

from stats.inference import reml


def test_reml_variance_keeps_the_lower_of_two_minima():
    # minima at 0.02 and 1, the second lower; a maximum at 0.3 between
    def evaluate(t):
        slope = (t - 0.02) * (t - 0.3) * (t - 1.0)
        value = t**4 / 4 - 1.32 * t**3 / 3 + 0.326 * t**2 / 2 - 0.006 * t
        return value, slope

    np.testing.assert_allclose(reml.reml_variance(evaluate, scale=0.1), 1.0)


@pytest.mark.parametrize("scale", [1e-6, 1.0, 1e6])
def test_reml_variance_does_not_depend_on_the_scale_given(scale):
    np.testing.assert_allclose(reml.reml_variance(lambda t: ((t - 0.3) ** 2, t - 0.3), scale), 0.3)


def test_reml_variance_is_exactly_zero_at_the_boundary():
    assert reml.reml_variance(lambda t: (t, 1.0), 1.0) == 0.0


def test_no_variance_is_evaluated_twice():
    asked = []

    def evaluate(t):
        asked.append(t)
        return (t - 0.3) ** 2, t - 0.3 + (t - 0.3) ** 3

    np.testing.assert_allclose(reml.reml_variance(evaluate, 1.0), 0.3)
    assert len(asked) == len(set(asked))

    asked.clear()
    np.testing.assert_allclose(reml.falling_root(lambda t: asked.append(t) or np.exp(-t), 0.1, 1e-3), np.log(10))
    assert len(asked) == len(set(asked))


def test_falling_root_is_zero_where_the_function_starts_below():
    assert reml.falling_root(lambda t: np.exp(-t), 2.0, 1.0) == 0.0
    np.testing.assert_allclose(reml.falling_root(lambda t: np.exp(-t), 0.1, 1e-3), np.log(10))


def test_q_profile_holds_what_neither_tail_rejects():
    # q(t) = 10 / (1 + t) on 5 degrees of freedom: 0.8312 and 12.83 are the 2.5 and 97.5 % points of chi-squared
    found = reml.q_profile(lambda t: 10 / (1 + t), 5, 1.0, 0.95)
    assert found.low == 0.0
    np.testing.assert_allclose(found.high, 10 / 0.831211613 - 1)
