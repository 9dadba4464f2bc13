"""Searches for a between-study variance: the REML root and the ends of its Q-profile interval."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, stats

from stats.interval import Interval

Floats = NDArray[np.float64]
_GRID = np.logspace(-3.0, 2.0, 11)  # in units of the caller's scale; wide enough to bracket, coarse enough to be cheap
_MOST_DOUBLINGS = 200


Point = tuple[float, float]


def reml_variance(
    evaluate: Callable[[float], Point], scale: float, scan: Callable[[Floats], list[Point]] | None = None
) -> float:
    """Find the variance >= 0 that minimises a profiled restricted likelihood.

    Parameters
    ----------
    evaluate : callable
        Takes a variance and gives (minus twice the restricted log likelihood, its derivative times any
        positive factor; one that makes it nearly straight saves steps).
    scale : float
        A variance of about the right size, in its unit; only the speed depends on it.
    scan : callable, optional
        Gives what `evaluate` gives for many variances at once, shape (m,), where that is quicker.

    Returns
    -------
    float
        The minimiser. It is 0.0 exactly when the likelihood falls away from zero.

    Raises
    ------
    ArithmeticError
        If the likelihood still rises at the end of the search, which no likelihood of this kind does.

    Notes
    -----
    The derivative is scanned over a coarse grid, each change from falling to rising is solved by Brent's
    method, and the best of those minima and zero is kept, so that a second local minimum is not missed
    unless it lies between two grid points.
    """
    points = np.concatenate([[0.0], scale * _GRID])
    values = scan(points) if scan else [evaluate(t) for t in points]
    # The search asks again for its ends, and for the root.
    known: dict[float, Point] = dict(zip(points.tolist(), values, strict=True))

    def at(t: float) -> Point:
        if t not in known:
            known[t] = evaluate(t)
        return known[t]

    while values[-1][1] < 0.0:
        points = np.append(points, points[-1] * 10.0)
        values.append(at(float(points[-1])))
        if len(points) > _MOST_DOUBLINGS:  # pragma: no cover - the derivative tends to df / t > 0
            raise ArithmeticError("The restricted likelihood has no minimum.")
    minima = [(values[0][0], 0.0)] if values[0][1] >= 0.0 else []
    for i in range(len(points) - 1):
        if values[i][1] < 0.0 <= values[i + 1][1]:
            root = optimize.brentq(lambda t: at(t)[1], points[i], points[i + 1], xtol=1e-14 * scale, rtol=1e-13)
            minima.append((at(root)[0], float(root)))
    return min(minima)[1]


def falling_root(f: Callable[[float], float], target: float, scale: float) -> float:
    """Solve f(t) = target for t >= 0 where f falls; 0.0 when f(0) is already at or below the target.

    Parameters
    ----------
    f : callable
        Takes a t and gives f(t).
    target : float
        In the unit of f.
    scale : float
        A t of about the right size, in its unit.

    Returns
    -------
    float
    """
    known = {0.0: f(0.0)}
    if known[0.0] <= target:
        return 0.0
    low, high = 0.0, scale
    for _ in range(_MOST_DOUBLINGS):
        known[high] = f(high)
        if known[high] < target:
            break
        low, high = high, high * 4.0

    def above(t: float) -> float:
        return (known[t] if t in known else f(t)) - target

    return float(optimize.brentq(above, low, high, xtol=1e-14 * scale, rtol=1e-13))


def q_profile(q: Callable[[float], float], df: int, scale: float, level: float) -> Interval:
    """Invert the generalised Q statistic into an interval for the between-study variance.

    Parameters
    ----------
    q : callable
        Weighted residual sum of squares as a falling function of the variance.
    df : int
        Its degrees of freedom.
    scale : float
        A variance of about the right size, in its unit.
    level : float
        Confidence level, 0 to 1.

    Returns
    -------
    Interval
        Of the variance, in the unit of `scale`.

    Notes
    -----
    Q(t) follows chi-squared on `df` at the true t (exactly, for known within-study variances), so the
    interval holds every t >= 0 that the two tails do not reject [1]_. Studies that agree far better than
    their errors allow make it (0, 0).

    References
    ----------
    .. [1] Viechtbauer W (2007). Confidence intervals for the amount of heterogeneity in meta-analysis.
       Statistics in Medicine 26: 37-52.
    """
    upper, lower = stats.chi2.ppf([(1 + level) / 2, (1 - level) / 2], df)
    return Interval(falling_root(q, upper, scale), falling_root(q, lower, scale), level)
