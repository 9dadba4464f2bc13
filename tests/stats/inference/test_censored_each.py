"""Many right-censored lognormal fits at once, beside one by one."""

from __future__ import annotations

import numpy as np
import pytest

from stats.errors import StatsError
from stats.inference import censored
from stats.inference.censored_each import lognormal_means
from stats.inference.sample import BadSample


def samples(count: int = 120):
    """Samples of 2 to 12 specimens of which about a quarter held."""
    draw = np.random.default_rng(11)
    of = np.repeat(np.arange(count), draw.integers(2, 13, count))
    return np.exp(draw.normal(5, 0.2, len(of))), draw.random(len(of)) > 0.25, of, count


def test_each_sample_is_fitted_as_by_itself():
    values, broke, of, count = samples()
    values[of == 3] = 100.0  # no spread

    mean, variance = lognormal_means(values, broke, of, count)

    refused = 0
    for at in range(count):
        try:
            alone = censored.fit_lognormal(values[of == at], broke[of == at])
        except StatsError:
            assert np.isnan(mean[at]) and np.isnan(variance[at])
            refused += 1
        else:
            assert mean[at] == pytest.approx(alone.mean_log, rel=1e-12)
            assert variance[at] == pytest.approx(alone.covariance[0, 0], rel=1e-9)
    assert 0 < refused < count / 2


def test_where_none_held_the_mean_is_the_plain_one():
    values, broke, of, count = samples(10)

    mean, variance = lognormal_means(values, np.ones_like(broke), of, count)

    for at in range(count):
        logs = np.log(values[of == at])
        assert mean[at] == pytest.approx(logs.mean())
        assert variance[at] == pytest.approx(logs.var() / len(logs))


def test_no_samples_give_none():
    assert [len(part) for part in lognormal_means([], [], [], 0)] == [0, 0]
    assert np.isnan(lognormal_means([], [], [], 2)[0]).all()


@pytest.mark.parametrize(
    ("values", "group", "says"),
    [([1.0, -2.0], [0, 0], r"values\[1\] is -2"), ([1.0, 2.0], [0, 5], "one number from 0 to 1 a reading")],
)
def test_bad_readings_are_refused(values, group, says):
    with pytest.raises(BadSample, match=says):
        lognormal_means(values, [True, True], group, 2)
