"""Contrasts of the network: differences of mean logs reported without their arms, with their covariances."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from stats.inference.arms import BadArms, Floats, Ints, TooFewStudies, logs, need_columns, variances

StudyContrasts = tuple[Ints, Floats, Floats, Floats]


@dataclass(frozen=True, eq=False)
class ContrastSet:
    """Checked contrasts.

    Parameters
    ----------
    studies, joints : ndarray of labels, shape (studies,) and (joints,)
        What the numbers stand for.
    parts : tuple of (joints (k,), contrast matrix (k - 1, k), y (k - 1,), covariance (k - 1, k - 1))
        One for each study, in the order of `studies`: numbers of its k joints, rising, and its log ratios [-].
    count : int
        Contrasts in all.
    """

    studies: NDArray[np.object_]
    joints: NDArray[np.object_]
    parts: tuple[StudyContrasts, ...]
    count: int


def read_contrasts(frame: pd.DataFrame, covariances: Mapping[object, ArrayLike] | None) -> ContrastSet:
    """Check contrasts and give each study's matrix form.

    Parameters
    ----------
    frame : DataFrame
        One row a contrast: study, joint, versus, y (log ratio of joint to versus [-]), v (its variance [-]).
    covariances : mapping of study to matrix
        Covariance of a study's c contrasts in the frame's order [-], shape (c, c); needed where c is more than one.

    Returns
    -------
    ContrastSet

    Raises
    ------
    BadArms
        Naming study and fault.
    TooFewStudies
        For fewer than two studies.
    """
    need_columns(frame, ["study", "joint", "versus", "y", "v"])
    y = logs(frame, "y", "a finite log ratio")
    v = variances(frame)
    if frame["versus"].isna().any():
        raise BadArms("versus is missing in a row; every contrast must name both joints.")
    labels = pd.Index(pd.unique(pd.concat([frame["versus"], frame["joint"]], ignore_index=True)))
    joint, versus = labels.get_indexer(frame["joint"]), labels.get_indexer(frame["versus"])
    study, studies = pd.factorize(frame["study"])
    if len(studies) < 2:
        raise TooFewStudies(f"Only study {studies[0]!r} gives contrasts; a network needs two studies.")
    given = dict(covariances or {})
    unknown = [s for s in given if s not in set(studies)]
    if unknown:
        raise BadArms(f"covariances names study {unknown[0]!r}, which has no contrast in the frame.")
    order = np.argsort(study, kind="stable")
    parts = []
    for s, at in enumerate(np.split(order, np.cumsum(np.bincount(study))[:-1])):
        name = studies[s]
        joints = np.unique(np.r_[joint[at], versus[at]])
        c = np.zeros((len(at), len(joints)))
        c[np.arange(len(at)), np.searchsorted(joints, joint[at])] += 1.0
        c[np.arange(len(at)), np.searchsorted(joints, versus[at])] -= 1.0
        if np.linalg.matrix_rank(c) < len(at) or len(joints) != len(at) + 1:
            raise BadArms(
                f"Study {name!r} has {len(at)} contrasts on {len(joints)} joints; give each further joint of "
                "a study one contrast, so that none follows from the others and all are linked."
            )
        parts.append((joints, c, y[at], _covariance(name, given.get(name), v[at])))
    return ContrastSet(np.asarray(studies, dtype=object), np.asarray(labels, dtype=object), tuple(parts), len(frame))


def _covariance(study: object, given: ArrayLike | None, v: Floats) -> Floats:
    if given is None:
        if len(v) > 1:
            raise BadArms(
                f"Study {study!r} has {len(v)} contrasts, which share an arm; give their covariance matrix "
                "in covariances."
            )
        return np.diag(v)
    matrix = np.asarray(given, dtype=float)
    if matrix.shape != (len(v), len(v)):
        raise BadArms(f"The covariance of study {study!r} is {matrix.shape}; its contrasts need {(len(v), len(v))}.")
    if not np.all(np.isfinite(matrix)) or not np.allclose(matrix, matrix.T, rtol=1e-8, atol=0.0):
        raise BadArms(f"The covariance of study {study!r} must be finite and symmetric.")
    if not np.allclose(np.diag(matrix), v, rtol=1e-6, atol=0.0):
        raise BadArms(f"The covariance of study {study!r} has other variances on its diagonal than its rows' v.")
    if np.linalg.eigvalsh(matrix)[0] <= 0:
        raise BadArms(f"The covariance of study {study!r} is not positive definite.")
    return matrix
