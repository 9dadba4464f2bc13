"""What an adjustment is, the conditions handbook values stand for, and how far adjustments may go."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from stats.errors import StatsError
from stats.footing.step import Input, Step, scalar_or_tuple
from stats.scalar import said, scalar

Floats = float | NDArray[np.float64]

ADJUSTMENTS = ("moisture", "density", "rate", "duration", "size_depth")
"""Adjustments that a ladder can turn on."""
CAP_LOW, CAP_HIGH = 0.75, 1.33
"""Ends that the product of all adjustments is held to: a recommendation of this book, no standard."""
DRY_PCT, GREEN_PCT = 12.0, 25.0
"""Moisture content of air-dry handbook values, and the usual one at which drying starts to strengthen [%]."""
MOISTURE_VALID_PCT, MOISTURE_FLOOR_PCT = 8.0, 4.0
"""Moisture down to which Eq. 5-3 is commonly held valid, and where it is cut off here [%]."""
RATE_PER_DECADE = 0.08
"""Loss of strength for ten times the time to failure."""
STANDARD_TIME_S = 300.0
"""Time to failure of handbook values, taken as five minutes [s]."""
STANDARD_DEPTH_MM = 50.0
"""Depth of the bending specimens behind handbook values [mm]."""

HANDBOOK = "Wood Handbook FPL-GTR-282"


@dataclass(frozen=True)
class Adjustment:
    """A factor from one condition to another.

    Parameters
    ----------
    name : str
        Which adjustment.
    factor : float or ndarray, shape (n,)
        Value at the new condition over the value at the old.
    formula : str
        The formula.
    inputs : dict of str to (value, unit)
        What went in.
    source : str
        Where the formula comes from.
    note : str
        What was assumed, or "".
    flagged : bool
        Whether the formula was used beyond where it is known to hold.
    """

    name: str
    factor: Floats
    formula: str
    inputs: Mapping[str, Input]
    source: str
    note: str = ""
    flagged: bool = False

    def step(self, result_unit: str = "MPa") -> Step:
        """The adjustment as a step of a derivation.

        Parameters
        ----------
        result_unit : str, optional
            Unit of the value after it.

        Returns
        -------
        Step
            With one factor where all specimens share it, else one a specimen.
        """
        return Step(
            self.name,
            self.formula,
            self.inputs,
            scalar_or_tuple(self.factor),
            result_unit,
            self.source,
            self.note,
        )


def checked(value: ArrayLike, name: str, low: float = 0.0, high: float = math.inf, *, open_low: bool = True,
            nan: bool = False) -> Floats:  # fmt: skip
    """An input as float or array, refused outside its range.

    Parameters
    ----------
    value : float or array_like, shape (n,)
        The input.
    name : str
        What it is called in a message; it ends in its unit.
    low, high : float, optional
        Range allowed, in the unit of `value`; `high` itself is allowed.
    open_low : bool, optional
        Whether `low` itself is refused, as it is for a length.
    nan : bool, optional
        Whether NaN may stand for not given.

    Returns
    -------
    float or ndarray, shape (n,)
        A float where the input had no axis.

    Raises
    ------
    StatsError
        If a value is no number, infinite, outside the range, or NaN where that is not let through; the first such is
        named.
    """
    if isinstance(value, str | bool):
        raise StatsError(f"{name} ({value!r}) must be a number.")
    try:
        array = np.asarray(value, dtype=float)
    except (TypeError, ValueError):
        raise StatsError(f"{name} ({value!r}) must hold numbers.") from None
    bad = (array <= low if open_low else array < low) | (array > high) | np.isinf(array)
    if not nan:
        bad |= np.isnan(array)
    if np.any(bad):
        shown = float(array) if array.ndim == 0 else float(array[bad][0])
        bound = f"above {low:g}" if open_low else f"{low:g} or more"
        top = f" and at most {high:g}" if math.isfinite(high) else ""
        raise StatsError(f"{name} ({shown:g}) must be {bound}{top}.")
    return float(array) if array.ndim == 0 else array


def checked_number(value: float, name: str, low: float = 0.0, high: float = math.inf, *,
                   open_low: bool = True) -> float:  # fmt: skip
    """One number, refused outside its range; see `checked`, which takes arrays too.

    Parameters
    ----------
    value : float
        The input, in the unit that its name ends in.
    name : str
        What it is called in a message; it ends in its unit.
    low, high : float, optional
        Range allowed, in the unit of `value`; `high` itself is allowed.
    open_low : bool, optional
        Whether `low` itself is refused, as it is for a length.

    Returns
    -------
    float
        In the unit of `value`.

    Raises
    ------
    StatsError
        If it is no number, infinite, or outside the range.
    """
    number = scalar(value)
    if math.isnan(number) and not isinstance(value, float):
        raise StatsError(f"{name} ({said(value)}) must be a number.")
    return float(checked(number, name, low, high, open_low=open_low))


def plain_float(value: NDArray[np.float64] | np.float64) -> Floats:
    """A result as float where it has no axis.

    Parameters
    ----------
    value : float or ndarray, shape (n,)
        The result.

    Returns
    -------
    float or ndarray, shape (n,)
    """
    return float(value) if np.ndim(value) == 0 else np.asarray(value)


def cap(total: ArrayLike) -> Adjustment:
    """The factor that holds the product of all adjustments within 0.75 to 1.33.

    Parameters
    ----------
    total : float or array_like, shape (n,)
        Product of the adjustments.

    Returns
    -------
    Adjustment
        1 where the product is within; flagged where it was not.

    Raises
    ------
    StatsError
        If a product is not positive.

    Notes
    -----
    The ends are a recommendation of this book: beyond them a correction says more about its formula than
    about the specimen.
    """
    product = np.asarray(checked(total, "total"))
    held = np.clip(product, CAP_LOW, CAP_HIGH)
    beyond = bool(np.any(held != product))
    return Adjustment(
        "cap",
        plain_float(held / product),
        "min(max(k, 0.75), 1.33) / k",
        {"k": (scalar_or_tuple(plain_float(product)), "")},
        "recommendation of this book",
        "adjustments together pass 0.75-1.33 and are held there" if beyond else "",
        beyond,
    )
