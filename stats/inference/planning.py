"""Plan a test of two joints: how many specimens tell them apart, and what so many would tell.

Spread is given as a coefficient of variation (cv); on logs it is ``sqrt(log(1 + cv^2))``.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, special

from stats.inference.sample import BadSetting, checked_above, checked_count, checked_share
from stats.scalar import said, scalar

Alternative = Literal["two-sided", "one-sided"]
Spread = TypeVar("Spread", float, NDArray[np.float64])

MOST = 1_000_000  # specimens a group past which a plan is no plan
LARGEST_CV, LARGEST_SD_LOG = 100.0, 10.0  # beyond them a spread is a slip, and its exponential soon no number


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
    exact = 2.0 if short(2.0) >= 0 else solve_count(short, 2.0)
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

    Raises
    ------
    BadSetting
        If cv is not 0 to 100: more than that is no spread of joints.
    """
    share = scalar(cv)
    if not 0.0 <= share <= LARGEST_CV:
        raise BadSetting(f"cv is {said(cv)}; it must be 0 to {LARGEST_CV:g}, 0.15 for 15 %.")
    return float(np.sqrt(np.log1p(share**2)))


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

    Raises
    ------
    BadSetting
        If a single sd_log is not 0 to 10; an array's are not checked.

    Examples
    --------
    >>> round(cv_from_sd_log(sd_log_from_cv(0.2)), 12)
    0.2
    """
    if isinstance(sd_log, np.ndarray):
        return np.asarray(np.sqrt(np.expm1(sd_log**2)))
    if sd_log != sd_log:
        return sd_log
    if not 0.0 <= scalar(sd_log) <= LARGEST_SD_LOG:
        raise BadSetting(f"sd_log is {said(sd_log)}; it must be 0 to {LARGEST_SD_LOG:g}.")
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


def solve_count(short: Callable[[float], float], low: float) -> float:
    """Number of specimens at which a plan is just met: the root of a function of it that rises through zero.

    Parameters
    ----------
    short : callable
        Gives what n specimens [-] fall short by, below zero where they do.
    low : float
        A number of specimens that is too few.

    Returns
    -------
    float
        Before rounding up.

    Raises
    ------
    BadSetting
        If it exceeds a million.
    """
    high = max(4.0, 2 * low)
    while short(high) < 0:
        high *= 2
        if high > MOST:
            raise BadSetting(f"it would take more than {MOST} specimens; ask for a larger difference.")
    return float(optimize.brentq(short, low, high, xtol=1e-12, rtol=1e-13))
