"""All specimens at once in a mixed model: a second way to the network's answer, for checking it."""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import stats

from stats.errors import StatsError
from stats.scalar import said, scalar

Floats = NDArray[np.float64]
StudyEffect = Literal["random", "fixed"]

_SMALL = 0.1  # a variance below this share of the residual one may be nothing, and the fit without it is tried


class BadSpecimens(StatsError):
    """Specimens that a mixed model can't be fitted to; the message says which and why."""

    code = "bad-specimens"


@dataclass(frozen=True, eq=False)
class MixedFit:
    """Joints compared over all specimens.

    Parameters
    ----------
    reference : label
        Joint that `effects` are measured against.
    intercept : float
        Mean log of the reference over studies (or in the first study, where studies are fixed).
    intercept_se : float
        Its standard error [-].
    effects : DataFrame
        By joint: estimate (log ratio to the reference), se, low, high.
    covariance : DataFrame
        Of the intercept and the effects.
    variance : dict
        ``study``, ``series`` (where fitted) and ``residual``; 0.0 where the likelihood is highest without it.
    random_effects : dict
        By level, what the model predicts for each study and each study's series.
    criterion : float
        Minus twice the restricted log likelihood, without the log det X'X term.
    n : int
        Specimens.
    study : {'random', 'fixed'}
    level : float
    notes : tuple of str
    """

    reference: object
    intercept: float
    intercept_se: float
    effects: pd.DataFrame
    covariance: pd.DataFrame
    variance: dict[str, float]
    random_effects: dict[str, dict[object, float]]
    criterion: float
    n: int
    study: StudyEffect
    level: float
    notes: tuple[str, ...]


def fit(
    frame: pd.DataFrame,
    reference: object = None,
    *,
    study: StudyEffect = "random",
    log: bool = True,
    level: float = 0.95,
) -> MixedFit:
    """Compare joints over all specimens, with random studies and series.

    Parameters
    ----------
    frame : DataFrame
        One row a specimen: study, joint, value, and where known series (a label within its study; series are then
        random within studies).
    reference : label, optional
        Joint to measure the others against; the first in the frame if not given.
    study : {'random', 'fixed'}, optional
        Random studies use what studies of different joints say of each other, which holds only if rigs read alike;
        fixed ones do not, as the network. Fixed needs series.
    log : bool, optional
        Take logarithms, so that effects are log ratios; otherwise the values are taken as they are.
    level : float, optional
        Level of the intervals (normal quantile).

    Returns
    -------
    MixedFit

    Raises
    ------
    BadSpecimens
        Naming column, row and what would be right.

    Notes
    -----
    Model: y = mu + d_joint + study + series + e, restricted likelihood by statsmodels' `MixedLM`. Where a variance
    comes out small the rest is fitted without it too, and the simplest of the likeliest stays, so that a variance of
    nothing is 0 exactly. Standard errors are those of generalised least squares at the fitted variances. With studies
    fixed, one series a joint and study, and equal numbers of specimens, this is the network of `network.fit` with
    tau2 twice the series variance and v the residual variance over n; otherwise the two differ by what each takes as
    known.

    References
    ----------
    .. [1] Lindstrom MJ, Bates DM (1988). Newton-Raphson and EM algorithms for linear mixed-effects models for
       repeated-measures data. Journal of the American Statistical Association 83: 1014-1022.
    """
    data, reference = _checked(frame, reference, study, log, level)
    joints = [j for j in pd.unique(data["joint"]) if j != reference]
    x = np.column_stack([np.ones(len(data)), *((data["joint"] == j).to_numpy(dtype=float) for j in joints)])
    if study == "fixed":
        extra = pd.unique(data["study"])[1:]
        x = np.column_stack([x, *((data["study"] == s).to_numpy(dtype=float) for s in extra)])
    if np.linalg.matrix_rank(x) < x.shape[1]:
        raise BadSpecimens("Joints can't be told from studies: no chain of studies links all joints.")
    y = data["y"].to_numpy()
    if len(y) <= x.shape[1] or np.allclose(y, x @ np.linalg.lstsq(x, y, rcond=None)[0], rtol=0, atol=1e-12):
        raise BadSpecimens(f"{len(y)} specimens leave no spread about {x.shape[1]} means; give more specimens.")
    groups = _groups(data, study)
    variance, solved = _best(y, x, groups)
    return _result(data, reference, joints, groups, variance, solved, study, level)


