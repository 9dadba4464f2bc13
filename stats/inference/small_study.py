"""Whether less precise studies show larger contrasts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from stats.inference.study_contrasts import BadContrasts, checked_contrasts


@dataclass(frozen=True)
class SmallStudy:
    """Whether less precise studies show larger contrasts.

    Parameters
    ----------
    slope, se : float
        Change of the contrast per unit of its standard error [-], and that slope's standard error.
    t, df, p : float
        Test of no slope: statistic [-], its degrees of freedom and probability.
    limit : float
        Contrast that the line reaches at a standard error of zero [unit of y].
    k : int
        Number of studies.
    notes : tuple of str
        What a reader must be told.
    """

    slope: float
    se: float
    t: float
    df: int
    p: float
    limit: float
    k: int
    notes: tuple[str, ...]


def small_study(y: ArrayLike, v: ArrayLike, *, labels: Sequence[object] | None = None) -> SmallStudy:
    """Test whether less precise studies show larger contrasts (Egger's regression).

    Parameters
    ----------
    y, v : array_like, shape (k,)
        As for `random_effects`; at least three studies whose variances differ.
    labels
        As for `random_effects`.

    Returns
    -------
    SmallStudy

    Raises
    ------
    BadContrasts
        For fewer than three studies, equal variances, or as `random_effects`.

    Notes
    -----
    Weighted least squares of y on its standard error, weights 1 / v, with a residual scale [1]_. Ten studies
    are the least for which the test says much [2]_. A slope can come from anything that goes with study size,
    not only from unreported results.

    References
    ----------
    .. [1] Egger M et al. (1997). Bias in meta-analysis detected by a simple, graphical test. BMJ 315:
       629-634.
    .. [2] Sterne JAC et al. (2011). Recommendations for examining and interpreting funnel plot asymmetry.
       BMJ 343: d4002.
    """
    ys, vs, _ = checked_contrasts(y, v, labels, 0.95)
    k, s = len(ys), np.sqrt(vs)
    if k < 3:
        raise BadContrasts(f"The small-study check needs at least three studies; y has {k}.")
    if np.ptp(s) <= 1e-9 * s.max():
        raise BadContrasts("The small-study check needs studies of different precision; all v are equal.")
    w = 1.0 / vs
    centre = np.sum(w * s) / np.sum(w)
    sxx = np.sum(w * (s - centre) ** 2)
    slope = float(np.sum(w * (s - centre) * ys) / sxx)
    limit = float(np.sum(w * ys) / np.sum(w) - slope * centre)
    scale = np.sum(w * (ys - limit - slope * s) ** 2) / (k - 2)
    se = float(np.sqrt(scale / sxx))
    t = slope / se if se > 0 else float(np.inf) * np.sign(slope)
    notes = [] if k >= 10 else [f"Only {k} studies: below ten this check can hardly find anything."]
    p = float(2 * stats.t.sf(abs(t), k - 2))
    return SmallStudy(slope, se, float(t), k - 2, p, limit, k, tuple(notes))
