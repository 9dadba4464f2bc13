"""Readings that do not fit their series: flagged and named, never removed.

Strength statistics here work on logs: hand logs to `generalised_esd` and `median_score`. `unit_slips`,
`series_slip` and `impossible` take readings and say what may have happened to them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special, stats

from stats.inference.sample import (
    BadSample,
    BadSetting,
    Floats,
    NoSpread,
    checked,
    checked_above,
    checked_count,
    checked_share,
    log_spread,
)
from stats.inference.slips import Candidate, Slip, SlipReport, series_slip, unit_slips
from stats.scalar import said, scalar

__all__ = [
    "Candidate",
    "EsdResult",
    "MedianScores",
    "Slip",
    "SlipReport",
    "generalised_esd",
    "impossible",
    "median_score",
    "series_slip",
    "unit_slips",
]

SCORE_LIMIT = 3.5  # Iglewicz and Hoaglin's advice for the median score


@dataclass(frozen=True)
class EsdResult:
    """Outcome of the generalised extreme Studentized deviate test.

    Parameters
    ----------
    values : tuple of float
        The numbers tested.
    n, max_outliers : int
        How many there are, and how many outliers were looked for.
    alpha : float
        Chance of naming any outlier where there is none.
    statistics, critical : tuple of float
        R and its critical value at each step.
    order : tuple of int
        Index taken out at each step, from 0.
    indices : tuple of int
        The outliers, most extreme first, from 0.
    notes : tuple of str
        What to know before believing it.
    """

    values: tuple[float, ...]
    n: int
    max_outliers: int
    alpha: float
    statistics: tuple[float, ...]
    critical: tuple[float, ...]
    order: tuple[int, ...]
    indices: tuple[int, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class MedianScores:
    """Distance of each number from the median in robust standard deviations, and which lie beyond `limit`.

    Parameters
    ----------
    scores : tuple of float
        One a number, below zero where it lies below the median [-].
    limit : float
        Scores beyond this, either way, are flagged [-].
    indices : tuple of int
        The numbers beyond it, from 0.
    method : str
        What the robust standard deviation comes from.
    """

    scores: tuple[float, ...]
    limit: float
    indices: tuple[int, ...]
    method: str


def generalised_esd(values: ArrayLike, max_outliers: int, alpha: float = 0.05) -> EsdResult:
    """Test for up to `max_outliers` outliers in a normal sample, without one masking another.

    Parameters
    ----------
    values : array_like, shape (n,)
        Numbers; for strengths, their logs.
    max_outliers : int
        The most to look for, at most n - 2.
    alpha : float
        Chance of naming any outlier where there is none.

    Returns
    -------
    EsdResult

    Raises
    ------
    BadSample
        If a number is not finite.
    TooFew
        If there are fewer than three.
    BadSetting
        If max_outliers is not between 1 and n - 2, or alpha not between 0 and 1.
    NoSpread
        If all are equal.

    Notes
    -----
    Step i takes out the number farthest from the mean of those left: ``R_i = max|x - mean| / sd``, with
    critical value ``(n - i) t / sqrt((n - i - 1 + t^2)(n - i + 1))``, t the ``1 - alpha / (2 (n - i + 1))``
    quantile with n - i - 1 degrees of freedom. The number of outliers is the largest i with R above it, even
    where an earlier step is not. The critical values are approximate below about 25 numbers, poor below 15.

    References
    ----------
    Rosner, B. (1983). Percentage points for a generalized ESD many-outlier procedure. Technometrics 25,
    165-172.

    Examples
    --------
    >>> import numpy as np
    >>> generalised_esd(np.log([310, 350, 362, 371, 400, 355, 342, 3600]), 2).indices
    (7,)
    """
    array = checked(values, positive=False, minimum=3)
    n, alpha = array.size, checked_share(alpha, "alpha")
    steps = checked_count(max_outliers, "max_outliers", 1)
    if steps > n - 2:
        raise BadSetting(f"max_outliers is {steps}; with {n} values it can be {n - 2} at most.")
    if log_spread(array) == 0:
        raise NoSpread(f"all {n} values are {array[0]:g}; there is no spread to measure an outlier by.")
    left = np.arange(n)
    statistics, critical, order = [], [], []
    for i in range(1, steps + 1):
        rest = array[left]
        sd = log_spread(rest)
        if sd == 0:
            break  # what is left is all equal: no further number can stand out
        distance = np.abs(rest - rest.mean())
        farthest = int(np.argmax(distance))
        t = float(stats.t.ppf(1 - alpha / (2 * (n - i + 1)), n - i - 1))
        statistics.append(float(distance[farthest] / sd))
        critical.append((n - i) * t / np.sqrt((n - i - 1 + t * t) * (n - i + 1)))
        order.append(int(left[farthest]))
        left = np.delete(left, farthest)
    found = max((i + 1 for i in range(len(order)) if statistics[i] > critical[i]), default=0)
    return EsdResult(
        values=tuple(array.tolist()),
        n=n,
        max_outliers=steps,
        alpha=alpha,
        statistics=tuple(statistics),
        critical=tuple(float(c) for c in critical),
        order=tuple(order),
        indices=tuple(order[:found]),
        notes=_esd_notes(n),
    )


def _esd_notes(n: int) -> tuple[str, ...]:
    if n >= 25:
        return ()
    how = "approximate" if n >= 15 else "rough"
    return (f"With {n} values the critical values are {how}; they are good from about 25.",)


def median_score(values: ArrayLike, limit: float = SCORE_LIMIT) -> MedianScores:
    """Score each number by its distance from the median in robust standard deviations.

    Parameters
    ----------
    values : array_like, shape (n,)
        Numbers; for strengths, their logs.
    limit : float
        Scores beyond this, either way, are flagged: a number of robust standard deviations, above zero.

    Returns
    -------
    MedianScores

    Raises
    ------
    BadSample
        If a number is not finite.
    TooFew
        If there are fewer than three.
    NoSpread
        If all are equal.
    BadSetting
        If limit is not above zero.

    Notes
    -----
    ``(x - median) / (1.4826 MAD)``, MAD the median distance from the median. Where more than half of the
    numbers are equal the MAD is zero, and 1.2533 times the mean distance takes its place.

    References
    ----------
    Iglewicz, B. and Hoaglin, D. C. (1993). How to Detect and Handle Outliers. ASQC Quality Press.

    Examples
    --------
    >>> import numpy as np
    >>> median_score(np.log([310, 350, 362, 371, 400, 355, 342, 3600])).indices
    (7,)
    """
    array = checked(values, positive=False, minimum=3)
    limit = checked_above(limit, "limit")
    distance = array - np.median(array)
    mad = float(np.median(np.abs(distance)))
    if mad > 1e-12 * max(1.0, float(np.abs(array).max())):
        scale, method = mad / float(special.ndtri(0.75)), "median absolute deviation"
    else:
        scale = float(np.abs(distance).mean()) * float(np.sqrt(np.pi / 2))
        method = "mean absolute deviation (more than half of the values are equal)"
    if log_spread(array) == 0:
        raise NoSpread(f"all {array.size} values are {array[0]:g}; there is no spread to score by.")
    scores = distance / scale
    beyond = np.flatnonzero(np.abs(scores) > limit)
    return MedianScores(tuple(scores.tolist()), limit, tuple(int(i) for i in beyond), method)


def impossible(
    values: ArrayLike, ceiling: ArrayLike, *, ceiling_sd_log: float = 0.0, chance: float = 0.001
) -> tuple[int, ...]:
    """Indices of readings above what the timber itself could have borne.

    Parameters
    ----------
    values : array_like, shape (n,)
        Readings, above zero.
    ceiling : float or array_like, shape (n,)
        Typical load or moment at which the solid member itself breaks, in the unit of the readings.
    ceiling_sd_log : float
        Spread of that ceiling between pieces of the same timber, as sd of logs (about its coefficient of
        variation: 0.16 is common for bending strength). 0 takes the ceiling as a hard one.
    chance : float
        Readings are flagged where fewer than this share of such members would have borne them.

    Returns
    -------
    tuple of int
        Indices from 0, in order; empty where all are possible.

    Raises
    ------
    BadSample
        If a reading or ceiling is not finite and above zero, or their numbers differ.
    BadSetting
        If ceiling_sd_log is negative or chance not between 0 and 1.

    Notes
    -----
    The limit is ``ceiling exp(z ceiling_sd_log)``, z the upper `chance` point of the normal.

    Examples
    --------
    >>> impossible([350, 410, 1620], 1477)
    (2,)
    """
    array = checked(values)
    top = checked(np.atleast_1d(np.asarray(ceiling)), "ceiling")
    if top.size not in (1, array.size):
        raise BadSample(f"ceiling has {top.size} values; it needs one, or one for each of {array.size}.")
    if not 0.0 <= scalar(ceiling_sd_log) < np.inf:
        raise BadSetting(f"ceiling_sd_log is {said(ceiling_sd_log)}; it must be zero or above.")
    z = float(stats.norm.isf(checked_share(chance, "chance")))
    limit: Floats = top * np.exp(z * ceiling_sd_log)
    return tuple(int(i) for i in np.flatnonzero(array > limit))
