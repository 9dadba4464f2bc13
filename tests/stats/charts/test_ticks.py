"""Numbers that label an axis: none of them is minus nothing."""

from __future__ import annotations

import math

import pytest

from stats.charts.ticks import linear_ticks, tick_text


@pytest.mark.parametrize(("low", "high"), [(0.0, 1.0), (-0.0, 3.0), (-1e-12, 1.0), (-0.05, 2.0), (-0.9, 3.0)])
def test_nothing_has_no_minus(low, high):
    ticks = linear_ticks(low, high)

    assert ticks[0] == 0.0 and math.copysign(1.0, ticks[0]) == 1.0
    assert [tick_text(tick) for tick in ticks][0] == "0"


def test_minus_nothing_is_told_as_nothing():
    assert (tick_text(-0.0), tick_text(-1200.0)) == ("0", "−1 200")
