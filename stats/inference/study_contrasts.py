"""One contrast a study, checked: what pooling and the small-study check are given."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from stats.errors import StatsError
from stats.scalar import said, scalar

_LEAST, _MOST = 1e-100, 1e100  # what can be squared and inverted


class BadContrasts(StatsError):
    """Contrasts that can't be pooled; the message says which and why."""

    code = "bad-contrasts"


def checked_contrasts(
    y: ArrayLike, v: ArrayLike, labels: Sequence[object] | None, level: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], tuple[str, ...]]:
    """Give contrasts, variances and names of studies, or say which is unusable and why.

    Parameters
    ----------
    y, v : array_like, shape (k,)
        Contrast of each study [log ratios in this book], and its variance.
    labels : sequence or None
        Names of the studies; their numbers, from #1, if None.
    level : float
        Level of the intervals to come.

    Returns
    -------
    y, v : ndarray, shape (k,)
    names : tuple of str

    Raises
    ------
    BadContrasts
        If there is no study, the lengths differ, a contrast is not finite, a variance not finite and above zero, or the
        level not between 0 and 1.
    """
    ys, vs = _flat(y, v)
    names = tuple(str(x) for x in labels) if labels is not None else tuple(map(_numbered, range(ys.size)))
    if len(names) != ys.size:
        raise BadContrasts(f"labels has {len(names)} entries for {ys.size} studies; give one a study.")
    _refuse(ys, vs, level, names.__getitem__)
    return ys, vs, names


def checked_unnamed(y: ArrayLike, v: ArrayLike, level: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Give contrasts and variances alone: with thousands of studies their names would take most of the time.

    Parameters
    ----------
    y, v : array_like, shape (k,)
        Contrast of each study [log ratios in this book], and its variance.
    level : float
        Level of the intervals to come.

    Returns
    -------
    y, v : ndarray, shape (k,)

    Raises
    ------
    BadContrasts
        As `checked_contrasts`, which names the study by its label; here it is by number.
    """
    ys, vs = _flat(y, v)
    _refuse(ys, vs, level, _numbered)
    return ys, vs


def _numbered(i: int) -> str:
    return f"#{i + 1}"


def _flat(y: ArrayLike, v: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    try:
        ys, vs = np.asarray(y, dtype=float), np.asarray(v, dtype=float)
    except (TypeError, ValueError) as error:
        raise BadContrasts(f"y and v must be plain lists of numbers, one a study ({error}).") from error
    if ys.ndim != 1 or vs.shape != ys.shape:
        raise BadContrasts(f"y has shape {ys.shape} and v {vs.shape}; both must be one value a study.")
    if ys.size == 0:
        raise BadContrasts("y is empty; give the contrast of at least one study.")
    return ys, vs


def _refuse(ys: NDArray[np.float64], vs: NDArray[np.float64], level: float, name: Callable[[int], str]) -> None:
    """Refuse what can't be pooled; `name` names a study by its place."""
    for field, values, bad, right in (
        ("y", ys, ~(np.abs(ys) <= _MOST), "a finite number"),
        ("v", vs, ~((vs >= _LEAST) & (vs <= _MOST)), "a finite variance above zero"),
    ):
        if bad.any():
            i = int(np.flatnonzero(bad)[0])
            raise BadContrasts(f"{field} of study {name(i)} is {values[i]}; it must be {right}.")
    if not 0.0 < scalar(level) < 1.0:
        raise BadContrasts(f"level is {said(level)}; it must lie between 0 and 1.")
