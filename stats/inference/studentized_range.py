"""The Studentized range distribution, by plain double quadrature.

scipy has it too and agrees, but needs about half a second for a tail and its inverse, which six groups ask
for fifteen times over; here they take some hundredths.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy import optimize, special, stats

from stats.inference.sample import BadSetting, Floats, checked_above, checked_count, checked_share
from stats.scalar import said, scalar

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(120)
REACH = 8.5  # standard deviations past which a normal density adds nothing to a double


def tail(q: float, groups: int, df: float) -> float:
    """Chance that the Studentized range of `groups` normal means exceeds `q`.

    Parameters
    ----------
    q : float
        Range over the standard error of a mean [-], zero or above.
    groups : int
        How many means, at least 2.
    df : float
        Degrees of freedom of that standard error.

    Returns
    -------
    float

    Raises
    ------
    BadSetting
        If q is below zero, groups no whole number of at least 2, or df not above zero.

    Notes
    -----
    ``integral of f(s) W(q s) ds``: f the density of ``sqrt(chi2 / df)``, W the tail of the range of normal
    deviates, ``W(w) = 1 - k integral of phi(z) (Phi(z) - Phi(z - w))^(k-1) dz``. Gauss-Legendre on both.

    References
    ----------
    Copenhaver, M. D. and Holland, B. (1988). Computation of the distribution of the maximum Studentized range
    statistic. J. Statistical Computation and Simulation 30, 1-15.

    Examples
    --------
    >>> round(tail(3.506426, 3, 27), 5)
    0.05
    """
    groups, df = checked_count(groups, "groups", 2), checked_above(df, "df")
    if not 0.0 <= scalar(q) < np.inf:
        raise BadSetting(f"q is {said(q)}; it must be a finite number, zero or above.")
    s, weight = _scales(df)
    return float(np.clip(weight @ _range_tail(q * s, groups), 0.0, 1.0))


def critical(level: float, groups: int, df: float) -> float:
    """Value that the Studentized range stays below with probability `level`.

    Parameters
    ----------
    level : float
        Probability, between 0 and 1.
    groups : int
        How many means, at least 2.
    df : float
        Degrees of freedom of the standard error.

    Returns
    -------
    float
        Range over the standard error of a mean [-].

    Raises
    ------
    BadSetting
        If level is not between 0 and 1, groups no whole number of at least 2, or df not above zero.
    """
    level = checked_share(level, "level")
    high = 4.0
    while tail(high, groups, df) > 1 - level:
        high *= 2
    return float(optimize.brentq(lambda q: tail(q, groups, df) - (1 - level), 0.0, high, xtol=1e-12))


@lru_cache(maxsize=256)
def _scales(df: float) -> tuple[Floats, Floats]:
    """Nodes and weights for the estimated over the true standard error."""
    low, high = np.sqrt(stats.chi2.ppf(1e-17, df) / df), np.sqrt(stats.chi2.isf(1e-17, df) / df)
    u = (_NODES + 1) / 2
    s = low + (high - low) * u**3  # the cube smooths the density at zero, where df is fractional and small
    log_density = (
        np.log(2 * df * s) - df * np.log(2) / 2 - special.gammaln(df / 2)
        + (df / 2 - 1) * np.log(df * s**2) - df * s**2 / 2
    )  # fmt: skip
    weight = np.exp(log_density) * _WEIGHTS * u**2
    return s, weight / weight.sum()


def _range_tail(w: Floats, groups: int) -> Floats:
    z = REACH * _NODES
    spread = special.ndtr(z) - special.ndtr(z - w[:, None])
    density = np.exp(-(z**2) / 2) / np.sqrt(2 * np.pi)
    inside = groups * (density * spread ** (groups - 1)) @ _WEIGHTS * REACH
    return np.asarray(1 - inside)
