"""Different values by counting, where they are small numbers: ten times as quick as by sorting."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def numbered(codes: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """The different codes, rising, and the place of each among them: `np.unique` by counting, where codes are small."""
    if len(codes) == 0 or codes.max() > 50 * len(codes) + 1000:
        return np.unique(codes, return_inverse=True)
    there = np.bincount(codes) > 0
    return np.flatnonzero(there), (np.cumsum(there) - 1)[codes]


def counted(numbers: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """The different numbers, rising, and the place of each among them, where most are counts."""
    whole = numbers.astype(np.intp)
    if not np.array_equal(whole, numbers):
        return np.unique(numbers, return_inverse=True)
    known, which = numbered(whole)
    return known.astype(np.float64), which
