"""What each study does to the network: all effects with that study left out."""

from __future__ import annotations

import numpy as np
import pandas as pd

from stats.inference.arms import Floats, Ints
from stats.inference.profile import Profile, Solution
from stats.inference.reml import reml_variance


def shifts(profile: Profile, solution: Solution) -> tuple[Ints, Floats]:
    """Give the change of all effects when each study is left out, the between-study variance held.

    Parameters
    ----------
    profile, solution : Profile, Solution
        The network, and its fit.

    Returns
    -------
    study : ndarray of int, shape (S,)
        The studies that compare joints, by number, rising.
    change : ndarray, shape (S, joints)
        Of the log effects [-]; NaN in all of a row where the network falls apart without that study.

    Notes
    -----
    Taking X_s' G X_s out of the information A changes the solution by -A^-1 X_s' (G^-1 - X_s A^-1 X_s')^-1
    r_s (Woodbury), for all studies of one size at once. The bracket is singular exactly where an effect rests
    on that study alone.
    """
    studies, changes = [], []
    for b, at in zip(profile.rows.blocks, _starts(profile), strict=True):
        count, m, _ = b.q.shape
        residual = solution.residual[at : at + count * m].reshape(count, m)
        inner = solution.covariance[b.joints[:, :, None], b.joints[:, None, :]]
        variance = b.lam + solution.tau2
        own = np.einsum("smi,sij,snj->smn", b.q, inner, b.q, optimize=True)
        root = np.sqrt(variance)
        leverage = own / root[:, :, None] / root[:, None, :]
        value, vector = np.linalg.eigh(np.eye(m) - leverage)
        apart = value[:, 0] < 1e-9
        value = np.where(apart[:, None], np.nan, value)
        scaled = np.einsum("sam,sa->sm", vector, residual / root, optimize=True) / value
        back = np.einsum("sam,sm->sa", vector, scaled, optimize=True) / root
        on_joints = np.einsum("smi,sm->si", b.q, back, optimize=True)
        spread = np.zeros((count, profile.rows.n_joints))
        np.put_along_axis(spread, b.joints, on_joints, axis=1)
        studies.append(b.study)
        changes.append(-spread @ solution.covariance[: spread.shape[1], : spread.shape[1]])
    order = np.argsort(np.concatenate(studies), kind="stable")
    return np.concatenate(studies)[order], np.concatenate(changes)[order]


def shares(profile: Profile, solution: Solution, a: int, b: int) -> tuple[Ints, Floats]:
    """Give each study's share in the comparison of joints a and b.

    Parameters
    ----------
    profile, solution : Profile, Solution
        The network, and its fit.
    a, b : int
        Indices of the joints.

    Returns
    -------
    study : ndarray of int, shape (S,)
        The studies that compare joints, by number, rising.
    share : ndarray, shape (S,)
        Sums to 1.

    Notes
    -----
    The estimate is a sum over rows of h z, its variance the sum of h^2 (lambda + tau2); a study's share is its part
    of that sum. Where two joints are compared by studies of the two alone, these are the usual weights.
    """
    pick = np.zeros(profile.size)
    pick[a], pick[b] = 1.0, -1.0
    carried = solution.covariance @ pick
    rows = profile.rows
    along = rows.along(carried[: rows.n_joints]) + rows.x @ carried[rows.n_joints :]
    study = rows.study
    total = np.bincount(study, along**2 / (rows.lam + solution.tau2))
    found = np.unique(study)
    return found, total[found] / total.sum()


def _starts(profile: Profile) -> list[int]:
    sizes = [b.lam.size for b in profile.rows.blocks]
    return [int(s) for s in np.cumsum([0, *sizes[:-1]])]


def refitted(profile: Profile, solution: Solution, study: int, *, refit: bool) -> tuple[Floats, float] | None:
    """Solve without one study; None where the network falls apart.

    Returns
    -------
    change : ndarray, shape (joints,)
    tau2 : float
        Found anew with `refit` (NaN where no degrees of freedom are left), otherwise the network's.
    """
    anchors = np.setdiff1d(np.arange(profile.rows.n_joints), profile.free)
    rows = profile.rows.without(study)
    laplacian = rows.joint_products(np.ones(len(rows.lam)))
    if np.linalg.matrix_rank(laplacian, hermitian=True) < profile.rows.n_joints - len(anchors):
        return None
    left = Profile(rows, anchors, profile.columns)
    tau2 = solution.tau2
    if refit:
        tau2 = reml_variance(lambda t: ((s := left.solve(t)).criterion, s.slope), left.scale) if left.df > 0 else np.nan
    again = left.solve(0.0 if np.isnan(tau2) else tau2)
    j = profile.rows.n_joints
    return again.beta[:j] - solution.beta[:j], tau2


def influence_frame(
    profile: Profile,
    solution: Solution,
    reference: int,
    of_part: Ints,
    se: Floats,
    joints: tuple[object, ...],
    studies: tuple[object, ...],
    *,
    refit: bool,
) -> pd.DataFrame:
    """Tabulate what leaving out each study does to the effects against the reference.

    Parameters
    ----------
    profile, solution : Profile, Solution
        The network, and its fit.
    reference : int
        Index of the reference.
    of_part : ndarray of int, shape (linked,)
        Indices of the joints linked to the reference, without it.
    se : ndarray, shape (joints,)
        Standard error of each joint against the reference.
    joints, studies : tuple of labels
        What the numbers stand for.
    refit : bool
        Find the between-study variance anew each time.

    Returns
    -------
    DataFrame
        As `comparisons.Network.influence` gives it.
    """
    if refit or profile.columns:
        at = np.unique(np.concatenate([b.study for b in profile.rows.blocks]))
        fits = [refitted(profile, solution, int(s), refit=refit) for s in at]
        none = np.full(profile.rows.n_joints, np.nan)
        change = np.stack([none if f is None else f[0] for f in fits])
        tau2 = np.array([np.nan if f is None else f[1] for f in fits])
    else:
        at, change = shifts(profile, solution)
        tau2 = np.full(len(at), solution.tau2)
    disconnects = np.isnan(change).any(axis=1)
    against = np.where(disconnects[:, None], 0.0, change[:, of_part] - change[:, [reference]])
    worst = np.argmax(np.abs(against) / se[of_part], axis=1)
    shift = np.where(disconnects, np.nan, against[np.arange(len(at)), worst])
    frame = pd.DataFrame(
        {
            "study": [studies[s] for s in at],
            "joint": [None if d else joints[of_part[w]] for d, w in zip(disconnects, worst, strict=True)],
            "shift": shift,
            "shift_in_se": np.abs(shift) / se[of_part][worst],
            "disconnects": disconnects,
        }
    )
    if refit:
        frame["tau2"] = tau2
    return frame
