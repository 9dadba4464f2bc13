"""Censored Weibull and lognormal fits against R.

Sources: `survreg` of R's survival 3.5.3 (R 4.2.2) on the ovarian data (Edmunson et al. 1979) and on 63 glass
fibres (Smith and Naylor 1987), whole and with run-outs at 1.70. The Weibull fit of the fibres is also in
print: shape 5.781, scale 1.628, log-likelihood -15.207.
"""

from __future__ import annotations

import numpy as np
import pytest

from stats.inference import censored
from tests.checks.reading import reference

RTOL = 1e-6  # as the reference files state

OVARIAN = reference("censored_ovarian.json")
FIBRES = reference("censored_glass_fibre.json")
CASES = {
    "ovarian": (OVARIAN["data"], OVARIAN["expected"]),
    "fibres": (FIBRES["data"]["complete"], FIBRES["expected"]["complete"]),
    "fibres-runout": (FIBRES["data"]["runout_at_1.70"], FIBRES["expected"]["runout_at_1.70"]),
}


@pytest.fixture(params=CASES, name="case")
def _case(request):
    data, expected = CASES[request.param]
    return data["time"], data["event"], expected


@pytest.mark.parametrize("model", ["weibull", "lognormal"])
def test_fit_agrees_with_survreg(case, model):
    time, event, every = case
    expected = every[model]
    fit = censored.fit(time, event, model)
    names = ("shape", "scale") if model == "weibull" else ("mean_log", "sd_log")
    printed = ("shape", "scale") if model == "weibull" else ("meanlog", "sdlog")
    for name, other in zip(names, printed, strict=True):
        assert getattr(fit, name) == pytest.approx(expected[other], rel=RTOL)
    assert fit.loglik == pytest.approx(expected["logLik"], rel=RTOL)
    assert fit.aic == pytest.approx(expected["AIC"], rel=RTOL)
    # an off-diagonal of 1e-18 in the reference is zero but for rounding
    np.testing.assert_allclose(fit.covariance, expected["cov_natural"], rtol=RTOL, atol=1e-12)
    np.testing.assert_allclose(fit.location_covariance, expected["cov_intercept_logscale"], rtol=RTOL, atol=1e-12)
    assert (fit.n, fit.n - fit.held) == (every["n"], every["n_failed"])


@pytest.mark.parametrize("model", ["weibull", "lognormal"])
def test_quantile_agrees_with_survreg(case, model):
    time, event, every = case
    expected = every[model]
    fit = censored.fit(time, event, model)
    fifth = fit.quantile(0.05, level=0.95)
    assert fifth.estimate == pytest.approx(expected["p05"], rel=RTOL)
    assert fifth.se_log == pytest.approx(expected["p05_se_log"], rel=RTOL)
    assert (fifth.interval.low, fifth.interval.high) == pytest.approx(expected["p05_ci95_log_scale"], rel=RTOL)
    assert fit.quantile(0.5).estimate == pytest.approx(expected["median"], rel=RTOL)
    one_sided = fit.quantile(0.05, level=0.90).interval.low
    assert one_sided == pytest.approx(expected["p05_lower95_one_sided_log_scale"], rel=RTOL)


def test_glass_fibres_agree_with_print():
    fit = censored.fit_weibull(FIBRES["data"]["complete"]["time"])
    assert (fit.shape, fit.scale, fit.loglik) == pytest.approx((5.781, 1.628, -15.207), abs=5e-4)
