"""Joints side by side: from series to one line a joint, and every joint as a ratio to one of them.

Everything runs on natural logarithms and comes back as geometric means and ratios. Studies, not specimens, are
what is counted as independent: specimens of one shop share its rig, its boards and its hands.
"""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from stats.errors import StatsError
from stats.inference import network
from stats.inference.arms import BadArms, cells_of
from stats.inference.estimates import Cells, Estimates, cell_means, estimate, t_quantile
from stats.inference.joint_limits import joint_limits
from stats.inference.planning import cv_from_sd_log
from stats.inference.pool_each import random_effects_each
from stats.inference.ratio_rows import NO_RATIO, ONE_STUDY, Apart, Ratio, through
from stats.inference.sample import checked_share
from stats.inference.series_frames import estimates_of, readings_of, told_of
from stats.inference.told import Floats, Specimenwise

FEWEST_TO_PREDICT = 3


def series_estimates(series: pd.DataFrame, specimens: pd.DataFrame, *, level: float = 0.95) -> pd.DataFrame:
    """Centre and variance of each series, with run-outs counted as run-outs and missing spreads borrowed.

    Parameters
    ----------
    series : DataFrame
        ``series_id``, ``study_id``, ``joint``, ``family``, ``n`` (broken specimens, NaN where a published mean
        gives no count), ``held``, ``mean_log``, ``sd_log`` (NaN where unknown).
    specimens : DataFrame
        ``series_id``, ``value``, ``outcome``, of at least the series that have held specimens.
    level : float, optional
        Level of the interval.

    Returns
    -------
    DataFrame
        The series that can be used, with ``y`` and ``v`` (mean log and its variance [-]), ``v_steady`` (that
        variance drawn towards those of all series, for pooling), ``geometric_mean``, ``low``, ``high``,
        ``imputed`` (bool: spread borrowed), ``n_assumed`` (bool: count not stated).

    Raises
    ------
    BadSetting
        If level is not between 0 and 1.

    Notes
    -----
    A series with held specimens takes its mean and variance from the right-censored lognormal fit; where that
    can't be had (fewer than two broke) the series is left out, since it only says "at least this much".
    A missing spread is the pooled one of like series (same joint, then same family, then all) over n; a count
    that isn't stated is taken as one specimen, so that such a series weighs least.
    """
    level = checked_share(level, "level")
    return with_estimates(series, estimate(told_of(series), readings_of(series, specimens), level=level))


def with_estimates(series: pd.DataFrame, found: Estimates) -> pd.DataFrame:
    """The series of a frame that were used, with what `estimates.estimate` found of them; see `series_estimates`.

    Parameters
    ----------
    series : DataFrame
        One row a series, in the order of those that `found` was had from.
    found : Estimates
        Of these series.

    Returns
    -------
    DataFrame
        As `series_estimates` returns.
    """
    frame = series if found.kept.all() else series[found.kept]
    return frame.assign(
        y=found.y,
        v=found.v,
        n_assumed=np.isnan(found.told.n),
        imputed=found.imputed,
        imputed_from=found.imputed_from,
        v_steady=found.v_steady,
        geometric_mean=np.exp(found.y),
        low=np.exp(found.low),
        high=np.exp(found.high),
    )


