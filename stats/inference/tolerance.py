"""One-sided lower tolerance limits: the load that most joints of a kind exceed, and how surely.

Coverage is the share of joints above the limit: 0.95 means a limit for the 5th percentile.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from stats.inference import censored
from stats.inference.batches import BatchLimit, basis_between_batches
from stats.inference.sample import (
    BadSample,
    BadSetting,
    Floats,
    NoSpread,
    TooFew,
    checked,
    checked_broke,
    checked_share,
    log_spread,
)
from stats.inference.tolerance_factors import (
    hanson_koopmans_factor,
    normal_factor,
    order_minimum_n,
    order_rank,
)

__all__ = [
    "BatchLimit",
    "LowerLimit",
    "Model",
    "basis_between_batches",
    "hanson_koopmans_factor",
    "lower_limit",
    "normal_factor",
    "order_minimum_n",
    "order_rank",
]

Model = Literal["lognormal", "normal", "weibull", "order", "hanson-koopmans"]

CENSORED_NOTE = (
    "Held specimens count as at least as strong as their reading; the limit comes from the integrated "
    "likelihood, whose confidence is approximate when specimens held."
)


@dataclass(frozen=True)
class LowerLimit:
    """A lower tolerance limit and how it was had.

    Parameters
    ----------
    value : float
        The limit, in the unit of the readings.
    n, held : int
        Specimens, and how many of them held.
    coverage, confidence : float
        Share of joints above the limit, and the probability that it keeps its word.
    model : str
        What strength was taken to follow.
    factor : float or None
        The factor applied (k of sd, or the power of the ratio of two readings), where there is one.
    rank : int or None
        Rank of the reading used, where one was.
    notes : tuple of str
        What to know before using it.
    """

    value: float
    n: int
    held: int
    coverage: float
    confidence: float
    model: Model
    factor: float | None = None
    rank: int | None = None
    notes: tuple[str, ...] = ()


def lower_limit(
    values: ArrayLike,
    coverage: float = 0.95,
    confidence: float = 0.75,
    model: Model = "lognormal",
    *,
    broke: ArrayLike | None = None,
) -> LowerLimit:
    """Load that a share `coverage` of joints like these exceed, with a stated confidence.

    Parameters
    ----------
    values : array_like, shape (n,)
        Readings, above zero: where each specimen broke, or the most it held.
    coverage : float
        Share of joints above the limit: 0.95 for the 5th percentile.
    confidence : float
        Probability, over repeated samples, that the limit lies below that percentile.
    model : {"lognormal", "normal", "weibull", "order", "hanson-koopmans"}
        What strength is taken to follow. "order" and "hanson-koopmans" assume no distribution; the second
        is for samples too small for the first.
    broke : array_like of bool, shape (n,), optional
        Whether each specimen broke; all did if left out.

    Returns
    -------
    LowerLimit

    Raises
    ------
    BadSample
        If a reading is not finite and above zero, or the model can't take specimens that held.
    TooFew
        If there are too few specimens for the model.
    NoSpread
        If all readings are equal and the model needs their spread.
    BadSetting
        If coverage, confidence or model is not one that exists.

    Notes
    -----
    lognormal: ``exp(mean - k sd)`` of logs, k from `normal_factor`. normal: ``mean - k sd``. weibull:
    conditional limit, exact in confidence. order: reading of rank `order_rank`. hanson-koopmans:
    ``x_r (x_1 / x_r)^k``. A parametric limit is only as good as its model in the tail, which a small sample
    can't show.

    Examples
    --------
    >>> limit = lower_limit([310, 350, 362, 371, 400], coverage=0.95, confidence=0.75)
    >>> round(limit.value), round(limit.factor, 3)
    (284, 2.463)
    """
    if model not in get_args(Model):
        raise BadSetting(f"model is {model!r}; it must be one of {', '.join(get_args(Model))}.")
    coverage, confidence = checked_share(coverage, "coverage"), checked_share(confidence, "confidence")
    array = checked(values, minimum=1 if model == "order" else 2)
    event = checked_broke(broke, array.size)
    if model == "order":
        return _order(array, event, coverage, confidence)
    if model == "hanson-koopmans":
        return _hanson_koopmans(array, event, coverage, confidence)
    if model == "normal":
        return _normal(array, event, coverage, confidence)
    return _fitted(array, event, coverage, confidence, model)


def _fitted(
    array: Floats,
    event: NDArray[np.bool_],
    coverage: float,
    confidence: float,
    model: Literal["lognormal", "weibull"],
) -> LowerLimit:
    held = int((~event).sum())
    if model == "lognormal" and held == 0:
        logs = np.log(array)
        k = normal_factor(array.size, coverage, confidence)
        value = float(np.exp(logs.mean() - k * _spread(logs, array)))
        return LowerLimit(value, array.size, 0, coverage, confidence, model, factor=k)
    fit = censored.fit(array, event, model)
    value = fit.lower_limit(1 - coverage, confidence)
    notes = (CENSORED_NOTE,) if held else ()
    return LowerLimit(value, array.size, held, coverage, confidence, model, notes=notes)


def _normal(array: Floats, event: NDArray[np.bool_], coverage: float, confidence: float) -> LowerLimit:
    if not event.all():
        raise BadSample(
            f"{int((~event).sum())} specimens held, which the normal limit can't take; use model lognormal or weibull."
        )
    k = normal_factor(array.size, coverage, confidence)
    value = float(array.mean() - k * _spread(array, array))
    notes = () if value > 0 else ("The limit is below zero: the normal model does not fit; use lognormal.",)
    return LowerLimit(value, array.size, 0, coverage, confidence, "normal", factor=k, notes=notes)


def _order(array: Floats, event: NDArray[np.bool_], coverage: float, confidence: float) -> LowerLimit:
    rank = order_rank(array.size, 1 - coverage, confidence)
    if rank is None:
        raise TooFew(
            f"values has {array.size} readings; an order-statistic limit at coverage {coverage:g} and "
            f"confidence {confidence:g} needs {order_minimum_n(1 - coverage, confidence)}."
        )
    held = int((~event).sum())
    notes = ("Held specimens stand at the most they held, which can only lower the limit.",) if held else ()
    value = float(np.sort(array)[rank - 1])
    return LowerLimit(value, array.size, held, coverage, confidence, "order", rank=rank, notes=notes)


def _hanson_koopmans(array: Floats, event: NDArray[np.bool_], coverage: float, confidence: float) -> LowerLimit:
    rank, k = hanson_koopmans_factor(array.size, coverage, confidence)
    ordered = np.sort(array)
    low, high = float(ordered[0]), float(ordered[rank - 1])
    if (array[~event] < high).any():
        raise BadSample(
            f"a specimen held below the reading of rank {rank} ({high:g}), so that rank is not known; "
            "use model lognormal or weibull."
        )
    if low == high:
        raise NoSpread(f"the {rank} lowest readings are all {low:g}; the limit needs them to differ.")
    notes = ("Assumes only that the logarithm of the distribution function is concave in log strength.",)
    value = high * (low / high) ** k
    held = int((~event).sum())
    return LowerLimit(
        value, array.size, held, coverage, confidence, "hanson-koopmans", factor=k, rank=rank, notes=notes
    )


def _spread(numbers: Floats, array: Floats) -> float:
    sd = log_spread(numbers)
    if sd == 0:
        raise NoSpread(f"all {array.size} readings are {array[0]:g}; a lower limit needs some spread.")
    return sd
