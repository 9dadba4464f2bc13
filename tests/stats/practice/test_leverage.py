from __future__ import annotations

import math

import numpy as np
import pytest

from stats.errors import StatsError
from stats.practice.leverage import leverage
from stats.practice.loads import HAND_PUSH_N


def test_leverage_keeps_the_moment_whatever_the_length():
    found = leverage(120.0, typical_nm=180.0)

    np.testing.assert_allclose(found.table["force_n"] * found.table["arm_mm"], 120_000)
    np.testing.assert_allclose(found.table["typical_n"] * found.table["arm_mm"], 180_000)
    assert (found.table["arm_mm"].min(), found.table["arm_mm"].max()) == (100.0, 1000.0)


def test_leverage_says_from_which_length_on_a_push_breaks_it():
    found = leverage(120.0, push_n=300.0)

    assert found.reach_mm == pytest.approx(400.0)
    assert found.push_source == "the reader's own figure"
    measured = leverage(120.0)
    assert measured.push_n == HAND_PUSH_N[1]
    assert "29 healthy men" in measured.push_source
    assert measured.table["typical_n"].isna().all()


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"moment_nm": 0}, r"moment_nm \(0\) must be above 0"),
        ({"moment_nm": 1e9}, r"moment_nm \(1e\+09\)"),
        ({"moment_nm": math.nan}, r"moment_nm \(nan\)"),
        ({"arms_mm": [300, 0]}, r"arms_mm \(0\) must each be 10 to 6000 mm"),
        ({"arms_mm": []}, r"arms_mm \(none given\)"),
        ({"arms_mm": [math.nan]}, r"arms_mm \(nan\)"),
        ({"typical_nm": 50}, r"typical_nm \(50\) must be moment_nm \(120\) or more"),
        ({"push_n": -5}, r"push_n \(-5\) must be 1 to 20000 N"),
    ],
)
def test_leverage_refuses_what_cannot_be(given, message):
    with pytest.raises(StatsError, match=message):
        leverage(**{"moment_nm": 120.0, **given})
