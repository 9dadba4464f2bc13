"""The five GRADE domains, each judged from the evidence by a written rule; `certainty` puts them together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from stats.interval import Interval

_SOME, _MOST = 0.25, 0.75  # shares of the weight: under a quarter is let pass, three quarters is nearly all
_NOTHING = 0.005  # reads as 0 %
_FEW_SPECIMENS = 3  # a series below this shows next to no spread
_FEW_STUDIES_FOR_FUNNEL = 10  # Sterne et al. 2011
_DOUBT_P = 0.10  # tests of disagreement have little power, so the usual 0.10


class Compared(Protocol):
    """What is graded: a pooled contrast or a contrast of the network, on logs."""

    @property
    def estimate(self) -> float:
        """Log ratio [-]."""

    @property
    def interval(self) -> Interval:
        """Interval of the mean log ratio over studies."""

    @property
    def prediction(self) -> Interval | None:
        """Interval of the log ratio in one further study; None where it can't be had."""


@dataclass(frozen=True)
class Domain:
    """One domain's finding.

    Parameters
    ----------
    name : str
        ``risk of bias``, ``inconsistency``, ``indirectness``, ``imprecision`` or ``missing evidence``.
    steps : int
        Levels taken off: 0 no concern, 1 serious, 2 very serious.
    reason : str
        What was found, in one sentence.
    """

    name: str
    steps: int
    reason: str


@dataclass(frozen=True, eq=False)
class Evidence:
    """What `grade` wants to know of the studies that tell on a comparison, an array each.

    Parameters
    ----------
    weight : ndarray, shape (studies,)
        Share of each study, on any scale.
    n : ndarray, shape (studies,)
        Specimens in its smaller series; NaN where unknown.
    direct, like, imputed, left_out, matched : ndarray of bool, shape (studies,)
        See `grade`.
    contributor : ndarray of int, shape (studies,), optional
        Number of who gave it; None where nobody knows.
    """

    weight: NDArray[np.float64]
    n: NDArray[np.float64]
    direct: NDArray[np.bool_]
    like: NDArray[np.bool_]
    imputed: NDArray[np.bool_]
    left_out: NDArray[np.bool_]
    matched: NDArray[np.bool_]
    contributor: NDArray[np.intp] | None = None

    def __len__(self) -> int:
        return len(self.weight)

    def share(self, which: NDArray[np.bool_]) -> float:
        """The part of the weight that some of the studies carry, once weights sum to 1.

        Parameters
        ----------
        which : ndarray of bool, shape (studies,)
            The studies asked about.

        Returns
        -------
        float
            A share where the weights sum to 1; nothing is divided here.
        """
        return float(np.sum(self.weight, where=which))


def _steps(share: float) -> int:
    return 0 if share < _SOME else 1 if share < _MOST else 2


def risk_of_bias(e: Evidence) -> Domain:
    """Judge how the tests were made and reported.

    A study gives concern if its spread is borrowed, a series has fewer than three specimens or an unknown number,
    specimens were left out without a reason, or its joints came from different boards. (A rig that reads high or
    low does not: it cancels in the ratio of two joints of one study.) One step where such studies carry a quarter
    of the weight, two where they carry three quarters.

    Parameters
    ----------
    e : Evidence
        With weights that sum to 1.

    Returns
    -------
    Domain
    """
    causes: dict[str, NDArray[np.bool_]] = {
        "spread not reported": e.imputed,
        "fewer than three specimens, or an unknown number": ~(e.n >= _FEW_SPECIMENS),
        "specimens left out without a reason": e.left_out,
        "timber not matched": ~e.matched,
    }
    concern = np.logical_or.reduce(list(causes.values()))
    share = e.share(concern)
    if share < _NOTHING:
        return Domain("risk of bias", 0, "No study of any weight gives cause for concern.")
    shares = {name: e.share(which) for name, which in causes.items()}
    worst = [f"{name} ({part:.0%})" for name, part in shares.items() if part >= _NOTHING]
    return Domain("risk of bias", _steps(share), f"{share:.0%} of the weight gives concern: {'; '.join(worst)}.")


def _zone(low: float, high: float, edge: float) -> set[int]:
    """Say which of worse (-1), no difference that matters (0), better (1) a range reaches into."""
    zones = set()
    if low < -edge:
        zones.add(-1)
    if high > edge:
        zones.add(1)
    if low <= edge and high >= -edge:
        zones.add(0)
    return zones


