"""The largest h and k, Mandel's statistics of how consistent shops are, to expect of a shop like the others."""

from __future__ import annotations

import numpy as np
from scipy import special

from stats.inference.sample import checked_above, checked_count, checked_share


def critical_h(shops: int, alpha: float = 0.005) -> float:
    """Give the largest |h| to expect of one of `shops` shops, with probability 1 - alpha (Wilrich 2013).

    Parameters
    ----------
    shops : int
        Shops that tested the joint, at least 3.
    alpha : float, optional
        Chance that |h| of a shop like the others exceeds it.

    Returns
    -------
    float
        In standard deviations of the shops' means.

    Raises
    ------
    BadSetting
        If shops is no whole number of at least 3, or alpha not between 0 and 1.
    """
    shops, alpha = checked_count(shops, "shops", 3), checked_share(alpha, "alpha")
    t = float(special.stdtrit(shops - 2, 1 - alpha / 2))
    return float((shops - 1) * t / np.sqrt(shops * (t**2 + shops - 2)))


def critical_k(own_df: float, all_df: float, alpha: float = 0.005) -> float:
    """Give the largest k to expect of a shop with `own_df` of the `all_df` degrees of freedom in s_r.

    Parameters
    ----------
    own_df, all_df : float
        Degrees of freedom, the shop's specimens less one and the sum of that over shops.
    alpha : float, optional
        Chance that k of a shop like the others exceeds it.

    Returns
    -------
    float
        In repeatability standard deviations.

    Raises
    ------
    BadSetting
        If own_df is not above 0, all_df not above own_df, or alpha not between 0 and 1.
    """
    own_df, alpha = checked_above(own_df, "own_df"), checked_share(alpha, "alpha")
    all_df = checked_above(all_df, "all_df", own_df)
    f = float(special.fdtri(own_df, all_df - own_df, 1 - alpha))
    return float(np.sqrt(all_df / (own_df + (all_df - own_df) / f)))
