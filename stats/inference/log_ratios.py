"""Joints against each other as log ratios, each with its intervals and on how much it rests."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from stats.inference.arms import Floats, Ints
from stats.interval import Interval


@dataclass(frozen=True)
class Contrast:
    """One joint against another, as a log ratio.

    Parameters
    ----------
    joint, versus : str
        The ratio is joint over versus.
    estimate, se : float
        Log ratio and its standard error [-].
    interval : Interval
        For the mean over studies, on logs.
    prediction : Interval or None
        For the true log ratio in one further study; None where no between-study variance can be had.
    studies : int
        Studies that hold both joints.
    evidence : str
        ``network``, ``direct`` or ``indirect``.
    df : int or None
        Degrees of freedom of the interval's t quantile; None when the quantile is normal.
    """

    joint: object
    versus: object
    estimate: float
    se: float
    interval: Interval
    prediction: Interval | None
    studies: int
    evidence: str
    df: int | None

    @property
    def ratio(self) -> float:
        """Ratio of the geometric means [-]."""
        return float(np.exp(self.estimate))

    @property
    def ratio_interval(self) -> Interval:
        """Interval of the ratio [-]."""
        return Interval(float(np.exp(self.interval.low)), float(np.exp(self.interval.high)), self.interval.level)


class Relatives(NamedTuple):
    """Log ratios of all joints over one.

    Parameters
    ----------
    estimate : ndarray, shape (joints,)
        Log ratio [-].
    low, high : ndarray, shape (joints,)
        Ends of its interval.
    prediction_low, prediction_high : ndarray, shape (joints,)
        Ends of the interval for one further study; NaN where no between-study variance can be had.
    studies : ndarray of int, shape (joints,)
        Studies that hold both joints.
    """

    estimate: Floats
    low: Floats
    high: Floats
    prediction_low: Floats
    prediction_high: Floats
    studies: Ints
