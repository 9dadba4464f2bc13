"""The propagation of uncertainty and the calibration line against the examples of the GUM.

Source: JCGM 100:2008, Evaluation of measurement data - Guide to the expression of uncertainty in measurement, annex H.
Its own text was not at hand. Data and results of H.1, H.2 and H.3 were read in two sets of worked examples that quote
it (docs/API/GUM_H1.rst, GUM_H2.rst and GUM_H3.rst of github.com/MSLNZ/GTC; test/test_examples.py and
test/test_GUMH2.csv of github.com/sandialabs/suncal). From memory alone: the third digit of H.3's correlation, its s,
and the example of 5.2.2.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from stats.errors import StatsWarning
from stats.footing import calibration
from stats.footing.propagation import combined, contributions

# H.3, table H.6: thermometer readings and observed corrections [°C]; corrections are fitted about 20 °C
H3_READINGS = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
H3_CORRECTIONS = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]

# H.2, table H.2: voltage [V], current [A], phase [rad]
H2_V = [5.007, 4.994, 5.005, 4.990, 4.999]
H2_I = [0.019663, 0.019639, 0.019640, 0.019685, 0.019678]
H2_PHASE = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433]


@pytest.fixture(name="thermometer")
def _thermometer():
    readings = np.array(H3_READINGS) - 20
    return calibration.fit(readings + np.array(H3_CORRECTIONS), readings)


def test_h3_line_agrees_with_the_gum(thermometer):
    u_zero, u_gain = np.sqrt(np.diag(thermometer.covariance))

    assert thermometer.zero == pytest.approx(-0.1712, abs=5e-5)
    assert u_zero == pytest.approx(0.0029, abs=5e-5)
    assert thermometer.gain - 1 == pytest.approx(0.00218, abs=5e-6)
    assert u_gain == pytest.approx(0.00067, abs=5e-6)
    assert thermometer.covariance[0, 1] / (u_zero * u_gain) == pytest.approx(-0.930, abs=5e-4)
    assert thermometer.residual_sd == pytest.approx(0.0035, abs=5e-5)
    assert thermometer.residual_sd**2 * thermometer.dof == pytest.approx(0.000110096583109, rel=1e-9)
    assert (thermometer.n, thermometer.dof) == (11, 9)


def test_h3_correction_at_30_degrees_agrees_with_the_gum(thermometer):
    with pytest.warns(StatsWarning, match="outside the 1.521 to 6.511"):
        value, u = thermometer.correct(10.0)

    assert value - 10 == pytest.approx(-0.1494, abs=5e-5)
    assert thermometer.line_u_n(10.0) == pytest.approx(0.0041, abs=5e-5)
    # The correction of H.3 is the line's; a new reading has its own scatter besides.
    assert u == pytest.approx(math.hypot(thermometer.line_u_n(10.0), thermometer.residual_sd))


def test_h3_error_common_to_the_standards_widens_the_zero_alone():
    # H.3.6, with the 0.005 °C and the result 0.00577 of the first worked example above
    readings = np.array(H3_READINGS) - 20
    found = calibration.fit(readings + np.array(H3_CORRECTIONS), readings, 0.005)

    u_zero, u_gain = np.sqrt(np.diag(found.covariance))
    assert u_zero == pytest.approx(0.00576893138292676, rel=1e-9)
    assert u_gain == pytest.approx(0.0006679387732278323, rel=1e-9)


def _impedance(x):
    volts, amperes, phase = x
    return np.array([math.cos(phase), math.sin(phase), 1.0]) * volts / amperes


def test_h2_correlated_inputs_agree_with_the_gum():
    data = np.array([H2_V, H2_I, H2_PHASE])
    at, u = data.mean(axis=1), data.std(axis=1, ddof=1) / math.sqrt(5)

    found, shares = combined(contributions(_impedance, at, u), np.corrcoef(data))

    # table H.3: means, u = 0.0032 V, 0.0095 mA, 0.00075 rad, r = -0.36, 0.86, -0.65
    assert u == pytest.approx([0.0032, 0.0000095, 0.00075], rel=0.01)
    assert np.corrcoef(data)[[0, 0, 1], [1, 2, 2]] == pytest.approx([-0.36, 0.86, -0.65], abs=0.005)
    # table H.4; its 0.295 carries rounding of the GUM's own, the data give 0.2956
    assert _impedance(at) == pytest.approx([127.732, 219.847, 254.260], abs=5e-4)
    assert found == pytest.approx([0.071, 0.295, 0.236], abs=1e-3)
    assert shares.sum(axis=0) == pytest.approx([1, 1, 1])


def test_h1_end_gauge_agrees_with_the_gum():
    # l = l_s + d0 + d1 + d2 - l_s (dα (θ + Δ) + α_s dθ) [nm, 1/°C, °C], limits as the GUM gives them
    def length(x):
        standard, d0, d1, d2, alpha, d_alpha, d_theta, theta, cycle = x
        return standard + d0 + d1 + d2 - standard * (d_alpha * (theta + cycle) + alpha * d_theta)

    at = [50_000_623.0, 215.0, 0.0, 0.0, 11.5e-6, 0.0, 0.0, -0.1, 0.0]
    u = [25.0, 5.8, 3.9, 6.7, 2e-6 / 3**0.5, 1e-6 / 3**0.5, 0.05 / 3**0.5, 0.2, 0.5 / 2**0.5]

    parts = contributions(length, at, u)

    assert length(at) == pytest.approx(50_000_838)
    assert np.abs(parts) == pytest.approx([25, 5.8, 3.9, 6.7, 0, 2.88679, 16.599, 0, 0], abs=5e-4)
    assert float(combined(parts)[0]) == pytest.approx(32, abs=0.5)


@pytest.mark.parametrize(("r", "u_ohm"), [(1.0, 1.0), (0.0, 0.32)])
def test_ten_resistors_on_one_standard_agree_with_the_gum(r, u_ohm):
    # 5.2.2, example: ten of 1000 Ω in series, each compared with one standard of u = 100 mΩ
    correlation = np.full((10, 10), r) + (1 - r) * np.eye(10)

    found, _ = combined(contributions(np.sum, np.full(10, 1000.0), np.full(10, 0.1)), correlation)

    assert float(found) == pytest.approx(u_ohm, abs=0.005)
