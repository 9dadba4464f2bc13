"""The centre and variance of each series, and the means of each joint in each study, as arrays.

`sidebyside` gives the same on frames. A comparison of a whole book goes this way, since a frame costs as much for
three series as these do for thousands.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import special

from stats.inference import spread
from stats.inference.arms import BadArms
from stats.inference.counting import counted, numbered
from stats.inference.told import Bools, Floats, Ints, Specimenwise, Told

# With no spread anywhere in the choice, this one stands in: the upper end of what joint tests usually show
# (coefficient of variation 10-25 %, common practice).
LAST_RESORT_SD_LOG = 0.25


@dataclass(frozen=True, eq=False)
class Estimates:
    """The series that can be used, each with its centre and variance.

    Parameters
    ----------
    told : Told
    kept : ndarray of bool, shape (series given,)
        Which of the series given they are.
    y, v : ndarray, shape (series,)
        Mean log and its variance [-].
    v_steady : ndarray, shape (series,)
        That variance drawn towards those of all series, for pooling.
    imputed : ndarray of bool, shape (series,)
        Whether the spread is borrowed.
    imputed_from : ndarray of str, shape (series,)
        From what.
    level : float
        Of the interval of the mean log, from `low` to `high`.
    """

    told: Told
    kept: Bools
    y: Floats
    v: Floats
    v_steady: Floats
    imputed: Bools
    imputed_from: NDArray[np.object_]
    level: float

    def __len__(self) -> int:
        return len(self.y)

    @cached_property
    def cells(self) -> Cells:
        """The estimates by study and joint."""
        return Cells(self)

    @property
    def low(self) -> Floats:
        """Lower end of the interval of each mean log [-], shape (series,)."""
        return self.y - self._reach

    @property
    def high(self) -> Floats:
        """Upper end of the interval of each mean log [-], shape (series,)."""
        return self.y + self._reach

    @cached_property
    def _reach(self) -> Floats:
        n, point = self.told.n, 0.5 + self.level / 2
        quantile = np.where(self.imputed | ~(n > 1), special.ndtri(point), t_quantile(point, n - 1))
        reach: Floats = quantile * np.sqrt(self.v)
        return reach


def estimate(told: Told, readings: Specimenwise, *, level: float = 0.95) -> Estimates:
    """Centre and variance of each series; see `sidebyside.series_estimates`.

    Parameters
    ----------
    told : Told
    readings : Specimenwise
        Of at least the series that have held specimens.
    level : float, optional
        Level of the interval.

    Returns
    -------
    Estimates
    """
    y = told.mean_log.copy()
    with np.errstate(invalid="ignore", divide="ignore"):
        v = told.sd_log**2 / told.n
    some_held = told.held > 0
    if some_held.any():
        y[some_held], v[some_held] = readings.means_of(some_held)
    return estimate_from(told, y, v, level=level)


def estimate_from(told: Told, y: Floats, v: Floats, *, level: float = 0.95) -> Estimates:
    """As `estimate`, from the mean log and variance that each series gives by itself, NaN where it gives none.

    What series lack is borrowed from the others of these.

    Parameters
    ----------
    told : Told
        The series.
    y, v : ndarray, shape (series,)
        Mean log of each and its variance [-].
    level : float, optional
        Level of the interval.

    Returns
    -------
    Estimates
        Of the series that have a mean.
    """
    kept = ~np.isnan(y)
    used = told if kept.all() else told.take(kept)
    y, v, n = y[kept], v[kept], used.n
    v, imputed, imputed_from = _borrow_spread(used, v)
    steady, _ = spread.steadied(v, np.where(imputed, np.nan, n))
    return Estimates(used, kept, y, v, steady, imputed, imputed_from, level)


def _borrow_spread(told: Told, v: Floats) -> tuple[Floats, Bools, NDArray[np.object_]]:
    with np.errstate(invalid="ignore"):
        own = np.where(v > 0, v, np.nan)
    lacking = np.isnan(own)
    if not lacking.any():
        return own, lacking, np.full(len(own), "", dtype=object)
    try:
        filled, source = spread.imputed(own, told.n, [told.family, told.joint], ["family", "joint"])
    except BadArms:
        stand_in = LAST_RESORT_SD_LOG**2 / np.where(np.isnan(told.n), 1.0, told.n)
        return np.where(lacking, stand_in, own), lacking, np.full(len(own), "", dtype=object)
    return filled, lacking, source


def t_quantile(point: float, df: Floats) -> Floats:
    """The t quantile of each number of degrees of freedom, taken as one at least; they are few that differ.

    Parameters
    ----------
    point : float
        Probability below the quantile.
    df : ndarray, shape (n,)
        Degrees of freedom; NaN counts as one.

    Returns
    -------
    ndarray, shape (n,)
    """
    known, which = counted(np.nan_to_num(np.maximum(df, 1.0), nan=1.0))
    quantiles: Floats = special.stdtrit(known, point)[which]
    return quantiles


class Cells:
    """Estimates by study and joint; a cell is one joint of one study.

    Parameters
    ----------
    found : Estimates
        The series.
    """

    def __init__(self, found: Estimates) -> None:
        self.found, told = found, found.told
        key, self.cell = numbered(told.study * len(told.joints) + told.joint)
        self.study, self.joint = key // max(len(told.joints), 1), key % max(len(told.joints), 1)

    def __len__(self) -> int:
        return len(self.joint)

    def summed(self, values: Floats) -> Floats:
        """Sums over the series of each cell.

        Parameters
        ----------
        values : ndarray, shape (series,)
            One a series.

        Returns
        -------
        ndarray, shape (cells,)
        """
        return np.bincount(self.cell, values, len(self)).astype(np.float64, copy=False)

    def by_joint(self, values: Floats) -> Floats:
        """Sums over the series of each joint.

        Parameters
        ----------
        values : ndarray, shape (series,)
            One a series.

        Returns
        -------
        ndarray, shape (joints,)
        """
        told = self.found.told
        return np.bincount(told.joint, values, len(told.joints)).astype(np.float64, copy=False)

    @cached_property
    def count(self) -> Ints:
        """Series of each cell, shape (cells,)."""
        return np.bincount(self.cell, minlength=len(self))

    @cached_property
    def studies_of(self) -> Ints:
        """Studies that hold each joint, shape (joints,)."""
        return np.bincount(self.joint, minlength=len(self.found.told.joints))

    @cached_property
    def specimens(self) -> Ints:
        """Specimens of each joint, those that held among them, shape (joints,)."""
        told = self.found.told
        return self.by_joint(np.nan_to_num(told.n) + told.held).astype(np.intp)

    @cached_property
    def df(self) -> Floats:
        """Specimens less series of each cell, shape (cells,)."""
        return self.summed(np.maximum(np.nan_to_num(self.found.told.n, nan=1.0) - 1.0, 0.0))

    @cached_property
    def steady(self) -> tuple[Floats, Floats]:
        """Mean and variance of each cell, by the variances for pooling; shape (cells,) each."""
        return self._means(self.found.v_steady)

    @cached_property
    def own(self) -> tuple[Floats, Floats]:
        """Mean and variance of each cell, by the series' own variances; shape (cells,) each."""
        return self._means(self.found.v)

    def _means(self, variance: Floats) -> tuple[Floats, Floats]:
        """Precision-weighted means.

        Where a cell's series differ by more than their own spread explains, its variance is that between them.
        """
        return cell_means(self.cell, len(self), self.found.y, variance)


def cell_means(cell: Ints, cells: int, y: Floats, v: Floats) -> tuple[Floats, Floats]:
    """Mean of each cell weighted by precision, and its variance; see `sidebyside.study_means`.

    Parameters
    ----------
    cell : ndarray of int, shape (series,)
        Number of each series' cell, without gaps.
    cells : int
        How many cells there are.
    y, v : ndarray, shape (series,)
        Mean log and its variance [-].

    Returns
    -------
    mean, variance : ndarray, shape (cells,)
        Of logs [-].
    """
    w, count = 1.0 / v, np.bincount(cell, minlength=cells)
    total = np.bincount(cell, w, cells)
    plain = np.bincount(cell, y, cells) / count
    squares = np.bincount(cell, (y - plain[cell]) ** 2, cells)
    apart = np.where(count > 1, squares / np.maximum(count - 1, 1) / count, 0.0)
    return np.bincount(cell, w * y, cells) / total, np.maximum(1.0 / total, apart)
