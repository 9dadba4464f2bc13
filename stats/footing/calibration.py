"""Known weights hung against readings: what an instrument's readings are worth."""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from stats.errors import StatsError, StatsWarning
from stats.interval import Interval
from stats.scalar import said, scalar

Array = NDArray[np.float64]
Floats = float | Array

METHODS = ("zero and gain", "gain only")
"""What is fitted."""
LEAST_WEIGHTS = {"zero and gain": 3, "gain only": 2}
"""Different known weights that a fit needs: one more than it has unknowns, so that a bend can show."""
PAIR_LEVEL = float(2 * stats.norm.cdf(2) - 1)
"""Level of plus and minus two standard uncertainties of a normal error."""


class BadCalibration(StatsError):
    """Weights and readings that no calibration can be had from."""

    code = "calibration"


def _plain(values: Array) -> Floats:
    return float(values) if values.ndim == 0 else values


@dataclass(frozen=True, eq=False)
class Calibration:
    """A straight line from an instrument's reading to the force.

    Parameters
    ----------
    known_n, readings_n, known_u_n : ndarray, shape (n,)
        Known forces, readings, and the standard uncertainties of the known forces [N].
    method : {"zero and gain", "gain only"}
        What was fitted.
    zero, gain : float
        Force = zero + gain · reading [N, -]; the zero is 0 for a gain alone.
    fit_covariance : ndarray, shape (2, 2)
        Covariance of zero and gain from the scatter about the line.
    known_shift : (float, float)
        What one standard uncertainty of all known forces together does to zero [N] and gain.
    residual_sd : float
        Scatter about the line [N], of `dof` degrees of freedom.
    dof, n : int
        Degrees of freedom and number of points.
    """

    known_n: Array
    readings_n: Array
    known_u_n: Array
    method: str
    zero: float
    gain: float
    fit_covariance: Array
    known_shift: tuple[float, float]
    residual_sd: float
    dof: int
    n: int

    @property
    def covariance(self) -> Array:
        """Covariance of zero and gain, shape (2, 2), from scatter and known forces together."""
        shift = np.array(self.known_shift)
        return self.fit_covariance + np.outer(shift, shift)

    @property
    def range_n(self) -> tuple[float, float]:
        """Readings between which the calibration holds [N]; a gain alone holds from 0."""
        low = 0.0 if self.method == "gain only" else float(self.readings_n.min())
        return min(low, float(self.readings_n.min())), float(self.readings_n.max())

    @property
    def widening(self) -> float:
        """What makes two standard uncertainties cover as much as two of a normal error, with these few points."""
        return float(stats.t.ppf((1 + PAIR_LEVEL) / 2, self.dof)) / 2

    def line_u_n(self, reading_n: ArrayLike) -> Floats:
        """Standard uncertainty of the line at a reading [N], without the scatter of the reading itself.

        Parameters
        ----------
        reading_n : float or array_like, shape (n,)
            Readings [N].

        Returns
        -------
        float or ndarray, shape (n,)
            Standard uncertainty [N].

        Raises
        ------
        BadCalibration
            If a reading is not a finite number.
        """
        x = _finite(reading_n)
        return _plain(np.sqrt(self._scatter(x, 0.0) + self._known(x)))

    def correct(self, reading_n: ArrayLike) -> tuple[Floats, Floats]:
        """The force that a new reading stands for, and its standard uncertainty.

        Parameters
        ----------
        reading_n : float or array_like, shape (n,)
            Readings [N].

        Returns
        -------
        value_n, u_n : float or ndarray, shape (n,)
            Corrected force and standard uncertainty [N]. The uncertainties of several readings share the
            line's part, so that averaging does not take that away.

        Warns
        -----
        StatsWarning
            If a reading lies outside the weights that were hung.

        Raises
        ------
        BadCalibration
            If a reading is not a finite number.

        Notes
        -----
        u² = s² + u²(line): the scatter of one reading beside the uncertainty of the line. `interval` widens
        it for the number of points.
        """
        x = self._inside(reading_n)
        u = np.sqrt(self._scatter(x, self.residual_sd) + self._known(x))
        return _plain(self.zero + self.gain * x), _plain(u)

    def interval(self, reading_n: float, level: float = 0.95) -> Interval:
        """Where the force lies that a new reading stands for.

        Parameters
        ----------
        reading_n : float
            A reading [N].
        level : float, optional
            Coverage.

        Returns
        -------
        Interval
            Corrected force plus and minus t standard uncertainties [N].

        Raises
        ------
        BadCalibration
            If the level is not between 0 and 1, or the reading not a finite number.

        Notes
        -----
        t has the degrees of freedom of the scatter, raised by the Welch-Satterthwaite formula for the known
        forces' part, whose uncertainty is taken as surely known.

        References
        ----------
        JCGM 100:2008, G.4.
        """
        if not 0 < scalar(level) < 1:
            raise BadCalibration(f"level ({level!r}) must lie between 0 and 1.")
        if not math.isfinite(scalar(reading_n)):
            raise BadCalibration(f"reading_n ({said(reading_n)}) must be a finite number.")
        x = self._inside(reading_n)
        scatter, known = float(self._scatter(x, self.residual_sd)), float(self._known(x))
        dof = self.dof * ((scatter + known) / scatter) ** 2 if scatter > 0 else np.inf
        half = float(stats.t.ppf((1 + level) / 2, dof)) * np.sqrt(scatter + known)
        value = self.zero + self.gain * float(x)
        return Interval(value - half, value + half, level)

    def _inside(self, reading_n: ArrayLike) -> Array:
        x = _finite(reading_n)
        low, high = self.range_n
        beyond = np.ravel(x)[(np.ravel(x) < low) | (np.ravel(x) > high)]
        if beyond.size:
            message = (
                f"{beyond.size} reading(s), such as {beyond[0]:g} N, lie outside the {low:g} to {high:g} N that "
                "were calibrated; hang weights up to there."
            )
            warnings.warn(message, StatsWarning, stacklevel=3)
        return x

    def _scatter(self, x: Array, reading_sd: float) -> Array:
        zero, both, gain = self.fit_covariance[0, 0], self.fit_covariance[0, 1], self.fit_covariance[1, 1]
        return np.asarray(np.maximum(zero + 2 * both * x + gain * x**2, 0.0) + reading_sd**2)

    def _known(self, x: Array) -> Array:
        return np.asarray((self.known_shift[0] + self.known_shift[1] * x) ** 2)


