"""A plan of a test: power, order, controls."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stats.errors import StatsError
from stats.practice.caution import TESTING
from stats.practice.plan import controls, power_curve, running_order


def test_power_curve_runs_past_what_is_needed():
    found = power_curve(1.2, 0.15, affordable=6)

    assert found.table["n"].tolist() == list(range(2, 19))
    assert found.table["power"].is_monotonic_increasing and found.table["detectable"].is_monotonic_decreasing
    assert found.plan.n == 12 and found.table.set_index("n")["power"][12] >= 0.8
    assert found.at_n.ratio == pytest.approx(found.table.set_index("n")["detectable"][6])
    assert power_curve(1.2, 0.15, ns=[5]).table["n"].tolist() == [5]
    assert power_curve(1.2, 0.15).at_n is None
    assert found.caution == TESTING and "eye protection" in TESTING[0]


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: power_curve(1.0, 0.15), "ratio is 1"),
        (lambda: power_curve(1.2, 0.0), "cv is 0"),
        (lambda: power_curve(1.2, 0.15, ns=[]), r"ns \(none given\)"),
        (lambda: running_order({}, seed=1), r"groups \(none given\)"),
        (lambda: running_order({"a": 0}, seed=1), "specimens of a is 0"),
        (lambda: running_order({"a": 2000}, seed=1), r"groups \(2000 specimens in all\)"),
        (lambda: running_order({"a": 2}, seed=1, blocks=3), r"blocks \(3\) must be at most the number of specimens, 2"),
        (lambda: controls([], 1), "n is 1"),
    ],
)
def test_plan_refuses_what_cannot_be(make, message):
    with pytest.raises(StatsError, match=message):
        make()


@settings(max_examples=25, deadline=None)
@given(
    counts=st.lists(st.integers(1, 9), min_size=1, max_size=5),
    blocks=st.integers(1, 4),
    seed=st.integers(0, 2**31 - 1),
)
def test_order_holds_every_specimen_once_and_deals_series_evenly(counts, blocks, seed):
    groups = {f"s{i}": n for i, n in enumerate(counts)}
    blocks = min(blocks, sum(counts))

    found = running_order(groups, seed=seed, blocks=blocks)

    assert [run.position for run in found] == list(range(1, sum(counts) + 1))
    assert sorted((run.series, run.specimen) for run in found) == sorted(
        (name, i) for name, n in groups.items() for i in range(1, n + 1)
    )
    assert [run.block for run in found] == sorted(run.block for run in found)
    for name in groups:
        dealt = Counter(run.block for run in found if run.series == name)
        per_block = [dealt.get(b, 0) for b in range(1, blocks + 1)]
        assert max(per_block) - min(per_block) <= 1
    assert found == running_order(groups, seed=seed, blocks=blocks)


def test_order_differs_by_seed_and_puts_each_series_everywhere():
    groups = {"dowel": 2, "tenon": 2}
    orders = [running_order(groups, seed=seed) for seed in range(300)]

    assert len({tuple((r.series, r.specimen) for r in one) for one in orders}) == 24
    first = Counter(one[0].series for one in orders)
    assert 110 < first["dowel"] < 190


def test_controls_are_those_not_tested_already():
    assert [one.joint for one in controls(["dowel"], 6)] == ["solid", "butt"]
    assert [(one.joint, one.n) for one in controls(["dowel", "solid"], 6)] == [("butt", 6)]
    assert [(one.joint, one.n) for one in controls(["edge"], 9, bond=True)] == [("solid", 5)]
    assert controls(["solid", "butt"], 6) == ()
