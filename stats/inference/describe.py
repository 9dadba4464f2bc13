"""A series in a few numbers: centre, spread, intervals and lower limits, with every gap explained.

The rule for specimens that held: a specimen that held is at least as strong as its reading. Figures "as
read" take it as though it had broken there, so that they understate the centre; `censored` gives the
maximum-likelihood figures that count it as right-censored. Lower limits never treat it as broken there.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from stats.errors import StatsError
from stats.inference import censored, tolerance
from stats.inference.sample import (
    BadSample,
    Floats,
    checked,
    checked_broke,
    checked_share,
    log_spread,
)
from stats.interval import Interval

T = TypeVar("T")


@dataclass(frozen=True)
class CensoredSummary:
    """A series with its held specimens taken as right-censored, lognormal, by maximum likelihood.

    Parameters
    ----------
    geometric_mean : float
        Median of the lognormal fit, in the unit of the readings.
    interval : Interval
        Its interval, by the delta method on the log.
    sd_log : float
        Standard deviation of logs [-], by maximum likelihood.
    weibull_shape, weibull_scale : float or None
        Shape [-] and scale (in the unit of the readings) of the Weibull fit; None where it can't be had.
    """

    geometric_mean: float
    interval: Interval
    sd_log: float
    weibull_shape: float | None
    weibull_scale: float | None


@dataclass(frozen=True)
class SeriesSummary:
    """A series in a few numbers. Whatever can't be had is None, and `reasons` says why under its name.

    Parameters
    ----------
    values, broke : tuple
        The readings, and whether each specimen broke.
    n, held : int
        Specimens, and how many of them held.
    level : float
        Level of the intervals.
    mean, geometric_mean : float
        As read, in the unit of the readings: held specimens at the most they held.
    sd, cv, sd_log : float or None
        As read, divisor n - 1, in the unit of the readings and [-, -]; cv is sd / mean.
    mean_interval, geometric_interval : Interval or None
        By Student's t on the readings, and on their logs.
    limit_95_75, limit_90_90 : LowerLimit or None
        Lognormal lower limits: 5th percentile at 75 % confidence, 10th at 90 %.
    order_limit_95_75, order_limit_90_90 : LowerLimit or None
        The same without a distribution, from the ordered readings.
    censored : CensoredSummary or None
        Where some held: the same centre and spread with those right-censored.
    reasons : dict of str to str
        Why a field is None.
    """

    values: tuple[float, ...]
    broke: tuple[bool, ...]
    n: int
    held: int
    level: float
    mean: float
    geometric_mean: float
    sd: float | None
    cv: float | None
    sd_log: float | None
    mean_interval: Interval | None
    geometric_interval: Interval | None
    limit_95_75: tolerance.LowerLimit | None
    limit_90_90: tolerance.LowerLimit | None
    order_limit_95_75: tolerance.LowerLimit | None
    order_limit_90_90: tolerance.LowerLimit | None
    censored: CensoredSummary | None
    reasons: dict[str, str] = field(default_factory=dict)

    @property
    def lower_bound(self) -> bool:
        """Whether the figures as read understate the centre, some specimens having held."""
        return self.held > 0


@dataclass(frozen=True)
class SumsSummary:
    """A series, or many at once, described from sums of logs.

    Fields are floats for one series and arrays for many. Where there is one specimen, `sd_log` and the ends
    of the interval are None (one series) or NaN (many, and `has_spread` is false there).

    Parameters
    ----------
    n, held : int or ndarray of int, shape (m,)
        Specimens, and how many of them held.
    level : float
        Level of the interval.
    geometric_mean : float or ndarray, shape (m,)
        In the unit of the readings.
    has_spread : bool or ndarray of bool, shape (m,)
        Whether there is more than one specimen.
    lower_bound : bool or ndarray of bool, shape (m,)
        Whether any held, so that the geometric mean is a lower bound.
    sd_log : float, None or ndarray, shape (m,)
        Standard deviation of logs [-], divisor n - 1.
    low, high : float, None or ndarray, shape (m,)
        Ends of the interval of the geometric mean, in the unit of the readings.
    """

    n: int | NDArray[np.int_]
    held: int | NDArray[np.int_]
    level: float
    geometric_mean: float | Floats
    has_spread: bool | NDArray[np.bool_]
    lower_bound: bool | NDArray[np.bool_]
    sd_log: float | None | Floats
    low: float | None | Floats
    high: float | None | Floats

    @property
    def interval(self) -> Interval | None:
        """The interval of one series, where it has one."""
        if isinstance(self.low, float) and isinstance(self.high, float):
            return Interval(self.low, self.high, self.level)
        return None


def summary(values: ArrayLike, broke: ArrayLike | None = None, *, level: float = 0.95) -> SeriesSummary:
    """Describe a series: counts, centre, spread, intervals and lower limits.

    Parameters
    ----------
    values : array_like, shape (n,)
        Readings, above zero: where each specimen broke, or the most it held.
    broke : array_like of bool, shape (n,), optional
        Whether each specimen broke; all did if left out. Leave void specimens out of both.
    level : float
        Confidence level of the intervals.

    Returns
    -------
    SeriesSummary

    Raises
    ------
    BadSample
        If a reading is not finite and above zero, there is none, or the lengths differ.

    Notes
    -----
    A series of one never fails: its spread, intervals and limits are None with reasons. The interval of the
    geometric mean is ``exp(mean +- t sd / sqrt(n))`` of logs. Intervals as read are not given where
    specimens held, since they would miss a strength only known to be exceeded; see `censored`.

    Examples
    --------
    >>> s = summary([310, 350, 362, 371, 400])
    >>> s.n, round(s.geometric_mean, 1), round(s.cv, 3), round(s.limit_95_75.value, 1)
    (5, 357.4, 0.092, 283.9)
    >>> summary([420]).reasons["sd"]
    'One specimen shows no spread; two are the fewest that do.'
    """
    level = checked_share(level, "level")
    array = checked(values)
    event = checked_broke(broke, array.size)
    n, held = array.size, int((~event).sum())
    logs = np.log(array)
    reasons: dict[str, str] = {}
    sd = float(array.std(ddof=1)) if n > 1 else None
    sd_log = log_spread(logs) if n > 1 else None
    if sd_log == 0:
        sd = 0.0  # what is left is rounding
    mean = float(array.mean())
    if n == 1:
        for name in ("sd", "cv", "sd_log"):
            reasons[name] = "One specimen shows no spread; two are the fewest that do."
    intervals = _intervals(array, logs, sd, sd_log, held, level, reasons)
    limits = _limits(array, event, reasons)
    return SeriesSummary(
        values=tuple(array.tolist()),
        broke=tuple(event.tolist()),
        n=n,
        held=held,
        level=level,
        mean=mean,
        geometric_mean=float(np.exp(logs.mean())),
        sd=sd,
        cv=None if sd is None else sd / mean,
        sd_log=sd_log,
        mean_interval=intervals[0],
        geometric_interval=intervals[1],
        censored=_censored(array, event, level, reasons) if held else None,
        reasons=reasons,
        **limits,
    )


def from_sums(
    n: ArrayLike, sum_log: ArrayLike, sum_sq_log: ArrayLike, held: ArrayLike = 0, level: float = 0.95
) -> SumsSummary:
    """Describe one series or many from their counts, sums of logs and sums of squared logs.

    Parameters
    ----------
    n : int or array_like of int, shape (m,)
        Specimens, those that held included.
    sum_log, sum_sq_log : float or array_like, shape (m,)
        Sum of natural logs of the readings, and of their squares, held specimens as read.
    held : int or array_like of int, shape (m,)
        How many of the n held; where any did, the geometric mean is a lower bound and is marked so.
    level : float
        Confidence level of the interval.

    Returns
    -------
    SumsSummary

    Raises
    ------
    BadSample
        If a count is below one or not whole, more held than there are, a sum is not finite, or the sums
        can't belong together (the squares are too few for the sum).

    Notes
    -----
    ``sd^2 = (sum_sq - sum^2 / n) / (n - 1)``; ``exp(mean +- t sd / sqrt(n))``. The difference loses digits
    where the spread is very small: an sd of logs below about 3e-6 counts as none.

    Examples
    --------
    >>> import numpy as np
    >>> logs = np.log([310, 350, 362, 371, 400])
    >>> s = from_sums(5, logs.sum(), (logs**2).sum())
    >>> round(s.geometric_mean, 1), round(s.interval.low), round(s.interval.high)
    (357.4, 318, 401)
    """
    level = checked_share(level, "level")
    try:
        counts, sums, squares, holds = (np.asarray(x, dtype=np.float64) for x in (n, sum_log, sum_sq_log, held))
    except (TypeError, ValueError) as fault:
        raise BadSample(f"n, sum_log, sum_sq_log and held must be numbers: {fault}.") from fault
    scalar = counts.ndim == sums.ndim == squares.ndim == 0
    try:
        counts, sums, squares, holds = np.broadcast_arrays(counts, sums, squares, holds)
    except ValueError as fault:
        raise BadSample(f"n, sum_log, sum_sq_log and held must be of one length: {fault}.") from fault
    _check_sums(counts, sums, squares, holds)
    mean = sums / counts
    spread = squares - sums * mean
    # below this the difference is what rounding of the squares leaves
    spread = np.where(spread < 1e-13 * np.maximum(squares, 1.0), 0.0, spread)
    has_spread = counts > 1
    freedom = np.where(has_spread, counts - 1, 1.0)
    sd = np.where(has_spread, np.sqrt(spread / freedom), np.nan)
    reach = special.stdtrit(freedom, 0.5 + level / 2) * sd / np.sqrt(counts)
    centre, low, high = np.exp(mean), np.exp(mean - reach), np.exp(mean + reach)
    whole, holding = counts.astype(int), holds.astype(int)
    if not scalar:
        return SumsSummary(whole, holding, level, centre, has_spread, holds > 0, sd, low, high)
    parts = [float(x) if has_spread else None for x in (sd, low, high)]
    return SumsSummary(int(whole), int(holding), level, float(centre), bool(has_spread), bool(holds > 0), *parts)


def _check_sums(counts: Floats, sums: Floats, squares: Floats, holds: Floats) -> None:
    def refuse(bad: NDArray[np.bool_], message: str) -> None:
        if bad.any():
            at = int(np.flatnonzero(bad.ravel())[0])
            c, s, q, h = (float(x.ravel()[at]) for x in (counts, sums, squares, holds))
            raise BadSample(f"series {at} has n {c:g}, sum_log {s:g}, sum_sq_log {q:g}, held {h:g}: {message}.")

    with np.errstate(invalid="ignore"):
        refuse(~(counts >= 1) | (counts != np.floor(counts)), "n must be a whole number of at least one")
        refuse(~(holds >= 0) | (holds > counts) | (holds != np.floor(holds)), "held must lie between 0 and n")
        refuse(~np.isfinite(counts + sums + squares), "sums must be finite numbers")
        gap = squares - sums**2 / counts
        refuse(gap < -1e-9 * np.maximum(squares, 1.0), "the squares are too small for this sum")


def _intervals(
    array: Floats,
    logs: Floats,
    sd: float | None,
    sd_log: float | None,
    held: int,
    level: float,
    reasons: dict[str, str],
) -> tuple[Interval | None, Interval | None]:
    why = None
    if sd is None or sd_log is None:
        why = "One specimen gives no interval; two are the fewest that do."
    elif sd_log == 0:
        why = f"All {array.size} readings are equal, so they say nothing of the spread (a coarse scale?)."
    elif held:
        why = f"{held} of {array.size} specimens held; an interval as read would be too low. See censored."
    if why or sd is None or sd_log is None:
        reasons["mean_interval"] = reasons["geometric_interval"] = why or ""
        return None, None
    t = float(special.stdtrit(array.size - 1, 0.5 + level / 2))
    reach, reach_log = t * sd / np.sqrt(array.size), t * sd_log / np.sqrt(array.size)
    mean, mean_log = float(array.mean()), float(logs.mean())
    plain = Interval(float(mean - reach), float(mean + reach), level)
    return plain, Interval(float(np.exp(mean_log - reach_log)), float(np.exp(mean_log + reach_log)), level)


def _limits(array: Floats, event: NDArray[np.bool_], reasons: dict[str, str]) -> dict[str, tolerance.LowerLimit | None]:
    limits: dict[str, tolerance.LowerLimit | None] = {}
    models: tuple[tuple[str, tolerance.Model], ...] = (("limit", "lognormal"), ("order_limit", "order"))
    for stem, model in models:
        for name, coverage, confidence in (("95_75", 0.95, 0.75), ("90_90", 0.90, 0.90)):
            limit = partial(tolerance.lower_limit, array, coverage, confidence, model, broke=event)
            limits[f"{stem}_{name}"] = _or_reason(limit, f"{stem}_{name}", reasons)
    return limits


def _censored(array: Floats, event: NDArray[np.bool_], level: float, reasons: dict[str, str]) -> CensoredSummary | None:
    fit = _or_reason(lambda: censored.fit_lognormal(array, event), "censored", reasons)
    if fit is None:
        return None
    weibull = _or_reason(lambda: censored.fit_weibull(array, event), "weibull_shape", reasons)
    return CensoredSummary(
        fit.geometric_mean,
        fit.quantile(0.5, level).interval,
        fit.sd_log,
        weibull.shape if weibull else None,
        weibull.scale if weibull else None,
    )


def _or_reason(call: Callable[[], T], name: str, reasons: dict[str, str]) -> T | None:
    """Result of a call, or None with its refusal kept under `name`."""
    try:
        return call()
    except StatsError as refusal:
        reasons[name] = str(refusal)
        return None
