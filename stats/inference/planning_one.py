"""Plan a test of one joint: how many specimens to pin down its mean, or for a lower limit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from stats.inference.planning import MOST, sd_log_from_cv, solve_count
from stats.inference.sample import BadSetting, checked_above, checked_share
from stats.inference.tolerance_factors import normal_factor, order_minimum_n


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

    n = 2 if short(2) >= 0 else int(np.ceil(solve_count(short, 2.0) - 1e-9))
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
