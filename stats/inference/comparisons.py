"""Joints compared with each other: what a fitted network can be asked, and what it refuses."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from scipy import stats

from stats.inference import inconsistency as disagreement
from stats.inference.against import Against, against
from stats.inference.fitted import Fitted, NotCompared
from stats.inference.inconsistency import Inconsistency, Split
from stats.inference.influence import influence_frame, shares
from stats.inference.log_ratios import Contrast, Relatives
from stats.interval import Interval


@dataclass(frozen=True, eq=False)
class Network(Fitted):
    """All joints against each other; see `Fitted` for what it holds."""

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
