"""How two joints meet and what their ratio is then: the rows of `sidebyside.ratios`, one by one.

A frame's own way to give its rows takes several times as long.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy import stats

from stats.inference.comparisons import Network
from stats.inference.estimates import Cells
from stats.inference.pool_each import Pooled, random_effects_each

SAME, THROUGH, APART = "same study", "through other studies", "no study in common"
"""How two joints meet: in one study; by a chain of studies; only by being on the same footing."""
ONE_STUDY = "One study: it can't say what another shop would find."
ONE_OF_THE_TWO = "Only one study tested one of the two: it can't say what another shop would find."

_LARGEST_LOG = 709.0  # beyond it the exponential is no number


class Ratio(NamedTuple):
    """A row of `ratios`.

    Parameters
    ----------
    joint, joint_name : str
        Code and name of the joint.
    reference, reference_name : str
        Of the joint that it is measured against.
    ratio : float
        Joint over reference [-]; NaN where the two can't be compared.
    low, high : float
        Ends of the ratio's interval [-].
    prediction_low, prediction_high : float
        Ends of the interval for one further study [-]; NaN where one study can't tell.
    studies : int
        Studies that hold both.
    basis : str
        How the two joints meet.
    note : str
        What to know, or "".
    """

    joint: str
    joint_name: str
    reference: str
    reference_name: str
    ratio: float
    low: float
    high: float
    prediction_low: float
    prediction_high: float
    studies: int
    basis: str
    note: str


def each_ratio(ratios: pd.DataFrame) -> list[Ratio]:
    """The joints that have a ratio.

    Parameters
    ----------
    ratios : DataFrame
        As `sidebyside.ratios` gives it.

    Returns
    -------
    list of Ratio
        In the frame's order.
    """
    rows = map(Ratio._make, zip(*(ratios[name].tolist() for name in Ratio._fields), strict=True))
    return [row for row in rows if not math.isnan(row.ratio)]


Found = tuple[float, float, float, float, float, int, str, str]
"""Of a `Ratio` what is found: from `ratio` on."""
NO_RATIO: Found = (
    *(np.nan, np.nan, np.nan, np.nan, np.nan, 0, APART),
    "No chain of studies links the two, and this footing doesn't hold across rigs.",
)


class Apart:
    """Joints by their means over studies, and by the one study that holds two of them.

    Parameters
    ----------
    cells : Cells
        The estimates by study and joint.
    reference : str
        The joint that the others are measured against.
    level : float
        Level of the intervals.
    """

    def __init__(self, cells: Cells, reference: str, level: float) -> None:
        self.cells, self.level = cells, level
        self.number = {joint: at for at, joint in enumerate(cells.found.told.joints)}
        self.reference = self.number[reference]
        self.pooled: Pooled | None = None

    def once(self, joint: str) -> bool:
        """Whether only one study holds it, or the reference.

        Parameters
        ----------
        joint : str
            One of the joints of `cells`, not the reference.

        Returns
        -------
        bool
        """
        return bool(min(self.cells.studies_of[[self.number[joint], self.reference]]) == 1)

    def one_study(self, joint: str) -> Found | None:
        """The contrast of the first study that holds both, with the freedom of its own specimens.

        Parameters
        ----------
        joint : str
            One of the joints of `cells`, not the reference.

        Returns
        -------
        Found or None
            None where no study holds both.
        """
        cells = self.cells
        at, ref = (np.flatnonzero(cells.joint == number) for number in (self.number[joint], self.reference))
        both = np.intersect1d(cells.study[at], cells.study[ref])
        if not len(both):
            return None
        # By its key, as it stands in the book.
        first = both[np.argmin(cells.found.told.studies[both])]
        a, b = (int(rows[cells.study[rows] == first][0]) for rows in (at, ref))
        return _row((*self._welch(a, b), np.nan, np.nan), 1, SAME, ONE_STUDY)

    def _welch(self, a: int, b: int) -> tuple[float, float, float]:
        y, each = self.cells.own
        v = each[a] + each[b]
        parts = [each[at] ** 2 / self.cells.df[at] for at in (a, b) if self.cells.df[at] > 0]
        df = v**2 / sum(parts) if parts else np.inf
        reach = float(stats.t.ppf(0.5 + self.level / 2, df)) * float(np.sqrt(v))
        difference = float(y[a] - y[b])
        return difference, difference - reach, difference + reach

    def ratio(self, joint: str) -> Found:
        """The ratio of the two means over studies.

        Parameters
        ----------
        joint : str
            One of the joints of `cells`, not the reference.

        Returns
        -------
        Found
        """
        if self.pooled is None:
            joints = len(self.number)
            self.pooled = random_effects_each(*self.cells.steady, self.cells.joint, joints, level=self.level)
        fit, both = self.pooled, [self.number[joint], self.reference]
        difference = float(fit.estimate[both[0]] - fit.estimate[both[1]])
        reach = float(np.hypot(*((fit.high[both] - fit.low[both]) / 2)))
        note = "From different studies: the shops' rigs and hands are in this ratio too."
        return _row((difference, difference - reach, difference + reach, np.nan, np.nan), 0, APART, note)


def through(fitted: Network | None, apart: Apart, reference: str) -> Callable[[str], Found | None]:
    """What studies say of each joint against the reference.

    Parameters
    ----------
    fitted : Network or None
        What `sidebyside.linked` gives for that reference.
    apart : Apart
        The same joints, by their means.
    reference : str
        The joint that the others are measured against.

    Returns
    -------
    callable
        Gives what is found of a joint by its code; None where no chain of studies links the two.
    """
    if fitted is None:
        return apart.one_study
    every = fitted.relative_to(reference)
    found = dict(zip(fitted.joints, zip(*(column.tolist() for column in every), strict=True), strict=True))

    def of(joint: str) -> Found | None:
        estimate, low, high, ahead_low, ahead_high, studies = found[joint]
        if np.isnan(estimate):
            return None
        # What only one shop ever made can't tell how shops differ in making it.
        once = apart.once(joint)
        note = ONE_OF_THE_TWO if once else ""
        logs = (estimate, low, high, *((np.nan, np.nan) if once else (ahead_low, ahead_high)))
        return _row(logs, studies, SAME if studies else THROUGH, note)

    return of


def _row(logs: Iterable[float], studies: int, basis: str, note: str) -> Found:
    ratio, low, high, ahead_low, ahead_high = (math.inf if log > _LARGEST_LOG else math.exp(log) for log in logs)
    return ratio, low, high, ahead_low, ahead_high, studies, basis, note
