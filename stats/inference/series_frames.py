"""Series and specimens of a frame as the arrays that `estimates` takes."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stats.inference.estimates import Estimates
from stats.inference.told import Bools, Ints, Readings, Told


def told_of(series: pd.DataFrame) -> Told:
    """A frame's series as arrays.

    Parameters
    ----------
    series : DataFrame
        As for `sidebyside.series_estimates`.

    Returns
    -------
    Told
    """
    study, studies = pd.factorize(series["study_id"])
    joint, joints = pd.factorize(series["joint"])
    first = np.unique(joint, return_index=True)[1]
    names = series["joint_name" if "joint_name" in series else "joint"].iloc[first]
    family = pd.factorize(series["family" if "family" in series else "joint"])[0]
    unknown = np.full(len(series), np.nan)
    return Told(
        study=study,
        joint=joint,
        family=family,
        studies=np.asarray(studies),
        joints=tuple(joints),
        names=tuple(names),
        n=series["n"].to_numpy(float),
        held=series["held"].to_numpy(float),
        mean_log=series["mean_log"].to_numpy(float) if "mean_log" in series else unknown,
        sd_log=series["sd_log"].to_numpy(float) if "sd_log" in series else unknown,
        flagged=_column(series, "flagged").astype(float),
        published=_column(series, "summary_only").astype(bool),
    )


def _column(series: pd.DataFrame, name: str) -> NDArray[np.generic]:
    return series[name].to_numpy() if name in series else np.zeros(len(series))


def estimates_of(series: pd.DataFrame, level: float) -> Estimates:
    """A frame's estimates as arrays.

    Parameters
    ----------
    series : DataFrame
        As `sidebyside.series_estimates` returns.
    level : float
        Level of the intervals.

    Returns
    -------
    Estimates
    """
    y, v, v_steady = (series[name].to_numpy(float) for name in ("y", "v", "v_steady"))
    kept: Bools = np.ones(len(series), dtype=bool)
    imputed = _column(series, "imputed").astype(bool)
    nothing = np.full(len(series), "", dtype=object)
    return Estimates(told_of(series), kept, y, v, v_steady, imputed, nothing, level)


def readings_of(series: pd.DataFrame, specimens: pd.DataFrame) -> Readings:
    """A frame's specimens as arrays, numbered by the series of the other frame.

    Parameters
    ----------
    series : DataFrame
        ``series_id``.
    specimens : DataFrame
        ``series_id``, ``value``, ``outcome``.

    Returns
    -------
    Readings
    """
    if not len(specimens):
        return Readings(np.zeros(0), np.zeros(0, dtype=bool), np.zeros(0, dtype=np.intp))
    of: Ints = pd.Index(series["series_id"]).get_indexer(pd.Index(specimens["series_id"]))
    return Readings(specimens["value"].to_numpy(float), (specimens["outcome"] == "broke").to_numpy(bool), of)
