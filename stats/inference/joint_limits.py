"""The lower limit of each joint of a comparison, from sums where they tell all and from readings where some held."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from stats.errors import StatsError
from stats.inference import tolerance
from stats.inference.batches import limits_from_sums
from stats.inference.estimates import Cells
from stats.inference.told import Floats, Readings, Specimenwise

COVERAGE, CONFIDENCE = 0.95, 0.75


def joint_limits(cells: Cells, readings: Specimenwise) -> Floats:
    """The 5th percentile of each joint at 75 % confidence; studies are batches where there are several.

    Over several studies held specimens are taken at the most they held, which errs on the safe side. A series of
    which none held tells by its sums all that its specimens would.

    Parameters
    ----------
    cells : Cells
        The series by joint and study.
    readings : Specimenwise
        Their specimens.

    Returns
    -------
    ndarray, shape (joints,)
        In the unit of the values; NaN for fewer than three specimens, or where no limit can be had.
    """
    told = cells.found.told
    joints, size = len(told.joints), len(cells)
    whole = ~(told.held > 0) & ~told.published & (told.n > 0)
    own = readings.of_series(told.held > 0)
    squares = np.maximum(told.n[whole] - 1, 0.0) * np.nan_to_num(told.sd_log[whole]) ** 2
    # A row a series of which none held, and a row a specimen of the others.
    n = np.concatenate([told.n[whole], np.ones(len(own.value))])
    mean = np.concatenate([told.mean_log[whole], np.log(own.value)])
    square = np.concatenate([squares, np.zeros(len(own.value))])
    cell = np.concatenate([cells.cell[whole], cells.cell[told.held > 0][own.of]])
    total = np.bincount(cell, n, size)
    with np.errstate(invalid="ignore", divide="ignore"):
        centre = np.bincount(cell, n * mean, size) / total
    about = np.bincount(cell, square + n * (mean - centre[cell]) ** 2, size)
    used = total > 0
    read = np.bincount(cells.joint, total, joints)
    several = limits_from_sums(total[used], centre[used], about[used], cells.joint[used], joints, COVERAGE, CONFIDENCE)
    # A study of which only a mean was published has no readings.
    studies = np.bincount(cells.joint[used], minlength=joints)
    limit = np.where(studies > 1, np.exp(several.limit), np.nan)
    for at in np.flatnonzero(used & (studies[cells.joint] == 1)):
        joint = cells.joint[at]
        if (told.held[told.joint == joint] > 0).any():
            limit[joint] = _limit_with_held(readings.of_series(told.joint == joint))
        else:
            limit[joint] = _limit_from_sums(total[at], centre[at], about[at])
    return np.where(read >= 3, limit, np.nan)


def _limit_from_sums(n: float, mean: float, squares: float) -> float:
    """The limit of one sample of which none held; NaN without a spread."""
    sd = float(np.sqrt(squares / (n - 1))) if n > 1 else 0.0
    if sd < 1e-12 * max(1.0, abs(mean)):
        return np.nan
    return float(np.exp(mean - tolerance.normal_factor(int(n), COVERAGE, CONFIDENCE) * sd))


def _limit_with_held(own: Readings) -> float:
    """The limit of one sample of which some held; NaN where it can't be had."""
    return _integrated_limit(own.value.tobytes(), own.broke.tobytes())


@lru_cache(maxsize=1024)
def _integrated_limit(values: bytes, broke: bytes) -> float:
    """It takes a double integral, and the same sample comes with and without flagged specimens, and again."""
    try:
        event = np.frombuffer(broke, dtype=bool)
        return tolerance.lower_limit(np.frombuffer(values), COVERAGE, CONFIDENCE, broke=event).value
    except StatsError:
        return np.nan
