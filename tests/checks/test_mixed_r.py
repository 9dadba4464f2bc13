"""The mixed model against R.

Source: lme4 1.1.31 under R 4.2.2 with the exact restricted-likelihood root by Fisher scoring; Davies and Goldsmith
1972 (Pastes), Box and Tiao 1973 (Dyestuff), Pinheiro and Bates 2000 (ergoStool), simulated joint tests.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from stats.inference import mixed
from tests.checks.reading import reference

JOINTS = ["mortise_tenon", "dowel", "biscuit", "half_lap"]


def _joints(series):
    content = reference("lmm_joints_log.json")
    d = pd.DataFrame(content["data"])
    frame = pd.DataFrame({"study": d["study"], "joint": d["treatment"], "value": d["y"]})
    if series:
        frame["series"] = d["batch"]
    order = d["treatment"].map(JOINTS.index).sort_values(kind="stable").index
    expected = content["expected"]["study_and_batch" if series else "study_only"]
    levels = {"study": "study", "batch:study": "series"} if series else {"study": "study"}
    return frame.loc[order], True, expected, content["tolerance"], levels


def _pastes():
    content = reference("lmm_pastes.json")
    d = content["data"]
    frame = pd.DataFrame({"study": d["batch"], "joint": "p", "series": d["cask"], "value": d["strength"]})
    levels = {"cask:batch": "series", "batch": "study"}
    return frame, False, content["expected"]["nested"], content["tolerance"], levels


def _ergostool():
    content = reference("lmm_ergostool.json")
    d = content["data"]
    frame = pd.DataFrame({"study": d["subject"], "joint": d["type"], "value": d["effort"]})
    frame = frame.sort_values("joint", kind="stable")
    return frame, False, content["expected"], content["tolerance"], {"Subject": "study"}


def _dyestuff(name):
    content = reference("lmm_dyestuff.json")
    d = content["data"][name]
    frame = pd.DataFrame({"study": d["batch"], "joint": "p", "value": d["yield"]})
    return frame, False, content["expected"][name], content["tolerance"], {"Batch": "study"}


CASES = {
    "joints, study": lambda: _joints(False),
    "joints, study and batch": lambda: _joints(True),
    "pastes": _pastes,
    "ergostool": _ergostool,
    "dyestuff": lambda: _dyestuff("dyestuff"),
    "dyestuff2, nothing between batches": lambda: _dyestuff("dyestuff2"),
}


@pytest.mark.parametrize("name", CASES)
def test_mixed_agrees_with_lme4(name):
    frame, logs, expected, rtol, levels = CASES[name]()

    found = mixed.fit(frame, log=logs)

    np.testing.assert_allclose(
        [found.intercept, *found.effects["estimate"]], list(expected["fixed"].values()), rtol=rtol
    )
    np.testing.assert_allclose([found.intercept_se, *found.effects["se"]], list(expected["se"].values()), rtol=rtol)
    np.testing.assert_allclose(found.covariance, expected["covariance"], rtol=rtol)
    np.testing.assert_allclose(found.criterion, expected["REML_criterion"], rtol=rtol)
    variance = expected.get("variance_score_root", expected["variance"])
    for theirs, ours in {**levels, "Residual": "residual"}.items():
        np.testing.assert_allclose(found.variance[ours], variance[theirs], rtol=1e-6, err_msg=ours)
    for theirs, effects in expected.get("random_effects", {}).items():
        for label, value in effects.items():
            key = tuple(label.split(":")[::-1]) if ":" in label else label
            np.testing.assert_allclose(found.random_effects[levels[theirs]][key], value, rtol=rtol, atol=1e-6)


def test_ratio_intervals_agree_with_lme4():
    frame, logs, expected, rtol, _ = _joints(False)
    effects = mixed.fit(frame, log=logs).effects
    for joint, printed in expected["ratio_exp_wald_z"].items():
        row = effects.loc[joint.removeprefix("treatment")]
        np.testing.assert_allclose(np.exp(row[["estimate", "low", "high"]]), printed, rtol=rtol)
