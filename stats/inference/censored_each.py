"""The right-censored lognormal fit of many small samples at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from stats.inference.sample import BadSample, Floats, checked, checked_broke

_ROUNDING = 1e-12  # as `sample.log_spread`: a smaller spread of logs is rounding
_MOST_STEPS = 200
_HALF_LOG_2PI = 0.5 * np.log(2 * np.pi)


def lognormal_means(
    values: ArrayLike, broke: ArrayLike, group: ArrayLike, groups: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Mean of logs of each sample and its variance, specimens that held counted as at least so strong.

    Parameters
    ----------
    values : array_like, shape (n,)
        Readings, above zero: where each specimen broke, or the most it held.
    broke : array_like of bool, shape (n,)
        Whether each specimen broke.
    group : array_like of int, shape (n,)
        Sample of each specimen, 0 to ``groups - 1``.
    groups : int
        Number of samples.

    Returns
    -------
    mean_log, variance : ndarray, shape (groups,)
        As `censored.fit_lognormal` gives them; NaN for samples that it refuses (fewer than two broke, or those
        that broke all read the same).

    Raises
    ------
    BadSample
        If a reading is not finite and above zero, or the lengths differ.

    Notes
    -----
    Newton's method of `censored.fit_lognormal` on all samples together: each takes its own steps and stops by itself.

    Examples
    --------
    >>> mean, variance = lognormal_means([310, 350, 362, 371, 400], [True] * 4 + [False], [0] * 5, 1)
    >>> round(float(np.exp(mean[0])))
    361
    """
    array = checked(values, minimum=0)
    event, sample = checked_broke(broke, array.size), np.asarray(group, dtype=np.intp)
    if sample.shape != array.shape or (sample.size and not (sample.min() >= 0 and sample.max() < groups)):
        raise BadSample(f"group has shape {sample.shape}; it needs one number from 0 to {groups - 1} a reading.")
    mean, variance = np.full(groups, np.nan), np.full(groups, np.nan)
    logs = np.log(array)
    fit = _usable(logs, event, sample, groups)
    kept = fit[sample]
    if kept.any():
        place = np.cumsum(fit) - 1
        mean[fit], variance[fit] = _fit(logs[kept], event[kept], place[sample[kept]], int(fit.sum()))
    return mean, variance


def _usable(logs: Floats, event: NDArray[np.bool_], sample: NDArray[np.intp], groups: int) -> NDArray[np.bool_]:
    """Samples of which two or more broke, at more than one reading."""
    r = np.bincount(sample[event], minlength=groups)
    safe = np.maximum(r, 1)
    centre = np.bincount(sample[event], logs[event], groups) / safe
    squares = np.bincount(sample[event], (logs[event] - centre[sample[event]]) ** 2, groups)
    largest = np.zeros(groups)
    np.maximum.at(largest, sample[event], np.abs(logs[event]))
    spread = np.sqrt(squares / np.maximum(r - 1, 1))
    usable: NDArray[np.bool_] = (r >= 2) & (spread >= _ROUNDING * np.maximum(1.0, largest))
    return usable


def _fit(logs: Floats, event: NDArray[np.bool_], of: NDArray[np.intp], groups: int) -> tuple[Floats, Floats]:
    def summed(values: Floats) -> Floats:
        return np.bincount(of, values, groups).astype(np.float64, copy=False)

    n, r = summed(np.ones(len(of))), summed(event.astype(float))
    middle = summed(logs) / n
    spread = np.sqrt(summed((logs - middle[of]) ** 2) / n)
    centre = summed(np.where(event, logs, 0.0)) / r
    y = (logs - centre[of]) / spread[of]

    held = np.flatnonzero(~event)

    def likelihood(gamma: Floats, delta: Floats) -> tuple[Floats, Floats, Floats]:
        """Of each sample; with each specimen's z, and the log probability of more for those that held."""
        z = gamma[of] * y - delta[of]
        part, beyond = -(z**2) / 2, special.log_ndtr(-z[held])
        part[held] = beyond
        with np.errstate(invalid="ignore", divide="ignore"):
            return summed(part) + r * np.log(gamma), z, beyond

    gamma, delta, moving = np.ones(groups), np.zeros(groups), np.ones(groups, dtype=bool)
    now, z, beyond = likelihood(gamma, delta)
    for _ in range(_MOST_STEPS):
        first, second = _derivatives(z, held, beyond)
        slope_g, slope_d = r / gamma + summed(first * y), -summed(first)
        gg, gd, dd = summed(second * y**2) - r / gamma**2, -summed(second * y), summed(second)
        determinant = gg * dd - gd**2
        step_g = np.where(moving, (dd * slope_g - gd * slope_d) / determinant, 0.0)
        step_d = np.where(moving, (gg * slope_d - gd * slope_g) / determinant, 0.0)
        size = np.ones(groups)
        while True:
            value, z, beyond = likelihood(gamma - size * step_g, delta - size * step_d)
            short = moving & ~((gamma - size * step_g > 0) & (value >= now - 1e-12 * np.abs(now)))
            if not short.any():
                break
            size = np.where(short, size / 2, size)
        gamma, delta, now = gamma - size * step_g, delta - size * step_d, np.where(moving, value, now)
        large = np.maximum(1.0, np.maximum(np.abs(gamma), np.abs(delta)))
        moving = moving & (np.maximum(np.abs(step_g), np.abs(step_d)) >= 1e-13 * large)
        if not moving.any():
            break
    scale = spread / gamma
    location = centre + spread * delta / gamma
    z = (logs - location[of]) / scale[of]
    first, second = _derivatives(z, held, special.log_ndtr(-z[held]))
    # Of the inverse information on (location, log scale), the first entry.
    ll, ls = -summed(second) / scale**2, -summed(second * z + first) / scale
    ss = -summed(second * z**2 + first * z)
    return location, ss / (ll * ss - ls**2)


def _derivatives(z: Floats, held: NDArray[np.intp], beyond: Floats) -> tuple[Floats, Floats]:
    """First and second derivative in z of each specimen's log-likelihood; `beyond` as `likelihood` gives it."""
    first, second, own = -z, np.full(len(z), -1.0), z[held]
    hazard = np.exp(-(own**2) / 2 - _HALF_LOG_2PI - beyond)
    first[held], second[held] = -hazard, -hazard * (hazard - own)
    return first, second
