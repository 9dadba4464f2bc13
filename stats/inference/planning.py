"""Plan a test: how many specimens to tell two joints apart, to pin down a mean, or for a lower limit.

Spread is given as a coefficient of variation (cv); on logs it is ``sqrt(log(1 + cv^2))``.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, special, stats

from stats.inference.sample import BadSetting, checked_above, checked_count, checked_share
from stats.inference.tolerance_factors import normal_factor, order_minimum_n

Alternative = Literal["two-sided", "one-sided"]
Spread = TypeVar("Spread", float, NDArray[np.float64])

MOST = 1_000_000  # specimens a group past which a plan is no plan


@dataclass(frozen=True)
class RatioPlan:
    """Specimens a group to tell a ratio of geometric means from one.

    Parameters
    ----------
    n : int
        Specimens a group, whole.
    exact : float
        The solution before rounding up, a number of specimens not below 2.
    power_at_n : float
        Power that n gives.
    ratio, cv, power, alpha, alternative
        What was asked [-].
    method : str
        How it was worked.
    """

    n: int
    exact: float
    power_at_n: float
    ratio: float
    cv: float
    power: float
    alpha: float
    alternative: Alternative
    method: str = "two-sample t on logs"


@dataclass(frozen=True)
class PrecisionPlan:
    """Specimens for an interval of the geometric mean no wider than asked.

    Parameters
    ----------
    n : int
        Specimens, whole.
    relative_width : float
        How far the interval may reach above the mean, as a share of it.
    cv : float
        Coefficient of variation expected [-].
    level : float
        Level of the interval.
    method : str
        How it was worked.
    """

    n: int
    relative_width: float
    cv: float
    level: float
    method: str = "t interval on logs, at the cv given"


@dataclass(frozen=True)
class LowerLimitPlan:
    """Specimens for a lower limit: the fewest by order, and for a lognormal one that is close.

    Parameters
    ----------
    n : int
        Specimens for the lognormal limit to come within `share` of the true percentile.
    n_order : int
        Fewest specimens for which the lowest reading is a limit whatever the distribution.
    factor : float
        Tolerance factor at n.
    coverage, confidence : float
        Share of joints above the limit, and the probability that it keeps its word.
    cv : float
        Coefficient of variation expected [-].
    share : float
        Limit over true percentile to be expected.
    method : str
        How it was worked.
    """

    n: int
    n_order: int
    factor: float
    coverage: float
    confidence: float
    cv: float
    share: float
    method: str = "lognormal tolerance factor, at the cv given"


@dataclass(frozen=True)
class Detectable:
    """The smallest ratio that a test of n a group would be expected to tell from one.

    Parameters
    ----------
    ratio : float
        Ratio of geometric means, above one.
    ratio_down : float
        Its reciprocal [-], which is told as well.
    n : int
        Specimens a group.
    cv, power, alpha, alternative
        What was asked [-].
    method : str
        How it was worked.
    """

    ratio: float
    ratio_down: float
    n: int
    cv: float
    power: float
    alpha: float
    alternative: Alternative
    method: str = "two-sample t on logs"


def n_for_ratio(
    ratio: float,
    cv: float,
    power: float = 0.8,
    alpha: float = 0.05,
    *,
    alternative: Alternative = "two-sided",
    both_tails: bool = False,
) -> RatioPlan:
    """Specimens a group to tell a ratio of two joints' strengths from one.

    Parameters
    ----------
    ratio : float
        The ratio of geometric means worth telling: 1.2, or 0.83 for the other way.
    cv : float
        Coefficient of variation expected within each joint: 0.15.
    power : float
        Chance of telling it.
    alpha : float
        Chance of seeing a difference where there is none.
    alternative : {"two-sided", "one-sided"}
        One-sided only where the direction is fixed before testing.
    both_tails : bool
        Count as success a difference seen in the wrong direction too, which changes n by nothing to speak
        of.

    Returns
    -------
    RatioPlan

    Raises
    ------
    BadSetting
        If ratio is 1 or not above zero, cv not above zero, or power or alpha not between 0 and 1; or if
        the answer exceeds a million.

    Notes
    -----
    Power of the two-sample t test with equal groups: noncentral t, ``2 n - 2`` degrees of freedom,
    noncentrality ``|log ratio| sqrt(n / 2) / sd_log``. Planned for equal spread; where one joint varies more,
    take its cv.

    References
    ----------
    Cohen, J. (1988). Statistical Power Analysis for the Behavioral Sciences, 2nd ed., ch. 2. Erlbaum.

    Examples
    --------
    >>> n_for_ratio(1.2, 0.15).n
    12
    """
    ratio, cv = checked_above(ratio, "ratio"), checked_above(cv, "cv")
    power, alpha = checked_share(power, "power"), checked_share(alpha, "alpha")
    effect = abs(np.log(ratio)) / sd_log_from_cv(cv)
    if effect == 0:
        raise BadSetting("ratio is 1; there is no difference to tell.")
    if power <= alpha:
        raise BadSetting(f"power is {power} and alpha {alpha}; power must be the larger.")
    one_sided = _one_sided(alternative)

    def short(n: float) -> float:
        return _power(n, effect, alpha, one_sided, both_tails) - power

    # below two a group there is no spread to test with
    exact = 2.0 if short(2.0) >= 0 else _solve_count(short, 2.0)
    n = int(np.ceil(exact - 1e-9))
    got = _power(n, effect, alpha, one_sided, both_tails)
    return RatioPlan(n, exact, got, ratio, cv, power, alpha, alternative)


def power_at(n: int, ratio: float, cv: float, alpha: float = 0.05) -> float:
    """Chance that n specimens of each of two joints tell a ratio of their strengths from one.

    Parameters
    ----------
    n : int
        Specimens a group, at least 2.
    ratio, cv, alpha : float
        As for `n_for_ratio`, two-sided; a ratio of 1 is told by half of alpha, in the right direction by luck.

    Returns
    -------
    float

    Raises
    ------
    BadSetting
        If n is below 2, or another setting out of range.

    Examples
    --------
    >>> round(power_at(12, 1.2, 0.15), 3)
    0.816
    """
    n = checked_count(n, "n", 2)
    ratio, cv, alpha = checked_above(ratio, "ratio"), checked_above(cv, "cv"), checked_share(alpha, "alpha")
    return _power(n, abs(float(np.log(ratio))) / sd_log_from_cv(cv), alpha, False, False)


def detectable_ratio(
    n: int,
    cv: float,
    power: float = 0.8,
    alpha: float = 0.05,
    *,
    alternative: Alternative = "two-sided",
) -> Detectable:
    """Smallest ratio of two joints' strengths that n specimens of each would tell from one.

    Parameters
    ----------
    n : int
        Specimens a group, at least 2.
    cv, power, alpha, alternative
        As for `n_for_ratio`.

    Returns
    -------
    Detectable

    Raises
    ------
    BadSetting
        If n is below 2, or another setting out of range.

    Examples
    --------
    >>> round(detectable_ratio(6, 0.15).ratio, 2)
    1.31
    """
    n, cv = checked_count(n, "n", 2), checked_above(cv, "cv")
    power, alpha = checked_share(power, "power"), checked_share(alpha, "alpha")
    if power <= alpha:
        raise BadSetting(f"power is {power} and alpha {alpha}; power must be the larger.")
    one_sided = _one_sided(alternative)

    def short(effect: float) -> float:
        return _power(n, effect, alpha, one_sided, False) - power

    high = 1.0
    while short(high) < 0:
        high *= 2
    effect = float(optimize.brentq(short, 0.0, high, xtol=1e-13, rtol=1e-13))
    ratio = float(np.exp(effect * sd_log_from_cv(cv)))
    return Detectable(ratio, 1 / ratio, n, cv, power, alpha, alternative)


def n_for_precision(relative_width: float, cv: float, level: float = 0.95) -> PrecisionPlan:
    """Specimens for an interval of the geometric mean of a stated width.

    Parameters
    ----------
    relative_width : float
        How far the interval may reach above the mean, as a share of it: 0.1 for 10 %.
    cv : float
        Coefficient of variation expected.
    level : float
        Confidence level.

    Returns
    -------
    PrecisionPlan

    Raises
    ------
    BadSetting
        If relative_width or cv is not above zero, or level not between 0 and 1; or if the answer exceeds a
        million.

    Notes
    -----
    The least n with ``t sd_log / sqrt(n) <= log(1 + relative_width)``. About half of such tests come out
    wider, the sample's own spread being the larger.

    Examples
    --------
    >>> n_for_precision(0.10, 0.15).n
    12
    """
    width = checked_above(relative_width, "relative_width")
    cv, level = checked_above(cv, "cv"), checked_share(level, "level")
    sd, reach = sd_log_from_cv(cv), np.log1p(width)

    def short(n: float) -> float:
        return float(reach - stats.t.ppf(0.5 + level / 2, n - 1) * sd / np.sqrt(n))

    n = 2 if short(2) >= 0 else int(np.ceil(_solve_count(short, 2.0) - 1e-9))
    return PrecisionPlan(n, width, cv, level)


def n_for_lower_limit(coverage: float, confidence: float, cv: float = 0.15, share: float = 0.9) -> LowerLimitPlan:
    """Specimens for a lower tolerance limit, by order and by lognormal factor.

    Parameters
    ----------
    coverage, confidence : float
        Share of joints above the limit, and the probability that it keeps its word.
    cv : float
        Coefficient of variation expected.
    share : float
        How near the true percentile the lognormal limit should come, as limit over percentile.

    Returns
    -------
    LowerLimitPlan

    Raises
    ------
    BadSetting
        If a setting is out of range, or the answer exceeds a million.

    Notes
    -----
    The lognormal limit lies about ``exp(-(k - z) sd_log)`` of the true percentile away, k the factor for n
    and z the normal quantile of the coverage.

    Examples
    --------
    >>> plan = n_for_lower_limit(0.95, 0.75)
    >>> plan.n, plan.n_order
    (6, 28)
    """
    coverage, confidence = checked_share(coverage, "coverage"), checked_share(confidence, "confidence")
    cv, share = checked_above(cv, "cv"), checked_share(share, "share")
    allowed = float(stats.norm.ppf(coverage) - np.log(share) / sd_log_from_cv(cv))
    high = 2
    while normal_factor(high, coverage, confidence) > allowed:
        high *= 2
        if high > MOST:
            raise BadSetting(f"share is {share}: it would take more than {MOST} specimens; ask for less.")
    low = max(2, high // 2)
    while low < high:
        middle = (low + high) // 2
        enough = normal_factor(middle, coverage, confidence) <= allowed
        low, high = (low, middle) if enough else (middle + 1, high)
    factor = normal_factor(high, coverage, confidence)
    by_order = order_minimum_n(1 - coverage, confidence)
    return LowerLimitPlan(high, by_order, factor, coverage, confidence, cv, share)


def sd_log_from_cv(cv: float) -> float:
    """Standard deviation of logs of a lognormal strength with the given coefficient of variation.

    Parameters
    ----------
    cv : float
        Coefficient of variation [-], 0 or more.

    Returns
    -------
    float
        ``sqrt(log(1 + cv^2))`` [-].
    """
    return float(np.sqrt(np.log1p(cv**2)))


def cv_from_sd_log(sd_log: Spread) -> Spread:
    """Coefficient of variation of a lognormal strength with the given standard deviation of logs.

    Parameters
    ----------
    sd_log : float or array
        Standard deviation of logs [-], 0 or more; NaN stays NaN.

    Returns
    -------
    float or array
        ``sqrt(exp(s^2) - 1)``, the inverse of `sd_log_from_cv`, of the shape given [-].

    Examples
    --------
    >>> round(cv_from_sd_log(sd_log_from_cv(0.2)), 12)
    0.2
    """
    if isinstance(sd_log, np.ndarray):
        return np.asarray(np.sqrt(np.expm1(sd_log**2)))
    return math.sqrt(math.expm1(sd_log**2))


def _one_sided(alternative: Alternative) -> bool:
    if alternative not in ("two-sided", "one-sided"):
        raise BadSetting(f"alternative is {alternative!r}; it must be two-sided or one-sided.")
    return alternative == "one-sided"


def _power(n: float, effect: float, alpha: float, one_sided: bool, both_tails: bool) -> float:
    """Upper tail of the noncentral t, as the lower one with its sign turned: exact where it is small."""
    df = 2 * n - 2
    shift = effect * np.sqrt(n / 2)
    low = special.stdtrit(df, alpha if one_sided else alpha / 2)  # scipy.stats' own way takes forty times as long
    power = float(special.nctdtr(df, -shift, low))
    if both_tails and not one_sided:
        power += float(special.nctdtr(df, shift, low))
    return power


def _solve_count(short: Callable[[float], float], low: float) -> float:
    """Root of a function of n that rises through zero."""
    high = max(4.0, 2 * low)
    while short(high) < 0:
        high *= 2
        if high > MOST:
            raise BadSetting(f"it would take more than {MOST} specimens; ask for a larger difference.")
    return float(optimize.brentq(short, low, high, xtol=1e-12, rtol=1e-13))
