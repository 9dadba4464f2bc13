from __future__ import annotations

import numpy as np
import pytest

from stats.errors import StatsError
from stats.footing.propagation import BadUncertainty, combined, contributions


def test_contributions_agree_with_derivatives_by_hand():
    def model(x):
        return np.array([x[0] ** 2 * x[1], np.sin(x[0]) / x[1]])

    at, u = np.array([0.7, 2.0]), np.array([0.02, 0.05])

    by_hand = np.array([[2 * 0.7 * 2, np.cos(0.7) / 2], [0.7**2, -np.sin(0.7) / 4]]) * u[:, None]
    np.testing.assert_allclose(contributions(model, at, u), by_hand, rtol=1e-6)


def test_contributions_at_the_end_of_a_range_take_the_other_side():
    def from_nothing(x):
        if x[0] < 0:
            raise StatsError("x must be 0 or more.")
        return 3 + 2 * x[0] + 5 * x[0] ** 2

    def up_to_one(x):
        return from_nothing([1 - x[0]])

    assert contributions(from_nothing, [0.0], [0.1]) == pytest.approx([0.2])
    assert contributions(up_to_one, [1.0], [0.1]) == pytest.approx([-0.2])


def test_contributions_of_an_input_that_nothing_depends_on_are_nothing():
    assert contributions(lambda x: x[0], [1.0, 5.0], [0.1, 0.3]) == pytest.approx([0.1, 0.0])
    assert contributions(lambda x: x[0] * x[1], [1.0, 5.0], [0.1, 0.0]).tolist()[1] == 0


def test_contributions_refuse_an_input_that_can_not_move():
    def only_here(x):
        if x[0] != 2:
            raise StatsError("x must be 2.")
        return x[0]

    with pytest.raises(BadUncertainty, match=r"u of legs \(0.5\) must be 0: the result exists at 2 alone"):
        contributions(only_here, [2.0], [0.5], ["legs"])


@pytest.mark.parametrize(
    ("u", "message"),
    [([0.1], r"u \(shape \(1,\)\) must have one value for each of 2 inputs"), ([0.1, -1], r"u of input 1 \(-1\)")],
)
def test_contributions_refuse_uncertainties_that_can_not_be(u, message):
    with pytest.raises(BadUncertainty, match=message):
        contributions(np.sum, [1.0, 2.0], u)


def test_combined_agrees_with_the_double_sum_written_out():
    rng = np.random.default_rng(7)
    parts = rng.normal(size=(4, 3))
    r = np.corrcoef(rng.normal(size=(4, 9)))

    u, shares = combined(parts, r)

    for at in range(3):
        variance = sum(parts[i, at] * r[i, j] * parts[j, at] for i in range(4) for j in range(4))
        assert u[at] ** 2 == pytest.approx(variance)
        assert shares[:, at].sum() == pytest.approx(1)


def test_combined_of_nothing_uncertain_is_nothing():
    u, shares = combined(np.zeros((2, 3)))

    assert u.tolist() == [0, 0, 0]
    assert not shares.any()


@pytest.mark.parametrize(
    ("r", "message"),
    [
        (np.eye(3), r"shape \(3, 3\)\) must hold 2 by 2"),
        ([[1, 2], [2, 1]], "-1 to 1"),
        ([[1, 0.5], [0.4, 1]], "symmetric"),
        ([[2, 0], [0, 1]], "diagonal|-1 to 1"),
    ],
)
def test_combined_refuses_a_correlation_that_can_not_be(r, message):
    with pytest.raises(BadUncertainty, match=message):
        combined(np.ones(2), r)


def test_combined_refuses_correlations_that_contradict_each_other():
    r = np.array([[1, 0.9, -0.9], [0.9, 1, 0.9], [-0.9, 0.9, 1]])

    with pytest.raises(BadUncertainty, match="possible for 3 inputs at once"):
        combined(np.ones(3), r)
