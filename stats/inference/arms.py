"""Arms of the network: series checked, and brought to one mean for each joint of a study."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stats.errors import StatsError
from stats.inference.counting import numbered

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

_LARGEST_LOG = 50.0  # exp(50) is 5e21: no footing in any unit comes near
_LEAST_VARIANCE = 1e-12  # a mean known to one part in a million


class BadArms(StatsError):
    """Series that a network can't use; the message says which and why."""

    code = "bad-arms"


class TooFewStudies(StatsError):
    """Too little left for a network after the studies that compare nothing are set aside."""

    code = "too-few-studies"


@dataclass(frozen=True, eq=False)
class Within:
    """What series of one joint in one study say about the moderators, by study and free of tau2.

    Parameters
    ----------
    xx, xy, yy : ndarray, shapes (studies, columns, columns), (studies, columns), (studies,)
        Precision-weighted products of moderators and y about each joint's mean in the study.
    df : ndarray of int, shape (studies,)
        Series beyond one a joint.
    """

    xx: Floats
    xy: Floats
    yy: Floats
    df: Ints


@dataclass(frozen=True, eq=False)
class Cells:
    """One precision-weighted mean for each joint of each study, ordered by study.

    Parameters
    ----------
    studies, joints : ndarray of labels, shape (studies,) and (joints,)
        What the indices stand for.
    study, joint : ndarray of int, shape (cells,)
        Index of each cell's study and joint.
    y, v : ndarray, shape (cells,)
        Mean log and its variance.
    x : ndarray, shape (cells, moderators)
        Mean of each moderator column.
    within : Within
        Spread among series of one cell.
    series : int
        Number of series read.
    set_aside : DataFrame
        study, joint, reason: studies that hold one joint only.
    """

    studies: NDArray[np.object_]
    joints: NDArray[np.object_]
    study: Ints
    joint: Ints
    y: Floats
    v: Floats
    x: Floats
    within: Within
    series: int
    set_aside: pd.DataFrame


def row_name(frame: pd.DataFrame, i: int) -> str:
    """Name a row as a reader would look for it.

    Parameters
    ----------
    frame : DataFrame
        With columns study and joint.
    i : int
        Place of the row, from 0.

    Returns
    -------
    str
        Such as "row 3 (study 'A', joint 'dowel')".
    """
    return f"row {i} (study {frame['study'].iloc[i]!r}, joint {frame['joint'].iloc[i]!r})"


def numbers(frame: pd.DataFrame, column: str, what: str, low: float = -np.inf, high: float = np.inf) -> Floats:
    """Give a column as finite floats in a range, or say which row is not one.

    Parameters
    ----------
    frame : DataFrame
        With columns study and joint beside it.
    column : str
        The column.
    what : str
        What a value must be, in words, for the message.
    low, high : float, optional
        Range allowed, ends included, in the column's unit.

    Returns
    -------
    ndarray, shape (rows,)

    Raises
    ------
    BadArms
        For the first row whose value is no number, not finite or out of range.
    """
    values: Floats = pd.to_numeric(frame[column], errors="coerce").to_numpy(dtype=float, na_value=np.nan)
    bad = ~(np.isfinite(values) & (values >= low) & (values <= high))
    if bad.any():
        i = int(np.flatnonzero(bad)[0])
        raise BadArms(f"{column} of {row_name(frame, i)} is {frame[column].iloc[i]}; it must be {what}.")
    return values


def logs(frame: pd.DataFrame, column: str, what: str) -> Floats:
    """Give a column of logarithms; what can't be one, a load as read above all, is refused.

    Parameters
    ----------
    frame : DataFrame
        With columns study and joint beside it.
    column : str
        The column [log].
    what : str
        What a value must be, in words, for the message.

    Returns
    -------
    ndarray, shape (rows,)

    Raises
    ------
    BadArms
        For the first row whose value is not finite or further than 50 from zero.
    """
    return numbers(frame, column, f"{what}, within {_LARGEST_LOG:.0f} of zero", -_LARGEST_LOG, _LARGEST_LOG)


