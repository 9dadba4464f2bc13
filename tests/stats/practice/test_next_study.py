"""Where one more study tells most: checked by adding it and solving the network anew."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import special

from stats.errors import StatsError
from stats.inference import network
from stats.inference.arms import read_arms
from stats.inference.planning import sd_log_from_cv
from stats.inference.profile import Profile
from stats.inference.study_rows import rows_from_cells
from stats.practice.next_study import next_study
from tests.stats.inference.books import make_arms

N, CV = 6, 0.15


@pytest.fixture(scope="module")
def book():
    return make_arms(np.random.default_rng(3), 14, joints=6)


@pytest.fixture(scope="module")
def fitted(book):
    return network.fit(book, "j0")


def half_widths(found, arms, df):
    """Half widths of all prediction intervals with these arms, tau2 and scale kept: solved from scratch."""
    cells, _ = read_arms(arms)
    names = list(cells.joints)
    order = [names.index(joint) for joint in found.joints]
    profile = Profile(rows_from_cells(cells), np.array([names.index(found.reference)]))
    c = profile.solve(found.tau2).covariance[np.ix_(order, order)]
    variance = np.diag(c)[:, None] + np.diag(c)[None, :] - 2 * c
    i, j = np.triu_indices(len(order), 1)
    quantile = special.stdtrit(max(1, df - 1), (1 + found.level) / 2)
    return quantile * np.sqrt(variance[i, j] * max(found.scale, 1.0) + found.tau2)


def with_study(book, a, b):
    v = sd_log_from_cv(CV) ** 2 / N
    further = pd.DataFrame({"study": "next", "joint": [a, b], "y": [8.0, 8.1], "v": v})
    return pd.concat([book, further], ignore_index=True)


def test_next_study_is_what_solving_anew_gives_for_every_pair(book, fitted):
    found = next_study(fitted, n=N, cv=CV)

    assert len(found.table) == 15
    assert found.table["before"].iloc[0] == pytest.approx(half_widths(fitted, book, fitted.df).mean())
    for row in found.table.itertuples():
        anew = half_widths(fitted, with_study(book, row.joint, row.versus), fitted.df + 1)
        assert row.after == pytest.approx(anew.mean(), rel=1e-9), (row.joint, row.versus)
        assert row.gain == pytest.approx(1 - row.after / row.before)
    assert found.table["gain"].is_monotonic_decreasing
    assert not found.table["joins"].any()


def test_next_study_for_one_comparison_is_that_comparison_itself(book, fitted):
    found = next_study(fitted, n=N, cv=CV, contrast=("j4", "j5"))

    top = found.table.iloc[0]
    assert {top["joint"], top["versus"]} == {"j4", "j5"}
    now = fitted.relative("j4", "j5").prediction
    assert top["before"] == pytest.approx((now.high - now.low) / 2)
    pairs = list(zip(*np.triu_indices(6, 1), strict=True))
    at = pairs.index(tuple(sorted(fitted.joints.index(joint) for joint in ("j4", "j5"))))
    anew = half_widths(fitted, with_study(book, "j4", "j5"), fitted.df + 1)[at]
    assert top["after"] == pytest.approx(anew)
    assert found.goal.endswith("the comparison of j4 with j5")


def test_next_study_counts_the_studies_that_hold_both_now(fitted):
    found = next_study(fitted, pairs=[("j0", "j1"), ("j4", "j5")]).table.set_index(["joint", "versus"])

    for (a, b), row in found.iterrows():
        assert row["studies"] == fitted.relative(a, b).studies
    assert len(found) == 2


def test_more_specimens_never_tell_less(fitted):
    few, many = (next_study(fitted, n=n, pairs=[("j1", "j2")]).table["after"][0] for n in (3, 60))

    assert many < few


def test_next_study_that_links_parts_comes_first_and_says_how_much_it_unlocks(book):
    apart = make_arms(np.random.default_rng(9), 6, joints=3).replace({f"j{i}": f"k{i}" for i in range(3)})
    apart["study"] = "far " + apart["study"]
    found_network = network.fit(pd.concat([book, apart], ignore_index=True), "j0")

    found = next_study(found_network, n=N, cv=CV)

    top = found.table.iloc[0]
    assert top["joins"] and top["unlocks"] == 18 and top["gain"] == 0.0
    assert found.table["joins"].sum() == 18
    assert found.table["joins"].tolist() == sorted(found.table["joins"], reverse=True)


def test_next_study_for_a_comparison_that_nothing_links(book):
    apart = make_arms(np.random.default_rng(9), 6, joints=3).replace({f"j{i}": f"k{i}" for i in range(3)})
    apart["study"] = "far " + apart["study"]
    both = pd.concat([book, apart], ignore_index=True)
    found_network = network.fit(both, "j0")

    found = next_study(found_network, n=N, cv=CV, contrast=("j1", "k1"))

    assert np.isinf(found.table["before"]).all()
    top = found.table.iloc[0]
    assert {top["joint"], top["versus"]} == {"j1", "k1"}
    pairs = list(zip(*np.triu_indices(len(found_network.joints), 1), strict=True))
    a, b = sorted(found_network.joints.index(joint) for joint in ("j1", "k1"))
    anew = half_widths(found_network, with_study(both, "j1", "k1"), found_network.df)[pairs.index((a, b))]
    assert top["after"] == pytest.approx(anew)
    # one step away on either side it costs what lies between
    other = found.table.set_index(["joint", "versus"])["after"]
    assert np.isfinite(other).sum() == 18 and (other.dropna() >= top["after"] - 1e-12).all()


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"n": 1}, "n is 1"),
        ({"cv": 0}, "cv is 0"),
        ({"pairs": []}, r"pairs \(none given\)"),
        ({"pairs": [("j0", "elsewhere")]}, "'elsewhere' is not a joint of this network"),
        ({"contrast": ("j0", "j0")}, "'j0' is compared with itself"),
    ],
)
def test_next_study_refuses_what_cannot_be(fitted, given, message):
    with pytest.raises(StatsError, match=message):
        next_study(fitted, **given)


def test_next_study_of_a_network_without_repeats_asks_for_one():
    arms = pd.DataFrame(
        [("A", "a", 1.0, 0.01), ("A", "b", 1.1, 0.01), ("B", "b", 1.0, 0.01), ("B", "c", 1.2, 0.01)],
        columns=["study", "joint", "y", "v"],
    )
    with pytest.raises(StatsError, match="no between-study variance: every comparison rests on one study"):
        next_study(network.fit(arms, "a"))