def study_means(series: pd.DataFrame, variance: str = "v_steady") -> pd.DataFrame:
    """One mean for each joint of each study.

    Parameters
    ----------
    series : DataFrame
        As `series_estimates` returns.
    variance : str, optional
        Which variances to go by: ``v_steady`` for pooling studies, ``v`` within one study.

    Returns
    -------
    DataFrame
        ``study_id``, ``joint``, ``y``, ``v``, ``k`` (series), ``df`` (specimens less series).

    Notes
    -----
    Weights are the inverse variances. Where a study holds several series of a joint and they differ by more
    than their own spread explains, the variance is that between the series' means instead.
    """
    study, studies = pd.factorize(series["study_id"], sort=True)
    joint, joints = pd.factorize(series["joint"], sort=True)
    key, cell = np.unique(study * len(joints) + joint, return_inverse=True)
    y, v = cell_means(cell, len(key), series["y"].to_numpy(float), series[variance].to_numpy(float))
    df = np.bincount(cell, np.maximum(series["n"].fillna(1.0).to_numpy(float) - 1.0, 0.0), len(key))
    names = {"study_id": studies[key // len(joints)], "joint": joints[key % len(joints)]}
    return pd.DataFrame({**names, "y": y, "v": v, "k": np.bincount(cell, minlength=len(key)), "df": df})


def groups(series: pd.DataFrame, specimens: pd.DataFrame, *, level: float = 0.95) -> pd.DataFrame:
    """One line a joint: how much, how sure, how many.

    Parameters
    ----------
    series : DataFrame
        As `series_estimates` returns, with ``joint_name``, ``flagged`` (specimens doubted).
    specimens : DataFrame
        ``series_id``, ``value``, ``outcome``, of at least the series that have held specimens, and of all series of
        a joint that only one study holds.
    level : float, optional

    Returns
    -------
    DataFrame
        ``joint``, ``joint_name``, ``studies``, ``series``, ``specimens``, ``held``, ``flagged``,
        ``geometric_mean``, ``low``, ``high`` (random-effects mean over studies), ``prediction_low``,
        ``prediction_high`` (NaN below three studies), ``between_sd`` (of logs, NaN for one study), ``cv_pct`` (within
        series), ``limit_5pct`` (5th percentile at 75 % confidence), ``note``; strongest first.

    Raises
    ------
    BadSetting
        If level is not between 0 and 1.
    """
    return groups_of(estimates_of(series, level), readings_of(series, specimens), level=level)


def groups_of(found: Estimates, readings: Specimenwise, *, level: float = 0.95) -> pd.DataFrame:
    """One line a joint, from arrays; see `groups`.

    Parameters
    ----------
    found : Estimates
        As `estimates.estimate` gives it.
    readings : Specimenwise
        Specimens numbered by the series of `found`.
    level : float, optional
        Level of all intervals.

    Returns
    -------
    DataFrame
        As `groups` returns.

    Raises
    ------
    BadSetting
        If level is not between 0 and 1.
    """
    level = checked_share(level, "level")
    told, cells = found.told, found.cells
    studies, specimens = cells.studies_of, cells.specimens
    note = np.where(studies == 1, ONE_STUDY, np.where(specimens < 5, "Fewer than five specimens.", ""))
    columns = {
        "joint": np.array(told.joints, dtype=object),
        "joint_name": np.array(told.names, dtype=object),
        "studies": studies,
        "series": np.bincount(told.joint, minlength=len(told.joints)),
        "specimens": specimens,
        "held": cells.by_joint(told.held).astype(int),
        "flagged": cells.by_joint(told.flagged).astype(int),
        **_pooled(cells, level),
        "cv_pct": _within_cv(cells),
        "limit_5pct": joint_limits(cells, readings),
        "note": note,
    }
    order = np.argsort(-columns["geometric_mean"], kind="stable")
    return pd.DataFrame({name: column[order] for name, column in columns.items()})


def _pooled(cells: Cells, level: float) -> dict[str, Floats]:
    alone = cells.studies_of == 1
    y, v = (np.where(alone[cells.joint], own, steady) for own, steady in zip(cells.own, cells.steady, strict=True))
    fit = random_effects_each(y, v, cells.joint, len(alone), level=level)
    df: Floats = np.bincount(cells.joint, cells.df, len(alone)).astype(float)
    # A single study has the freedom of its own specimens.
    reach = np.where(alone & (df >= 1), t_quantile(0.5 + level / 2, df) * fit.se, np.nan)
    low = np.where(np.isnan(reach), fit.low, fit.estimate - reach)
    high = np.where(np.isnan(reach), fit.high, fit.estimate + reach)
    # From two studies a prediction interval spans everything and says nothing.
    ahead = np.where(cells.studies_of >= FEWEST_TO_PREDICT, 0.0, np.nan)
    with np.errstate(over="ignore"):
        return {
            "geometric_mean": np.exp(fit.estimate),
            "low": np.exp(low),
            "high": np.exp(high),
            "prediction_low": np.exp(fit.prediction_low + ahead),
            "prediction_high": np.exp(fit.prediction_high + ahead),
            "between_sd": np.sqrt(fit.tau2),
        }


def _within_cv(cells: Cells) -> Floats:
    """Coefficient of variation within series of each joint [%], from the series that have a spread of their own."""
    told = cells.found.told
    own = (told.n > 1) & ~np.isnan(told.sd_log)
    df = np.where(own, told.n - 1, 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        s2 = cells.by_joint(df * np.nan_to_num(told.sd_log) ** 2) / cells.by_joint(df)
    return 100.0 * cv_from_sd_log(np.sqrt(s2))


def ratios(series: pd.DataFrame, reference: str, *, level: float = 0.95, across: bool = True) -> pd.DataFrame:
    """Every joint as a ratio to one of them.

    Parameters
    ----------
    series : DataFrame
        As `series_estimates` returns, with ``joint_name``.
    reference : str
        The joint that the others are measured against.
    level : float, optional
    across : bool, optional
        Whether joints that no chain of studies links may be set against each other because they stand on a
        footing that holds across rigs; their ratio is then that of the two means over studies.

    Returns
    -------
    DataFrame
        ``joint``, ``joint_name``, ``reference``, ``reference_name``, ``ratio``, ``low``, ``high``,
        ``prediction_low``, ``prediction_high`` (NaN where one study can't tell), ``studies`` (holding both),
        ``basis``, ``note``; strongest first, the reference left out.

    Raises
    ------
    StatsError
        If the reference is not among the joints of the frame, or level not between 0 and 1.

    Notes
    -----
    Within studies first: study effects are fixed, so that a rig that reads high reads high for both joints
    and leaves the ratio alone [1]_. With one such study, Welch's interval on the logs.

    References
    ----------
    .. [1] Rücker G. and Schwarzer G., Network meta-analysis by graph-theoretical methods (2014), for the model;
       here fitted by restricted maximum likelihood.
    """
    found = estimates_of(series, level)
    if reference not in found.told.joints:
        known = ", ".join(sorted(found.told.joints))
        raise StatsError(f"reference {reference!r} is not among the joints shown: {known}.")
    return ratios_of(found, reference, linked(found, reference, level=level), level=level, across=across)


def ratios_of(
    found: Estimates, reference: str, fitted: network.Network | None, *, level: float = 0.95, across: bool = True
) -> pd.DataFrame:
    """Every joint as a ratio to one of them, from arrays; see `ratios`.

    Parameters
    ----------
    found : Estimates
        As `estimates.estimate` gives it.
    reference : str
        The joint that the others are measured against; one of those of `found`.
    fitted : Network or None
        What `linked` gives for that reference.
    level : float, optional
        Level of all intervals.
    across : bool, optional
        As for `ratios`.

    Returns
    -------
    DataFrame
        As `ratios` returns.

    Raises
    ------
    BadSetting
        If level is not between 0 and 1.
    """
    level = checked_share(level, "level")
    told, apart = found.told, Apart(found.cells, reference, level)
    found_through = through(fitted, apart, reference)
    rows = []
    for joint, name in zip(told.joints, told.names, strict=True):
        if joint == reference:
            continue
        row = found_through(joint) or (apart.ratio(joint) if across else None) or NO_RATIO
        rows.append(Ratio(joint, name, reference, told.names[told.joints.index(reference)], *row))
    rows.sort(key=lambda row: math.inf if math.isnan(row.ratio) else -row.ratio)
    return pd.DataFrame(rows, columns=list(Ratio._fields))


def linked(found: Estimates, reference: str, *, level: float = 0.95) -> network.Network | None:
    """The network that `ratios` go by.

    Parameters
    ----------
    found : Estimates
    reference : str
    level : float, optional

    Returns
    -------
    Network or None
        None where fewer than two studies compare, or the reference stands alone.

    Raises
    ------
    BadSetting
        If level is not between 0 and 1.
    """
    level = checked_share(level, "level")
    told, y, v = found.told, found.y, found.v_steady
    studies, joints = (np.array(list(part), dtype=object) for part in (told.studies.tolist(), told.joints))
    try:
        if not (np.isfinite(y).all() and (v >= 1e-12).all()):
            raise BadArms("A series has no finite mean, or a variance that no measurement has.")
        cells = cells_of(told.study, told.joint, studies, joints, y, v, np.empty((len(y), 0)))
        return network.fit_cells(cells, reference, level=level)
    except StatsError:
        return None
