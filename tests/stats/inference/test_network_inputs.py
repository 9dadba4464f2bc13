"""What a network is given besides plain series: moderators and contrasts."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from stats.inference import network
from tests.stats.inference import plain_network
from tests.stats.inference.books import make_arms


def _dense_book(seed=1, series=2):
    rng = np.random.default_rng(seed)
    arms = make_arms(rng, 15, joints=4)
    arms = pd.concat([arms] * series, ignore_index=True)
    arms["density_kgm3"] = rng.uniform(450, 800, len(arms))
    arms["y"] += 0.001 * (arms["density_kgm3"] - 600) + rng.normal(0, 0.03, len(arms))
    return arms


def test_moderator_agrees_with_one_matrix_over_all_series():
    arms = _dense_book()
    found = network.fit(arms, "j0", moderators=["density_kgm3"], knapp_hartung=False)
    plain = plain_network.fit(arms, "j0", moderators=("density_kgm3",))
    np.testing.assert_allclose(found.tau2, plain.tau2, rtol=1e-6)
    np.testing.assert_allclose(found.effects.loc[plain.estimate.index, "estimate"], plain.estimate, rtol=1e-6)
    np.testing.assert_allclose(found.moderators["estimate"], plain.slopes, rtol=1e-6)
    assert found.moderators.index.tolist() == ["density_kgm3"]
    assert (
        abs(found.moderators.loc["density_kgm3", "estimate"] - 0.001) < 4 * found.moderators.loc["density_kgm3", "se"]
    )


def test_moderator_in_words_is_a_column_for_each_level_but_the_first():
    arms = _dense_book()
    glue = np.random.default_rng(3).choice(["epoxy", "hide glue", "PVA"], len(arms))
    found = network.fit(arms.assign(glue=glue), "j0", moderators=["glue"])
    assert found.moderators.index.tolist() == ["glue[epoxy]", "glue[hide glue]"]
    by_hand = arms.assign(a=(glue == "epoxy") * 1.0, b=(glue == "hide glue") * 1.0)
    plain = plain_network.fit(by_hand, "j0", moderators=("a", "b"))
    np.testing.assert_allclose(found.moderators["estimate"], plain.slopes, rtol=1e-6)


def test_moderator_influence_and_inconsistency_hold_together():
    arms = _dense_book()
    found = network.fit(arms, "j0", moderators=["density_kgm3"])
    table = found.influence().set_index("study")
    study = table.index[4]
    left = network.fit(arms[arms["study"] != study], "j0", moderators=["density_kgm3"])
    solved = left.profile.solve(found.tau2)
    joint = table.loc[study, "joint"]
    i, r = left.joints.index(joint), left.joints.index("j0")
    shift = solved.beta[i] - solved.beta[r] - found.effects.loc[joint, "estimate"]
    np.testing.assert_allclose(table.loc[study, "shift"], shift, rtol=1e-8)

    # design-by-treatment by hand: a network in which every design has joints of its own
    design = arms.groupby("study")["joint"].transform(lambda j: "+".join(sorted(set(j))))
    own = arms.assign(joint=arms["joint"] + " of " + design)
    q_own = network.fit(own, own["joint"].iloc[0], moderators=["density_kgm3"]).profile.q(found.tau2)
    np.testing.assert_allclose(found.inconsistency.q, found.profile.q(found.tau2) - q_own, rtol=1e-8)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"m": "study"}, "m is the same for all series of every study"),
        ({"m": "joint"}, "The moderator m can't be told apart from studies, joints"),
        ({"m": [np.nan] + [1.0] * 5}, "m of row 0 .* is nan; it must be a finite number"),
        ({"m": [None, "a", "b", "a", "b", "a"]}, "m of row 0 .* is missing; give its level"),
    ],
)
def test_moderator_that_can_not_be_used_is_refused(change, message):
    arms = pd.DataFrame(
        {"study": list("AABBCC"), "joint": list("xyxzyz"), "y": [7, 7.1, 7, 7.3, 7.2, 7.1], "v": [0.01] * 6}
    )
    codes = {"study": [1.0, 1, 2, 2, 3, 3], "joint": [1.0, 2, 1, 3, 2, 3]}
    column = change["m"] if isinstance(change["m"], list) else codes[change["m"]]
    with pytest.raises(network.BadArms, match=message):
        network.fit(arms.assign(m=column), "x", moderators=["m"])


CONTRASTS = pd.DataFrame(
    [("A", "x", "y", 0.1, 0.01), ("A", "z", "y", 0.3, 0.02), ("B", "z", "x", 0.25, 0.01)],
    columns=["study", "joint", "versus", "y", "v"],
)
SHARED = {"A": [[0.01, 0.004], [0.004, 0.02]]}


@pytest.mark.parametrize(
    ("contrasts", "covariances", "message"),
    [
        (CONTRASTS, {}, "Study 'A' has 2 contrasts, which share an arm; give their covariance"),
        (CONTRASTS, {"A": [[0.01]]}, r"covariance of study 'A' is \(1, 1\); its contrasts need \(2, 2\)"),
        (CONTRASTS, {"A": [[0.01, 0.1], [0.1, 0.02]]}, "covariance of study 'A' is not positive definite"),
        (CONTRASTS, {"A": [[0.01, 0.1], [0.2, 0.02]]}, "must be finite and symmetric"),
        (CONTRASTS, {"A": [[0.01, np.nan], [np.nan, 0.02]]}, "must be finite and symmetric"),
        (CONTRASTS, {"A": [[0.02, 0.0], [0.0, 0.02]]}, "other variances on its diagonal"),
        (CONTRASTS, {**SHARED, "Z": [[1.0]]}, "covariances names study 'Z'"),
        (CONTRASTS.assign(y=np.nan), SHARED, "y of row 0 .* is nan"),
        (CONTRASTS.assign(v=-1.0), SHARED, "v of row 0 .* is -1.0"),
        (CONTRASTS.assign(versus=None), SHARED, "versus is missing"),
        (CONTRASTS.assign(joint="y", versus="y"), SHARED, "contrasts on 1 joints"),
        (CONTRASTS.drop(columns="versus"), SHARED, "lacks the columns versus"),
        (CONTRASTS[CONTRASTS["study"] == "B"], None, "Only study 'B' gives contrasts"),
    ],
)
def test_contrasts_are_refused(contrasts, covariances, message):
    with pytest.raises((network.BadArms, network.TooFewStudies), match=message):
        network.fit_contrasts(contrasts, "x", covariances=covariances)


def test_contrasts_with_a_covariance_of_no_common_arm_solve_by_least_squares():
    # a covariance that no set of arms gives (negative), checked against generalised least squares written out
    v = np.array([[0.01, -0.004], [-0.004, 0.02]])
    found = network.fit_contrasts(CONTRASTS, "y", covariances={"A": v}, knapp_hartung=False)
    whole = np.zeros((3, 3))
    whole[:2, :2], whole[2, 2] = v, 0.01
    between = np.array([[1, 0.5, 0], [0.5, 1, 0], [0, 0, 1]])
    x = np.array([[1, 0], [0, 1], [-1, 1.0]])
    w = np.linalg.inv(whole + found.tau2 * between)
    covariance = np.linalg.inv(x.T @ w @ x)
    np.testing.assert_allclose(found.covariance.loc[["x", "z"], ["x", "z"]], covariance)
    np.testing.assert_allclose(
        found.effects.loc[["x", "z"], "estimate"], covariance @ x.T @ w @ CONTRASTS["y"].to_numpy()
    )
