"""Checked samples: what every statistic asks of the readings it is given."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from stats.errors import StatsError
from stats.scalar import said, scalar

Floats = NDArray[np.float64]

MOST_COUNTED = 1_000_000_000
"""Beyond it a count is a slip."""


class BadSample(StatsError):
    """Readings that are missing, not finite, of the wrong sign or of unequal number."""

    code = "bad-sample"


class TooFew(StatsError):
    """Fewer readings than the statistic can work from."""

    code = "too-few"


class NoSpread(StatsError):
    """Readings that are all equal where the statistic divides by their spread."""

    code = "no-spread"


class BadSetting(StatsError):
    """A level, count or factor outside the range in which it means something."""

    code = "bad-setting"


def checked(values: ArrayLike, name: str = "values", *, positive: bool = True, minimum: int = 1) -> Floats:
    """Readings as a flat float array, or a refusal that says which one is wrong.

    Parameters
    ----------
    values : array_like, shape (n,)
        The readings.
    name : str
        What they are called in a message.
    positive : bool
        Refuse zero and below: logarithms are taken.
    minimum : int
        The fewest readings that will do.

    Returns
    -------
    ndarray of float, shape (n,)

    Raises
    ------
    BadSample
        If a reading is not a finite number, or not above zero where it must be.
    TooFew
        If there are fewer than `minimum`.
    """
    try:
        array = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError) as fault:
        raise BadSample(f"{name} must be numbers: {fault}.") from fault
    if np.asarray(values).dtype == bool:
        raise BadSample(f"{name} must be numbers; they are true or false.")
    if array.ndim != 1:
        raise BadSample(f"{name} must be a flat list of numbers; it has {array.ndim} dimensions.")
    bad = ~np.isfinite(array)
    if bad.any():
        at = int(np.flatnonzero(bad)[0])
        raise BadSample(f"{name}[{at}] is {array[at]}; every one must be a finite number.")
    if positive and (array <= 0).any():
        at = int(np.flatnonzero(array <= 0)[0])
        raise BadSample(f"{name}[{at}] is {array[at]:g}; every one must be above zero.")
    if array.size < minimum:
        raise TooFew(f"{name} has {array.size} readings; at least {minimum} are needed.")
    return array


def checked_broke(broke: ArrayLike | None, n: int) -> NDArray[np.bool_]:
    """Whether each specimen broke (else it held), one answer a reading; all broke where nothing is said.

    Parameters
    ----------
    broke : array_like of bool, shape (n,), or None
        True or 1 where it broke.
    n : int
        Number of readings.

    Returns
    -------
    ndarray of bool, shape (n,)

    Raises
    ------
    BadSample
        If there are not `n` of them, or one is neither true nor false.
    """
    if broke is None:
        return np.ones(n, dtype=bool)
    array = np.asarray(broke)
    if array.shape != (n,):
        raise BadSample(f"broke has shape {array.shape}; it needs one true or false for each of {n} values.")
    if n == 0 or array.dtype == bool:
        return array.astype(bool)
    try:
        numbers = array.astype(np.float64)
    except (TypeError, ValueError) as fault:
        raise BadSample(f"broke must be true or false (or 1 or 0): {fault}.") from fault
    wrong = ~np.isin(numbers, (0.0, 1.0))
    if wrong.any():
        at = int(np.flatnonzero(wrong)[0])
        raise BadSample(f"broke[{at}] is {numbers[at]:g}; it must be true or false (or 1 or 0).")
    return numbers.astype(bool)


def checked_labels(labels: Sequence[Any] | ArrayLike, n: int, name: str = "labels") -> NDArray[Any]:
    """One label a reading, none of them missing.

    Parameters
    ----------
    labels : sequence, shape (n,)
        The labels; None, NaN and "" count as missing.
    n : int
        Number of readings.
    name : str
        What they are called in a message.

    Returns
    -------
    ndarray of object, shape (n,)

    Raises
    ------
    BadSample
        If there are not `n` of them, or one is missing.
    """
    array = np.asarray(labels, dtype=object)
    if array.shape != (n,):
        raise BadSample(f"{name} has shape {array.shape}; it needs one label for each of {n} values.")
    for at, label in enumerate(array):
        if label is None or label != label or label == "":  # NaN is the one thing unequal to itself
            raise BadSample(f"{name}[{at}] is {label!r}; every reading needs a label.")
    return array


def checked_share(value: float, name: str) -> float:
    """A number strictly between 0 and 1: a level, a coverage, a power.

    Parameters
    ----------
    value : float
        The share.
    name : str
        What it is called in a message.

    Returns
    -------
    float

    Raises
    ------
    BadSetting
        If it is not.
    """
    number = scalar(value)
    if not 0.0 < number < 1.0:  # also catches NaN
        raise BadSetting(f"{name} is {said(value)}; it must lie between 0 and 1, without the ends.")
    return number


def checked_count(value: int, name: str, minimum: int) -> int:
    """A whole number of at least `minimum`.

    Parameters
    ----------
    value : int
        The count; a float without a fraction will do.
    name : str
        What it is called in a message.
    minimum : int
        The smallest allowed.

    Returns
    -------
    int

    Raises
    ------
    BadSetting
        If it is not, or above a thousand million.
    """
    number = scalar(value)
    if not number >= minimum or not number.is_integer():  # also catches NaN and infinity
        raise BadSetting(f"{name} is {said(value)}; it must be a whole number of at least {minimum}.")
    if number > MOST_COUNTED:
        raise BadSetting(f"{name} is {said(value)}; it must be at most {MOST_COUNTED}.")
    return int(number)


def checked_above(value: float, name: str, floor: float = 0.0) -> float:
    """A finite number above `floor`.

    Parameters
    ----------
    value : float
        The number, in any unit.
    name : str
        What it is called in a message.
    floor : float
        What it must lie above, in the same unit.

    Returns
    -------
    float

    Raises
    ------
    BadSetting
        If it is not.
    """
    number = scalar(value)
    if not floor < number < np.inf:  # also catches NaN
        raise BadSetting(f"{name} is {said(value)}; it must be a finite number above {floor:g}.")
    return number


def log_spread(logs: Floats) -> float:
    """Standard deviation of logs, with what is only rounding set to zero.

    Equal readings can leave a spread of 1e-16 by rounding alone, which would pass for information.

    Parameters
    ----------
    logs : ndarray, shape (n,)
        Natural logs, at least two.

    Returns
    -------
    float
        Divisor n - 1 [-].
    """
    sd = float(logs.std(ddof=1))
    return 0.0 if sd < 1e-12 * max(1.0, float(np.abs(logs).max())) else sd
