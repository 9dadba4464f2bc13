"""Between shops: precision, standing, pooling."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from stats.inference import consistency, interlab, pool


def _tests(rng, shops=8, low=2, high=7, between=0.15, within=0.1):
    n = rng.integers(low, high, shops)
    shop = np.repeat(np.arange(shops), n)
    y = 7.5 + rng.normal(0, between, shops)[shop] + rng.normal(0, within, len(shop))
    return pd.DataFrame({"study": [f"shop {i}" for i in shop], "joint": "dowel", "y": y})


def test_precision_of_unequal_shops_is_the_analysis_of_variance():
    tests = _tests(np.random.default_rng(1))
    groups = [g.to_numpy() for _, g in tests.groupby("study")["y"]]
    n = np.array([len(g) for g in groups])
    f = stats.f_oneway(*groups).statistic

    level = interlab.precision(tests).levels.loc["dowel"]

    within = sum(((g - g.mean()) ** 2).sum() for g in groups) / (n.sum() - len(n))
    effective = (n.sum() - (n**2).sum() / n.sum()) / (len(n) - 1)
    np.testing.assert_allclose(level["s_r"] ** 2, within)
    np.testing.assert_allclose(level["s_L"] ** 2, within * (f - 1) / effective)
    np.testing.assert_allclose(level["s_R"] ** 2, level["s_r"] ** 2 + level["s_L"] ** 2)
    np.testing.assert_allclose(level[["r_limit", "R_limit"]] / level[["s_r", "s_R"]].to_numpy(), 2.772, rtol=1e-3)


def test_precision_of_shops_that_agree_has_nothing_between_them():
    tests = pd.DataFrame({"study": list("AABBCC"), "joint": "dowel", "y": [1.0, 2.0, 1.1, 1.9, 1.2, 1.8]})
    level = interlab.precision(tests).levels.loc["dowel"]
    assert level["s_L"] == 0.0
    assert level["s_R"] == level["s_r"]


def test_precision_keeps_joints_apart_and_warns_of_few_shops():
    tests = _tests(np.random.default_rng(2), shops=3)
    both = pd.concat([tests, tests.assign(joint="mitre", y=tests["y"] * 2)])
    found = interlab.precision(both)
    np.testing.assert_allclose(found.levels.loc["mitre", "s_R"], 2 * found.levels.loc["dowel", "s_R"])
    assert [note.split(":")[0] for note in found.notes] == ["dowel", "mitre"]


def test_critical_values_are_passed_by_one_shop_in_two_hundred():
    rng = np.random.default_rng(3)
    shops, n, alpha, trials = 6, 4, 0.02, 20_000
    y = rng.normal(size=(trials, shops, n))
    mean, var = y.mean(axis=2), y.var(axis=2, ddof=1)
    h = (mean - mean.mean(axis=1, keepdims=True)) / mean.std(axis=1, ddof=1, keepdims=True)
    k = np.sqrt(var / var.mean(axis=1, keepdims=True))
    np.testing.assert_allclose((np.abs(h[:, 0]) > consistency.critical_h(shops, alpha)).mean(), alpha, atol=0.004)
    beyond = k[:, 0] > consistency.critical_k(n - 1, shops * (n - 1), alpha)
    np.testing.assert_allclose(beyond.mean(), alpha, atol=0.004)


def test_shop_that_stands_out_is_marked():
    rng = np.random.default_rng(4)
    tests = _tests(rng, shops=8, low=4, high=5, between=0.05)
    tests.loc[tests["study"] == "shop 3", "y"] += 2.0
    shops = interlab.precision(tests).shops.set_index("study")
    assert shops.index[shops["outlying"]].tolist() == ["shop 3"]
    assert shops.loc["shop 3", "h"] > shops.loc["shop 3", "h_critical"]


def test_single_specimen_has_no_k():
    tests = pd.concat([_tests(np.random.default_rng(5)), pd.DataFrame([{"study": "one", "joint": "dowel", "y": 7.5}])])
    row = interlab.precision(tests).shops.set_index("study").loc["one"]
    assert np.isnan(row["k"])
    assert np.isfinite(row["h"])
    assert not row["outlying"]


FRAME = _tests(np.random.default_rng(6))


@pytest.mark.parametrize(
    ("frame", "options", "message"),
    [
        (FRAME.drop(columns="joint"), {}, "lacks the columns joint"),
        (FRAME.iloc[:0], {}, "no rows"),
        (FRAME.assign(y=np.nan), {}, "Row 0 has study 'shop 0', joint 'dowel' and y nan"),
        (FRAME.assign(y=np.inf), {}, "y a finite number"),
        (FRAME.assign(study=None), {}, "all three must be given"),
        (FRAME.assign(study="one"), {}, "dowel was tested by 'one' only"),
        (FRAME.drop_duplicates("study"), {}, "No shop tested dowel twice"),
        (FRAME.assign(y=1.0), {}, "All specimens of dowel are equal within every shop"),
        (FRAME, {"alpha": 0}, "alpha is 0"),
    ],
)
def test_precision_refuses(frame, options, message):
    with pytest.raises(interlab.BadShops, match=message):
        interlab.precision(frame, **options)


def test_standing_sets_each_shop_against_the_others_alone():
    y, v = [7.5, 7.6, 7.4, 7.55, 8.6], [0.004] * 5
    table = interlab.standing(y, v, labels=list("ABCDE")).set_index("study")
    others = pool.random_effects(y[:4], v[:4], knapp_hartung="adhoc")
    row = table.loc["E"]
    np.testing.assert_allclose([row["assigned"], row["u_assigned"]], [others.estimate, others.se])
    expected = np.sqrt(others.tau2 + 0.004)
    np.testing.assert_allclose(row["z"], (8.6 - others.estimate) / np.sqrt(expected**2 + others.se**2))
    np.testing.assert_allclose(row["zeta"], (8.6 - others.estimate) / np.sqrt(0.004 + others.se**2))
    assert row["verdict"] == "out of line"
    assert (table.drop(index="E")["verdict"] == "in line").all()


def test_standing_counts_the_uncertainty_of_the_assigned_value():
    # ISO 13528: z' = z sigma / sqrt(sigma^2 + u^2), always nearer zero than z
    table = interlab.standing([7.5, 7.7, 7.3, 7.6, 7.9], [0.01] * 5, sigma=0.2)
    plain = (table["y"] - table["assigned"]) / 0.2
    np.testing.assert_allclose(table["z"], plain * 0.2 / np.hypot(0.2, table["u_assigned"]))
    assert (np.abs(table["z"]) < np.abs(plain)).all()


def test_standing_of_shops_that_differ_by_chance_calls_few_out_of_line():
    rng = np.random.default_rng(9)
    beyond = []
    for _ in range(60):
        v = rng.uniform(0.001, 0.01, 10)
        beyond += list(interlab.standing(rng.normal(0, np.sqrt(v + 0.01)), v)["z"])
    assert 0.02 < np.mean(np.abs(beyond) > 2) < 0.10


@pytest.mark.parametrize(
    ("y", "options", "message"),
    [
        ([1.0, 2.0, 3.0], {}, "3 shops were given; a shop's standing needs at least three others"),
        ([1.0, 2.0, 3.0, 4.0], {"sigma": 0.0}, "sigma is 0.0"),
        ([1.0, 2.0, 3.0, 4.0], {"labels": list("ABCD"), "only": "E"}, "only is 'E'; it must be one of the shops: A, B"),
    ],
)
def test_standing_refuses(y, options, message):
    with pytest.raises(interlab.BadShops, match=message):
        interlab.standing(y, [0.01] * len(y), **options)
    with pytest.raises(pool.BadContrasts, match="v of study #1 is -1.0"):
        interlab.standing([1.0] * 4, [-1.0] * 4)


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), shift=st.floats(-3, 3))
def test_moving_all_values_changes_no_score(seed, shift):
    tests = _tests(np.random.default_rng(seed))
    one, other = interlab.precision(tests), interlab.precision(tests.assign(y=tests["y"] + shift))
    np.testing.assert_allclose(one.shops[["h", "k"]], other.shops[["h", "k"]], rtol=1e-6, atol=1e-8)
    np.testing.assert_allclose(one.levels["s_R"], other.levels["s_R"], rtol=1e-6)


def test_poolable_tells_batches_that_differ():
    rng = np.random.default_rng(10)
    same = {name: rng.normal(7.5, 0.1, 8) for name in "ABC"}
    found = interlab.poolable(same)
    assert (found.poolable, found.n, found.notes) == (True, (8, 8, 8), ())
    apart = interlab.poolable({**same, "C": same["C"] + 0.5})
    assert not apart.poolable
    assert (apart.p, apart.p_is) == (0.001, "at most")


def test_poolable_says_when_its_p_lies_beyond_the_table():
    found = interlab.poolable({"A": [1, 2, 3, 4, 5.0], "B": [1.1, 2.1, 2.9, 3.9, 5.1]})
    assert (found.p, found.p_is) == (0.25, "at least")
    assert "Few specimens" in found.notes[0]


@pytest.mark.parametrize(
    ("groups", "options", "message"),
    [
        ({"A": [1, 2.0]}, {}, "1 group was given"),
        ({"A": [1, 2.0], "B": [1.0]}, {}, "Group 'B' has 1 values"),
        ({"A": [1, 2.0], "B": [1.0, np.nan]}, {}, "Group 'B' holds a value that is not finite"),
        ({"A": [1, 1.0], "B": [1.0, 1.0]}, {}, "All values of all groups are equal"),
        ({"A": [1, 2.0], "B": [1.0, 2.0]}, {"alpha": 0.5}, "alpha is 0.5; the tabled range"),
    ],
)
def test_poolable_refuses(groups, options, message):
    with pytest.raises(interlab.BadShops, match=message):
        interlab.poolable(groups, **options)
