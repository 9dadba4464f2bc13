"""Spreads of series: those of few specimens steadied by the others, missing ones filled from like series."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import optimize, special

from stats.inference.arms import BadArms, Floats, need_columns, row_name
from stats.inference.counting import counted, numbered
from stats.inference.planning import cv_from_sd_log


def _spread(frame: pd.DataFrame) -> tuple[Floats, Floats]:
    """Give v and n as floats, missing ones NaN, or say which row is neither missing nor possible."""
    v: Floats = pd.to_numeric(frame["v"], errors="coerce").to_numpy(dtype=float, na_value=np.nan)
    n: Floats = pd.to_numeric(frame["n"], errors="coerce").to_numpy(dtype=float, na_value=np.nan)
    for column, bad, right in (
        ("v", ~np.isnan(v) & ~(np.isfinite(v) & (v > 0)), "a finite variance above zero, or missing"),
        ("n", ~np.isnan(n) & ~(np.isfinite(n) & (n >= 1)), "a count of at least 1, or missing"),
    ):
        if bad.any():
            i = int(np.flatnonzero(bad)[0])
            raise BadArms(f"{column} of {row_name(frame, i)} is {frame[column].iloc[i]}; it must be {right}.")
    return v, n


def steady_variance(frame: pd.DataFrame) -> pd.DataFrame:
    """Draw the variances of few specimens towards what series show in common.

    Parameters
    ----------
    frame : DataFrame
        study, joint, v (variance of the mean log; NaN where missing), n (specimens; NaN where unknown).

    Returns
    -------
    DataFrame
        The frame with v drawn in, `v_own` (as given) and `borrowed` (the share, 0 to 1, that comes from the other
        series; 0 where there was nothing to draw on, NaN where v is missing).

    Raises
    ------
    BadArms
        When v is negative, zero or infinite, or n below 1.

    Notes
    -----
    The variance of logs of three specimens is off by a factor of three as often as not, and weights by it let a
    lucky series lead. Series vary by much the same share, so each variance s^2 = n v on d = n - 1 degrees of freedom
    is taken as drawn from a scaled inverse chi-squared about s0^2 on d0, both found from all series by the moments
    of log s^2, and becomes (d0 s0^2 + d s^2) / (d0 + d) [1]_. Where series differ no more than chance, d0 is
    infinite and all get the pooled variance; where each has a spread of its own, d0 is small and little changes.
    Without it, pooled intervals cover about a point less (tests/bench/coverage.py).

    References
    ----------
    .. [1] Smyth GK (2004). Linear models and empirical Bayes methods for assessing differential expression in
       microarray experiments. Statistical Applications in Genetics and Molecular Biology 3: 3.
    """
    need_columns(frame, ["study", "joint", "v", "n"])
    out = frame.reset_index(drop=True).copy()
    v, n = _spread(out)
    out["v_own"] = v
    out["v"], out["borrowed"] = steadied(v, n)
    return out


def steadied(v: Floats, n: Floats) -> tuple[Floats, Floats]:
    """Draw variances in as `steady_variance` does, on arrays.

    Parameters
    ----------
    v : ndarray, shape (series,)
        Variance of each mean log [-]; NaN where missing.
    n : ndarray, shape (series,)
        Specimens; NaN where unknown.

    Returns
    -------
    drawn : ndarray, shape (series,)
        The variances drawn in [-].
    borrowed : ndarray, shape (series,)
        Share that comes from other series; NaN where the variance is missing.
    """
    known = ~np.isnan(v) & (n > 1)
    borrowed = np.where(np.isnan(v), np.nan, 0.0)
    drawn = v.copy()
    if known.sum() >= 3:
        d, s2 = n[known] - 1, n[known] * v[known]
        d0, s0 = _common_spread(s2, d)
        share = 1.0 if np.isinf(d0) else d0 / (d0 + d)
        drawn[known] = (share * s0 + (1 - share) * s2) / n[known]
        borrowed[known] = share
    return drawn, borrowed


def _common_spread(s2: Floats, d: Floats) -> tuple[float, float]:
    """Give the degrees of freedom and the scale of what variances have in common (Smyth 2004, section 6.2)."""
    known, which = counted(d)  # they are few that differ
    e = np.log(s2) - (special.digamma(known / 2) - np.log(known / 2))[which]
    # The trigamma function is the Hurwitz zeta function of 2, which is quicker to call.
    excess = float(np.var(e, ddof=1) - np.mean(special.zeta(2, known / 2)[which]))
    if excess <= 1e-6:
        return np.inf, float(np.sum(d * s2) / np.sum(d))
    half = float(optimize.brentq(lambda x: special.zeta(2, x) - excess, 1e-6, 2.0 / excess + 2.0))
    return 2.0 * half, float(np.exp(e.mean() + special.digamma(half) - np.log(half)))


def _kinds(columns: Sequence[NDArray[np.intp]], size: int) -> list[NDArray[np.intp]]:
    """Number the series by none of the columns, by the first, by the first two and so on; -1 where one is missing."""
    kinds = [np.zeros(size, dtype=np.intp)]
    for own in columns:
        both = kinds[-1] * (int(own.max(initial=-1)) + 1) + own
        missing = (kinds[-1] < 0) | (own < 0)
        kinds.append(np.where(missing, -1, numbered(np.where(missing, 0, both))[1]))
    return kinds


def impute_variance(frame: pd.DataFrame, like: Sequence[Hashable] = ("joint",), *, least_df: int = 6) -> pd.DataFrame:
    """Fill a missing variance from the pooled spread of like series, and mark it.

    Parameters
    ----------
    frame : DataFrame
        study, joint, y, v (NaN where the spread is missing), n (specimens; NaN where unknown), and the `like`
        columns.
    like : sequence of column names, optional
        What makes series alike, the most important first. Columns are dropped from the end until the like
        series hold `least_df` degrees of freedom; with none left, all series count as alike.
    least_df : int, optional
        Fewest pooled degrees of freedom to borrow from.

    Returns
    -------
    DataFrame
        The frame with v filled, `imputed` (bool), and `imputed_from` (str, empty where measured).

    Raises
    ------
    BadArms
        When v is negative, zero or infinite, n is below 1, or too few series report a spread.

    Notes
    -----
    The variance of logs of series i is n_i v_i on n_i - 1 degrees of freedom; the pooled one is their mean
    weighted by those degrees of freedom, and a series of n gets it over n. An unknown n counts as one
    specimen, so that such a series carries the least weight. The CV shown is sqrt(exp(s^2) - 1).
    """
    need_columns(frame, ["study", "joint", "v", "n", *map(str, like)])
    out = frame.reset_index(drop=True).copy()
    v, n = _spread(out)
    names = [str(column) for column in like]
    codes = [pd.factorize(out[name])[0] for name in names]
    filled, source = imputed(v, n, codes, names, least_df=least_df, name=lambda i: row_name(out, i))
    out["v"] = filled
    out["imputed"] = np.isnan(v)
    out["imputed_from"] = source
    return out


def _source(s2: float, count: int, unknown: bool, label: str) -> str:
    known = "; n unknown, counted as 1" if unknown else ""
    return f"pooled CV {100 * cv_from_sd_log(math.sqrt(s2)):.0f} % of {count} series of {label}{known}"


def imputed(
    v: Floats,
    n: Floats,
    like: Sequence[NDArray[np.intp]],
    names: Sequence[str],
    *,
    least_df: int = 6,
    name: Callable[[int], str] = "row {}".format,
) -> tuple[Floats, NDArray[np.object_]]:
    """Fill missing variances as `impute_variance` does, on arrays.

    Parameters
    ----------
    v : ndarray, shape (series,)
        Variance of each mean log [-]; NaN where missing.
    n : ndarray, shape (series,)
        Specimens; NaN where unknown.
    like : sequence of ndarray of int, each of shape (series,)
        Columns of likeness as numbers, -1 for missing.
    names : sequence of str
        What these columns are called.
    least_df : int, optional
        Fewest degrees of freedom to borrow from.
    name : callable, optional
        Takes the place of a row and names it, for the message.

    Returns
    -------
    filled : ndarray, shape (series,)
        The variances, the missing ones filled [-].
    source : ndarray of str, shape (series,)
        What each filled one is from; "" for the others.

    Raises
    ------
    BadArms
        If one is missing and no likeness, not even "any kind", has the degrees of freedom to borrow from.
    """
    measured = ~np.isnan(v) & (n > 1)
    source = np.full(len(v), "", dtype=object)
    filled, left = v.copy(), np.isnan(v)
    kinds = _kinds(like, len(v)) if left.any() else []
    df = n[measured] - 1
    for depth in range(len(kinds) - 1, -1, -1):
        if not left.any():
            break
        columns, group = names[:depth], kinds[depth] + 1
        pooled_df, squares, count = (
            np.bincount(group[measured], of, int(group.max()) + 1) for of in (df, df * n[measured] * v[measured], None)
        )
        take = np.flatnonzero(left & (group > 0))
        take = take[pooled_df[group[take]] >= least_df]
        own = group[take]
        s2 = squares[own] / pooled_df[own]
        filled[take] = s2 / np.where(np.isnan(n[take]), 1.0, n[take])
        label = f"the same {', '.join(columns)}" if columns else "any kind"
        said: dict[tuple[float, int, bool], str] = {}  # they are few that differ
        told = zip(s2.tolist(), count[own].tolist(), np.isnan(n[take]).tolist(), strict=True)
        source[take] = [said.get(one) or said.setdefault(one, _source(*one, label)) for one in told]
        left[take] = False
    if left.any():
        raise BadArms(
            f"v of {name(int(np.flatnonzero(left)[0]))} is missing and the series that report a spread hold fewer than "
            f"{least_df} degrees of freedom to borrow from; give its standard deviation."
        )
    return filled, source
