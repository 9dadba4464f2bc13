"""Weibull and lognormal strength from specimens that broke and specimens that held (right-censored).

A specimen that held is at least as strong as its reading. Fits are by maximum likelihood; standard errors
come from the observed information.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import optimize, special

from stats.inference.sample import (
    BadSample,
    BadSetting,
    Floats,
    NoSpread,
    TooFew,
    checked,
    checked_broke,
    log_spread,
)
from stats.inference.strength_fit import CensoredFit, Goodness, LognormalFit, Quantile, WeibullFit

__all__ = [
    "CensoredFit",
    "Goodness",
    "LognormalFit",
    "Quantile",
    "WeibullFit",
    "fit",
    "fit_lognormal",
    "fit_weibull",
]


def fit_weibull(values: ArrayLike, broke: ArrayLike | None = None) -> WeibullFit:
    """Fit a two-parameter Weibull distribution to strengths, some of them only known to be exceeded.

    Parameters
    ----------
    values : array_like, shape (n,)
        Readings, above zero: where each specimen broke, or the most it held.
    broke : array_like of bool, shape (n,), optional
        Whether each specimen broke; all did if left out.

    Returns
    -------
    WeibullFit

    Raises
    ------
    BadSample
        If a reading is not finite and above zero, or the lengths differ.
    TooFew
        If fewer than two specimens broke.
    NoSpread
        If all broken specimens read the same.

    Notes
    -----
    The shape solves ``sum(x^b log x) / sum(x^b) - 1/b = mean of log x over the broken``, sums over all
    specimens; then ``scale = (sum(x^b) / broken)^(1/b)``. Maximum likelihood overstates the shape in small
    samples (by about 1.4 / n of it).

    References
    ----------
    Lawless, J. F. (2003). Statistical Models and Methods for Lifetime Data, 2nd ed., ch. 5. Wiley.

    Examples
    --------
    >>> fit = fit_weibull([310, 350, 362, 371, 400], [True, True, True, True, False])
    >>> round(fit.shape, 1), round(fit.scale)
    (11.4, 377)
    """
    array, event = _readings(values, broke)
    logs = np.log(array)
    centre = float(logs.mean())
    y = logs - centre
    r = int(event.sum())
    mean_broke = float(y[event].mean())

    def score(log_shape: float) -> float:
        b = np.exp(log_shape)
        w = special.softmax(b * y)
        return float(w @ y - 1 / b - mean_broke)

    # the score rises in b, from -inf to (largest log - mean of the broken) > 0
    start = -np.log(float(y.std()))
    low, high = _bracket(score, float(start))
    log_shape = float(optimize.brentq(score, low, high, xtol=1e-14, rtol=1e-14))
    b = np.exp(log_shape)
    location = centre + float(special.logsumexp(b * y) - np.log(r)) / b
    z = (logs - location) * b
    first = np.where(event, 1 - np.exp(z), -np.exp(z))
    loglik = float((event * (log_shape + z - logs) - np.exp(z)).sum())
    covariance = _covariance(z, first, -np.exp(z), -log_shape)
    return WeibullFit(*_kept(array, event), float(location), -log_shape, loglik, covariance)


def fit_lognormal(values: ArrayLike, broke: ArrayLike | None = None) -> LognormalFit:
    """Fit a lognormal distribution to strengths, some of them only known to be exceeded.

    Parameters
    ----------
    values : array_like, shape (n,)
        Readings, above zero: where each specimen broke, or the most it held.
    broke : array_like of bool, shape (n,), optional
        Whether each specimen broke; all did if left out.

    Returns
    -------
    LognormalFit

    Raises
    ------
    BadSample
        If a reading is not finite and above zero, or the lengths differ.
    TooFew
        If fewer than two specimens broke.
    NoSpread
        If all broken specimens read the same.

    Notes
    -----
    Newton's method on ``(1 / sd, mean / sd)``, in which the log-likelihood is concave (Olsen), so that the
    one maximum is found. ``sd_log`` is the maximum-likelihood value, below the usual one by
    ``sqrt((n - 1) / n)`` where nothing is censored.

    References
    ----------
    Olsen, R. J. (1978). Note on the uniqueness of the maximum likelihood estimator for the Tobit model.
    Econometrica 46, 1211-1215.

    Examples
    --------
    >>> fit = fit_lognormal([310, 350, 362, 371, 400], [True, True, True, True, False])
    >>> round(fit.geometric_mean), round(fit.sd_log, 3)
    (361, 0.101)
    """
    array, event = _readings(values, broke)
    logs = np.log(array)
    centre, spread = float(logs[event].mean()), float(logs.std())
    gamma, delta = _olsen((logs - centre) / spread, event)
    scale = spread / gamma
    location = centre + spread * delta / gamma
    z = (logs - location) / scale
    hazard = np.exp(-(z**2) / 2 - 0.5 * np.log(2 * np.pi) - special.log_ndtr(-z))
    first = np.where(event, -z, -hazard)
    second = np.where(event, -1.0, -hazard * (hazard - z))
    density = -np.log(scale) - logs - 0.5 * np.log(2 * np.pi) - z**2 / 2
    loglik = float(np.where(event, density, special.log_ndtr(-z)).sum())
    covariance = _covariance(z, first, second, float(np.log(scale)))
    return LognormalFit(*_kept(array, event), location, float(np.log(scale)), loglik, covariance)


def fit(
    values: ArrayLike, broke: ArrayLike | None = None, model: Literal["weibull", "lognormal"] = "lognormal"
) -> CensoredFit:
    """Fit the named model; see `fit_weibull` and `fit_lognormal`.

    Parameters
    ----------
    values : array_like, shape (n,)
        Readings, above zero: where each specimen broke, or the most it held.
    broke : array_like of bool, shape (n,), optional
        Whether each specimen broke; all did if left out.
    model : {"lognormal", "weibull"}
        What strength is taken to follow.

    Returns
    -------
    CensoredFit
        A `LognormalFit` or `WeibullFit`.

    Raises
    ------
    BadSetting
        If there is no such model.
    BadSample, TooFew, NoSpread
        As for `fit_lognormal`.
    """
    if model not in ("weibull", "lognormal"):
        raise BadSetting(f"model is {model!r}; it must be weibull or lognormal.")
    return fit_weibull(values, broke) if model == "weibull" else fit_lognormal(values, broke)


def _readings(values: ArrayLike, broke: ArrayLike | None) -> tuple[Floats, NDArray[np.bool_]]:
    array = checked(values)
    event = checked_broke(broke, array.size)
    r = int(event.sum())
    if r == 0:
        raise TooFew(f"all {array.size} specimens held; a fit needs at least 2 that broke.")
    if r == 1:
        raise TooFew(f"1 of {array.size} specimens broke; a fit needs at least 2 that broke.")
    if log_spread(np.log(array[event])) == 0:
        raise NoSpread(f"all {r} broken specimens read {array[event][0]:g}; a fit needs some spread.")
    return array, event


def _kept(array: Floats, event: NDArray[np.bool_]) -> tuple[tuple[float, ...], tuple[bool, ...]]:
    return tuple(array.tolist()), tuple(event.tolist())


def _bracket(score: Callable[[float], float], start: float) -> tuple[float, float]:
    low = high = start
    while score(low) > 0:
        low -= 1.0
    while score(high) < 0:
        high += 1.0
        if high > start + 40:
            raise BadSample("values: held specimens leave the Weibull shape without an upper bound.")
    return low, high


def _olsen(y: Floats, event: NDArray[np.bool_]) -> tuple[float, float]:
    """Maximise the censored normal likelihood of standardised logs; gives (1/sd, mean/sd)."""

    def value(theta: Floats) -> float:
        z = theta[0] * y - theta[1]
        parts = np.where(event, np.log(theta[0]) - z**2 / 2, special.log_ndtr(-z))
        return float(parts.sum())

    r = int(event.sum())
    theta = np.array([1.0, 0.0])
    for _ in range(200):
        z = theta[0] * y - theta[1]
        hazard = np.exp(-(z**2) / 2 - 0.5 * np.log(2 * np.pi) - special.log_ndtr(-z))
        first = np.where(event, -z, -hazard)
        second = np.where(event, -1.0, -hazard * (hazard - z))
        gradient = np.array([r / theta[0] + (first * y).sum(), -first.sum()])
        cross = -(second * y).sum()
        hessian = np.array([[(second * y**2).sum() - r / theta[0] ** 2, cross], [cross, second.sum()]])
        step = np.linalg.solve(hessian, gradient)
        size, now = 1.0, value(theta)
        while theta[0] - size * step[0] <= 0 or value(theta - size * step) < now - 1e-12 * abs(now):
            size /= 2
        theta = theta - size * step
        if float(np.abs(step).max()) < 1e-13 * max(1.0, float(np.abs(theta).max())):
            break
    return float(theta[0]), float(theta[1])


def _covariance(z: Floats, first: Floats, second: Floats, log_scale: float) -> NDArray[np.float64]:
    """Inverse observed information on (location, log scale) of a location-scale model.

    `first` and `second` are the derivatives in z of each specimen's log-likelihood, less the log scale.
    """
    scale = np.exp(log_scale)
    cross = (second * z + first).sum() / scale
    hessian = np.array([[second.sum() / scale**2, cross], [cross, (second * z**2 + first * z).sum()]])
    return np.asarray(np.linalg.inv(-hessian))