def fit(
    known_n: ArrayLike,
    readings_n: ArrayLike,
    known_u_n: ArrayLike | None = None,
    *,
    method: str = "zero and gain",
) -> Calibration:
    """Calibrate an instrument by known weights.

    Parameters
    ----------
    known_n : array_like, shape (n,)
        Known forces, mass times 9.80665 m/s² for a weight [N]; the same weight may be hung again.
    readings_n : array_like, shape (n,)
        What the instrument showed [N].
    known_u_n : float or array_like, shape (n,), optional
        Standard uncertainty of the known forces [N]; taken as exact without it.
    method : {"zero and gain", "gain only"}, optional
        A gain only for an instrument that is set to zero before each reading.

    Returns
    -------
    Calibration
        Zero, gain, their covariance, the scatter, and what corrects a reading.

    Raises
    ------
    BadCalibration
        If the columns do not match, hold no numbers, or too few different weights (three, two for a gain
        only) or readings; or if the readings fall as the weights rise.

    Notes
    -----
    Least squares of the known force on the reading, which fits the correction as GUM H.3 does: correction =
    zero + (gain - 1) · reading. One common scatter is assumed at all loads. Scatter that is large against the
    range of the readings makes the gain too small, by about the square of their ratio.

    The known forces' uncertainty is taken as common to all, as it is for weights checked on one scale: their
    errors rise and fall together and no number of points averages them out. An error of each weight alone
    shows in the scatter already.

    References
    ----------
    JCGM 100:2008, H.3 and H.3.6.

    Examples
    --------
    >>> scale = fit([0.0, 98.1, 196.1, 294.2], [0.2, 97.0, 194.5, 291.0])
    >>> round(scale.zero, 2), round(scale.gain, 4)
    (-0.18, 1.011)
    >>> value_n, u_n = scale.correct(250.0)
    >>> round(value_n, 1), round(u_n, 2)
    (252.6, 0.39)
    """
    from statsmodels.regression.linear_model import OLS  # slow to import, and used nowhere else here

    known, readings, known_u = _checked(known_n, readings_n, known_u_n, method)
    design = readings[:, None] if method == "gain only" else np.column_stack([np.ones_like(readings), readings])
    fitted = OLS(known, design).fit()
    gain_alone = method == "gain only"
    zero, gain = (0.0, float(fitted.params[0])) if gain_alone else (float(p) for p in fitted.params)
    if gain <= 0:
        raise BadCalibration(f"readings_n must rise with known_n; the gain came to {gain:.3g}.")
    covariance = np.zeros((2, 2))
    covariance[int(gain_alone) :, int(gain_alone) :] = fitted.cov_params()
    # The fit is linear in the known forces, so that fitting their uncertainties gives what they shift.
    shift = [float(p) for p in OLS(known_u, design).fit().params]
    return Calibration(
        known_n=known,
        readings_n=readings,
        known_u_n=known_u,
        method=method,
        zero=zero,
        gain=gain,
        fit_covariance=covariance,
        known_shift=(0.0, shift[0]) if gain_alone else (shift[0], shift[1]),
        residual_sd=float(np.sqrt(fitted.mse_resid)),
        dof=int(fitted.df_resid),
        n=known.size,
    )