def variances(frame: pd.DataFrame) -> Floats:
    """Give the column v as variances large enough to come from a measurement.

    Parameters
    ----------
    frame : DataFrame
        With columns study, joint and v [-].

    Returns
    -------
    ndarray, shape (rows,)

    Raises
    ------
    BadArms
        For the first row whose variance is not finite or below 1e-12.
    """
    what = f"a finite variance of at least {_LEAST_VARIANCE:g}; fill a missing one by impute_variance"
    return numbers(frame, "v", what, low=_LEAST_VARIANCE)


def need_columns(frame: pd.DataFrame, columns: Sequence[str]) -> None:
    """Refuse a frame that lacks columns or rows, or leaves a study or joint unnamed.

    Parameters
    ----------
    frame : DataFrame
        Must have study and joint whatever `columns` says.
    columns : sequence of str
        The columns that must be there.

    Raises
    ------
    BadArms
        Naming the columns that lack, or the first row without study or joint; or if there are no rows.
    """
    missing = [c for c in columns if c not in frame.columns]
    if missing:
        raise BadArms(f"The frame lacks the columns {', '.join(missing)}; it has {', '.join(map(str, frame.columns))}.")
    if frame.empty:
        raise BadArms("The frame has no rows; give one a series.")
    for column in ("study", "joint"):
        unnamed = frame[column].isna().to_numpy()
        if unnamed.any():
            raise BadArms(f"{column} of row {int(np.flatnonzero(unnamed)[0])} is missing; every row must name it.")


def moderator_columns(frame: pd.DataFrame, moderators: Sequence[str]) -> tuple[Floats, tuple[str, ...]]:
    """Turn moderators into columns: numbers as they are, words as one column a level but the first.

    Parameters
    ----------
    frame : DataFrame
        With columns study and joint beside the moderators.
    moderators : sequence of str
        Columns of the frame.

    Returns
    -------
    columns : ndarray, shape (series, columns)
    names : tuple of str
        ``density_kg_m3`` or ``adhesive[epoxy]``.

    Raises
    ------
    BadArms
        For the first row whose number is not finite, or whose word is missing.
    """
    parts, names = [], []
    for name in moderators:
        if pd.api.types.is_numeric_dtype(frame[name]) and not pd.api.types.is_bool_dtype(frame[name]):
            parts.append(numbers(frame, name, "a finite number"))
            names.append(name)
            continue
        missing = frame[name].isna().to_numpy()
        if missing.any():
            raise BadArms(f"{name} of {row_name(frame, int(np.flatnonzero(missing)[0]))} is missing; give its level.")
        levels = sorted(frame[name].astype(str).unique())
        for level in levels[1:]:
            parts.append((frame[name].astype(str) == level).to_numpy(dtype=float))
            names.append(f"{name}[{level}]")
    return (np.column_stack(parts) if parts else np.empty((len(frame), 0))), tuple(names)


def _refuse_constant(x: Floats, names: tuple[str, ...], study: Ints) -> None:
    """Refuse a column that no study varies: study levels account for it whole."""
    for name, column in zip(names, x.T, strict=True):
        first = np.zeros(study.max() + 1)
        first[study[::-1]] = column[::-1]
        if np.all(np.abs(column - first[study]) <= 1e-9 * np.abs(column).max()):
            raise BadArms(
                f"The moderator {name} is the same for all series of every study, so it can't be told from "
                "the studies' own levels; leave it out."
            )


def _refuse_copies(frame: pd.DataFrame, key: Ints, moderators: Sequence[str]) -> None:
    """Refuse a row that repeats another in every column; only rows of one joint in one study, one key, can."""
    cell = np.unique(key, return_inverse=True)[1]
    several = np.flatnonzero(np.bincount(cell)[cell] > 1)
    columns = ["study", "joint", "y", "v", *(c for c in ("series", *moderators) if c in frame.columns)]
    copies = several[frame.iloc[several].duplicated(columns).to_numpy()]
    if len(copies):
        raise BadArms(
            f"{row_name(frame, int(copies[0]))} repeats an earlier row; give each series once, or tell the "
            "two apart in a column named series."
        )


