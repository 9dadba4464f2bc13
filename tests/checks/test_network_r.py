"""The network against R.

Source: metafor 3.8.1 (`rma.mv(~ comp | study, rho = 0.5)`) under R 4.2.2, with the between-study variance taken at
the exact root of the restricted score; Senn et al. 2013 for the diabetes data, simulated joint tests for the others
(the files name them).
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from stats.inference import network
from stats.inference.inconsistency import design_by_treatment
from tests.checks.reading import reference

LOGS = {"nma_joints_lnrr.json": True, "nma_joints_saturated.json": True, "nma_senn_md.json": False}


def _arms(content, logs):
    a = pd.DataFrame(content["data"]["arms"])
    y = np.log(a["mean"]) if logs else a["mean"]
    v = a["sd"] ** 2 / a["n"] / (a["mean"] ** 2 if logs else 1.0)
    return pd.DataFrame({"study": a["study"], "joint": a["treatment"], "y": y, "v": v})


def _from_arms(content, logs):
    return network.fit(_arms(content, logs), content["expected"]["reference"], knapp_hartung=False)


def _from_contrasts(content, logs):
    columns = {"treat": "joint", "base": "versus", "yi": "y", "vi": "v"}
    return network.fit_contrasts(
        pd.DataFrame(content["data"]["contrasts"]).rename(columns=columns),
        content["expected"]["reference"],
        covariances=content["data"]["V_blocks"],
        knapp_hartung=False,
    )


@pytest.fixture(params=[(f, way) for f in LOGS for way in (_from_arms, _from_contrasts)], name="case")
def _case(request):
    file, way = request.param
    content = reference(file)
    return way(content, LOGS[file]), content["expected"], content["tolerance"], LOGS[file]


def test_effects_agree_with_metafor(case):
    found, expected, rtol, _ = case
    names = expected["treatments"]
    effects = found.effects.loc[names]
    np.testing.assert_allclose(found.tau2, expected["tau2"], rtol=rtol)
    np.testing.assert_allclose(effects["estimate"], expected["estimate"], rtol=rtol)
    np.testing.assert_allclose(effects["se"], expected["se"], rtol=rtol)
    np.testing.assert_allclose(effects[["low", "high"]], expected["ci"], rtol=rtol)
    np.testing.assert_allclose(found.covariance.loc[names, names], expected["covariance"], rtol=rtol, atol=1e-15)
    np.testing.assert_allclose(found.criterion, expected["minus2_restricted_logLik_without_XtX"], rtol=rtol)


def test_all_pairs_agree_with_metafor(case):
    found, expected, rtol, _ = case
    pairs = pd.DataFrame(expected["all_pairs"])
    relative = [found.relative(a, b) for a, b in zip(pairs["treat"], pairs["versus"], strict=True)]
    np.testing.assert_allclose([r.estimate for r in relative], pairs["estimate"], rtol=rtol)
    np.testing.assert_allclose([r.se for r in relative], pairs["se"], rtol=rtol)


def test_ranking_agrees_with_metafor(case):
    found, expected, rtol, larger_is_better = case
    ranks = found.ranking(larger_is_better=larger_is_better).set_index("joint")["probability"]
    for joint, p in expected["p_score"].items():
        np.testing.assert_allclose(ranks[joint], p, rtol=rtol)


def test_inconsistency_agrees_with_metafor(case):
    found, expected, rtol, _ = case
    expected = expected["consistency"]
    ours, printed = found.inconsistency, expected["random_tau2_from_consistency_model"]
    assert (ours.df, ours.df_within) == (expected["df"], expected["df_within_designs"])
    np.testing.assert_allclose([ours.q, ours.p], [printed["Q"], printed["p"]], rtol=rtol)

    ours, printed = design_by_treatment(found.profile, 0.0), expected["common_effect"]
    np.testing.assert_allclose(ours.q, printed["Q_between_designs"], rtol=rtol)
    np.testing.assert_allclose(ours.q_within, printed["Q_within_designs"], rtol=rtol)
    np.testing.assert_allclose(ours.p, printed["Q_between_p"], rtol=rtol)
    np.testing.assert_allclose(found.profile.q(0.0), printed["Q_total"], rtol=rtol)


def test_common_effect_agrees_with_metafor(case):
    found, expected, rtol, _ = case
    solved = found.profile.solve(0.0)
    at = [found.joints.index(j) for j in [expected["reference"], *expected["treatments"]]]
    np.testing.assert_allclose(
        (solved.beta[at] - solved.beta[at[0]])[1:], expected["common_effect"]["estimate"], rtol=rtol
    )
    np.testing.assert_allclose(np.sqrt(np.diag(solved.covariance))[at[1:]], expected["common_effect"]["se"], rtol=rtol)
