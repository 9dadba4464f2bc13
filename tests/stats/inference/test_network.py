"""The network of all joints: answers, refusals, and what must not change them."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from stats.inference import network, pool
from tests.stats.inference import plain_network
from tests.stats.inference.books import make_arms


def _arms(rows, **extra):
    return pd.DataFrame(rows, columns=["study", "joint", "y", "v"]).assign(**extra)


TRIANGLE = _arms(
    [
        ("A", "dowel", 7.60, 0.004),
        ("A", "half lap", 7.71, 0.005),
        ("B", "dowel", 7.45, 0.004),
        ("B", "mitre", 6.98, 0.006),
        ("C", "half lap", 7.80, 0.003),
        ("C", "mitre", 7.21, 0.005),
    ]
)
GOOD = {"study": "D", "joint": "dowel", "y": 7.5, "v": 0.004}


def _pair(found, a, b):
    relative = found.relative(a, b)
    return np.array([relative.estimate, relative.se, relative.prediction.low, relative.prediction.high])


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"y": np.nan}, r"y of row 6 \(study 'D', joint 'dowel'\) is nan; it must be a finite mean of logs"),
        ({"y": np.inf}, "y of row 6 .* is inf"),
        ({"y": 2500.0}, "is 2500.0; it must be a finite mean of logs, within 50 of zero"),
        ({"y": "strong"}, "y of row 6 .* is strong"),
        ({"v": 0.0}, "v of row 6 .* is 0.0; it must be a finite variance"),
        ({"v": -0.1}, "v of row 6 .* is -0.1"),
        ({"v": np.inf}, "v of row 6 .* is inf"),
        ({"v": np.nan}, "v of row 6 .* is nan; .* impute_variance"),
        ({"study": None}, "study of row 6 is missing"),
        ({"joint": None}, "joint of row 6 is missing"),
        ({"study": "A", "y": 7.60}, r"row 6 \(study 'A', joint 'dowel'\) repeats an earlier row"),
    ],
)
def test_fit_refuses_a_bad_series(change, message):
    arms = pd.concat([TRIANGLE, pd.DataFrame([{**GOOD, **change}])], ignore_index=True)
    with pytest.raises(network.BadArms, match=message):
        network.fit(arms, "dowel")


def test_fit_refuses_frames_without_columns_or_rows():
    with pytest.raises(network.BadArms, match="lacks the columns v; it has study, joint, y"):
        network.fit(TRIANGLE.drop(columns="v"), "dowel")
    with pytest.raises(network.BadArms, match="no rows"):
        network.fit(TRIANGLE.iloc[:0], "dowel")


def test_fit_refuses_one_study_and_one_arm():
    with pytest.raises(network.TooFewStudies, match="Only study 'A' compares joints"):
        network.fit(TRIANGLE[TRIANGLE["study"] == "A"], "dowel")
    with pytest.raises(network.TooFewStudies, match="No study holds two joints"):
        network.fit(TRIANGLE.iloc[:1], "dowel")
    with pytest.raises(network.TooFewStudies, match="No study holds two joints"):
        network.fit(TRIANGLE.drop_duplicates("study"), "dowel")


def test_fit_refuses_a_reference_it_does_not_hold():
    with pytest.raises(network.BadArms, match="'bridle' is in no row; choose one of dowel, half lap, mitre"):
        network.fit(TRIANGLE, "bridle")
    lonely = pd.concat([TRIANGLE, _arms([("E", "bridle", 7.0, 0.01)])])
    with pytest.raises(network.BadArms, match="'bridle' appears only in studies that tested no other joint"):
        network.fit(lonely, "bridle")


def test_fit_refuses_a_level_that_is_none():
    with pytest.raises(network.BadArms, match="level is 95"):
        network.fit(TRIANGLE, "dowel", level=95)


def test_fit_refuses_variances_that_can_not_be_solved_together():
    arms = TRIANGLE.assign(v=[1e12, 1e12, 1e12, 1e12, 1e-12, 1e-12])
    with pytest.raises(network.BadArms, match="too many orders of magnitude"):
        network.fit(arms, "dowel")


@pytest.mark.parametrize("seed", range(6))
def test_fit_agrees_with_one_matrix_over_all_series(seed):
    rng = np.random.default_rng(seed)
    arms = make_arms(rng, studies=int(rng.integers(6, 30)), tau=[0.0, 0.1, 0.3][seed % 3])
    # some joints of some studies have several series
    again = arms.sample(frac=0.4, random_state=seed)
    arms = pd.concat([arms, again.assign(y=again["y"] + rng.normal(0, 0.05, len(again)))], ignore_index=True)

    found, plain = network.fit(arms, "j0", knapp_hartung=False), plain_network.fit(arms, "j0")

    np.testing.assert_allclose(found.tau2, plain.tau2, rtol=1e-6, atol=1e-9)
    effects = found.effects.loc[plain.estimate.index]
    np.testing.assert_allclose(effects["estimate"], plain.estimate, rtol=1e-7, atol=1e-9)
    np.testing.assert_allclose(
        found.covariance.loc[plain.estimate.index, plain.estimate.index], plain.covariance, rtol=1e-6
    )


def test_fit_of_two_joints_is_the_pool_of_their_ratios():
    rng = np.random.default_rng(4)
    k = 9
    y, v = rng.normal(7.5, 0.3, (k, 2)), rng.uniform(0.003, 0.02, (k, 2))
    arms = _arms(
        [(f"s{i}", joint, y[i, j], v[i, j]) for i in range(k) for j, joint in enumerate(("dowel", "half lap"))]
    )

    found, pooled = network.fit(arms, "dowel"), pool.random_effects(y[:, 1] - y[:, 0], v.sum(axis=1))

    relative = found.relative("half lap", "dowel")
    np.testing.assert_allclose(
        [relative.estimate, relative.se, relative.interval.low, relative.prediction.low, found.tau2],
        [pooled.estimate, pooled.se, pooled.interval.low, pooled.prediction.low, pooled.tau2],
    )
    np.testing.assert_allclose(
        [found.tau2_interval.low, found.tau2_interval.high], [pooled.tau2_interval.low, pooled.tau2_interval.high]
    )
    shares = found.contributions("half lap", "dowel").set_index("study").loc[[f"s{i}" for i in range(k)]]
    np.testing.assert_allclose(shares["weight"], pooled.weights)
    assert shares["direct"].all()


def test_triangle_of_two_joint_studies_solves_by_hand():
    found = network.fit(TRIANGLE, "dowel", knapp_hartung=False)
    # one loop, three independent contrasts of variance v + tau2; the loop fails to close by w
    ab, ac, bc = 0.11, -0.47, -0.59  # half lap, mitre, mitre against half lap
    v_ab, v_ac, v_bc = 0.009 + found.tau2, 0.010 + found.tau2, 0.008 + found.tau2
    w = ab + bc - ac
    total = v_ab + v_ac + v_bc
    np.testing.assert_allclose(found.relative("half lap", "dowel").estimate, ab - w * v_ab / total)
    np.testing.assert_allclose(found.relative("mitre", "dowel").estimate, ac + w * v_ac / total)
    np.testing.assert_allclose(found.relative("mitre", "dowel").se ** 2, v_ac * (v_ab + v_bc) / total)
    np.testing.assert_allclose(found.inconsistency.q, w**2 / total)
    assert found.inconsistency.df == 1
    direct, indirect = found.direct("mitre", "dowel"), found.indirect("mitre", "dowel")
    np.testing.assert_allclose([direct.estimate, direct.se**2], [ac, v_ac])
    np.testing.assert_allclose([indirect.estimate, indirect.se**2], [ab + bc, v_ab + v_bc])
    np.testing.assert_allclose(found.split("mitre", "dowel").difference, (ac - ab - bc, np.sqrt(total)))


def test_direct_and_indirect_pool_to_the_network_where_studies_have_two_joints():
    arms = make_arms(np.random.default_rng(7), studies=40, joints=5)
    arms = arms.groupby("study").head(2)
    found = network.fit(arms, "j0", knapp_hartung=False)
    for a, b in (("j1", "j0"), ("j3", "j2")):
        direct, indirect, both = found.direct(a, b), found.indirect(a, b), found.relative(a, b)
        w = 1 / np.array([direct.se, indirect.se]) ** 2
        np.testing.assert_allclose(both.estimate, np.average([direct.estimate, indirect.estimate], weights=w))
        np.testing.assert_allclose(both.se**2, 1 / w.sum())


def test_split_agrees_with_a_fit_that_has_the_extra_column():
    arms = make_arms(np.random.default_rng(11), studies=25, joints=5)
    both = arms.groupby("study")["joint"].transform(lambda j: {"j1", "j2"} <= set(j))
    column = np.where(both & (arms["joint"] == "j1"), 0.5, 0.0) - np.where(both & (arms["joint"] == "j2"), 0.5, 0.0)
    found = network.fit(arms, "j0", knapp_hartung=False)
    wider = network.fit(arms.assign(side=column), "j0", knapp_hartung=False, moderators=["side"])
    solved = wider.profile.solve(found.tau2)
    i, j = wider.joints.index("j1"), wider.joints.index("j2")
    side = found.split("j1", "j2")
    np.testing.assert_allclose(side.indirect[0], solved.beta[i] - solved.beta[j])
    np.testing.assert_allclose(side.difference, (solved.beta[-1], np.sqrt(solved.covariance[-1, -1])))
    np.testing.assert_allclose(side.direct[0], side.indirect[0] + side.difference[0])
    pick = np.zeros(len(solved.beta))
    pick[[i, j, -1]] = 1, -1, 1
    np.testing.assert_allclose(side.direct[1] ** 2, pick @ solved.covariance @ pick)


def test_evidence_of_a_kind_that_does_not_exist_is_refused():
    chain = TRIANGLE[TRIANGLE["study"] != "C"]
    found = network.fit(chain, "dowel")
    with pytest.raises(network.NotCompared, match="no direct evidence on mitre against half lap: no study holds both"):
        found.direct("mitre", "half lap")
    with pytest.raises(network.NotCompared, match="no indirect evidence on mitre against dowel: only studies that"):
        found.indirect("mitre", "dowel")
    np.testing.assert_allclose(found.direct("mitre", "dowel").estimate, -0.47)
    np.testing.assert_allclose(found.indirect("mitre", "half lap").estimate, -0.58)


def test_comparisons_that_rest_on_single_studies_have_no_between_study_variance_and_say_so():
    found = network.fit(TRIANGLE[TRIANGLE["study"] != "C"], "dowel")
    assert (found.tau2, found.tau2_interval, found.df) == (None, None, 0)
    assert "rests on one study" in found.notes[0]
    relative = found.relative("mitre", "half lap")
    assert (relative.prediction, relative.df) == (None, None)
    np.testing.assert_allclose(relative.se**2, 0.004 + 0.005 + 0.004 + 0.006)
    assert (found.inconsistency.df, found.inconsistency.p) == (0, None)
    assert found.table()["predict_low"].isna().all()


def test_parts_that_nothing_links_are_told_and_refused():
    other = _arms(
        [("E", "bridle", 7.0, 0.01), ("E", "finger", 7.2, 0.01), ("F", "bridle", 7.1, 0.01), ("F", "finger", 7.2, 0.02)]
    )
    alone = _arms([("G", "rabbet", 6.5, 0.01)])
    found = network.fit(pd.concat([TRIANGLE, other, alone]), "dowel")

    assert found.components == (("dowel", "half lap", "mitre"), ("bridle", "finger"), ("rabbet",))
    assert found.set_aside.to_dict("records") == [
        {"study": "G", "joint": "rabbet", "reason": "holds one joint only, so it compares nothing"}
    ]
    assert any("3 parts" in note for note in found.notes)
    with pytest.raises(network.NotCompared, match="No chain of studies links finger to mitre"):
        found.relative("finger", "mitre")
    with pytest.raises(network.NotCompared, match="rabbet appears only in studies that tested no other joint"):
        found.relative("dowel", "rabbet")
    with pytest.raises(network.BadArms, match="'lap' is not a joint of this network"):
        found.relative("lap", "dowel")
    with pytest.raises(network.BadArms, match="compared with itself"):
        found.relative("dowel", "dowel")
    # within its own part a comparison stands, and is in the table; across parts it is in the list of refusals
    assert found.relative("finger", "bridle").studies == 2
    assert len(found.table()) == 3 + 1
    assert len(found.refused()) == 15 - 4
    assert sorted(found.effects.index) == ["half lap", "mitre"]
    assert not found.table().isna().to_numpy().any()


def test_parts_share_one_between_study_variance():
    rng = np.random.default_rng(5)
    one, two = make_arms(rng, 12, joints=4), make_arms(rng, 9, joints=3)
    two = two.assign(study="x" + two["study"], joint="x" + two["joint"])
    found = network.fit(pd.concat([one, two]), "j0", knapp_hartung=False)
    apart = network.fit(two, "xj0", knapp_hartung=False)
    solved = apart.profile.solve(found.tau2)
    i, j = apart.joints.index("xj1"), apart.joints.index("xj0")
    np.testing.assert_allclose(found.relative("xj1", "xj0").estimate, solved.beta[i] - solved.beta[j])


def test_table_agrees_with_relative():
    found = network.fit(TRIANGLE, "dowel")
    for row in found.table().itertuples():
        relative = found.relative(row.joint, row.versus)
        np.testing.assert_allclose(
            [row.estimate, row.se, row.low, row.high, row.predict_low, row.predict_high],
            [relative.estimate, relative.se, *_ends(relative.interval), *_ends(relative.prediction)],
        )
        assert row.studies == relative.studies == 1
    np.testing.assert_allclose(found.relative("mitre", "dowel").ratio, np.exp(found.effects.loc["mitre", "estimate"]))


def _ends(interval):
    return interval.low, interval.high


def test_knapp_hartung_scales_by_the_residual_spread():
    normal, scaled = (network.fit(TRIANGLE, "dowel", knapp_hartung=k) for k in (False, True))
    factor = normal.q / normal.df
    np.testing.assert_allclose(scaled.effects["se"] ** 2, factor * normal.effects["se"] ** 2)
    reach = (scaled.effects["high"] - scaled.effects["estimate"]) / scaled.effects["se"]
    np.testing.assert_allclose(reach, stats.t.ppf(0.975, 1))


def test_ranking_is_highest_for_the_strongest_and_sums_to_half():
    found = network.fit(TRIANGLE, "dowel", knapp_hartung=False)
    ranks = found.ranking()
    assert ranks["joint"].tolist() == ["half lap", "dowel", "mitre"]
    np.testing.assert_allclose(ranks["probability"].mean(), 0.5)
    turned = found.ranking(larger_is_better=False)
    assert turned["joint"].tolist() == ["mitre", "dowel", "half lap"]


@pytest.mark.parametrize("refit", [False, True])
def test_influence_agrees_with_a_fit_without_the_study(refit):
    arms = make_arms(np.random.default_rng(3), studies=14, joints=4)
    found = network.fit(arms, "j0")
    table = found.influence(refit=refit).set_index("study")
    for study in table.index[::3]:
        left = network.fit(arms[arms["study"] != study], "j0")
        solved = left.solution if refit else left.profile.solve(found.tau2)
        if refit:
            np.testing.assert_allclose(table.loc[study, "tau2"], left.tau2, rtol=1e-8, atol=1e-12)
        joint = table.loc[study, "joint"]
        i, r = left.joints.index(joint), left.joints.index("j0")
        shift = solved.beta[i] - solved.beta[r] - found.effects.loc[joint, "estimate"]
        np.testing.assert_allclose(table.loc[study, "shift"], shift, rtol=1e-6, atol=1e-10)
        np.testing.assert_allclose(
            table.loc[study, "shift_in_se"], abs(shift) / found.effects.loc[joint, "se"], rtol=1e-6
        )


@pytest.mark.parametrize("refit", [False, True])
def test_influence_says_which_study_alone_holds_the_network_together(refit):
    bridge = _arms([("D", "mitre", 7.0, 0.005), ("D", "bridle", 7.3, 0.005)])
    table = network.fit(pd.concat([TRIANGLE, bridge]), "dowel").influence(refit=refit).set_index("study")
    assert table["disconnects"].to_dict() == {"A": False, "B": False, "C": False, "D": True}
    assert np.isnan(table.loc["D", "shift"])
    assert table.drop(index="D")["shift"].notna().all()


def test_contributions_sum_to_one_and_mark_direct_studies():
    arms = make_arms(np.random.default_rng(2), studies=20, joints=5)
    found = network.fit(arms, "j0")
    table = found.contributions("j1", "j2")
    np.testing.assert_allclose(table["weight"].sum(), 1.0)
    held = arms.groupby("study")["joint"].agg(set)
    assert set(table.loc[table["direct"], "study"]) == {s for s, j in held.items() if {"j1", "j2"} <= j}


# what must not change any comparison


BOOK = st.tuples(st.integers(0, 2**32 - 1), st.integers(6, 20))


def _same_pairs(one, other, joints=("j0", "j1", "j2", "j5")):
    for a in joints:
        for b in joints:
            if a != b:
                np.testing.assert_allclose(_pair(one, a, b), _pair(other, a, b), rtol=1e-6, atol=1e-8)
    np.testing.assert_allclose(one.tau2, other.tau2, rtol=1e-6, atol=1e-9)


@settings(max_examples=15, deadline=None)
@given(book=BOOK, factor=st.floats(0.01, 100))
def test_scaling_all_loads_changes_no_ratio(book, factor):
    arms = make_arms(np.random.default_rng(book[0]), book[1])
    scaled = arms.assign(y=arms["y"] + np.log(factor))
    _same_pairs(network.fit(arms, "j0"), network.fit(scaled, "j0"))


@settings(max_examples=15, deadline=None)
@given(book=BOOK)
def test_a_factor_of_a_studys_rig_changes_nothing(book):
    rng = np.random.default_rng(book[0])
    arms = make_arms(rng, book[1])
    rig = pd.Series(rng.normal(0, 2, arms["study"].nunique()), index=arms["study"].unique())
    _same_pairs(network.fit(arms, "j0"), network.fit(arms.assign(y=arms["y"] + arms["study"].map(rig)), "j0"))


@settings(max_examples=15, deadline=None)
@given(book=BOOK)
def test_order_and_reference_change_no_comparison(book):
    rng = np.random.default_rng(book[0])
    arms = make_arms(rng, book[1])
    turned = arms.iloc[rng.permutation(len(arms))]
    _same_pairs(network.fit(arms, "j0"), network.fit(turned, "j4"))


@settings(max_examples=15, deadline=None)
@given(book=BOOK, share=st.floats(0.1, 0.9), apart=st.floats(-0.3, 0.3))
def test_splitting_a_series_in_two_changes_nothing(book, share, apart):
    arms = make_arms(np.random.default_rng(book[0]), book[1])
    first = arms.iloc[[0]]
    halves = [
        first.assign(y=first["y"] + apart * (1 - share), v=first["v"] / share, series=1),
        first.assign(y=first["y"] - apart * share, v=first["v"] / (1 - share), series=2),
    ]
    split = pd.concat([arms.iloc[1:], *halves])
    found = network.fit(split, "j0")
    _same_pairs(network.fit(arms, "j0"), found)
    assert found.replicates.df == 1


@settings(max_examples=10, deadline=None)
@given(book=BOOK)
def test_contrasts_to_any_base_give_the_answer_of_the_arms(book):
    rng = np.random.default_rng(book[0])
    arms = make_arms(rng, book[1])
    rows, covariances = [], {}
    for study, a in arms.groupby("study"):
        a = a.iloc[rng.permutation(len(a))]
        base, rest = a.iloc[0], a.iloc[1:]
        rows += [(study, r.joint, base.joint, r.y - base.y, r.v + base.v) for r in rest.itertuples()]
        covariances[study] = np.diag(rest["v"]) + base.v
    contrasts = pd.DataFrame(rows, columns=["study", "joint", "versus", "y", "v"])
    _same_pairs(network.fit(arms, "j0"), network.fit_contrasts(contrasts, "j0", covariances=covariances))


# replicates


def test_series_that_disagree_within_a_study_are_told():
    more = _arms([("A", "dowel", 8.40, 0.004)])
    found = network.fit(pd.concat([TRIANGLE, more]), "dowel")
    np.testing.assert_allclose(found.replicates.q, 0.8**2 / 0.008)
    assert any("more than their errors" in note for note in found.notes)
    assert network.fit(TRIANGLE, "dowel").replicates == network.Replicates(0.0, 0, None)
