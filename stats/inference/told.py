"""What series tell, as arrays: sums of each series, and its specimens where they are asked for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stats.inference.censored_each import lognormal_means

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]


class Specimenwise(Protocol):
    """What is known of series specimen by specimen, given for those series that are asked about."""

    def of_series(self, which: Bools) -> Readings:
        """The specimens of some series, numbered among these.

        Parameters
        ----------
        which : ndarray of bool, shape (series,)
            The series asked about.

        Returns
        -------
        Readings
        """

    def means_of(self, which: Bools) -> tuple[Floats, Floats]:
        """Mean log and its variance of some series, those that held counted as held; NaN where it can't be had.

        Parameters
        ----------
        which : ndarray of bool, shape (series,)
            The series asked about.

        Returns
        -------
        mean, variance : ndarray, shape (series asked about,)
            Of logs [-].
        """


@dataclass(frozen=True, eq=False)
class Readings:
    """Specimens one by one.

    Parameters
    ----------
    value : ndarray, shape (specimens,)
        Where each broke, or the most it held.
    broke : ndarray of bool, shape (specimens,)
    of : ndarray of int, shape (specimens,)
        Its series, as a place in `Told`; below zero for none.
    """

    value: Floats
    broke: Bools
    of: Ints

    def of_series(self, which: Bools) -> Readings:
        """Those of some series, numbered among these.

        Parameters
        ----------
        which : ndarray of bool, shape (series,)
            The series asked about.

        Returns
        -------
        Readings
        """
        own = (self.of >= 0) & which[self.of]
        return Readings(self.value[own], self.broke[own], (np.cumsum(which) - 1)[self.of[own]])

    def means_of(self, which: Bools) -> tuple[Floats, Floats]:
        """Mean log and its variance of some series; see `Specimenwise`.

        Parameters
        ----------
        which : ndarray of bool, shape (series,)
            The series asked about.

        Returns
        -------
        mean, variance : ndarray, shape (series asked about,)
            Of logs [-].
        """
        own = self.of_series(which)
        return lognormal_means(own.value, own.broke, own.of, int(which.sum()))


@dataclass(frozen=True, eq=False)
class Told:
    """What series tell, an array each; words are numbers, and what they stand for stands beside.

    Parameters
    ----------
    study, joint, family : ndarray of int, shape (series,)
        Numbers from 0 on without gaps.
    joints, names : tuple of str
        Code and name of each joint.
    studies : ndarray, shape (studies,)
        Key of each study.
    n, held : ndarray, shape (series,)
        Broken specimens (NaN where a published mean gives no count), and those that held.
    mean_log, sd_log : ndarray, shape (series,)
        Of logs [-]; NaN where unknown.
    flagged : ndarray, shape (series,)
        Specimens doubted.
    published : ndarray of bool, shape (series,)
        Whether there are no specimens behind it.
    """

    study: Ints
    joint: Ints
    family: Ints
    studies: NDArray[np.generic]
    joints: tuple[str, ...]
    names: tuple[str, ...]
    n: Floats
    held: Floats
    mean_log: Floats
    sd_log: Floats
    flagged: Floats
    published: Bools

    def __len__(self) -> int:
        return len(self.n)

    def take(self, which: Bools) -> Told:
        """Some of the series; studies and joints are numbered anew.

        Parameters
        ----------
        which : ndarray of bool, shape (series,)
            The series asked about.

        Returns
        -------
        Told
        """
        study, studies = pd.factorize(self.study[which])
        joint, joints = pd.factorize(self.joint[which])
        columns = ("family", "n", "held", "mean_log", "sd_log", "flagged", "published")
        return Told(
            study=study,
            joint=joint,
            studies=self.studies[studies],
            joints=tuple(self.joints[at] for at in joints),
            names=tuple(self.names[at] for at in joints),
            **{name: getattr(self, name)[which] for name in columns},
        )
