"""Factors and ranks of one-sided lower tolerance limits, computed and not read from tables."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, special, stats

from stats.inference.sample import BadSetting, checked_above, checked_count, checked_share

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(96)


def normal_factor(n: int, coverage: float, confidence: float) -> float:
    """Exact one-sided tolerance factor k of a normal sample: limit = mean - k * sd.

    Parameters
    ----------
    n : int
        Number of specimens, at least 2.
    coverage : float
        Share of the population above the limit, 0 to 1: 0.95 for the 5th percentile.
    confidence : float
        Probability that the limit keeps its word.

    Returns
    -------
    float

    Raises
    ------
    BadSetting
        If n is below 2, or coverage or confidence is not between 0 and 1.

    Notes
    -----
    ``k = t(confidence; n - 1, z sqrt(n)) / sqrt(n)``, the quantile of the noncentral t with
    noncentrality ``z sqrt(n)``, z the standard normal quantile of the coverage. The sd has divisor n - 1.

    References
    ----------
    Owen, D. B. (1963). Factors for One-Sided Tolerance Limits. Sandia Corporation Monograph SCR-607.

    Examples
    --------
    >>> round(normal_factor(10, 0.95, 0.75), 3)
    2.104
    """
    n = checked_count(n, "n", 2)
    return _normal_factor(n, checked_share(coverage, "coverage"), checked_share(confidence, "confidence"))


@lru_cache(maxsize=4096)
def _normal_factor(n: int, coverage: float, confidence: float) -> float:
    return noncentral_factor(n - 1, n, coverage, confidence)


def noncentral_factor(df: float, m: float, coverage: float, confidence: float) -> float:
    """Tolerance factor of a mean worth m readings beside a spread known on df degrees of freedom.

    Parameters
    ----------
    df : float
        Degrees of freedom of the spread, above 0; need not be whole.
    m : float
        Spread squared over the squared standard error of the mean, above 0; the number of specimens for a sample.
    coverage, confidence : float
        As for `normal_factor`.

    Returns
    -------
    float
        ``t(confidence; df, z sqrt(m)) / sqrt(m)``, the noncentral t quantile.

    Raises
    ------
    BadSetting
        If df or m is not above zero, or coverage or confidence not between 0 and 1.
    """
    df, m = checked_above(df, "df"), checked_above(m, "m")
    coverage, confidence = checked_share(coverage, "coverage"), checked_share(confidence, "confidence")
    shift = np.sqrt(m) * special.ndtri(coverage)
    # scipy.stats' own way to it, less its ado, which takes ten times as long
    return float(special.nctdtrit(df, shift, confidence) / np.sqrt(m))


def order_rank(n: int, quantile: float, confidence: float) -> int | None:
    """Rank of the reading that is a lower limit for a quantile whatever the distribution.

    Parameters
    ----------
    n : int
        Number of specimens.
    quantile : float
        Share of the population below the limit: 0.05 for the 5th percentile.
    confidence : float
        Probability that the limit keeps its word.

    Returns
    -------
    int or None
        1 for the lowest reading, 2 for the next, ...; None where n is too small for any.

    Raises
    ------
    BadSetting
        If n is no whole number of at least 1, or quantile or confidence not between 0 and 1.

    Notes
    -----
    The largest r with ``1 - B(r - 1; n, quantile) >= confidence``, B the cumulative binomial.

    References
    ----------
    Wilks, S. S. (1941). Determination of sample sizes for setting tolerance limits. Annals of
    Mathematical Statistics 12, 91-96.

    Examples
    --------
    >>> order_rank(28, 0.05, 0.75), order_rank(27, 0.05, 0.75)
    (1, None)
    """
    n = checked_count(n, "n", 1)
    quantile, confidence = checked_share(quantile, "quantile"), checked_share(confidence, "confidence")
    # P(at least r of n lie below the quantile) falls with r, so the ranks that serve come first
    serves = stats.binom.sf(np.arange(n), n, quantile) >= confidence
    rank = int(serves.sum())
    return rank or None


def order_minimum_n(quantile: float, confidence: float, rank: int = 1) -> int:
    """Fewest specimens for which the reading of a given rank is a lower limit for a quantile.

    Parameters
    ----------
    quantile : float
        Share of the population below the limit: 0.05 for the 5th percentile.
    confidence : float
        Probability that the limit keeps its word.
    rank : int
        1 for the lowest reading, 2 for the next, ...

    Returns
    -------
    int

    Raises
    ------
    BadSetting
        If rank is no whole number of at least 1, or quantile or confidence not between 0 and 1.

    Examples
    --------
    >>> order_minimum_n(0.05, 0.75), order_minimum_n(0.05, 0.95)
    (28, 59)
    """
    rank = checked_count(rank, "rank", 1)
    quantile, confidence = checked_share(quantile, "quantile"), checked_share(confidence, "confidence")

    def serves(n: int) -> bool:
        return bool(stats.binom.sf(rank - 1, n, quantile) >= confidence)

    high = rank
    while not serves(high):
        high *= 2
    low = max(rank, high // 2)
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if serves(middle) else (middle + 1, high)
    return high


def hanson_koopmans_factor(n: int, coverage: float, confidence: float, rank: int | None = None) -> tuple[int, float]:
    """Rank r and factor k of the Hanson-Koopmans limit ``x_r (x_1 / x_r)^k`` for a small sample.

    Parameters
    ----------
    n : int
        Number of specimens, at least 2.
    coverage, confidence : float
        Share of the population above the limit, and the probability that it keeps its word.
    rank : int, optional
        Rank of the second reading, 2 to n; the best for a normal sample if left out.

    Returns
    -------
    rank : int
        Rank of the second reading used.
    factor : float
        k, at least 1.

    Raises
    ------
    BadSetting
        If n is below 2, or so large that the lowest reading serves by itself (use `order_rank`).

    Notes
    -----
    Where the logarithm of the distribution function is concave in log x (as for the normal, lognormal and
    Weibull), ``F(limit) <= U_r (U_1 / U_r)^k`` with U uniform order statistics, whose ratio is independent
    of U_r and has a beta(1, r - 1) distribution. So k solves ``P(U_r (U_1 / U_r)^k <= 1 - coverage) =
    confidence``, whatever the distribution. The rank is the one whose limit would lie nearest the true
    quantile, on average, in a normal sample; published tables take a neighbour for a few n.

    References
    ----------
    Hanson, D. L. and Koopmans, L. H. (1964). Tolerance limits for the class of distributions with
    increasing hazard rates. Annals of Mathematical Statistics 35, 1561-1570.
    MIL-HDBK-17-1F (2002), vol. 1, section 8.3.4.5.2 and tables 8.5.14 and 8.5.15.

    Examples
    --------
    >>> rank, k = hanson_koopmans_factor(10, 0.90, 0.95)
    >>> rank, round(k, 3)
    (6, 2.137)
    """
    n = checked_count(n, "n", 2)
    coverage, confidence = checked_share(coverage, "coverage"), checked_share(confidence, "confidence")
    enough = order_minimum_n(1 - coverage, confidence)
    if n >= enough:
        raise BadSetting(f"n is {n}; from {enough} on the lowest reading serves by itself, see order_rank.")
    if rank is not None:
        rank = checked_count(rank, "rank", 2)
        if rank > n:
            raise BadSetting(f"rank is {rank}; it must lie between 2 and n, {n}.")
        return rank, _spaced_factor(n, rank, 1 - coverage, confidence)
    return _hanson_koopmans(n, coverage, confidence)


@lru_cache(maxsize=1024)
def _hanson_koopmans(n: int, coverage: float, confidence: float) -> tuple[int, float]:
    means = _normal_order_means(n)
    factors = [_spaced_factor(n, rank, 1 - coverage, confidence) for rank in range(2, n + 1)]
    k = np.array(factors)
    miss = np.abs(k * means[0] + (1 - k) * means[1:] - special.ndtri(1 - coverage))
    best = int(np.argmin(miss))
    return best + 2, factors[best]


def _normal_order_means(n: int) -> NDArray[np.float64]:
    """Mean of each order statistic of n standard normal readings."""
    z = np.linspace(-9.0, 9.0, 1801)  # the integrand is smooth and dies at both ends: the plain sum is exact
    rank = np.arange(1, n + 1)[:, None]
    log_density = (
        (rank - 1) * special.log_ndtr(z)
        + (n - rank) * special.log_ndtr(-z)
        - special.betaln(rank, n - rank + 1)
        - z**2 / 2
    )
    return np.asarray(np.exp(log_density) @ z * (z[1] - z[0]) / np.sqrt(2 * np.pi))


def _spaced_factor(n: int, rank: int, quantile: float, confidence: float) -> float:
    """Solve for k given the rank; see `hanson_koopmans_factor`."""
    a, b = rank, n - rank + 1
    sure = float(special.betainc(a, b, quantile))  # the higher reading is itself below the quantile
    # integrate over the probability of the higher reading, which spreads the nodes where it lies
    share = sure + (1 - sure) * (_NODES + 1) / 2
    log_ratio = np.log(quantile) - np.log(special.betaincinv(a, b, share))

    def short(log_k: float) -> float:
        bound = np.exp(log_ratio / np.exp(log_k))
        meets = 1 - (1 - bound) ** (rank - 1)
        return sure + (1 - sure) * float(_WEIGHTS @ meets) / 2 - confidence

    high = 1.0
    while short(high) < 0:
        high += 1.0
    return float(np.exp(optimize.brentq(short, -1.0, high, xtol=1e-13)))
