"""Joints compared with each other: what a fitted network can be asked, and what it refuses."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy import special, stats

from stats.errors import StatsError
from stats.inference import inconsistency as disagreement
from stats.inference.against import Against, against
from stats.inference.arms import BadArms, Floats, Ints
from stats.inference.inconsistency import Inconsistency, Replicates, Split
from stats.inference.influence import influence_frame, shares
from stats.inference.profile import Profile, Solution
from stats.inference.reml import q_profile
from stats.interval import Interval


class NotCompared(StatsError):
    """Two joints that no chain of studies links, or evidence of a kind that does not exist for them."""

    code = "not-compared"


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


@dataclass(frozen=True, eq=False)
class Network:
    """All joints against each other.

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
        The fit itself, for the questions below.
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

    def _contrast(self, i: int, j: int, estimate: float, se: float, evidence: str) -> Contrast:
        reach = self._reach * se
        prediction = None
        if self.tau2 is not None:
            wide = float(self.prediction_half(np.asarray(se**2)))
            prediction = Interval(estimate - wide, estimate + wide, self.level)
        return Contrast(
            joint=self.joints[i],
            versus=self.joints[j],
            estimate=estimate,
            se=se,
            interval=Interval(estimate - reach, estimate + reach, self.level),
            prediction=prediction,
            studies=int(self.together[i, j]),
            evidence=evidence,
            df=self._t,
        )

    def relative(self, a: object, b: object) -> Contrast:
        """Compare joint a with joint b, by all the evidence.

        Parameters
        ----------
        a, b : label
            Joints of the network; the ratio is a over b.

        Returns
        -------
        Contrast
            Of the log ratio a over b.

        Raises
        ------
        NotCompared
            When no chain of studies links the two; the message gives the reason.
        BadArms
            For a joint the network does not hold, or one against itself.
        """
        i, j = self._linked(a, b)
        estimate = float(self.solution.beta[i] - self.solution.beta[j])
        return self._contrast(i, j, estimate, float(np.sqrt(self.variance[i, j])), "network")

    def relative_to(self, versus: object) -> Relatives:
        """Compare every joint with one, by all the evidence; `relative` for all at once.

        Parameters
        ----------
        versus : label
            A joint of the network.

        Returns
        -------
        Relatives
            In the order of `joints`; NaN for those that nothing links to it, and for itself.

        Raises
        ------
        BadArms
            For a joint the network does not hold.
        """
        b = self.index(versus)
        linked = self.part == self.part[b]
        linked[b] = False
        estimate = np.where(linked, self.solution.beta[: len(self.joints)] - self.solution.beta[b], np.nan)
        variance = self.variance[:, b]
        reach, ahead = self._reach * np.sqrt(variance), self.prediction_half(variance)
        return Relatives(
            estimate,
            *(estimate - reach, estimate + reach),
            *(estimate - ahead, estimate + ahead),
            self.together[:, b],
        )

    @cached_property
    def effects(self) -> pd.DataFrame:
        """Log ratio of every joint linked to the reference, over it: estimate, se, low, high by joint."""
        r = self.index(self.reference)
        rows = np.array([i for i in np.flatnonzero(self.part == self.part[r]) if i != r], dtype=np.intp)
        estimate = self.solution.beta[rows] - self.solution.beta[r]
        se = np.sqrt(self.variance[rows, r])
        index = pd.Index([self.joints[i] for i in rows], name="joint")
        low, high = estimate - self._reach * se, estimate + self._reach * se
        return pd.DataFrame({"estimate": estimate, "se": se, "low": low, "high": high}, index=index)

    @cached_property
    def covariance(self) -> pd.DataFrame:
        """Covariance of `effects`."""
        rows = [self._at[joint] for joint in self.effects.index]
        values = self.scale * self.solution.covariance[np.ix_(rows, rows)]
        return pd.DataFrame(values, index=self.effects.index, columns=self.effects.index)

    @cached_property
    def moderators(self) -> pd.DataFrame:
        """Slope of every moderator on the log: estimate, se, low, high by column."""
        j = len(self.joints)
        estimate = self.solution.beta[j:]
        se = np.sqrt(self.scale * np.diag(self.solution.covariance)[j:])
        low, high = estimate - self._reach * se, estimate + self._reach * se
        index = pd.Index(self.profile.columns, name="moderator")
        return pd.DataFrame({"estimate": estimate, "se": se, "low": low, "high": high}, index=index)

    def table(self) -> pd.DataFrame:
        """List every pair that studies link.

        Returns
        -------
        DataFrame
            joint, versus, estimate, se, low, high, predict_low, predict_high (NaN where no between-study
            variance can be had), studies (that hold both).
        """
        i, j = np.triu_indices(len(self.joints), 1)
        linked = self.part[i] == self.part[j]
        i, j = j[linked], i[linked]
        names = np.array(self.joints, dtype=object)
        estimate = self.solution.beta[i] - self.solution.beta[j]
        variance = self.variance[i, j]
        se = np.sqrt(variance)
        wide = self.prediction_half(variance)
        return pd.DataFrame(
            {
                "joint": names[i],
                "versus": names[j],
                "estimate": estimate,
                "se": se,
                "low": estimate - self._reach * se,
                "high": estimate + self._reach * se,
                "predict_low": estimate - wide,
                "predict_high": estimate + wide,
                "studies": self.together[i, j],
            }
        )

    def refused(self) -> pd.DataFrame:
        """List every pair that may not be compared: joint, versus, reason."""
        i, j = np.triu_indices(len(self.joints), 1)
        apart = np.flatnonzero(self.part[i] != self.part[j])
        rows = [(self.joints[j[p]], self.joints[i[p]], self._why_not(j[p], i[p])) for p in apart]
        return pd.DataFrame(rows, columns=["joint", "versus", "reason"])

    def split(self, a: object, b: object) -> Split:
        """Split the evidence on a over b into direct and indirect; see `inconsistency.split`.

        Parameters
        ----------
        a, b : label
            Joints of the network; the ratio is a over b.

        Returns
        -------
        Split
            Of the log ratio a over b.

        Raises
        ------
        NotCompared
            When no chain of studies links the two; the message gives the reason.
        BadArms
            For a joint the network does not hold, or one against itself.
        """
        i, j = self._linked(a, b)
        return disagreement.split(self.profile, self.solution, i, j, self.scale)

    def direct(self, a: object, b: object) -> Contrast:
        """Compare a with b by the studies that hold both.

        Parameters
        ----------
        a, b : label
            Joints of the network; the ratio is a over b.

        Returns
        -------
        Contrast
            Of the log ratio a over b.

        Raises
        ------
        NotCompared
            When no chain of studies links the two, or there is no such evidence; the message gives the reason.
        BadArms
            For a joint the network does not hold, or one against itself.
        """
        return self._side(a, b, "direct", "no study holds both")

    def indirect(self, a: object, b: object) -> Contrast:
        """Compare a with b by all but what studies that hold both say of the two.

        Parameters
        ----------
        a, b : label
            Joints of the network; the ratio is a over b.

        Returns
        -------
        Contrast
            Of the log ratio a over b.

        Raises
        ------
        NotCompared
            When no chain of studies links the two, or there is no such evidence; the message gives the reason.
        BadArms
            For a joint the network does not hold, or one against itself.
        """
        return self._side(a, b, "indirect", "only studies that hold both link them")

    def _side(self, a: object, b: object, which: str, reason: str) -> Contrast:
        parts = self.split(a, b)
        side = parts.direct if which == "direct" else parts.indirect
        if side is None:
            raise NotCompared(f"There is no {which} evidence on {a} against {b}: {reason}.")
        return self._contrast(self._at[a], self._at[b], side[0], side[1], which)

    @cached_property
    def inconsistency(self) -> Inconsistency:
        """Design-by-treatment interaction at the network's between-study variance."""
        return disagreement.design_by_treatment(self.profile, self.solution.tau2)

    def influence(self, *, refit: bool = False) -> pd.DataFrame:
        """Show what leaving out each study does to the effects against the reference.

        Parameters
        ----------
        refit : bool, optional
            Find the between-study variance anew for each (slower: one fit a study), and show it.

        Returns
        -------
        DataFrame
            study, joint (the effect that moves most, in standard errors), shift (of its log ratio),
            shift_in_se, disconnects (True where a comparison rests on that study alone; shift is then NaN),
            and tau2 with `refit`.
        """
        r = self.index(self.reference)
        linked = np.flatnonzero(self.part == self.part[r])
        return influence_frame(
            self.profile, self.solution, r, linked[linked != r], np.sqrt(self.variance[:, r]), self.joints,
            self.study_names, refit=refit,
        )  # fmt: skip

    def contributions(self, a: object, b: object) -> pd.DataFrame:
        """Show how much each study tells on a against b.

        Parameters
        ----------
        a, b : label
            Joints of the network; the ratio is a over b.

        Returns
        -------
        DataFrame
            study, weight (its share in the variance of the estimate, summing to 1), direct (it holds both joints),
            the largest first.

        Raises
        ------
        NotCompared
            When no chain of studies links the two; the message gives the reason.
        BadArms
            For a joint the network does not hold, or one against itself.
        """
        i, j = self._linked(a, b)
        study, weight = shares(self.profile, self.solution, i, j)
        both = [
            block.study[(block.joints == i).any(axis=1) & (block.joints == j).any(axis=1)]
            for block in self.profile.rows.blocks
        ]
        names = [self.study_names[s] for s in study]
        frame = pd.DataFrame({"study": names, "weight": weight, "direct": np.isin(study, np.concatenate(both))})
        return frame.sort_values("weight", ascending=False, kind="stable", ignore_index=True)

    def against(self, versus: object) -> Against:
        """Show how much each study tells on every joint against one, and whether direct and indirect evidence agree.

        Parameters
        ----------
        versus : label
            A joint of the network.

        Returns
        -------
        Against
            Columns in the order of `joints`, rows by number in `study_names`. For one joint the same is in
            `contributions` and `split`.

        Raises
        ------
        BadArms
            For a joint the network does not hold, or a network with moderators.
        """
        b = self.index(versus)
        return against(self.profile, self.solution, b, self.scale, self.part == self.part[b])

    def ranking(self, *, larger_is_better: bool = True) -> pd.DataFrame:
        """Rank the joints linked to the reference by their mean probability of being stronger than another.

        Parameters
        ----------
        larger_is_better : bool, optional
            Whether a larger value is the stronger joint.

        Returns
        -------
        DataFrame
            joint, probability (mean over the other joints), highest first.

        Notes
        -----
        The P-score [1]_: mean over the others of P(d_ij > 0), by the same quantile as the intervals. A rank
        hides how large the differences are; read it beside the ratios.

        References
        ----------
        .. [1] Ruecker G, Schwarzer G (2015). Ranking treatments in frequentist network meta-analysis works
           without resampling methods. BMC Medical Research Methodology 15: 58.
        """
        rows = np.flatnonzero(self.part == self.part[self.index(self.reference)])
        d = self.solution.beta[rows][:, None] - self.solution.beta[rows][None, :]
        s = np.sqrt(self.variance[np.ix_(rows, rows)])
        np.fill_diagonal(s, 1.0)
        z = (1.0 if larger_is_better else -1.0) * d / s
        p = stats.t.cdf(z, self._t) if self._t else stats.norm.cdf(z)
        np.fill_diagonal(p, 0.0)
        names = [self.joints[i] for i in rows]
        frame = pd.DataFrame({"joint": names, "probability": p.sum(axis=1) / (len(rows) - 1)})
        return frame.sort_values("probability", ascending=False, kind="stable", ignore_index=True)
