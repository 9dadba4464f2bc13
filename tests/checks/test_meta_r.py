"""Random-effects pooling against R.

Source: metafor 3.8.1 (`rma.uni`, `predict`, `confint`) under R 4.2.2, each file naming its data; weights and scores
were also solved by hand in the script that made them.
"""

from __future__ import annotations

import numpy as np
import pytest

from stats.inference import pool
from tests.checks.reading import reference

FILES = [
    "meta_bcg_logrr.json",
    "meta_curtis_lnrr.json",
    "meta_homogeneous_lnrr.json",
    "meta_two_studies_lnrr.json",
]
SCALINGS = {"z": False, "knha": True, "adhoc": "adhoc"}
CASES = [(f, m, t) for f in FILES for m in ("REML", "PM", "DL") for t in SCALINGS]


@pytest.mark.parametrize(("file", "method", "test"), CASES)
def test_random_effects_agrees_with_metafor(file, method, test):
    content = reference(file)
    expected = content["expected"][f"{method}_{test}"]
    close = {"rtol": content["tolerance"], "atol": 1e-12}

    pooled = pool.random_effects(
        content["data"]["yi"],
        content["data"]["vi"],
        method=method,
        knapp_hartung=SCALINGS[test],
        prediction="same",
    )

    found = {
        "estimate": pooled.estimate,
        "se": pooled.se,
        "ci": [pooled.interval.low, pooled.interval.high],
        "pi_metafor": [pooled.prediction.low, pooled.prediction.high],
        "tau2": pooled.tau2,
        "I2_percent": 100 * pooled.i2,
        "H2": pooled.h2,
        "Q": pooled.q,
        "Q_p": pooled.q_p,
    }
    for name, value in found.items():
        np.testing.assert_allclose(value, expected[name], err_msg=name, **close)
    assert pooled.df == expected["df"]
    tau2 = pooled.tau2_interval
    np.testing.assert_allclose([tau2.low, tau2.high], content["expected"]["tau2_ci_Qprofile"], **close)


@pytest.mark.parametrize("file", FILES[:3])
@pytest.mark.parametrize("method", ["REML", "PM", "DL"])
def test_prediction_on_two_fewer_degrees_of_freedom_agrees(file, method):
    content = reference(file)
    expected = content["expected"]["pi_t_kminus2"][method]
    pooled = pool.random_effects(content["data"]["yi"], content["data"]["vi"], method=method, knapp_hartung=False)
    found = [pooled.prediction.low, pooled.prediction.high]
    np.testing.assert_allclose(found, expected, rtol=content["tolerance"])


def test_small_study_agrees_with_a_weighted_regression():
    # statsmodels' weighted least squares, as another road to the same line
    import statsmodels.api as sm

    data = reference("meta_bcg_logrr.json")["data"]
    y, s = np.array(data["yi"]), np.sqrt(data["vi"])
    line = sm.WLS(y, sm.add_constant(s), weights=1 / s**2).fit()

    found = pool.small_study(y, s**2)

    np.testing.assert_allclose([found.limit, found.slope], line.params, rtol=1e-10)
    np.testing.assert_allclose([found.se, found.p], [line.bse[1], line.pvalues[1]], rtol=1e-10)
