"""Between shops: how well shops repeat themselves and each other, where one stands, and what may be pooled."""

from __future__ import annotations

import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from stats.errors import StatsError
from stats.inference.consistency import critical_h, critical_k
from stats.inference.pool import random_effects
from stats.inference.study_contrasts import checked_contrasts
from stats.scalar import said, scalar

Floats = NDArray[np.float64]

_LIMIT = 1.96 * np.sqrt(2.0)  # two results differ by less than this many sd in 95 of 100 cases (ISO 5725-6)


class BadShops(StatsError):
    """Results that shops can't be compared on; the message says which and why."""

    code = "bad-shops"


@dataclass(frozen=True, eq=False)
class Precision:
    """How far results differ within a shop and between shops.

    Parameters
    ----------
    levels : DataFrame
        By joint: shops, n, mean, s_r (within a shop), s_L (between shops), s_R (both), r_limit, R_limit (what
        two results of one shop, or of two, differ by in 95 of 100 cases), in the unit of y.
    shops : DataFrame
        One row a shop and joint: n, mean, sd, h, h_critical, k, k_critical, outlying (either beyond). k is
        NaN for a single specimen; h_critical is NaN for two shops, whose h can only be +-0.71.
    alpha : float
        Probability beyond the critical values for one shop and joint.
    n : int
        Specimens.
    notes : tuple of str
        What a reader must be told.
    """

    levels: pd.DataFrame
    shops: pd.DataFrame
    alpha: float
    n: int
    notes: tuple[str, ...]


def precision(frame: pd.DataFrame, *, alpha: float = 0.005) -> Precision:
    """Estimate repeatability and reproducibility, and show which shops stand out.

    Parameters
    ----------
    frame : DataFrame
        One row a specimen: study (the shop), joint, y (value on the scale to be judged; logs in this book, so
        that the standard deviations read as shares).
    alpha : float, optional
        Chance of marking a shop that is like the others; two-sided for h, one-sided for k.

    Returns
    -------
    Precision

    Raises
    ------
    BadShops
        For a value that is not finite, a joint tested by one shop only, or no joint with a repeated specimen.

    Notes
    -----
    For each joint with p shops of n_i specimens [1]_: s_r^2 pools the variances within shops; s_L^2 is
    (s_d^2 - s_r^2) / n, not below 0, with s_d^2 the mean square between shops and n the effective number of
    specimens; s_R^2 = s_r^2 + s_L^2. Mandel's h is a shop's deviation over the sd of the shops' means, k its
    sd over s_r; their critical values follow from t and F exactly [2]_, k's here for any n_i. With equal n
    all of it is that of [3]_, whose s_R likewise never falls below s_r.

    References
    ----------
    .. [1] ISO 5725-2:2019, Accuracy of measurement methods and results, part 2, clause 7.
    .. [2] Wilrich P-T (2013). Critical values of Mandel's h and k, the Grubbs and the Cochran test statistic.
       AStA Advances in Statistical Analysis 97: 1-10.
    .. [3] ASTM E691, Conducting an interlaboratory study to determine the precision of a test method.

    Examples
    --------
    >>> tests = pd.DataFrame({
    ...     "study": ["A", "A", "B", "B", "C", "C"],
    ...     "joint": "dowel",
    ...     "y": [7.60, 7.72, 7.51, 7.55, 7.80, 7.84],
    ... })
    >>> found = precision(tests)
    >>> [round(x, 3) for x in found.levels.loc["dowel", ["s_r", "s_R"]]]
    [0.054, 0.15]
    """
    missing = [c for c in ("study", "joint", "y") if c not in frame.columns]
    if missing:
        raise BadShops(f"The frame lacks the columns {', '.join(missing)}.")
    if frame.empty:
        raise BadShops("The frame has no rows; give one a specimen.")
    if not 0.0 < scalar(alpha) < 1.0:
        raise BadShops(f"alpha is {said(alpha)}; it must lie between 0 and 1.")
    y = pd.to_numeric(frame["y"], errors="coerce").to_numpy(dtype=float, na_value=np.nan)
    bad = ~np.isfinite(y) | frame["study"].isna().to_numpy() | frame["joint"].isna().to_numpy()
    if bad.any():
        i = int(np.flatnonzero(bad)[0])
        row = frame.iloc[i]
        raise BadShops(
            f"Row {i} has study {row['study']!r}, joint {row['joint']!r} and y {row['y']}; all three must be "
            "given and y a finite number."
        )
    levels, shops, notes = {}, [], []
    for joint, cell in _cells(frame, y).items():
        levels[joint] = _level(joint, cell)
        shops.append(_consistency(joint, cell, levels[joint], alpha))
        if len(cell.n) < 6:
            notes.append(f"{joint}: {len(cell.n)} shops say little of how shops in general differ; six is few.")
    by_joint = pd.DataFrame(list(levels.values()), index=pd.Index(list(levels), name="joint"))
    return Precision(by_joint, pd.concat(shops, ignore_index=True), alpha, len(frame), tuple(notes))


