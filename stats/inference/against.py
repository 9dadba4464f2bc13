"""What tells on every joint against one of them: each study's share, and whether routes through the network agree."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse, stats

from stats.inference.arms import BadArms, Floats, Ints
from stats.inference.profile import Profile, Solution


@dataclass(frozen=True, eq=False)
class Against:
    """All joints against one.

    Parameters
    ----------
    study : ndarray of int, shape (studies,)
        The studies that compare joints, by number.
    weight : ndarray, shape (studies, joints)
        Share of each study in each comparison, see `influence.shares`; NaN for joints that nothing links.
    holds : ndarray of bool, shape (studies, joints)
        Whether the study holds both joints.
    difference_p : ndarray, shape (joints,)
        Probability of the difference between direct and indirect evidence, see `inconsistency.split`; NaN where there
        is but one sort.
    """

    study: Ints
    weight: Floats
    holds: NDArray[np.bool_]
    difference_p: Floats


def against(profile: Profile, solution: Solution, b: int, scale: float, linked: NDArray[np.bool_]) -> Against:
    """Give what tells on each joint against joint `b`, as `influence.shares` and `inconsistency.split` give it for one.

    Parameters
    ----------
    profile, solution : Profile, Solution
        Of a network without moderators.
    b : int
        Index of the joint.
    scale : float
        Factor on all variances.
    linked : ndarray of bool, shape (joints,)
        Which joints a chain of studies links to `b`.

    Returns
    -------
    Against

    Raises
    ------
    BadArms
        If the network has moderators.
    """
    if profile.columns:
        raise BadArms("With moderators, joints are asked about one by one.")
    rows, g = profile.rows, 1.0 / (profile.rows.lam + solution.tau2)
    study, place = np.unique(rows.study, return_inverse=True)
    of_study = sparse.csr_matrix((np.ones(len(place)), (place, np.arange(len(place)))))
    there = (abs(of_study @ abs(rows.design)) > 0).toarray()
    holds = there & there[:, [b]]
    holds[:, b] = False
    covariance = solution.covariance
    carried = covariance - covariance[:, [b]]
    total = of_study @ (g[:, None] * np.asarray(rows.design @ carried) ** 2)
    with np.errstate(invalid="ignore", divide="ignore"):
        weight = np.where(linked, total / total.sum(axis=0), np.nan)
    return Against(study, weight, holds, _difference_p(profile, solution, b, scale, holds[place], g))


def _difference_p(
    profile: Profile, solution: Solution, b: int, scale: float, holds: NDArray[np.bool_], g: Floats
) -> Floats:
    """One column a joint is +1/2 on it and -1/2 on `b` in every study that holds both, see `inconsistency.split`."""
    q = profile.rows.design.toarray()
    column = np.where(holds, 0.5 * (q - q[:, [b]]), 0.0)
    weighted = g[:, None] * column
    own = np.sum(weighted * column, axis=0)
    cross = np.asarray(profile.rows.design.T @ weighted)
    rest = own - np.sum(cross * (solution.covariance @ cross), axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        delta = (weighted.T @ solution.residual) / rest
        p = 2.0 * stats.norm.sf(np.abs(delta) / np.sqrt(scale / rest))
    return np.where((own > 0) & (rest > 1e-9 * own), p, np.nan)
