"""Group comparisons against R.

Source: R 4.2.2 `oneway.test`, `kruskal.test`, `ptukey`, and Games-Howell and Dunn worked from their formulas, on
PlantGrowth (equal groups), InsectSprays (many ties) and airquality ozone by month (unequal groups); `t.test` of
logs on ToothGrowth for the ratio.
"""

from __future__ import annotations

import numpy as np
import pytest

from stats.inference import groups
from tests.checks.reading import reference

FILES = ["groups_plantgrowth.json", "groups_insectsprays.json", "groups_airquality.json"]


@pytest.fixture(params=FILES, name="case")
def _case(request):
    content = reference(request.param)
    # Studentized range tails below about 1e-10 are rounding on either side
    close = {"rtol": content["tolerance"], "atol": content["tolerance_abs"]}
    return content["data"]["y"], content["data"]["group"], content["expected"], close


def test_welch_anova_agrees_with_r(case):
    y, group, expected, close = case
    test = groups.welch_anova(y, group)
    np.testing.assert_allclose(test.statistic, expected["welch_anova"]["F"], **close)
    np.testing.assert_allclose(test.df, expected["welch_anova"]["df"], **close)
    np.testing.assert_allclose(test.p, expected["welch_anova"]["p"], **close)


def test_kruskal_agrees_with_r(case):
    y, group, expected, close = case
    test = groups.kruskal(y, group)
    np.testing.assert_allclose(test.statistic, expected["kruskal_wallis"]["H"], **close)
    assert test.df == (expected["kruskal_wallis"]["df"],)
    np.testing.assert_allclose(test.p, expected["kruskal_wallis"]["p"], **close)


def test_games_howell_agrees_with_r(case):
    y, group, expected, close = case
    pairs, printed = groups.games_howell(y, group), expected["games_howell"]
    assert (pairs["b"] + " - " + pairs["a"]).tolist() == expected["pairs"]
    for ours, theirs in (
        ("difference", "diff"),
        ("q", "q"),
        ("df", "df"),
        ("p", "p"),
        ("low", "ci_lower"),
        ("high", "ci_upper"),
    ):
        # R's own tail of the range is off by up to 2e-10 here: adaptive quadrature and scipy side with us
        within = close | {"atol": 3e-10} if ours == "p" else close
        np.testing.assert_allclose(pairs[ours], printed[theirs], **within)


def test_dunn_agrees_with_r(case):
    y, group, expected, close = case
    pairs, printed = groups.dunn(y, group, adjust="holm"), expected["dunn"]
    assert (pairs["b"] + " - " + pairs["a"]).tolist() == expected["pairs"]
    for ours, theirs in (("z", "z"), ("p", "p_two_sided"), ("p_adjusted", "p_holm")):
        np.testing.assert_allclose(pairs[ours], printed[theirs], **close)


@pytest.mark.parametrize("level", [0.95, 0.90])
def test_ratio_agrees_with_r(level):
    content = reference("ratio_ci_welch_log.json")
    printed, rtol = content["expected"][f"a_over_b_{round(100 * level)}"], content["tolerance"]
    found = groups.ratio(content["data"]["a"], content["data"]["b"], level)
    assert found.ratio == pytest.approx(printed["ratio_of_geometric_means"], rel=rtol)
    assert (found.interval.low, found.interval.high) == pytest.approx(printed["ci"], rel=rtol)
    assert (found.log_ratio, found.se_log) == pytest.approx((printed["log_diff"], printed["se"]), rel=rtol)
    assert (found.t, found.df, found.p) == pytest.approx((printed["t"], printed["df"], printed["p"]), rel=rtol)
