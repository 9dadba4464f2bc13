from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from stats.errors import StatsError, StatsWarning
from stats.footing.calibration import BadCalibration, fit

KNOWN_N = [0.0, 98.1, 196.1, 294.2, 392.3]
READINGS_N = [0.5, 97.0, 194.0, 292.5, 388.0]


def test_fit_agrees_with_sums_written_out():
    found = fit(KNOWN_N, READINGS_N)

    x, y = np.array(READINGS_N), np.array(KNOWN_N)
    across = ((x - x.mean()) ** 2).sum()
    gain = ((x - x.mean()) * (y - y.mean())).sum() / across
    zero = y.mean() - gain * x.mean()
    s = math.sqrt(((y - zero - gain * x) ** 2).sum() / 3)
    assert (found.zero, found.gain, found.residual_sd) == pytest.approx((zero, gain, s))
    assert (found.n, found.dof) == (5, 3)
    for reading in (10.0, 200.0, 380.0):
        value, u = found.correct(reading)
        line = s**2 * (1 / 5 + (reading - x.mean()) ** 2 / across)
        assert value == pytest.approx(zero + gain * reading)
        assert found.line_u_n(reading) == pytest.approx(math.sqrt(line))
        assert u == pytest.approx(math.sqrt(s**2 + line))
        half = stats.t.ppf(0.975, 3) * u
        interval = found.interval(reading)
        assert (interval.low, interval.high, interval.level) == pytest.approx((value - half, value + half, 0.95))


def test_fit_of_a_gain_only_agrees_with_sums_written_out():
    found = fit(KNOWN_N[1:], READINGS_N[1:], method="gain only")

    x, y = np.array(READINGS_N[1:]), np.array(KNOWN_N[1:])
    gain = (x * y).sum() / (x**2).sum()
    s = math.sqrt(((y - gain * x) ** 2).sum() / 3)
    assert (found.zero, found.gain, found.residual_sd, found.dof) == pytest.approx((0, gain, s, 3))
    assert found.line_u_n(200.0) == pytest.approx(200 * s / math.sqrt((x**2).sum()))
    assert found.covariance[0].tolist() == found.covariance[:, 0].tolist() == [0, 0]


def test_correct_takes_readings_together_as_one_by_one():
    found = fit(KNOWN_N, READINGS_N, 0.5)

    values, u = found.correct([50.0, 300.0])

    assert values.tolist() == [found.correct(50.0)[0], found.correct(300.0)[0]]
    assert u.tolist() == [found.correct(50.0)[1], found.correct(300.0)[1]]


def test_exact_readings_leave_nothing_uncertain():
    x = np.array([0.0, 100.0, 200.0, 300.0])
    found = fit(2 + 1.1 * x, x)

    value, u = found.correct(150.0)
    assert (found.zero, found.gain) == pytest.approx((2, 1.1))
    assert (value, u) == pytest.approx((167, 0), abs=1e-9)
    assert found.interval(150.0).low == pytest.approx(167)


@pytest.mark.parametrize("method", ["zero and gain", "gain only"])
def test_known_uncertainty_agrees_with_fitting_all_weights_heavier(method):
    u = np.array([0.2, 0.5, 0.9, 1.5])
    exact, found = (fit(KNOWN_N[1:], READINGS_N[1:], each, method=method) for each in (None, u))
    heavier = fit(KNOWN_N[1:] + u, READINGS_N[1:], method=method)

    for reading in (100.0, 250.0):
        shift = heavier.correct(reading)[0] - exact.correct(reading)[0]
        assert found.correct(reading)[0] == exact.correct(reading)[0]
        assert found.correct(reading)[1] == pytest.approx(math.hypot(exact.correct(reading)[1], shift))


def test_known_uncertainty_does_not_average_out_over_points():
    x = np.linspace(10, 400, 4000)
    found = fit(x, x + np.random.default_rng(3).normal(0, 0.5, x.size), 0.01 * x)

    assert found.line_u_n(300.0) == pytest.approx(3, rel=0.01)
    assert found.widening == pytest.approx(1, abs=0.001)


