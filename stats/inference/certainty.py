"""How far a comparison can be trusted, by the five GRADE domains, each from the evidence by a written rule."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stats.errors import StatsError
from stats.inference.certainty_domains import (
    Compared,
    Domain,
    Evidence,
    imprecision,
    inconsistency,
    indirectness,
    missing_evidence,
    risk_of_bias,
)
from stats.scalar import said, scalar

Level = Literal["high", "moderate", "low", "very low"]
LEVELS: tuple[Level, ...] = ("high", "moderate", "low", "very low")


class BadEvidence(StatsError):
    """Evidence that can't be graded; the message says which and why."""

    code = "bad-evidence"


@dataclass(frozen=True)
class Certainty:
    """How far a comparison can be trusted.

    Parameters
    ----------
    level : {'high', 'moderate', 'low', 'very low'}
    domains : tuple of Domain
        All five, in GRADE's order.
    matters : float
        Smallest difference that matters, as a share (0.10 is 10 %).
    studies : int
        Studies behind the comparison.
    """

    level: Level
    domains: tuple[Domain, ...]
    matters: float
    studies: int


def grade(
    contrast: Compared,
    evidence: pd.DataFrame | Evidence,
    *,
    matters: float = 0.10,
    difference_p: float | None = None,
    small_study_p: float | None = None,
) -> Certainty:
    """Grade a comparison from high to very low.

    Parameters
    ----------
    contrast : RandomEffects or Contrast
        Log ratio with its interval and prediction interval.
    evidence : DataFrame or Evidence
        One row a study that tells on the comparison: study, weight (its share; any scale), n (specimens in its
        smaller series; NaN where unknown), direct (it holds both joints), like (on one footing without
        adjustment); and where known imputed (its spread is borrowed), left_out (specimens left out without a
        reason), matched (both joints from the same boards or batch), contributor. What is not known of these
        last counts as no concern.
    matters : float, optional
        Smallest difference that matters, as a share of strength.
    difference_p : float, optional
        Probability of the disagreement between direct and indirect evidence, or between designs.
    small_study_p : float, optional
        Probability of the small-study slope.

    Returns
    -------
    Certainty

    Raises
    ------
    BadEvidence
        Naming the column and what would be right.

    Notes
    -----
    Starts at high and takes off the steps of each domain; three or more give very low. The domains are
    GRADE's [1]_; the rules, in the functions below, are this book's, with the interval and the prediction
    interval read against the range of differences that do not matter as in [2]_. A grade is about this
    evidence, not about the joint: low means that a further study may well change the answer.

    References
    ----------
    .. [1] Guyatt GH et al. (2008). GRADE: an emerging consensus on rating quality of evidence and strength of
       recommendations. BMJ 336: 924-926.
    .. [2] Nikolakopoulou A et al. (2020). CINeMA: an approach for assessing confidence in the results of a
       network meta-analysis. PLoS Medicine 17: e1003082.
    """
    e = _checked(evidence, matters, difference_p, small_study_p)
    edge = float(np.log1p(matters))
    domains = (
        risk_of_bias(e),
        inconsistency(contrast, len(e), edge, difference_p),
        indirectness(e),
        imprecision(contrast, e, edge),
        missing_evidence(e, small_study_p),
    )
    steps = sum(d.steps for d in domains)
    return Certainty(LEVELS[min(steps, 3)], domains, matters, len(e))


def _checked(evidence: pd.DataFrame | Evidence, matters: float, *probabilities: float | None) -> Evidence:
    e = evidence if isinstance(evidence, Evidence) else _arrays(evidence)
    if not len(e):
        raise BadEvidence("evidence has no rows; a comparison without a study can't be graded.")
    total = e.weight.sum()
    if not (np.isfinite(total) and (e.weight >= 0).all() and total > 0):
        raise BadEvidence("weight must be finite, not negative, and above zero for some study.")
    if not 0.0 < scalar(matters) < 10.0:
        raise BadEvidence(
            f"matters is {said(matters)}; give the smallest difference that matters as a share, 0.10 for 10 %."
        )
    for p in probabilities:
        if p is not None and not 0.0 <= scalar(p) <= 1.0:
            raise BadEvidence(f"{said(p)} is not a probability; it must lie between 0 and 1.")
    return replace(e, weight=e.weight / total)


def _arrays(evidence: pd.DataFrame) -> Evidence:
    missing = [c for c in ("study", "weight", "n", "direct", "like") if c not in evidence.columns]
    if missing:
        raise BadEvidence(f"evidence lacks the columns {', '.join(missing)}.")
    weight, n = (
        pd.to_numeric(evidence[name], errors="coerce").to_numpy(dtype=float, na_value=np.nan)
        for name in ("weight", "n")
    )
    unknown = {"direct": False, "like": False, "imputed": False, "left_out": False, "matched": True}
    flags = {name: _flag(evidence, name, value) for name, value in unknown.items()}
    by = pd.factorize(evidence["contributor"].astype(str))[0] if "contributor" in evidence.columns else None
    return Evidence(weight, n, **flags, contributor=by)


def _flag(e: pd.DataFrame, column: str, unknown: bool) -> NDArray[np.bool_]:
    """Give a yes/no column, with `unknown` where it is absent or empty."""
    if column not in e.columns:
        return np.full(len(e), unknown)
    return np.array([unknown if pd.isna(x) else bool(x) for x in e[column]], dtype=bool)