def read_arms(frame: pd.DataFrame, moderators: Sequence[str] = ()) -> tuple[Cells, tuple[str, ...]]:
    """Check the series and bring them to one mean for each joint of each study.

    Parameters
    ----------
    frame : DataFrame
        One row a series: study, joint, y (mean log [-]), v (its variance [-]), and the moderators.
    moderators : sequence of str
        Columns to keep as fixed effects.

    Returns
    -------
    cells : Cells
    names : tuple of str
        Names of the moderator columns.

    Raises
    ------
    BadArms
        Naming column, row and what would be right.
    TooFewStudies
        When no two studies, or not even one, compare two joints.

    Notes
    -----
    Series of one joint in one study share that study's departure for the joint, so their precision-weighted
    mean carries all they say about joints; splitting a series in two leaves the answer as it was.
    """
    need_columns(frame, ["study", "joint", "y", "v", *moderators])
    y = logs(frame, "y", "a finite mean of logs")
    v = variances(frame)
    x, names = moderator_columns(frame, moderators)
    study, studies = pd.factorize(frame["study"])
    _refuse_constant(x, names, study)
    joint, joints = pd.factorize(frame["joint"])
    _refuse_copies(frame, study * len(joints) + joint, moderators)
    labels = [np.asarray(part, dtype=object) for part in (studies, joints)]
    return cells_of(study, joint, labels[0], labels[1], y, v, x), names


def cells_of(
    study: Ints, joint: Ints, studies: NDArray[np.object_], joints: NDArray[np.object_], y: Floats, v: Floats, x: Floats
) -> Cells:
    """Bring series, already checked, to one mean for each joint of each study; see `read_arms`.

    Parameters
    ----------
    study, joint : ndarray of int, shape (series,)
        Numbers of their study and joint, without gaps.
    studies, joints : ndarray of labels, shape (studies,) and (joints,)
        What the numbers stand for.
    y, v : ndarray, shape (series,)
        Mean log and its variance [-].
    x : ndarray, shape (series, columns)
        Moderators, in their own units.

    Returns
    -------
    Cells

    Raises
    ------
    TooFewStudies
        When no two studies, or not even one, compare two joints.
    """
    key, cell = numbered(study * len(joints) + joint)
    cell_study, cell_joint = key // len(joints), key % len(joints)
    alone = np.bincount(cell_study)[cell_study] == 1
    kept = np.flatnonzero(~alone)
    _refuse_too_few(cell_study[kept], studies)

    w = 1.0 / v
    total = np.bincount(cell, w)
    y_cell = np.bincount(cell, w * y) / total
    columns = x.shape[1]
    x_cell = np.column_stack([np.bincount(cell, w * c) / total for c in x.T]) if columns else np.empty((len(key), 0))
    within = _within(study, ~alone[cell], w, x - x_cell[cell], y - y_cell[cell], cell_study[kept], len(studies))
    set_aside = pd.DataFrame(
        {
            "study": studies[cell_study[alone]],
            "joint": joints[cell_joint[alone]],
            "reason": "holds one joint only, so it compares nothing",
        }
    )
    return Cells(
        studies=studies,
        joints=joints,
        study=cell_study[kept],
        joint=cell_joint[kept],
        y=y_cell[kept],
        v=1.0 / total[kept],
        x=x_cell[kept],
        within=within,
        series=len(y),
        set_aside=set_aside,
    )


def _within(study: Ints, used: NDArray[np.bool_], w: Floats, dx: Floats, dy: Floats, kept: Ints, n: int) -> Within:
    """Sum precision-weighted products by study, over series whose study compares joints."""
    w = np.where(used, w, 0.0)
    m = dx.shape[1]
    xx, xy, yy = np.zeros((n, m, m)), np.zeros((n, m)), np.zeros(n)
    np.add.at(yy, study, w * dy**2)
    if m:
        np.add.at(xx, study, w[:, None, None] * dx[:, :, None] * dx[:, None, :])
        np.add.at(xy, study, (w * dy)[:, None] * dx)
    df = np.bincount(study, used, n).astype(np.intp) - np.bincount(kept, minlength=n)
    return Within(xx, xy, yy, df)


def _refuse_too_few(study: Ints, studies: NDArray[np.object_]) -> None:
    found = np.unique(study)
    if len(found) == 0:
        raise TooFewStudies(
            "No study holds two joints, so nothing is compared with anything; add a control or pool none."
        )
    if len(found) == 1:
        raise TooFewStudies(
            f"Only study {studies[found[0]]!r} compares joints; a network needs two such studies. "
            "Compare the joints within that study instead."
        )
