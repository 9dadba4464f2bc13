"""Whether the routes through the network agree: designs against each other, direct against indirect."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from stats.inference.arms import Floats
from stats.inference.profile import Profile, Solution


@dataclass(frozen=True)
class Inconsistency:
    """Test that studies which compare different sets of joints obey one set of effects.

    Parameters
    ----------
    q : float
        Wald statistic of the design-by-treatment interaction.
    df : int
        Its degrees of freedom: 0 where no set of joints can contradict another.
    p : float or None
        Its probability under consistency; None for df 0.
    q_within, df_within : float, int
        Statistic of what studies of the same set of joints differ by, and its degrees of freedom.
    tau2 : float
        Between-study variance of a log ratio [-] at which all of it holds.
    """

    q: float
    df: int
    p: float | None
    q_within: float
    df_within: int
    tau2: float


@dataclass(frozen=True)
class Replicates:
    """How far series of one joint in one study differ, beside their own errors.

    Parameters
    ----------
    q : float
        Weighted sum of squares of series about their joint's mean in the study [-].
    df : int
        Series beyond one for each joint of a study.
    p : float or None
        Its probability where they agree; None where no study has two series of a joint.
    """

    q: float
    df: int
    p: float | None


@dataclass(frozen=True)
class Split:
    """Direct and indirect evidence on one pair, as log ratios with their standard errors [-].

    A side that does not exist is None, and so is then the difference.

    Parameters
    ----------
    direct : (float, float) or None
        What studies that hold both say.
    indirect : (float, float) or None
        What all others say.
    difference : (float, float) or None
        Direct less indirect.
    """

    direct: tuple[float, float] | None
    indirect: tuple[float, float] | None
    difference: tuple[float, float] | None

    @property
    def p(self) -> float | None:
        """Two-sided normal probability of a difference as large, were there none."""
        if self.difference is None:
            return None
        difference, se = self.difference
        return float(2.0 * stats.norm.sf(abs(difference) / se))


def design_by_treatment(profile: Profile, tau2: float) -> Inconsistency:
    """Test the design-by-treatment interaction at a given between-study variance.

    Parameters
    ----------
    profile : Profile
        The network.
    tau2 : float
        Between-study variance of a log ratio [-].

    Returns
    -------
    Inconsistency

    Notes
    -----
    The interaction model gives every set of joints tested together its own contrasts, so it falls into blocks
    of one design each; moderator slopes, common to all, are eliminated last. The Wald statistic equals the
    consistency model's Q less the interaction model's [1]_.

    References
    ----------
    .. [1] Higgins JPT et al. (2012). Consistency and inconsistency in network meta-analysis: concepts and
       models for multi-arm studies. Research Synthesis Methods 3: 98-110.
    """
    m = len(profile.columns)
    left = np.zeros((m + 1, m + 1))  # products of moderators and z, free of each design's own contrasts
    if m:
        w = profile.rows.within
        left[:m, :m], left[m, m] = w.xx.sum(axis=0), w.yy.sum()
        left[:m, m] = left[m, :m] = w.xy.sum(axis=0)
    parameters = 0
    for b in profile.rows.blocks:
        k = b.q.shape[2]
        g = 1.0 / (b.lam + tau2)
        both = np.concatenate([b.x, b.z[:, :, None]], axis=2)
        designs, which = np.unique(b.joints, axis=0, return_inverse=True)
        which = which.ravel()
        parameters += len(designs) * (k - 1)
        q = b.q[:, :, 1:]  # the first joint of a design is its base
        a = np.zeros((len(designs), k - 1, k - 1))
        c = np.zeros((len(designs), k - 1, m + 1))
        np.add.at(a, which, np.einsum("smi,sm,smj->sij", q, g, q, optimize=True))
        np.add.at(c, which, np.einsum("smi,sm,smc->sic", q, g, both, optimize=True))
        left = left + np.einsum("smc,sm,smd->cd", both, g, both, optimize=True)
        left = left - np.einsum("dic,die->ce", c, np.linalg.solve(a, c), optimize=True)
    slopes = int(np.linalg.matrix_rank(left[:m, :m], hermitian=True)) if m else 0
    q_within = float(left[m, m])
    if m:
        q_within -= float(left[m, :m] @ np.linalg.lstsq(left[:m, :m], left[:m, m], rcond=None)[0])
    df = parameters + slopes - len(profile.free)
    df_within = profile.df - df
    if df_within == 0:
        q_within = 0.0
    between = profile.q(tau2) - q_within if df else 0.0
    p = float(stats.chi2.sf(between, df)) if df else None
    return Inconsistency(between, df, p, q_within, df_within, tau2)


def split(profile: Profile, solution: Solution, a: int, b: int, scale: float) -> Split:
    """Split the evidence on joints a and b into what studies with both say and what all others say.

    Parameters
    ----------
    profile, solution : Profile, Solution
        The network, and its fit.
    a, b : int
        Indices of the joints.
    scale : float
        Factor on all variances.

    Returns
    -------
    Split
        Of the log ratio a over b.

    Notes
    -----
    One column is added that is +1/2 on a and -1/2 on b in every study that holds both; its slope is direct
    less indirect. Halving treats the two alike where such a study holds further joints [1]_. Where all
    studies have two joints this is the usual back-calculation. The between-study variance stays the
    network's.

    References
    ----------
    .. [1] White IR (2015). Network meta-analysis. Stata Journal 15: 951-985.
    """
    g = 1.0 / (profile.rows.lam + solution.tau2)
    column = _both_sides(profile, a, b)
    pick = np.zeros(profile.size)
    pick[a], pick[b] = 1.0, -1.0
    network = float(pick @ solution.beta), float(pick @ solution.covariance @ pick)
    own = float(np.sum(g * column**2))
    if own == 0.0:
        return Split(None, (network[0], float(np.sqrt(scale * network[1]))), None)
    cross = profile.rows.joint_sums(g * column)
    if profile.columns:
        cross = np.r_[cross, profile.rows.x.T @ (g * column)]
    carried = solution.covariance @ cross
    rest = own - float(cross @ carried)
    if rest <= 1e-9 * own:  # the column is what the effects already say: no way round the direct studies
        return Split((network[0], float(np.sqrt(scale * network[1]))), None, None)
    delta = float(np.sum(g * column * solution.residual)) / rest
    lean = float(pick @ carried)
    indirect = network[0] - lean * delta, network[1] + lean**2 / rest
    # direct = indirect + delta, with cov(indirect, delta) = -lean / rest
    direct = indirect[0] + delta, indirect[1] + (1.0 - 2.0 * lean) / rest
    sides = [(value, float(np.sqrt(scale * variance))) for value, variance in (direct, indirect)]
    return Split(sides[0], sides[1], (delta, float(np.sqrt(scale / rest))))


def _both_sides(profile: Profile, a: int, b: int) -> Floats:
    parts = []
    for block in profile.rows.blocks:
        is_a, is_b = block.joints == a, block.joints == b
        both = is_a.any(axis=1) & is_b.any(axis=1)
        weights = 0.5 * (is_a.astype(float) - is_b.astype(float)) * both[:, None]
        parts.append(np.einsum("smi,si->sm", block.q, weights, optimize=True).ravel())
    return np.concatenate(parts)


def replicates(q: float, df: int) -> Replicates:
    """Test series of one joint in one study against their own errors.

    Parameters
    ----------
    q : float
        Weighted sum of squares of series about their joint's mean in the study [-].
    df : int
        Series beyond one for each joint of a study; where 0, the result has no p.

    Returns
    -------
    Replicates
    """
    return Replicates(q, df, float(stats.chi2.sf(q, df))) if df else Replicates(0.0, 0, None)