def _checked(
    frame: pd.DataFrame, reference: object, study: StudyEffect, log: bool, level: float
) -> tuple[pd.DataFrame, object]:
    missing = [c for c in ("study", "joint", "value") if c not in frame.columns]
    if missing:
        raise BadSpecimens(f"The frame lacks the columns {', '.join(missing)}.")
    if frame.empty:
        raise BadSpecimens("The frame has no rows; give one a specimen.")
    if study not in ("random", "fixed"):
        raise BadSpecimens(f"study is {study!r}; it must be 'random' or 'fixed'.")
    if study == "fixed" and "series" not in frame.columns:
        raise BadSpecimens("Fixed studies need a column series, to have something random.")
    if not 0.0 < scalar(level) < 1.0:
        raise BadSpecimens(f"level is {said(level)}; it must lie between 0 and 1.")
    data = frame.reset_index(drop=True)
    value = pd.to_numeric(data["value"], errors="coerce").to_numpy(dtype=float, na_value=np.nan)
    bad = ~np.isfinite(value) | (value <= 0 if log else np.zeros(len(value), dtype=bool))
    for column in [c for c in ("study", "joint", "series") if c in data.columns]:
        bad |= data[column].isna().to_numpy()
    if bad.any():
        i = int(np.flatnonzero(bad)[0])
        kind = "above zero" if log else "finite"
        raise BadSpecimens(
            f"Row {i} ({dict(data.iloc[i])}) can't be used; study, joint and series must be given and value be {kind}."
        )
    if reference is None:
        reference = data["joint"].iloc[0]
    if not (data["joint"] == reference).any():
        raise BadSpecimens(f"The reference {reference!r} is in no row.")
    return data.assign(y=np.log(value) if log else value), reference


def _groups(data: pd.DataFrame, study: StudyEffect) -> dict[str, NDArray[np.intp]]:
    """Number what is random: studies, and series within their study."""
    groups: dict[str, NDArray[np.intp]] = {}
    if study == "random":
        groups["study"] = pd.factorize(data["study"])[0]
    if "series" in data.columns:
        groups["series"] = pd.factorize(pd.MultiIndex.from_frame(data[["study", "series"]]))[0]
    return groups


@dataclass(frozen=True, eq=False)
class _Solved:
    beta: Floats
    covariance: Floats
    criterion: float
    predicted: dict[str, Floats]


def _solve(y: Floats, x: Floats, groups: Mapping[str, NDArray[np.intp]], variance: Mapping[str, float]) -> _Solved:
    """Generalised least squares at given variances, one study's (or series') block at a time."""
    outer = next(iter(groups.values()), np.arange(len(y)))
    order = np.argsort(outer, kind="stable")
    blocks = np.split(order, np.cumsum(np.bincount(outer))[:-1]) if groups else [np.array([i]) for i in order]
    inverses, log_det = [], 0.0
    a, b, c = np.zeros((x.shape[1], x.shape[1])), np.zeros(x.shape[1]), 0.0
    for at in blocks:
        v = np.eye(len(at)) * variance["residual"]
        for name, number in groups.items():
            v += variance.get(name, 0.0) * (number[at][:, None] == number[at][None, :])
        inverse = np.linalg.inv(v)
        inverses.append(inverse)
        log_det += float(np.linalg.slogdet(v)[1])
        a += x[at].T @ inverse @ x[at]
        b += x[at].T @ inverse @ y[at]
    covariance = np.linalg.inv(a).astype(np.float64, copy=False)
    beta = covariance @ b
    residual = y - x @ beta
    weighted = np.empty(len(y))
    for at, inverse in zip(blocks, inverses, strict=True):
        weighted[at] = inverse @ residual[at]
    c = float(residual @ weighted)
    log_det += float(np.linalg.slogdet(a)[1]) + (len(y) - x.shape[1]) * float(np.log(2 * np.pi))
    predicted = {
        name: np.bincount(number, variance.get(name, 0.0) * weighted).astype(float) for name, number in groups.items()
    }
    return _Solved(beta, covariance, log_det + c, predicted)


