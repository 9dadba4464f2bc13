"""Lower limits of a quantile from the likelihood of a location-scale model, for small and censored samples.

The likelihood of (location, scale) is weighted by 1/scale and integrated; the limit is the point that the
quantile exceeds with the stated probability. Where all specimens broke, and where testing stopped after a
set number of breaks, such a limit has exactly the stated confidence: for the lognormal it is the limit by
the noncentral t, for the Weibull it is Lawless's conditional limit. With other censoring it comes close.

Both functions take and give standardised logs, ``(log x - location) / scale`` at the fitted values.

References
----------
Lawless, J. F. (2003). Statistical Models and Methods for Lifetime Data, 2nd ed., section 5.1.2 and app. E.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy import integrate, optimize, special, stats

from stats.inference.sample import Floats, checked_share

SCALE_STEPS = 161
LOCATION_STEPS = 401


def weibull_lower_quantile(standard: Floats, broke: NDArray[np.bool_], p: float, confidence: float) -> float:
    """Lower limit of the `p` quantile of standardised log strength under a Weibull model.

    Parameters
    ----------
    standard : ndarray, shape (n,)
        Standardised logs of the readings.
    broke : ndarray of bool, shape (n,)
        Whether each specimen broke; at least two must have.
    p : float
        Share of joints below the quantile, between 0 and 1.
    confidence : float
        Probability that the limit lies below the quantile.

    Returns
    -------
    float
        A standardised log.

    Raises
    ------
    BadSetting
        If p or confidence is not between 0 and 1.

    Notes
    -----
    With ``s = 1/scale`` and r breaks, ``s`` has density ``s^(r-2) exp(s * sum of broken y) / S(s)^r``,
    ``S(s) = sum of exp(s y)``; given s the limit L is below the quantile with probability
    ``P(r, -log(1-p) S(s) exp(-s L))``, P the regularised incomplete gamma function.
    """
    p, confidence = checked_share(p, "p"), checked_share(confidence, "confidence")
    r = int(broke.sum())
    log_s = _log_grid(r)
    s = np.exp(log_s)
    log_sum = special.logsumexp(np.outer(s, standard), axis=1)
    weight = _normalised((r - 1) * log_s + s * standard[broke].sum() - r * log_sum)
    log_hazard = np.log(-np.log1p(-p))

    def short(limit: float) -> float:
        exponent = np.clip(log_hazard + log_sum - s * limit, -700, 700)
        return float(weight @ special.gammainc(r, np.exp(exponent))) - confidence

    return _root(short, float(log_hazard))


def lognormal_lower_quantile(standard: Floats, broke: NDArray[np.bool_], p: float, confidence: float) -> float:
    """Lower limit of the `p` quantile of standardised log strength under a lognormal model.

    Parameters
    ----------
    standard : ndarray, shape (n,)
        Standardised logs of the readings.
    broke : ndarray of bool, shape (n,)
        Whether each specimen broke; at least two must have.
    p : float
        Share of joints below the quantile, between 0 and 1.
    confidence : float
        Probability that the limit lies below the quantile.

    Returns
    -------
    float
        A standardised log.

    Raises
    ------
    BadSetting
        If p or confidence is not between 0 and 1.

    Notes
    -----
    For each scale on a grid the location's density is laid out about its own mode, since held specimens
    push it to one side; the two are then summed.
    """
    p, confidence = checked_share(p, "p"), checked_share(confidence, "confidence")
    r = int(broke.sum())
    mean, ss = float(standard[broke].mean()), float(((standard[broke] - standard[broke].mean()) ** 2).sum())
    held, count = np.unique(standard[~broke], return_counts=True)
    log_scale = -_log_grid(r)[::-1]
    scale = np.exp(log_scale)
    mode, width = _location_mode(scale, r, mean, held, count)
    location = mode[:, None] + width[:, None] * np.linspace(-9, 9, LOCATION_STEPS)
    log_density = -r * (location - mean) ** 2 / (2 * scale[:, None] ** 2)
    for point, times in zip(held, count, strict=True):
        log_density += times * special.log_ndtr((location - point) / scale[:, None])
    peak = log_density.max(axis=1, keepdims=True)
    cumulative = integrate.cumulative_simpson(np.exp(log_density - peak), x=location, axis=1, initial=0)
    total = cumulative[:, -1]
    weight = _normalised(-r * log_scale - ss / (2 * scale**2) + peak[:, 0] + np.log(total))
    z = float(special.ndtri(p))

    share = cumulative / total[:, None]
    row, step = np.arange(SCALE_STEPS), location[:, 1] - location[:, 0]

    def short(limit: float) -> float:
        place = np.clip((limit - z * scale - location[:, 0]) / step, 0, LOCATION_STEPS - 1)
        left = np.minimum(place.astype(int), LOCATION_STEPS - 2)
        part = place - left
        below = share[row, left] * (1 - part) + share[row, left + 1] * part
        return float(weight @ (1 - below)) - confidence

    return _root(short, z)


def _log_grid(r: int) -> Floats:
    """Logs of 1/scale, in units of the fitted one, that hold all but about 1e-9 of the weight.

    With nothing censored, r / scale^2 is chi-squared over the r - 1 degrees of freedom; censoring shifts and
    widens that somewhat, so the range is widened too.
    """
    low, high = np.log(stats.chi2.ppf([1e-9, 1 - 1e-9], r - 1) / r) / 2
    return np.linspace(1.2 * low - 0.2, 1.2 * high + 0.2, SCALE_STEPS)


def _normalised(log_weight: Floats) -> Floats:
    weight = np.exp(log_weight - log_weight.max())
    return np.asarray(weight / weight.sum())


def _location_mode(scale: Floats, r: int, mean: float, held: Floats, count: NDArray[np.int_]) -> tuple[Floats, Floats]:
    """Mode of the location for each scale, by bisection of the falling slope, and its width there."""

    def hazard(location: Floats) -> tuple[Floats, Floats]:
        z = (held - location[:, None]) / scale[:, None]
        value = np.exp(-(z**2) / 2 - 0.5 * np.log(2 * np.pi) - special.log_ndtr(-z))
        return value, z

    low = np.full(scale.size, mean)
    high = np.maximum(mean, held.max(initial=mean)) + 10 * scale
    for _ in range(60):
        middle = (low + high) / 2
        slope = r * (mean - middle) / scale + hazard(middle)[0] @ count
        low, high = np.where(slope > 0, middle, low), np.where(slope > 0, high, middle)
    value, z = hazard(low)
    curvature = r + (value * (value - z)) @ count
    # the density is wider on its right side, where held specimens no longer pull: let r set the floor
    return low, scale / np.sqrt(np.minimum(curvature, 2.0 * r))


def _root(short: Callable[[float], float], centre: float) -> float:
    """Solve for the limit, which falls as confidence rises."""
    low, high = centre - 1.0, centre + 1.0
    while short(low) < 0:
        low -= 2.0 * (centre - low)
    while short(high) > 0:
        high += 2.0 * (high - centre)
    return float(optimize.brentq(short, low, high, xtol=1e-10))
