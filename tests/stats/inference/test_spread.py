"""Spreads of series: steadied, and filled where missing."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import special, stats

from stats.inference import network

SERIES = pd.DataFrame(
    {
        "study": list("AABBC"),
        "joint": ["dowel", "half lap", "dowel", "half lap", "dowel"],
        "y": [7.5, 7.6, 7.4, 7.5, 7.6],
        "v": [0.01 / 5, 0.04 / 8, 0.02 / 9, 0.03 / 6, np.nan],
        "n": [5, 8, 9, 6, 4],
    }
)


def test_missing_spread_is_pooled_from_series_of_the_same_joint_and_marked():
    filled = network.impute_variance(SERIES)
    s2 = (4 * 0.01 + 8 * 0.02) / 12
    np.testing.assert_allclose(filled["v"].iloc[4], s2 / 4)
    assert filled["imputed"].tolist() == [False] * 4 + [True]
    cv = 100 * np.sqrt(np.expm1(s2))
    assert filled["imputed_from"].iloc[4] == f"pooled CV {cv:.0f} % of 2 series of the same joint"
    np.testing.assert_allclose(filled["v"].iloc[:4], SERIES["v"].iloc[:4])
    assert np.isnan(SERIES["v"].iloc[4])


def test_missing_spread_falls_back_to_all_series_and_counts_an_unknown_number_as_one():
    odd = SERIES.assign(joint=["dowel", "half lap", "dowel", "half lap", "bridle"], n=[5, 8, 9, 6, np.nan])
    filled = network.impute_variance(odd)
    s2 = (4 * 0.01 + 7 * 0.04 + 8 * 0.02 + 5 * 0.03) / 24
    np.testing.assert_allclose(filled["v"].iloc[4], s2)
    assert "4 series of any kind; n unknown, counted as 1" in filled["imputed_from"].iloc[4]


def test_missing_spread_prefers_the_closest_likeness():
    frame = SERIES.assign(timber=["oak", "oak", "oak", "oak", "oak"], glue=["a", "a", "b", "b", "a"])
    filled = network.impute_variance(frame, like=["joint", "timber", "glue"], least_df=4)
    np.testing.assert_allclose(filled["v"].iloc[4], 0.01 / 4)
    assert "1 series of the same joint, timber, glue" in filled["imputed_from"].iloc[4]


@pytest.mark.parametrize(
    ("frame", "message"),
    [
        (SERIES.assign(v=np.nan), "hold fewer than 6 degrees of freedom"),
        (SERIES.assign(v=[0.0, 1, 1, 1, 1]), "v of row 0 .* is 0.0"),
        (SERIES.assign(v=[np.inf, 1, 1, 1, 1]), "v of row 0 .* is inf"),
        (SERIES.assign(n=[0, 8, 9, 6, 4]), "n of row 0 .* is 0; it must be a count of at least 1"),
        (SERIES.drop(columns="n"), "lacks the columns n"),
    ],
)
def test_missing_spread_is_refused(frame, message):
    with pytest.raises(network.BadArms, match=message):
        network.impute_variance(frame)


def _many(rng, series, spread_df):
    n = rng.integers(3, 11, series)
    true = 0.02 if np.isinf(spread_df) else 0.02 * spread_df / rng.chisquare(spread_df, series)
    s2 = true * rng.chisquare(n - 1) / (n - 1)
    frame = pd.DataFrame({"study": np.arange(series), "joint": "dowel", "v": s2 / n, "n": n})
    return frame, np.broadcast_to(true, series)


def test_steadied_variances_of_one_spread_are_the_pooled_one():
    s2 = np.array([0.02, 0.021, 0.019, 0.0205])
    frame = pd.DataFrame({"study": range(4), "joint": "dowel", "v": s2 / [5, 6, 7, 8], "n": [5, 6, 7, 8]})
    steadied = network.steady_variance(frame)
    np.testing.assert_allclose(steadied["v"] * frame["n"], np.average(s2, weights=[4, 5, 6, 7]))
    assert (steadied["borrowed"] == 1.0).all()
    np.testing.assert_allclose(steadied["v_own"], frame["v"])


def test_steadied_variances_solve_the_moment_equations_of_their_source():
    # Smyth 2004, section 6.2, written out: e = log s2 - digamma(d / 2) + log(d / 2)
    frame, _ = _many(np.random.default_rng(1), 40, 4.0)
    steadied = network.steady_variance(frame)
    d, s2 = frame["n"] - 1, frame["v"] * frame["n"]
    d0 = (steadied["borrowed"] * d / (1 - steadied["borrowed"])).to_numpy()
    np.testing.assert_allclose(d0, d0[0])
    e = np.log(s2) - special.digamma(d / 2) + np.log(d / 2)
    np.testing.assert_allclose(special.polygamma(1, d0[0] / 2), e.var(ddof=1) - special.polygamma(1, d / 2).mean())
    s0 = np.exp(e.mean() + special.digamma(d0[0] / 2) - np.log(d0[0] / 2))
    np.testing.assert_allclose(steadied["v"] * frame["n"], (d0[0] * s0 + d * s2) / (d0[0] + d))


@pytest.mark.parametrize("spread_df", [8.0, np.inf])
def test_steadied_variances_are_nearer_the_truth_than_their_own(spread_df):
    frame, true = _many(np.random.default_rng(2), 400, spread_df)
    steadied = network.steady_variance(frame)
    own, drawn = (np.mean(np.log(steadied[c] * frame["n"] / true) ** 2) for c in ("v_own", "v"))
    assert drawn < 0.6 * own


def test_steadying_leaves_out_what_has_no_spread_and_keeps_missing_ones_missing():
    frame, _ = _many(np.random.default_rng(3), 6, 6.0)
    frame.loc[0, "v"], frame.loc[1, "n"] = np.nan, np.nan
    steadied = network.steady_variance(frame)
    assert np.isnan(steadied.loc[0, "v"]) and np.isnan(steadied.loc[0, "borrowed"])
    assert steadied.loc[1, "v"] == frame.loc[1, "v"]
    assert steadied.loc[1, "borrowed"] == 0.0
    assert (steadied.loc[2:, "borrowed"] > 0).all()


def test_steadying_two_series_changes_nothing():
    frame, _ = _many(np.random.default_rng(4), 2, 6.0)
    np.testing.assert_allclose(network.steady_variance(frame)["v"], frame["v"])


def test_pooled_spread_of_many_series_is_near_the_truth():
    # the limit: with many series the imputed variance is the common one, whose interval is chi-squared's
    frame, _ = _many(np.random.default_rng(5), 300, np.inf)
    frame.loc[0, "v"] = np.nan
    filled = network.impute_variance(frame)
    df = (frame["n"].iloc[1:] - 1).sum()
    low, high = stats.chi2.interval(0.999, df) / df
    assert low < filled.loc[0, "v"] * frame.loc[0, "n"] / 0.02 < high


@pytest.mark.parametrize(
    ("change", "message"),
    [({"v": [-1.0] * 5}, "v of row 0 .* is -1.0"), ({"n": [0.5] * 5}, "n of row 0 .* is 0.5")],
)
def test_steadying_is_refused(change, message):
    with pytest.raises(network.BadArms, match=message):
        network.steady_variance(SERIES.assign(**change))
