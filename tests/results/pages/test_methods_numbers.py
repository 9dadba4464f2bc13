"""The numbers of the methods pages are the code's, and follow from the formulas shown beside them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats as scipy_stats

from results.pages import methods
from results.pages.methods import series, shops, solid, studies
from results.pages.methods.groups import A, B, C
from stats.footing import adjust
from stats.footing.input_uncertainty import InputUncertainty
from stats.inference import groups, interlab, pool, tolerance


@pytest.fixture(scope="module")
def by_anchor():
    return {one.anchor: one for part in methods.parts(solid.OAK) for one in part.methods}


def line(by_anchor, anchor, at=0):
    return by_anchor[anchor].example[at]


def test_series_example_follows_from_its_formula(by_anchor):
    m, s, t = np.log(A).mean(), np.log(A).std(ddof=1), scipy_stats.t.ppf(0.975, 4)
    ends = np.exp([m - t * s / 5**0.5, m + t * s / 5**0.5])

    assert f"= {np.exp(m):.1f} N·m" in line(by_anchor, "series-geometric-mean")
    assert line(by_anchor, "series-geometric-mean", 1).endswith(f"{ends[0]:.0f} N·m to {ends[1]:.0f} N·m")
    k = tolerance.normal_factor(5, 0.95, 0.75)
    assert line(by_anchor, "limit-lognormal").endswith(f"= {np.exp(m - k * s):.0f} N·m")


def test_welch_formula_shown_is_the_codes():
    parts = [np.log(x) for x in (A, B, C)]
    n, m, v = (np.array([f(p) for p in parts]) for f in (np.size, np.mean, lambda p: p.var(ddof=1)))
    w, g = n / v, 3
    mean = (w * m).sum() / w.sum()
    spread = ((1 - w / w.sum()) ** 2 / (n - 1)).sum()
    f = (w * (m - mean) ** 2).sum() / (g - 1) / (1 + 2 * (g - 2) / (g**2 - 1) * spread)
    found = groups.welch_anova(np.concatenate(parts), [*"AAAAABBBBBCCCCC"])

    assert found.statistic == pytest.approx(f) and found.df == pytest.approx((2, (g**2 - 1) / (3 * spread)))


def test_kruskal_and_games_howell_formulas_shown_are_the_codes():
    values, labels = [*A, *B, *C], [*"AAAAABBBBBCCCCC"]
    ranks = scipy_stats.rankdata(values)
    h = 12 / (15 * 16) * sum(ranks[i : i + 5].sum() ** 2 / 5 for i in (0, 5, 10)) - 3 * 16
    logs = [np.log(x) for x in (A, B)]
    v = [x.var(ddof=1) / 5 for x in logs]
    q = abs(logs[0].mean() - logs[1].mean()) / (sum(v) / 2) ** 0.5
    df = sum(v) ** 2 / sum(x**2 / 4 for x in v)
    pairs = groups.games_howell(np.log(values), labels)

    assert groups.kruskal(values, labels).statistic == pytest.approx(h)
    assert pairs["p"].iloc[0] == pytest.approx(scipy_stats.studentized_range.sf(q, 3, df), rel=1e-6)


def test_pooling_formulas_shown_are_the_codes(by_anchor):
    y, v = np.array(studies.Y), np.array(studies.V)
    found = pool.random_effects(y, v)
    w = 1 / (v + found.tau2)
    mean = (w * y).sum() / w.sum()
    se = ((w * (y - mean) ** 2).sum() / (len(y) - 1) / w.sum()) ** 0.5
    u = 1 / v
    q = (u * (y - (u * y).sum() / u.sum()) ** 2).sum()
    laird = (q - 4) / (u.sum() - (u**2).sum() / u.sum())
    mandel = pool.random_effects(y, v, method="PM").tau2
    w_pm = 1 / (v + mandel)

    assert (found.estimate, found.se) == pytest.approx((mean, se))
    assert pool.random_effects(y, v, method="DL").tau2 == pytest.approx(laird) and laird > 0
    assert (w_pm * (y - (w_pm * y).sum() / w_pm.sum()) ** 2).sum() == pytest.approx(4)
    assert f"μ = {mean:.3f}, se {se:.4f}: ratio {np.exp(mean):.3f}" in line(by_anchor, "pool-random-effects")


def test_critical_values_of_shops_follow_from_the_formulas_shown(by_anchor):
    t = scipy_stats.t.ppf(1 - 0.005 / 2, 4)
    f = scipy_stats.f.ppf(1 - 0.005, 3, 15)

    assert f"{5 * t / (6 * (t**2 + 4)) ** 0.5:.2f}" in line(by_anchor, "shops-critical-h")
    assert f"{(18 / (3 + 15 / f)) ** 0.5:.2f}" in line(by_anchor, "shops-critical-k")


def test_formulas_of_shops_shown_are_the_codes():
    frame = shops._specimens()
    found, cells = interlab.precision(frame), frame.groupby("study")["y"].agg(["mean", "std"])
    level, rows = found.levels.loc["dowel"], found.shops.set_index("study")
    standing = interlab.standing(cells["mean"], cells["std"] ** 2 / 4, labels=list(cells.index)).set_index("study")
    off = standing["y"] - standing["assigned"]

    assert rows["h"].to_numpy() == pytest.approx((cells["mean"] - cells["mean"].mean()) / cells["mean"].std())
    assert rows["k"].to_numpy() == pytest.approx(cells["std"] / level["s_r"])
    assert level["s_R"] ** 2 == pytest.approx(level["s_r"] ** 2 + level["s_L"] ** 2)
    assert standing["z"].to_numpy() == pytest.approx(off / np.hypot(standing["sigma"], standing["u_assigned"]))


def test_small_formulas_shown_are_the_codes(by_anchor):
    rank, k = tolerance.hanson_koopmans_factor(5, 0.95, 0.75)
    low, other = sorted(A)[0], sorted(A)[rank - 1]
    v = np.array(studies.V)
    found, u = pool.random_effects(studies.Y, v), 1 / v
    typical = 4 * u.sum() / (u.sum() ** 2 - (u**2).sum())

    assert line(by_anchor, "limit-hanson-koopmans").endswith(f"= {other * (low / other) ** k:.0f} N·m")
    assert found.i2 == pytest.approx(found.tau2 / (found.tau2 + typical))
    assert InputUncertainty.rectangular(1).u == pytest.approx(1 / 3**0.5)
    assert InputUncertainty.resolution(1).u == pytest.approx(1 / 12**0.5)
    assert InputUncertainty.expanded(1, 2).u == pytest.approx(0.5)


@pytest.mark.parametrize(("t", "rh"), [(20, 65), (5, 90), (35, 20)])
def test_moisture_formula_shown_is_the_codes(t, rh):
    assert solid.emc_by_formula(t, rh) == pytest.approx(adjust.emc(t, rh), rel=1e-12)


def test_held_formula_shown_is_what_the_fit_makes_greatest():
    from stats.inference import censored

    fit = censored.fit_lognormal(A, series.HELD)
    x, broke = np.log(A), np.array(series.HELD)

    def likelihood(m, s):
        z = (x - m) / s
        return (scipy_stats.norm.logpdf(z[broke]) - np.log(s)).sum() + scipy_stats.norm.logsf(z[~broke]).sum()

    best = likelihood(fit.mean_log, fit.sd_log)
    for dm, ds in ((0.003, 0), (-0.003, 0), (0, 0.003), (0, -0.003)):
        assert likelihood(fit.mean_log + dm, fit.sd_log + ds) < best


def test_loading_examples_are_worked_by_statics(by_anchor):
    assert line(by_anchor, "loading-cantilever-arm").endswith("372 N·m at the joint face, a shear of 1 240 N")
    assert "193 N·m" in line(by_anchor, "loading-corner-closing")  # 1240 · 0.22 / √2
    assert "124 N·m at each corner" in line(by_anchor, "loading-frame-racking")  # 1240 · 0.4 / 4
