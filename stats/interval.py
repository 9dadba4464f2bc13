"""One interval type for every estimate in the book."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Interval:
    """A two-sided interval with its level.

    Parameters
    ----------
    low, high : float
        Ends, in the unit of the estimate.
    level : float
        Confidence (or prediction) level, 0 to 1.
    """

    low: float
    high: float
    level: float

    def __contains__(self, value: float) -> bool:
        return self.low <= value <= self.high
