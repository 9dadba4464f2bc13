"""Points of the power curve against R.

Source: `data/sample_size.json`, power.t.test of R's stats (two-sample, on logs).
"""

from __future__ import annotations

import pytest

from stats.inference.planning import power_at
from stats.practice.plan import power_curve
from tests.checks.reading import reference

CASES = [case for case in reference("sample_size.json")["expected"]["n_per_group"]
         if case["alternative"] == "two.sided" and not case["strict"]]  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case['ratio']:.2f}-{case['power']}")
def test_power_curve_agrees_with_r(case):
    n, ratio, cv = case["n_ceiling"], case["ratio"], case["cv"]

    assert power_at(n, ratio, cv, case["sig_level"]) == pytest.approx(case["power_at_n_ceiling"], rel=1e-6)
    curve = power_curve(ratio, cv, power=case["power"], alpha=case["sig_level"])
    assert curve.plan.n == n
    needed = curve.table[curve.table["power"] >= case["power"]]["n"].min()
    assert needed == n