class _Cell(NamedTuple):
    """The shops of one joint, in the order in which they come: how many specimens, their mean and sd."""

    shops: list[Any]
    n: Floats
    mean: Floats
    sd: Floats


def _cells(frame: pd.DataFrame, y: Floats) -> dict[Any, _Cell]:
    """The shops by joint, in the order in which the joints come."""
    study, studies = pd.factorize(frame["study"])
    joint, joints = pd.factorize(frame["joint"])
    key, first, cell = np.unique(joint * len(studies) + study, return_index=True, return_inverse=True)
    n = np.bincount(cell).astype(np.float64)
    mean = np.bincount(cell, y) / n
    with np.errstate(invalid="ignore"):
        sd = np.sqrt(np.bincount(cell, (y - mean[cell]) ** 2) / np.where(n > 1, n - 1, np.nan))
    order = np.argsort(first)
    found = {}
    for number, name in enumerate(joints.tolist()):
        own = order[key[order] // len(studies) == number]
        found[name] = _Cell([studies[at] for at in (key[own] % len(studies)).tolist()], n[own], mean[own], sd[own])
    return found


def _level(joint: object, cell: _Cell) -> dict[str, float]:
    n, mean, sd = cell.n, cell.mean, cell.sd
    p, total = len(n), float(n.sum())
    if p < 2:
        raise BadShops(f"{joint} was tested by {cell.shops[0]!r} only; reproducibility needs two shops.")
    if total == p:
        raise BadShops(f"No shop tested {joint} twice, so repeatability can't be had; give single specimens.")
    within = float(np.sum((n - 1) * np.where(n > 1, sd, 0.0) ** 2) / (total - p))
    if within == 0.0:
        raise BadShops(f"All specimens of {joint} are equal within every shop; check that they are readings.")
    grand = float(np.sum(n * mean) / total)
    between = float(np.sum(n * (mean - grand) ** 2) / (p - 1))
    effective = (total - float(np.sum(n**2)) / total) / (p - 1)
    shop = max(0.0, (between - within) / effective)
    s_r, s_big = float(np.sqrt(within)), float(np.sqrt(within + shop))
    return {
        "shops": p,
        "n": int(total),
        "mean": grand,
        "s_r": s_r,
        "s_L": float(np.sqrt(shop)),
        "s_R": s_big,
        "r_limit": _LIMIT * s_r,
        "R_limit": _LIMIT * s_big,
    }


def _consistency(joint: object, cell: _Cell, level: Mapping[str, float], alpha: float) -> pd.DataFrame:
    n, mean, sd = cell.n, cell.mean, cell.sd
    p = len(n)
    spread = float(np.std(mean, ddof=1))
    h = (mean - mean.mean()) / spread if spread > 0 else np.zeros(p)
    h_critical = critical_h(p, alpha) if p > 2 else np.nan
    k = np.where(n > 1, sd / level["s_r"], np.nan)
    df = float(level["n"]) - p
    # Shops of one size share one critical value.
    of_size = {m: critical_k(m - 1, df, alpha) if 1 < m < df + 1 else np.nan for m in np.unique(n).tolist()}
    k_critical = np.array([of_size[m] for m in n.tolist()])
    return pd.DataFrame(
        {
            "joint": joint,
            "study": cell.shops,
            "n": n.astype(int),
            "mean": mean,
            "sd": sd,
            "h": h,
            "h_critical": h_critical,
            "k": k,
            "k_critical": k_critical,
            "outlying": (np.abs(h) > h_critical) | (k > k_critical),
        }
    )


def standing(
    y: ArrayLike,
    v: ArrayLike,
    *,
    labels: Sequence[object] | None = None,
    sigma: float | None = None,
    only: object = None,
) -> pd.DataFrame:
    """Set each shop, or only one, against all the others.

    Parameters
    ----------
    y : array_like, shape (k,)
        Each shop's value of the same thing: a mean log, or the log ratio of two joints [-].
    v : array_like, shape (k,)
        Its variance.
    labels : sequence, optional
        Names of the shops.
    sigma : float, optional
        What one shop's result may differ by, if that is fixed beforehand (a standard deviation, in y's unit).
        Otherwise it is what the other shops show: sqrt(tau2 + the shop's own v).
    only : label, optional
        The one shop that is wanted: among many, each of the others would take a fit of its own.

    Returns
    -------
    DataFrame
        One row a shop: study, y, assigned (the others pooled), u_assigned (its standard uncertainty), sigma,
        z, zeta, verdict (``in line`` up to 2, ``doubtful`` up to 3, ``out of line``) on z.

    Raises
    ------
    BadShops
        For fewer than four shops, a sigma that is not above zero, or an `only` that is none of the shops; and as
        `pool.random_effects`.

    Notes
    -----
    z is the z' score of [1]_, (y - assigned) / sqrt(sigma^2 + u^2), which counts the uncertainty of the
    assigned value; zeta is (y - assigned) / sqrt(v + u^2), and asks instead whether the shop's own stated
    uncertainty covers the difference. The assigned value comes from the others alone, so that a shop can't
    pull it towards itself. A score is a reason to look, not a verdict on a shop.

    References
    ----------
    .. [1] ISO 13528:2022, Statistical methods for use in proficiency testing by interlaboratory comparison,
       clause 9 (z', zeta; action at 3, warning at 2).
    """
    ys, vs, names = checked_contrasts(y, v, labels, 0.95)
    if len(ys) < 4:
        raise BadShops(f"{len(ys)} shops were given; a shop's standing needs at least three others.")
    if sigma is not None and not 0.0 < scalar(sigma) < np.inf:
        raise BadShops(f"sigma is {sigma}; it must be a finite standard deviation above zero.")
    wanted = range(len(names)) if only is None else [i for i, name in enumerate(names) if name == only]
    if not wanted:
        raise BadShops(f"only is {only!r}; it must be one of the shops: {', '.join(map(str, names))}.")
    rows = []
    for i in wanted:
        others = np.arange(len(ys)) != i
        pooled = random_effects(ys[others], vs[others], knapp_hartung="adhoc")
        expected = sigma if sigma is not None else float(np.sqrt((pooled.tau2 or 0.0) + vs[i]))
        off = float(ys[i]) - pooled.estimate
        z = off / float(np.hypot(expected, pooled.se))
        zeta = off / float(np.sqrt(vs[i] + pooled.se**2))
        verdict = "in line" if abs(z) <= 2 else "doubtful" if abs(z) <= 3 else "out of line"
        rows.append((names[i], float(ys[i]), pooled.estimate, pooled.se, expected, z, zeta, verdict))
    columns = ["study", "y", "assigned", "u_assigned", "sigma", "z", "zeta", "verdict"]
    return pd.DataFrame(rows, columns=columns)


@dataclass(frozen=True)
class Poolable:
    """Whether groups may share one distribution, as batches that share one basis value must.

    Parameters
    ----------
    poolable : bool
        The groups do not differ beyond chance at `alpha`.
    statistic : float
        Standardised k-sample Anderson-Darling statistic [-].
    p : float
        Its probability for groups of one distribution, where `p_is` is ``about``; otherwise the end of the
        tabled range that it lies beyond.
    p_is : str
        ``about``, ``at least`` or ``at most``.
    alpha : float
        Chance of telling groups of one distribution apart.
    n : tuple of int
        Specimens in each group.
    notes : tuple of str
    """

    poolable: bool
    statistic: float
    p: float
    p_is: str
    alpha: float
    n: tuple[int, ...]
    notes: tuple[str, ...]


def poolable(groups: Mapping[object, ArrayLike], *, alpha: float = 0.025) -> Poolable:
    """Test whether batches or shops may be treated as one by the k-sample Anderson-Darling statistic.

    Parameters
    ----------
    groups : mapping of name to values
        At least two groups, each of shape (n,), n at least two, all on one scale.
    alpha : float, optional
        Chance of telling groups of one distribution apart, between 0.001 and 0.25.

    Returns
    -------
    Poolable

    Raises
    ------
    BadShops
        Naming the group and the fault.

    Notes
    -----
    scipy's `anderson_ksamp`, midranks for ties [1]_; its p is interpolated between 0.001 and 0.25. With few
    specimens the test finds only large differences: "may be pooled" then means that nothing speaks against it.

    References
    ----------
    .. [1] Scholz FW, Stephens MA (1987). K-sample Anderson-Darling tests. Journal of the American Statistical
       Association 82: 918-924.
    """
    if len(groups) < 2:
        raise BadShops(f"{len(groups)} group was given; pooling is a question between at least two.")
    if not 0.001 <= scalar(alpha) <= 0.25:
        raise BadShops(f"alpha is {said(alpha)}; the tabled range is 0.001 to 0.25.")
    samples: list[Floats] = []
    for name, given in groups.items():
        try:
            values = np.asarray(given, dtype=float)
        except (TypeError, ValueError) as error:
            raise BadShops(f"Group {name!r} must hold numbers ({error}).") from error
        if values.ndim != 1 or len(values) < 2:
            raise BadShops(f"Group {name!r} has {values.size} values; it needs at least two, in one row.")
        if not np.all(np.isfinite(values)):
            raise BadShops(f"Group {name!r} holds a value that is not finite.")
        samples.append(values)
    if len(np.unique(np.concatenate(samples))) == 1:
        raise BadShops("All values of all groups are equal; there is no spread to compare.")
    with warnings.catch_warnings():
        # that p lies at an end of the table is told by p_is; that `midrank` became `variant` in scipy 1.17 is
        # no matter, since midranks are the default under either name
        warnings.simplefilter("ignore")
        result = stats.anderson_ksamp(samples)
    p = float(result.pvalue)
    p_is = "at least" if p >= 0.25 else "at most" if p <= 0.001 else "about"
    n = tuple(len(s) for s in samples)
    few = ("Few specimens: only large differences would have been found.",) if min(n) < 6 else ()
    return Poolable(p > alpha, float(result.statistic), p, p_is, alpha, n, few)
