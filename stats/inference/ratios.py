"""Ratios of geometric means of two groups, and whether two groups are shown to be alike."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from stats.inference.sample import (
    BadSample,
    BadSetting,
    NoSpread,
    TooFew,
    checked,
    checked_above,
    checked_count,
    checked_share,
    log_spread,
)
from stats.interval import Interval
from stats.scalar import said, scalar


@dataclass(frozen=True)
class Ratio:
    """A ratio of geometric means, a over b, with its interval.

    Parameters
    ----------
    ratio : float
        Geometric mean of a over that of b.
    interval : Interval
        By Welch's t on logs.
    t, df, p : float
        Welch's statistic, its degrees of freedom, and the two-sided p for a ratio of one.
    log_ratio, se_log : float
        The same on the log scale.
    n_a, n_b : int
        Specimens in each.
    method : str
    """

    ratio: float
    interval: Interval
    t: float
    df: float
    p: float
    log_ratio: float
    se_log: float
    n_a: int
    n_b: int
    method: str = "Welch's t on logs"


@dataclass(frozen=True)
class Equivalence:
    """Whether a ratio of geometric means is shown to lie within a margin of one, either way.

    Parameters
    ----------
    equivalent : bool
        Whether both one-sided tests reject at alpha.
    margin : float
        The ratio lies between 1 / margin and margin where equivalence is shown.
    p : float
        The larger probability of the two one-sided tests.
    alpha : float
        Chance of calling groups alike that differ by the margin.
    ratio : Ratio
        The ratio, with the interval of level 1 - 2 alpha that decides the same.
    method : str
        How it was worked.
    """

    equivalent: bool
    margin: float
    p: float
    alpha: float
    ratio: Ratio
    method: str = "two one-sided Welch tests on logs"


def ratio(a: ArrayLike, b: ArrayLike, level: float = 0.95) -> Ratio:
    """Ratio of the geometric means of two groups, with Welch's interval on logs.

    Parameters
    ----------
    a : array_like, shape (n_a,)
        Readings of one group, above zero.
    b : array_like, shape (n_b,)
        Readings of the other, in the same unit.
    level : float
        Confidence level of the interval.

    Returns
    -------
    Ratio

    Raises
    ------
    BadSample
        If a reading is not finite and above zero.
    TooFew
        If a group has fewer than two readings.
    NoSpread
        If neither group shows any spread.
    BadSetting
        If level is not between 0 and 1.

    Notes
    -----
    ``exp(d +- t se)``, ``d`` the difference of mean logs, ``se^2 = v_a / n_a + v_b / n_b``, degrees of
    freedom by Welch and Satterthwaite.

    References
    ----------
    Welch, B. L. (1947). The generalization of Student's problem when several different population
    variances are involved. Biometrika 34, 28-35.

    Examples
    --------
    >>> r = ratio([410, 455, 431, 398], [352, 310, 371, 340, 362])
    >>> round(r.ratio, 3), round(r.interval.low, 3), round(r.interval.high, 3)
    (1.221, 1.103, 1.352)
    """
    logs_a, logs_b = (np.log(checked(x, name, minimum=2)) for x, name in ((a, "a"), (b, "b")))
    return ratio_from_sums(
        float(logs_a.mean()),
        log_spread(logs_a) ** 2,
        logs_a.size,
        float(logs_b.mean()),
        log_spread(logs_b) ** 2,
        logs_b.size,
        level,
    )


def ratio_from_sums(
    mean_log_a: float,
    var_log_a: float,
    n_a: int,
    mean_log_b: float,
    var_log_b: float,
    n_b: int,
    level: float = 0.95,
) -> Ratio:
    """Ratio of two geometric means from the means and variances of logs; see `ratio`.

    Parameters
    ----------
    mean_log_a, mean_log_b : float
        Means of the natural logs.
    var_log_a, var_log_b : float
        Variances of the logs, divisor n - 1.
    n_a, n_b : int
        Specimens in each, at least two.
    level : float
        Confidence level of the interval.

    Returns
    -------
    Ratio

    Raises
    ------
    BadSample
        If a mean or variance is not finite, or a variance below zero.
    TooFew
        If a group has one specimen.
    NoSpread
        If both variances are zero.
    BadSetting
        If a count is not a whole number above zero, or level not between 0 and 1.
    """
    level = checked_share(level, "level")
    n_a, n_b = (_two_or_more(n, name) for n, name in ((n_a, "n_a"), (n_b, "n_b")))
    for name, value in (("mean_log_a", mean_log_a), ("mean_log_b", mean_log_b)):
        if not math.isfinite(scalar(value)):
            raise BadSample(f"{name} is {said(value)}; it must be a finite number.")
    for name, value in (("var_log_a", var_log_a), ("var_log_b", var_log_b)):
        if not 0.0 <= scalar(value) < np.inf:
            raise BadSample(f"{name} is {said(value)}; a variance must be a finite number, zero or above.")
    parts = np.array([var_log_a / n_a, var_log_b / n_b])
    if parts.sum() == 0:
        raise NoSpread("neither a nor b shows any spread, so the ratio has no interval.")
    se = float(np.sqrt(parts.sum()))
    df = float(parts.sum() ** 2 / (parts[0] ** 2 / (n_a - 1) + parts[1] ** 2 / (n_b - 1)))
    d = float(mean_log_a - mean_log_b)
    t = d / se
    reach = float(stats.t.ppf(0.5 + level / 2, df)) * se
    ends = Interval(float(np.exp(d - reach)), float(np.exp(d + reach)), level)
    return Ratio(float(np.exp(d)), ends, t, df, float(2 * stats.t.sf(abs(t), df)), d, se, n_a, n_b)


def equivalent(a: ArrayLike, b: ArrayLike, margin: float, alpha: float = 0.05) -> Equivalence:
    """Test whether two groups are shown to be alike within a margin.

    Parameters
    ----------
    a : array_like, shape (n_a,)
        Readings of one group, above zero.
    b : array_like, shape (n_b,)
        Readings of the other, in the same unit.
    margin : float
        Ratio that would still count as alike, above 1: 1.15 for within 15 %, either way.
    alpha : float
        Chance of calling groups alike that differ by the margin.

    Returns
    -------
    Equivalence

    Raises
    ------
    BadSetting
        If margin is not above 1, or alpha not between 0 and 0.5.
    BadSample, TooFew, NoSpread
        As for `ratio`.

    Notes
    -----
    Two one-sided Welch tests, of the ratio being at least 1 / margin and at most margin; both must reject.
    "Not different" in an ordinary test shows no such thing.

    References
    ----------
    Schuirmann, D. J. (1987). A comparison of the two one-sided tests procedure and the power approach for
    assessing the equivalence of average bioavailability. J. Pharmacokinetics and Biopharmaceutics 15,
    657-680.

    Examples
    --------
    >>> equivalent([410, 405, 413, 398], [402, 411, 399, 407, 405], 1.1).equivalent
    True
    """
    margin = checked_above(margin, "margin", 1.0)
    alpha = checked_share(alpha, "alpha")
    if alpha >= 0.5:
        raise BadSetting(f"alpha is {alpha}; it must be below 0.5.")
    found = ratio(a, b, level=1 - 2 * alpha)
    reach = float(np.log(margin))
    low = float(stats.t.sf((found.log_ratio + reach) / found.se_log, found.df))
    high = float(stats.t.cdf((found.log_ratio - reach) / found.se_log, found.df))
    p = max(low, high)
    return Equivalence(p < alpha, margin, p, alpha, found)


def _two_or_more(n: int, name: str) -> int:
    n = checked_count(n, name, 1)
    if n < 2:
        raise TooFew(f"{name} is 1; each group needs at least 2 specimens to show its spread.")
    return n