def _numbers(column: ArrayLike, name: str) -> Array:
    try:
        if np.asarray(column).dtype != bool:
            return np.array(column, dtype=float)
    except (TypeError, ValueError):
        pass
    raise BadCalibration(f"{name} ({column!r}) must hold numbers.")


def _finite(reading_n: ArrayLike) -> Array:
    readings = _numbers(reading_n, "reading_n")
    if not np.all(np.isfinite(readings)):
        raise BadCalibration("reading_n must hold finite numbers.")
    return readings


def _checked(
    known_n: ArrayLike, readings_n: ArrayLike, known_u_n: ArrayLike | None, method: str
) -> tuple[Array, Array, Array]:
    if method not in METHODS:
        raise BadCalibration(f"method ({method!r}) must be one of {', '.join(METHODS)}.")
    known, readings, known_u = (
        _numbers(column, name)
        for column, name in (
            (known_n, "known_n"),
            (readings_n, "readings_n"),
            (0.0 if known_u_n is None else known_u_n, "known_u_n"),
        )
    )
    if known.ndim != 1 or readings.shape != known.shape:
        raise BadCalibration(f"readings_n (shape {readings.shape}) must be a row as long as known_n {known.shape}.")
    if known_u.shape not in ((), known.shape):
        raise BadCalibration(f"known_u_n (shape {known_u.shape}) must be one value or {known.size}.")
    known_u = np.broadcast_to(known_u, known.shape)
    for name, column, least in (
        ("known_n", known, 0.0),
        ("readings_n", readings, -np.inf),
        ("known_u_n", known_u, 0.0),
    ):
        bad = np.flatnonzero(~np.isfinite(column) | (column < least))
        if bad.size:
            right = "a number" if least < 0 else "a number of 0 or more"
            raise BadCalibration(f"{name}[{bad[0]}] ({column[bad[0]]:g}) must be {right}.")
    needed, weights = LEAST_WEIGHTS[method], np.unique(known[known > 0] if method == "gain only" else known)
    if weights.size < needed:
        shown = ", ".join(f"{w:g}" for w in weights) or "none"
        raise BadCalibration(f"known_n ({shown}) must hold {needed} or more different weights for {method}.")
    if np.unique(readings).size < 2:
        raise BadCalibration(f"readings_n ({readings[0]:g} throughout) must differ; the instrument did not answer.")
    return known, readings, known_u
