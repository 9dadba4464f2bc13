"""Sample sizes against R.

Source: R 4.2.2 `power.t.test` at tight tolerance. Two values are also in print at R's default tolerance: n =
22.02110 for a difference of one standard deviation at power 0.90, and 17.84713 one-sided.
"""

from __future__ import annotations

import numpy as np
import pytest

from stats.inference import planning
from tests.checks.reading import reference

R = reference("sample_size.json")
RTOL = R["tolerance"]


@pytest.mark.parametrize("row", R["expected"]["n_per_group"])
def test_n_for_ratio_agrees_with_r(row):
    plan = planning.n_for_ratio(
        row["ratio"],
        row["cv"],
        row["power"],
        row["sig_level"],
        alternative=row["alternative"].replace(".", "-"),
        both_tails=row["strict"],
    )
    assert plan.exact == pytest.approx(row["n_per_group"], rel=RTOL)
    assert plan.n == row["n_ceiling"]
    assert plan.power_at_n == pytest.approx(row["power_at_n_ceiling"], rel=RTOL)


@pytest.mark.parametrize("row", R["expected"]["detectable"])
def test_detectable_ratio_agrees_with_r(row):
    found = planning.detectable_ratio(row["n_per_group"], row["cv"], row["power"], row["sig_level"])
    assert found.ratio == pytest.approx(row["smallest_ratio_up"], rel=RTOL)
    assert found.ratio_down == pytest.approx(row["smallest_ratio_down"], rel=RTOL)


def test_n_for_ratio_agrees_with_print():
    # one standard deviation of logs apart: a ratio of exp(sd_log)
    ratio = float(np.exp(planning.sd_log_from_cv(0.2)))
    assert planning.n_for_ratio(ratio, 0.2, 0.9).exact == pytest.approx(22.02110, abs=1e-5)
    one_sided = planning.n_for_ratio(ratio, 0.2, 0.9, alternative="one-sided").exact
    assert one_sided == pytest.approx(17.84713, abs=1e-5)