def test_interval_with_weights_surely_known_nears_that_of_a_normal_error():
    scatter_first, weights_first = fit(KNOWN_N, READINGS_N), fit(KNOWN_N, READINGS_N, 1000.0)

    for found, t in ((scatter_first, stats.t.ppf(0.975, 3)), (weights_first, stats.norm.ppf(0.975))):
        value, u = found.correct(200.0)
        assert (found.interval(200.0).high - value) / u == pytest.approx(t, rel=1e-4)


def test_interval_covers_as_often_as_it_says():
    rng = np.random.default_rng(20)
    known = np.repeat([50.0, 150.0, 300.0], 2)
    covered = widened = 0
    runs = 400
    for _ in range(runs):
        shown = (known - 1) / 1.02 + rng.normal(0, 0.4, known.size)
        truth = rng.uniform(80, 280)
        reading = float((truth - 1) / 1.02 + rng.normal(0, 0.4))
        found = fit(known, shown)
        value, u = found.correct(reading)
        covered += truth in found.interval(reading, 0.9)
        widened += abs(truth - value) <= 2 * found.widening * u

    assert covered / runs == pytest.approx(0.9, abs=3 * math.sqrt(0.09 / runs))
    assert widened / runs == pytest.approx(0.9545, abs=3 * math.sqrt(0.0434 / runs))


@pytest.mark.parametrize(
    ("reading", "method", "lowest"), [(-5.0, "zero and gain", "0.5"), (400.0, "zero and gain", "0.5"),
                                      (400.0, "gain only", "0")]
)  # fmt: skip
def test_correct_warns_outside_what_was_calibrated(reading, method, lowest):
    found = fit(KNOWN_N[method == "gain only" :], READINGS_N[method == "gain only" :], method=method)

    with pytest.warns(StatsWarning, match=f"{reading:g} N, lie outside the {lowest} to 388 N that were calibrated"):
        found.correct([200.0, reading])
    with pytest.warns(StatsWarning, match="hang weights up to there"):
        found.interval(reading)


@pytest.mark.parametrize(
    ("known", "readings", "more", "message"),
    [
        ([0, 98], [0, 97], {}, r"known_n \(0, 98\) must hold 3 or more different weights for zero and gain"),
        ([98, 98, 196, 196], [97, 97, 195, 194], {}, r"known_n \(98, 196\) must hold 3 or more"),
        ([0, 98, 98], [0, 97, 97.5], {"method": "gain only"}, r"known_n \(98\) must hold 2 or more"),
        ([], [], {}, r"known_n \(none\) must hold 3"),
        ([0, 98, 196], [0, 97], {}, r"readings_n \(shape \(2,\)\) must be a row as long as known_n \(3,\)"),
        ([0, 98, math.nan], [0, 97, 195], {}, r"known_n\[2\] \(nan\) must be a number of 0 or more"),
        ([0, -98, 196], [0, 97, 195], {}, r"known_n\[1\] \(-98\) must be a number of 0 or more"),
        ([0, 98, 196], [0, math.inf, 195], {}, r"readings_n\[1\] \(inf\) must be a number"),
        ([0, 98, 196], [0, 97, 195], {"known_u_n": [1, 2]}, r"known_u_n \(shape \(2,\)\) must be one value or 3"),
        ([0, 98, 196], [0, 97, 195], {"known_u_n": -0.1}, r"known_u_n\[0\] \(-0.1\) must be a number of 0 or more"),
        ([0, 98, 196], [5, 5, 5], {}, r"readings_n \(5 throughout\) must differ"),
        ([0, 98, 196], [195, 97, 0], {}, "readings_n must rise with known_n; the gain came to -1"),
        ([0, 98, 196], [0, 97, 195], {"method": "curve"}, r"method \('curve'\) must be one of zero and gain"),
    ],
)
def test_fit_refuses_what_no_line_can_be_had_from(known, readings, more, message):
    with pytest.raises(BadCalibration, match=message) as caught:
        fit(known, readings, **more)
    assert isinstance(caught.value, StatsError)


def test_interval_and_correct_refuse_what_is_no_number():
    found = fit(KNOWN_N, READINGS_N)

    with pytest.raises(BadCalibration, match=r"level \(95\) must lie between 0 and 1"):
        found.interval(200.0, 95)
    with pytest.raises(BadCalibration, match="reading_n must hold finite numbers"):
        found.correct([1.0, math.nan])
