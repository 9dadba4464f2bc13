"""Different values by counting, where they are small numbers: ten times as quick as by sorting."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def numbered(codes: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Number codes by their order: `np.unique` by counting, where codes are small.

    Parameters
    ----------
    codes : ndarray of int, shape (n,)
        0 or above.

    Returns
    -------
    different : ndarray of int, shape (m,)
        The different codes, rising.
    place : ndarray of int, shape (n,)
        The place of each among them.
    """
    if len(codes) == 0 or codes.max() > 50 * len(codes) + 1000:
        return np.unique(codes, return_inverse=True)
    there = np.bincount(codes) > 0
    return np.flatnonzero(there), (np.cumsum(there) - 1)[codes]


def counted(numbers: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Number numbers by their order, where most are counts.

    Parameters
    ----------
    numbers : ndarray, shape (n,)
        Finite, 0 or above.

    Returns
    -------
    different : ndarray, shape (m,)
        The different numbers, rising.
    place : ndarray of int, shape (n,)
        The place of each among them.
    """
    whole = numbers.astype(np.intp)
    if not np.array_equal(whole, numbers):
        return np.unique(numbers, return_inverse=True)
    known, which = numbered(whole)
    return known.astype(np.float64), which