def _best(y: Floats, x: Floats, groups: Mapping[str, NDArray[np.intp]]) -> tuple[dict[str, float], _Solved]:
    """Fit with all that is random, and without whatever comes out small, and keep the simplest of the likeliest."""
    residual = y - x @ np.linalg.lstsq(x, y, rcond=None)[0]
    scale = float(residual @ residual) / (len(y) - x.shape[1])
    tried: list[tuple[float, int, dict[str, float], _Solved]] = []
    waiting: list[tuple[str, ...]] = [tuple(groups)]
    seen = set()
    while waiting:
        names = waiting.pop()
        if names in seen:
            continue
        seen.add(names)
        variance = _variances(residual / np.sqrt(scale), x, {n: groups[n] for n in names})
        if variance is not None:
            full = dict.fromkeys(groups, 0.0) | {n: scale * s for n, s in variance.items()}
            solved = _solve(y, x, groups, full)
            tried.append((solved.criterion, len(names), full, solved))
        gone = names if variance is None else [n for n in names if variance[n] < _SMALL * variance["residual"]]
        waiting += [tuple(m for m in names if m != n) for n in gone]
    least = min(t[0] for t in tried)
    _, _, variance, solved = min((t for t in tried if t[0] <= least + 1e-7), key=lambda t: t[1])
    return variance, solved


def _variances(y: Floats, x: Floats, groups: Mapping[str, NDArray[np.intp]]) -> dict[str, float] | None:
    """Fit variances to residuals of unit spread; None where the search fails."""
    if not groups:
        return {"residual": 1.0}
    from statsmodels.regression.mixed_linear_model import MixedLM  # slow to import, and used nowhere else

    columns = [f"x{i}" for i in range(x.shape[1])]
    frame = pd.DataFrame(x, columns=columns).assign(y=y, **groups)
    outer, *inner = groups
    options: dict[str, Any] = {"vc_formula": {name: f"0 + C({name})" for name in inner}} if inner else {}
    with warnings.catch_warnings():  # what it warns of, a variance at nothing, is dealt with above
        warnings.simplefilter("ignore")
        try:
            model = MixedLM.from_formula(
                f"y ~ 0 + {' + '.join(columns)}", frame, groups=outer, re_formula="1", **options
            )
            found = model.fit(reml=True, method="bfgs", gtol=1e-10)
        except (np.linalg.LinAlgError, ValueError, ZeroDivisionError):
            return None
    values = [float(found.cov_re.iloc[0, 0]), *(float(s) for s in found.vcomp), float(found.scale)]
    if not np.all(np.isfinite(values)) or min(values) < 0:
        return None
    return dict(zip([outer, *inner, "residual"], values, strict=True))


def _result(
    data: pd.DataFrame,
    reference: object,
    joints: list[object],
    groups: Mapping[str, NDArray[np.intp]],
    variance: dict[str, float],
    solved: _Solved,
    study: StudyEffect,
    level: float,
) -> MixedFit:
    k = len(joints) + 1
    se = np.sqrt(np.diag(solved.covariance))[:k]
    reach = float(stats.norm.ppf((1 + level) / 2))
    estimate = solved.beta[1:k]
    effects = pd.DataFrame(
        {"estimate": estimate, "se": se[1:], "low": estimate - reach * se[1:], "high": estimate + reach * se[1:]},
        index=pd.Index(joints, name="joint"),
    )
    names = pd.Index(["intercept", *joints])
    labels = {
        "study": pd.unique(data["study"]),
        "series": pd.unique(pd.MultiIndex.from_frame(data[["study", "series"]])) if "series" in groups else (),
    }
    gone = [name for name in groups if variance[name] == 0.0]
    return MixedFit(
        reference=reference,
        intercept=float(solved.beta[0]),
        intercept_se=float(se[0]),
        effects=effects,
        covariance=pd.DataFrame(solved.covariance[:k, :k], index=names, columns=names),
        variance=variance,
        random_effects={n: dict(zip(labels[n], map(float, solved.predicted[n]), strict=True)) for n in groups},
        criterion=solved.criterion,
        n=len(data),
        study=study,
        level=level,
        notes=tuple(f"No variance between {'studies' if n == 'study' else 'series'} is left over." for n in gone),
    )