def inconsistency(contrast: Compared, studies: int, edge: float, difference_p: float | None) -> Domain:
    """Judge whether studies agree.

    A single study can't show it: one step. The prediction interval is read against the interval: one step
    where it reaches one further zone of worse, alike, better; two where it reaches both further ones. Direct
    and indirect evidence, or designs, that disagree with p < 0.10 count at least one step.

    Parameters
    ----------
    contrast : RandomEffects or Contrast
        Log ratio with its interval and prediction interval.
    studies : int
        Studies that tell on the comparison.
    edge : float
        Log of 1 + the smallest difference that matters.
    difference_p : float or None
        Probability of the disagreement between direct and indirect evidence, or between designs; None where unknown.

    Returns
    -------
    Domain
    """
    name = "inconsistency"
    if contrast.prediction is None or studies == 1:
        return Domain(name, 1, "Only one study, or one for each comparison: whether others would agree can't be seen.")
    mean = _zone(contrast.interval.low, contrast.interval.high, edge)
    one = _zone(contrast.prediction.low, contrast.prediction.high, edge)
    further = len(one - mean)
    reason = (
        "A further study would be expected to say the same.",
        "A further study may reach another conclusion than the mean of these.",
        "A further study may reach any conclusion.",
    )[further]
    if difference_p is not None and difference_p < _DOUBT_P:
        return Domain(name, max(1, further), f"{reason} Routes through the evidence disagree (p = {difference_p:.2g}).")
    return Domain(name, further, reason)


def indirectness(e: Evidence) -> Domain:
    """Judge whether the evidence is on this comparison.

    One step where a quarter of the weight comes from studies without both joints, or needs adjustment to a
    common footing; two where three quarters does.

    Parameters
    ----------
    e : Evidence
        With weights that sum to 1.

    Returns
    -------
    Domain
    """
    elsewhere, adjusted = ~e.direct, ~e.like
    share = e.share(elsewhere | adjusted)
    if share == 0:
        return Domain("indirectness", 0, "All studies hold both joints, like for like.")
    reason = (
        f"Of the weight, {e.share(elsewhere):.0%} comes from studies without both joints and "
        f"{e.share(adjusted):.0%} needed adjustment to a common footing."
    )
    return Domain("indirectness", _steps(share), reason)


def imprecision(contrast: Compared, e: Evidence, edge: float) -> Domain:
    """Judge whether the interval settles the question.

    No step where the interval stays in one zone of worse, alike, better, or reaches from alike into one of
    the others without containing equality; one where it reaches from alike into another and contains
    equality; two where it reaches all three. Fewer than ten specimens in all: at least one step.

    Parameters
    ----------
    contrast : RandomEffects or Contrast
        Log ratio with its interval and prediction interval.
    e : Evidence
        With weights that sum to 1.
    edge : float
        Log of 1 + the smallest difference that matters.

    Returns
    -------
    Domain
    """
    zones = _zone(contrast.interval.low, contrast.interval.high, edge)
    equal = contrast.interval.low <= 0.0 <= contrast.interval.high
    if len(zones) == 3:
        steps, reason = 2, "The interval holds both a worthwhile loss and a worthwhile gain."
    elif len(zones) == 2 and equal:
        steps, reason = 1, "The interval holds both equality and a difference that matters."
    else:
        steps, reason = 0, "The interval settles on which side of equality, or how near it, the ratio lies."
    specimens = float(np.sum(e.n, where=~np.isnan(e.n)))
    if specimens < 10:
        return Domain("imprecision", max(1, steps), f"{reason} Only {specimens:.0f} specimens in the smaller series.")
    return Domain("imprecision", steps, reason)


def missing_evidence(e: Evidence, small_study_p: float | None) -> Domain:
    """Judge whether results are likely to be missing.

    One step where ten or more studies show a small-study slope with p < 0.10, or where one contributor gave
    three quarters of the weight of two or more studies. Fewer than ten studies can't show a slope, which is
    said.

    Parameters
    ----------
    e : Evidence
        With weights that sum to 1.
    small_study_p : float or None
        Probability of the small-study slope; None where unknown.

    Returns
    -------
    Domain
    """
    name = "missing evidence"
    if e.contributor is not None and len(e) > 1:
        by_contributor = np.bincount(e.contributor, e.weight)
        if by_contributor.max() >= _MOST:
            return Domain(name, 1, f"One contributor gave {by_contributor.max():.0%} of the weight.")
    if len(e) < _FEW_STUDIES_FOR_FUNNEL or small_study_p is None:
        return Domain(name, 0, "Too few studies to see whether some results are missing.")
    if small_study_p < _DOUBT_P:
        return Domain(name, 1, f"Less precise studies show larger differences (p = {small_study_p:.2g}).")
    return Domain(name, 0, "Less precise studies show no larger differences.")
