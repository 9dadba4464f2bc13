"""A fitted network: its joints, their differences and the variances of these."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from scipy import special

from stats.errors import StatsError
from stats.inference.arms import BadArms, Floats, Ints
from stats.inference.inconsistency import Replicates
from stats.inference.profile import Profile, Solution
from stats.inference.reml import q_profile
from stats.interval import Interval


class NotCompared(StatsError):
    """Two joints that no chain of studies links, or evidence of a kind that does not exist for them."""

    code = "not-compared"


@dataclass(frozen=True, eq=False)
class Fitted:
    """A network as it was fitted.

    Parameters
    ----------
    reference : label
        Joint that `effects` are measured against.
    joints : tuple of labels
    components : tuple of tuples of labels
        Parts that no study links, the reference's first. Comparisons across parts are refused.
    tau2 : float or None
        Between-study variance of a log ratio; None where df is 0.
    df : int
        Comparisons beyond what fixes the effects.
    q : float
        Weighted residual sum of squares at `tau2` [-].
    scale : float
        Knapp-Hartung factor on the variances; 1 without it.
    criterion : float
        Minus twice the restricted log likelihood of contrasts to a base, without the log det X'X term.
    level : float
    knapp_hartung : bool
    studies, series : int
        Studies that compare, and rows read.
    set_aside : DataFrame
        study, joint, reason: studies that hold one joint only.
    replicates : Replicates
        Whether series of one joint in one study agree within their errors.
    notes : tuple of str
        What a reader must be told.
    profile, solution : Profile, Solution
        The fit itself, for the questions of `Network`.
    part : ndarray of int, shape (joints,)
        Number of the part in `components` that each joint belongs to.
    study_names : tuple of labels
        What the studies' numbers stand for.
    """

    reference: object
    joints: tuple[object, ...]
    components: tuple[tuple[object, ...], ...]
    tau2: float | None
    df: int
    q: float
    scale: float
    criterion: float
    level: float
    knapp_hartung: bool
    studies: int
    series: int
    set_aside: pd.DataFrame
    replicates: Replicates
    notes: tuple[str, ...]
    profile: Profile
    solution: Solution
    part: Ints
    study_names: tuple[object, ...]

    @cached_property
    def tau2_interval(self) -> Interval | None:
        """Q-profile interval of the between-study variance; None where df is 0."""
        return q_profile(self.profile.q, self.df, self.profile.scale, self.level) if self.df > 0 else None

    @cached_property
    def _at(self) -> dict[object, int]:
        return {joint: i for i, joint in enumerate(self.joints)}

    @cached_property
    def _t(self) -> int | None:
        return self.df if self.knapp_hartung and self.df > 0 else None

    def _quantile(self, df: int | None) -> float:
        # Asked for every pair: scipy.stats' own way to the same takes twenty times as long.
        point = (1 + self.level) / 2
        return float(special.stdtrit(df, point) if df else special.ndtri(point))

    @cached_property
    def _reach(self) -> float:
        return self._quantile(self._t)

    def prediction_half(self, variance: Floats, df: int | None = None) -> Floats:
        """Give half the width of the prediction interval of differences with given variances.

        Parameters
        ----------
        variance : ndarray, any shape
            Of the differences' estimates, as in `variance` [-].
        df : int, optional
            Comparisons beyond what fixes the effects, where not as many as the network's own.

        Returns
        -------
        ndarray, shape of `variance`
            Of the log ratios [-]; NaN where no between-study variance can be had.
        """
        if self.tau2 is None:
            return np.full(np.shape(variance), np.nan)
        wide = variance * max(1.0, 1.0 / self.scale) + self.tau2  # agreement by luck does not narrow it
        half: Floats = self._quantile(max(1, (self.df if df is None else df) - 1)) * np.sqrt(wide)
        return half

    @cached_property
    def variance(self) -> Floats:
        """Variance of every difference of two joints, shape (joints, joints); across parts it means nothing."""
        j = len(self.joints)
        c = self.scale * self.solution.covariance[:j, :j]
        d = np.diag(c)
        return np.maximum(d[:, None] + d[None, :] - 2.0 * c, 0.0)

    @cached_property
    def together(self) -> Ints:
        """Studies that hold both joints, shape (joints, joints)."""
        j = len(self.joints)
        keys = [(b.joints[:, :, None] * j + b.joints[:, None, :]).ravel() for b in self.profile.rows.blocks]
        return np.bincount(np.concatenate(keys), minlength=j * j).reshape(j, j)

    def index(self, joint: object) -> int:
        """Give a joint's place in `joints`, or refuse one that the network does not hold.

        Parameters
        ----------
        joint : label
            One of `joints`.

        Returns
        -------
        int

        Raises
        ------
        BadArms
            If the network holds no such joint.
        """
        if joint not in self._at:
            raise BadArms(f"{joint!r} is not a joint of this network; it holds {', '.join(map(str, self.joints))}.")
        return self._at[joint]

    def _linked(self, a: object, b: object) -> tuple[int, int]:
        i, j = self.index(a), self.index(b)
        if i == j:
            raise BadArms(f"{a!r} is compared with itself; give two joints.")
        if self.part[i] != self.part[j]:
            raise NotCompared(self._why_not(i, j))
        return i, j

    def _why_not(self, i: int, j: int) -> str:
        for one, other in ((i, j), (j, i)):
            if np.count_nonzero(self.part == self.part[one]) == 1:
                return (
                    f"{self.joints[one]} appears only in studies that tested no other joint, so nothing "
                    f"links it to {self.joints[other]}; a study with both, or with a common control, would."
                )
        return (
            f"No chain of studies links {self.joints[i]} to {self.joints[j]}; a study with both, or one that "
            "links their two parts of the network, would."
        )
