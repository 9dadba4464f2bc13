"""The law that joints made alike follow, for what several of them hold together."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import integrate, optimize, special, stats

from stats.errors import StatsError
from stats.inference.planning import sd_log_from_cv
from stats.inference.sample import checked_count, checked_share
from stats.scalar import said, scalar

Model = Literal["lognormal", "weibull"]
Floats = NDArray[np.float64]
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(60)
LARGEST_CV = 1.0
"""Largest coefficient of variation taken: joints that differ by more are no one kind."""


@dataclass(frozen=True)
class StrengthLaw:
    """Strength of single joints: a mean, a spread, and a law.

    Parameters
    ----------
    mean : float
        Arithmetic mean [N or N·m].
    cv : float
        Coefficient of variation.
    model : {"lognormal", "weibull"}
        The law.
    """

    mean: float
    cv: float
    model: Model = "lognormal"

    def __post_init__(self) -> None:
        if not 0.0 < scalar(self.mean) < math.inf:
            raise StatsError(f"mean ({said(self.mean, 'g')}) must be above zero: the mean strength of one joint.")
        if not 0.0 < scalar(self.cv) <= LARGEST_CV:  # NaN too
            raise StatsError(f"cv ({said(self.cv, 'g')}) must be above 0 and at most {LARGEST_CV:g}: 0.15 for 15 %.")
        if self.model not in ("lognormal", "weibull"):
            raise StatsError(f"model ({self.model!r}) must be lognormal or weibull.")

    @property
    def shape(self) -> float:
        """Standard deviation of logs for the lognormal law, the shape k for the Weibull law."""
        return sd_log_from_cv(self.cv) if self.model == "lognormal" else weibull_shape(self.cv)

    @property
    def scale(self) -> float:
        """Median for the lognormal law, the 63.2 % point for the Weibull law."""
        if self.model == "lognormal":
            return self.mean * math.exp(-(self.shape**2) / 2)
        return self.mean / math.gamma(1 + 1 / self.shape)

    def below(self, value: Floats | float) -> Floats:
        """Share of joints that break below a value.

        Parameters
        ----------
        value : float or ndarray, shape (n,)
            Load, in the unit of `mean`; 0 or above, which is not checked.

        Returns
        -------
        ndarray, shape of `value`
            Between 0 and 1.
        """
        x = np.asarray(value, dtype=float) / self.scale
        if self.model == "weibull":
            return np.asarray(-np.expm1(-(x**self.shape)))
        with np.errstate(divide="ignore"):
            return np.asarray(special.ndtr(np.log(x) / self.shape))

    def quantile(self, share: Floats | float) -> Floats:
        """Value below which a share of joints break.

        Parameters
        ----------
        share : float or ndarray, shape (n,)
            Between 0 and 1, which is not checked.

        Returns
        -------
        ndarray, shape of `share`
            Load, in the unit of `mean`.
        """
        p = np.asarray(share, dtype=float)
        if self.model == "weibull":
            return np.asarray(self.scale * (-np.log1p(-p)) ** (1 / self.shape))
        return np.asarray(self.scale * np.exp(self.shape * special.ndtri(p)))


def weibull_shape(cv: float) -> float:
    """Shape k of the Weibull law with a coefficient of variation.

    Parameters
    ----------
    cv : float
        Coefficient of variation [-], above 0 and at most 1.

    Returns
    -------
    float
        [-]

    Raises
    ------
    StatsError
        If cv is out of range.

    Examples
    --------
    >>> round(weibull_shape(0.15), 2)
    7.91
    """
    if not 0.0 < scalar(cv) <= LARGEST_CV:  # NaN too
        raise StatsError(f"cv ({said(cv, 'g')}) must be above 0 and at most {LARGEST_CV:g}: 0.15 for 15 %.")

    def excess(k: float) -> float:
        return float(special.gammaln(1 + 2 / k) - 2 * special.gammaln(1 + 1 / k) - np.log1p(cv**2))

    return float(optimize.brentq(excess, 0.5, 1.5 / cv + 10.0, xtol=1e-12))


def weakest_share(law: StrengthLaw, n: int) -> float:
    """Mean of the weakest of n joints over the mean of one.

    Parameters
    ----------
    law : StrengthLaw
        Of one joint.
    n : int
        Joints, 1 or more.

    Returns
    -------
    float
        Between 0 and 1.

    Raises
    ------
    StatsError
        If n is no whole number of at least 1.

    Notes
    -----
    Weibull: n^(-1/k), exact. Lognormal: the mean of the first order statistic, by quadrature over the normal score z
    with density n φ(z) (1 - Φ(z))^(n - 1).

    References
    ----------
    David HA, Nagaraja HN (2003). Order Statistics, 3rd ed. Wiley (density of an order statistic).

    Examples
    --------
    >>> round(weakest_share(StrengthLaw(300.0, 0.15, "weibull"), 4), 3)
    0.839
    """
    n = checked_count(n, "n", 1)
    if law.model == "weibull":
        return float(n ** (-1 / law.shape))
    sd = law.shape

    def moment(z: float) -> float:
        return float(n * stats.norm.pdf(z) * special.ndtr(-z) ** (n - 1) * np.exp(sd * z - sd**2 / 2))

    return float(integrate.quad(moment, -12.0, 12.0, limit=200)[0])


def weakest_quantile(law: StrengthLaw, n: int, share: float) -> float:
    """Value below which the weakest of n joints lies with a given chance; exact: F⁻¹(1 - (1 - p)^(1/n)).

    Parameters
    ----------
    law : StrengthLaw
        Of one joint.
    n : int
        Joints, 1 or more.
    share : float
        The chance, between 0 and 1.

    Returns
    -------
    float
        Load, in the unit of the law's mean.

    Raises
    ------
    StatsError
        If n is no whole number of at least 1, or share not between 0 and 1.
    """
    n, share = checked_count(n, "n", 1), checked_share(share, "share")
    return float(law.quantile(-np.expm1(np.log1p(-share) / n)))


def bundle_below(law: StrengthLaw, n: int, load: float) -> float:
    """Chance that n joints which pass their load on to each other hold less than a total load.

    Parameters
    ----------
    law : StrengthLaw
        Of one joint.
    n : int
        Joints, 1 or more.
    load : float
        Total load, in the unit of the law's mean.

    Returns
    -------
    float
        Between 0 and 1.

    Raises
    ------
    StatsError
        If n is no whole number of at least 1, or load below 0.

    Notes
    -----
    The bundle holds ``max over j of (n - j + 1) x_(j)``, x rising: when j - 1 have gone, the rest share alike. It holds
    less than F if at least j joints lie below F / (n - j + 1) for every j. The count of joints below those rising loads
    is a Markov chain with binomial steps, so that the chance is a sum of n steps, all terms positive.

    References
    ----------
    Daniels HE (1945). The statistical theory of the strength of bundles of threads. I. Proceedings of the Royal Society
    A 183: 405-435 (the same distribution by another recursion).
    """
    n = checked_count(n, "n", 1)
    if not 0.0 <= scalar(load) < math.inf:
        raise StatsError(f"load ({said(load, 'g')}) must be a number of 0 or more.")
    p = law.below(load / np.arange(n, 0, -1.0))  # below load / n, load / (n - 1), ... load
    ways, more, rest = _steps(n)
    chance = np.zeros(n + 1)
    chance[0], before = 1.0, 0.0
    for j in range(1, n + 1):
        step = 0.0 if before >= 1.0 else min(max((float(p[j - 1]) - before) / (1 - before), 0.0), 1.0)
        chance = chance @ (ways * step**more * (1 - step) ** rest)
        chance[:j] = 0.0
        before = float(p[j - 1])
    return float(min(chance.sum(), 1.0))


@lru_cache(maxsize=64)
def _steps(n: int) -> tuple[Floats, Floats, Floats]:
    """From so many joints below to so many: the ways, how many more, how many are left above."""
    counts = np.arange(n + 1.0)
    more = counts[None, :] - counts[:, None]
    ways = np.where(more >= 0, special.comb(n - counts[:, None], np.maximum(more, 0)), 0.0)
    return ways, np.maximum(more, 0.0), np.broadcast_to(n - counts[None, :], more.shape)


def bundle_quantile(law: StrengthLaw, n: int, share: float) -> float:
    """Total load that the bundle of `bundle_below` holds less than with a given chance.

    Parameters
    ----------
    law : StrengthLaw
        Of one joint.
    n : int
        Joints, 1 or more.
    share : float
        The chance, between 0 and 1.

    Returns
    -------
    float
        Load, in the unit of the law's mean.

    Raises
    ------
    StatsError
        If n is no whole number of at least 1, or share not between 0 and 1.
    """
    n, share = checked_count(n, "n", 1), checked_share(share, "share")
    high = float(n * law.quantile(1 - 1e-9))
    return float(optimize.brentq(lambda f: bundle_below(law, n, f) - share, 1e-9 * high, high, xtol=1e-9 * high))


def bundle_mean(law: StrengthLaw, n: int) -> float:
    """Mean of the total load that the bundle holds: its distribution's complement, summed over the load.

    Parameters
    ----------
    law : StrengthLaw
        Of one joint.
    n : int
        Joints, 1 or more.

    Returns
    -------
    float
        Load, in the unit of the law's mean.

    Raises
    ------
    StatsError
        If n is no whole number of at least 1.
    """
    n = checked_count(n, "n", 1)
    low, high = bundle_quantile(law, n, 1e-7), float(n * law.quantile(1 - 1e-9))
    at = low + (high - low) * (_NODES + 1) / 2
    above = np.array([1 - bundle_below(law, n, float(f)) for f in at])
    return low + float((high - low) / 2 * np.sum(_WEIGHTS * above))
