"""Compare groups within one study: whether they differ at all, which do, and by what ratio.

Strengths are compared on logs: hand logs to the tests here that take means (`welch_anova`,
`games_howell`); `ratio` and `equivalent` take readings and log them. Ranks do not mind.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import Any, Literal

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from scipy import stats

from stats.inference import studentized_range
from stats.inference.ratios import Equivalence, Ratio, equivalent, ratio, ratio_from_sums
from stats.inference.sample import (
    BadSetting,
    Floats,
    NoSpread,
    TooFew,
    checked,
    checked_labels,
    checked_share,
    log_spread,
)

__all__ = [
    "Equivalence",
    "GroupTest",
    "Ratio",
    "dunn",
    "equivalent",
    "games_howell",
    "kruskal",
    "ratio",
    "ratio_from_sums",
    "welch_anova",
]

Adjust = Literal["holm", "bonferroni", "fdr_bh", "none"]


@dataclass(frozen=True)
class GroupTest:
    """A test of whether any group differs.

    Parameters
    ----------
    statistic : float
        F or H [-].
    df : tuple of float
        Degrees of freedom: numerator and denominator for F, one number for H.
    p : float
        Chance of a statistic this large where no group differs.
    n : int
        Readings in all.
    groups : tuple
        The labels, in the order they first appear.
    method : str
    """

    statistic: float
    df: tuple[float, ...]
    p: float
    n: int
    groups: tuple[Any, ...]
    method: str


def welch_anova(values: ArrayLike, labels: ArrayLike) -> GroupTest:
    """Test whether group means differ, letting each group have its own spread.

    Parameters
    ----------
    values : array_like, shape (n,)
        Numbers; for strengths, their logs.
    labels : array_like, shape (n,)
        Group of each.

    Returns
    -------
    GroupTest
        ``statistic`` is Welch's F, ``df`` its two degrees of freedom.

    Raises
    ------
    BadSample
        If a number is not finite, a label is missing, or their numbers differ.
    TooFew
        If there is one group, or a group has one reading.
    NoSpread
        If a group shows no spread.

    References
    ----------
    Welch, B. L. (1951). On the comparison of several mean values: an alternative approach. Biometrika 38,
    330-336.

    Examples
    --------
    >>> import numpy as np
    >>> test = welch_anova(np.log([41, 45, 43, 35, 31, 37, 50, 58, 52]), list("aaabbbccc"))
    >>> round(test.statistic, 1), round(test.p, 4)
    (17.7, 0.013)
    """
    from statsmodels.stats.oneway import anova_oneway

    names, parts = _groups(values, labels, minimum=2)
    for name, part in zip(names, parts, strict=True):
        if log_spread(part) == 0:
            raise NoSpread(f"all {part.size} readings of {name!r} are {part[0]:g}; each group needs spread.")
    found = anova_oneway(parts, use_var="unequal", welch_correction=True)
    df = (float(found.df_num), float(found.df_denom))
    n = sum(part.size for part in parts)
    return GroupTest(float(found.statistic), df, float(found.pvalue), n, names, "Welch's ANOVA")


def kruskal(values: ArrayLike, labels: ArrayLike) -> GroupTest:
    """Test whether groups differ in level, by ranks.

    Parameters
    ----------
    values : array_like, shape (n,)
        Numbers; logs and readings give the same answer.
    labels : array_like, shape (n,)
        Group of each.

    Returns
    -------
    GroupTest
        ``statistic`` is H, corrected for ties; p is by chi-squared, rough with fewer than five in a group.

    Raises
    ------
    BadSample
        If a number is not finite, a label is missing, or their numbers differ.
    TooFew
        If there is one group.
    NoSpread
        If all numbers are equal.

    References
    ----------
    Kruskal, W. H. and Wallis, W. A. (1952). Use of ranks in one-criterion variance analysis. J. American
    Statistical Association 47, 583-621.

    Examples
    --------
    >>> test = kruskal([41, 45, 43, 35, 31, 37, 50, 58, 52], list("aaabbbccc"))
    >>> round(test.statistic, 2), round(test.p, 4)
    (7.2, 0.0273)
    """
    names, parts = _groups(values, labels, minimum=1)
    _refuse_all_equal(parts)
    found = stats.kruskal(*parts)
    df = (float(len(parts) - 1),)
    n = sum(part.size for part in parts)
    return GroupTest(float(found.statistic), df, float(found.pvalue), n, names, "Kruskal-Wallis")


def games_howell(values: ArrayLike, labels: ArrayLike, level: float = 0.95) -> pd.DataFrame:
    """Compare every pair of group means, letting each group have its own spread and size.

    Parameters
    ----------
    values : array_like, shape (n,)
        Numbers; for strengths, their logs, so that exp(difference) is a ratio.
    labels : array_like, shape (n,)
        Group of each.
    level : float
        Level at which all intervals hold at once.

    Returns
    -------
    DataFrame
        One row a pair: ``a``, ``b``, ``difference`` (mean of b less mean of a), ``low``, ``high``, ``df``,
        ``q`` (Studentized range statistic) and ``p``, both already adjusted for the number of pairs.

    Raises
    ------
    BadSample, TooFew
        As for `welch_anova`.
    NoSpread
        If both groups of a pair have readings that are all equal.
    BadSetting
        If level is not between 0 and 1.

    References
    ----------
    Games, P. A. and Howell, J. F. (1976). Pairwise multiple comparison procedures with unequal n's and/or
    variances. J. Educational Statistics 1, 113-125.

    Examples
    --------
    >>> import numpy as np
    >>> pairs = games_howell(np.log([41, 45, 43, 35, 31, 37, 50, 58, 52]), list("aaabbbccc"))
    >>> pairs[["a", "b"]].agg("-".join, axis=1).tolist(), pairs["p"].round(3).tolist()
    (['a-b', 'a-c', 'b-c'], [0.061, 0.044, 0.007])
    """
    level = checked_share(level, "level")
    names, parts = _groups(values, labels, minimum=2)
    count = len(parts)
    rows = []
    for i, j in combinations(range(count), 2):
        share = np.array([part.var(ddof=1) / part.size for part in (parts[i], parts[j])])
        if log_spread(parts[i]) == 0 and log_spread(parts[j]) == 0:
            raise NoSpread(f"neither {names[i]!r} nor {names[j]!r} shows any spread; they can't be compared.")
        df = share.sum() ** 2 / (share**2 / [parts[i].size - 1, parts[j].size - 1]).sum()
        se = np.sqrt(share.sum() / 2)
        difference = float(parts[j].mean() - parts[i].mean())
        q = abs(difference) / se
        reach = studentized_range.critical(level, count, df) * se
        p = studentized_range.tail(q, count, df)
        rows.append((names[i], names[j], difference, difference - reach, difference + reach, df, q, p))
    return pd.DataFrame(rows, columns=["a", "b", "difference", "low", "high", "df", "q", "p"])


def dunn(values: ArrayLike, labels: ArrayLike, adjust: Adjust = "holm") -> pd.DataFrame:
    """Compare every pair of groups by their mean ranks, after Kruskal and Wallis.

    Parameters
    ----------
    values : array_like, shape (n,)
        Numbers; logs and readings give the same answer.
    labels : array_like, shape (n,)
        Group of each.
    adjust : {"holm", "bonferroni", "fdr_bh", "none"}
        How p is adjusted for the number of pairs.

    Returns
    -------
    DataFrame
        One row a pair: ``a``, ``b``, ``z`` (above zero where b ranks higher), ``p`` (two-sided),
        ``p_adjusted``.

    Raises
    ------
    BadSample, TooFew, NoSpread
        As for `kruskal`.
    BadSetting
        If adjust is unknown.

    Notes
    -----
    ``z = (mean rank b - mean rank a) / sqrt(v (1 / n_a + 1 / n_b))`` with
    ``v = N (N + 1) / 12 - sum(t^3 - t) / (12 (N - 1))``, t the sizes of ties.

    References
    ----------
    Dunn, O. J. (1964). Multiple comparisons using rank sums. Technometrics 6, 241-252.

    Examples
    --------
    >>> pairs = dunn([41, 45, 43, 35, 31, 37, 50, 58, 52], list("aaabbbccc"))
    >>> pairs["p_adjusted"].round(3).tolist()
    [0.359, 0.359, 0.022]
    """
    from statsmodels.stats.multitest import multipletests

    if adjust not in ("holm", "bonferroni", "fdr_bh", "none"):
        raise BadSetting(f"adjust is {adjust!r}; it must be holm, bonferroni, fdr_bh or none.")
    names, parts = _groups(values, labels, minimum=1)
    _refuse_all_equal(parts)
    sizes = np.array([part.size for part in parts])
    ranks = np.split(stats.rankdata(np.concatenate(parts)), np.cumsum(sizes)[:-1])
    means = np.array([rank.mean() for rank in ranks])
    n = int(sizes.sum())
    ties = np.unique(np.concatenate(parts), return_counts=True)[1].astype(float)
    variance = n * (n + 1) / 12 - (ties**3 - ties).sum() / (12 * (n - 1))
    pairs = list(combinations(range(len(parts)), 2))
    z = np.array([(means[j] - means[i]) / np.sqrt(variance * (1 / sizes[i] + 1 / sizes[j])) for i, j in pairs])
    p = 2 * stats.norm.sf(np.abs(z))
    adjusted = p if adjust == "none" else multipletests(p, method=adjust)[1]
    first, second = ([names[pair[side]] for pair in pairs] for side in (0, 1))
    return pd.DataFrame({"a": first, "b": second, "z": z, "p": p, "p_adjusted": adjusted})


def _groups(values: ArrayLike, labels: ArrayLike, minimum: int) -> tuple[tuple[Any, ...], list[Floats]]:
    """The labels in order of first appearance, and each one's numbers."""
    array = checked(values, positive=False)
    marks = checked_labels(labels, array.size)
    names = tuple(dict.fromkeys(marks.tolist()))
    if len(names) < 2:
        raise TooFew(f"labels name only {names[0]!r}; a comparison needs at least 2 groups.")
    parts = [array[marks == name] for name in names]
    for name, part in zip(names, parts, strict=True):
        if part.size < minimum:
            raise TooFew(f"group {name!r} has {part.size} reading; each needs at least {minimum}.")
    return names, parts


def _refuse_all_equal(parts: list[Floats]) -> None:
    together = np.concatenate(parts)
    if (together == together[0]).all():
        raise NoSpread(f"all {together.size} values are {together[0]:g}; there is nothing to rank.")
