"""How strong a joint is over the shops that tested it, and whether that is enough to draw a figure from."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from stats.errors import StatsError
from stats.inference.pool import random_effects
from stats.scalar import said, scalar

FEWEST_SHOPS, FEWEST_SPECIMENS = 2, 5
"""Below these no limit is given."""


class TooThin(StatsError):
    """Evidence that no figure should be drawn from.

    Parameters
    ----------
    reasons : tuple of str
        Why, one sentence each.
    """

    code = "too-thin"

    def __init__(self, reasons: tuple[str, ...]) -> None:
        self.reasons = reasons
        super().__init__("No figure is given: " + " ".join(reasons))


@dataclass(frozen=True)
class ShopEvidence:
    """How strong a joint is over shops, on logs.

    Parameters
    ----------
    mean_log, mean_se : float
        Mean over shops and its standard error [log of the footing].
    between_sd : float or None
        Standard deviation between shops [log]; None where one shop is all there is.
    within_sd : float or None
        Standard deviation among the joints of one series [log]; None where no series tells it.
    between_df, within_df : float
        Degrees of freedom behind the two.
    shops, specimens : int
        Studies and specimens behind it.
    """

    mean_log: float
    mean_se: float
    between_sd: float | None
    within_sd: float | None
    between_df: float
    within_df: float
    shops: int
    specimens: int

    def why_thin(self) -> tuple[str, ...]:
        """Reasons to give no figure; empty where there is none."""
        specimens = f"{self.specimens} specimen{'' if self.specimens == 1 else 's'}"
        rules = {
            f"Only {self.shops} shop has tested this joint so: how much shops differ can't be seen.": self.shops
            < FEWEST_SHOPS,
            f"Only {specimens} in all; {FEWEST_SPECIMENS} are the fewest.": self.specimens < FEWEST_SPECIMENS,
            "No prediction for another shop can be had from this evidence.": self.between_sd is None
            or self.between_df < 1,
            "No series tells how much joints made alike differ.": not self.within_sd or self.within_df < 1,
        }
        return tuple(reason for reason, holds in rules.items() if holds)


def evidence_of(series: pd.DataFrame) -> ShopEvidence:
    """How strong a joint is over shops, from its series on one footing.

    Parameters
    ----------
    series : DataFrame
        A row a series: study, mean_log [-], sd_log [-; NaN where unknown], n (specimens; NaN where unknown).

    Returns
    -------
    ShopEvidence
        With None for what it can't tell; `next_shop` then refuses.

    Raises
    ------
    StatsError
        If a column or all rows are missing, or a value can't be.

    Notes
    -----
    Standard deviations are pooled over series, weighted by n - 1. Series of one study are brought to one mean weighted
    by n, so that a study counts as one shop. Studies are pooled by `stats.inference.pool.random_effects` (REML), whose
    ad hoc Knapp-Hartung factor does not let a lucky agreement shrink the standard error. A series without a count
    stands for one specimen.
    """
    missing = [name for name in ("study", "mean_log", "sd_log", "n") if name not in series.columns]
    if missing or series.empty:
        raise StatsError(f"series (columns missing: {', '.join(missing) or 'none, no rows'}) must have a row a series.")
    mean = series["mean_log"].to_numpy(dtype=float)
    if not np.isfinite(mean).all():
        raise StatsError("mean_log of a series is not a finite number; leave that series out.")
    n = np.maximum(np.nan_to_num(series["n"].to_numpy(dtype=float), nan=1.0), 1.0)
    sd = series["sd_log"].to_numpy(dtype=float)
    told = np.isfinite(sd) & (sd > 0) & (n > 1)
    within_df = float(np.sum(n[told] - 1))
    within = float(np.sqrt(np.sum((n[told] - 1) * sd[told] ** 2) / within_df)) if within_df else None
    study, shops = pd.factorize(series["study"])
    count = np.bincount(study, n)
    level = np.bincount(study, n * mean) / count
    bare = ShopEvidence(float(level.mean()), math.nan, None, within, 0.0, within_df, len(shops), int(n.sum()))
    if within is None or len(shops) < FEWEST_SHOPS:
        return bare
    pooled = random_effects(level, within**2 / count, knapp_hartung="adhoc")
    return replace(
        bare,
        mean_log=pooled.estimate,
        mean_se=pooled.se,
        between_sd=math.sqrt(pooled.tau2 or 0.0),
        between_df=float(len(shops) - 1),
    )


def through_network(
    reference: ShopEvidence,
    log_ratio: float,
    log_ratio_se: float,
    *,
    tau2: float,
    df: float,
    shops: int,
    specimens: int,
    within_sd: float | None = None,
    within_df: float | None = None,
) -> ShopEvidence:
    """How strong a joint is over shops, from a joint whose level is known and the network's ratio to it.

    Parameters
    ----------
    reference : ShopEvidence
        Level of the joint that the ratio is to.
    log_ratio, log_ratio_se : float
        Log ratio of this joint over it, by all the network, and its standard error.
    tau2 : float
        Variance between studies of a log ratio, from the network.
    df : float
        Degrees of freedom of the network's interval.
    shops, specimens : int
        Studies and specimens that hold this joint.
    within_sd, within_df : float, optional
        Standard deviation of logs and degrees of freedom of this joint's own series; the reference's where not given.

    Returns
    -------
    ShopEvidence

    Raises
    ------
    StatsError
        If a number is not finite or a variance negative.

    Notes
    -----
    mean = reference + log ratio; the two standard errors are added in squares, as if they shared no study, which is on
    the wide side where they do. In the network's model a shop moves every joint alike and each joint by a departure of
    variance tau2 / 2, so that the spread between shops is the reference's, and never less than that departure.
    """
    numbers = {"log_ratio": log_ratio, "log_ratio_se": log_ratio_se, "tau2": tau2, "df": df, "shops": shops,
               "specimens": specimens}  # fmt: skip
    for name, value in numbers.items():
        if not math.isfinite(scalar(value)) or (name != "log_ratio" and value < 0):
            least = "" if name == "log_ratio" else ", 0 or more"
            raise StatsError(f"{name} ({said(value, 'g')}) must be a finite number{least}.")
    between = None if reference.between_sd is None else max(reference.between_sd, math.sqrt(tau2 / 2))
    return ShopEvidence(
        mean_log=reference.mean_log + log_ratio,
        mean_se=math.hypot(reference.mean_se, log_ratio_se),
        between_sd=between,
        within_sd=reference.within_sd if within_sd is None else within_sd,
        between_df=min(reference.between_df, df),
        within_df=reference.within_df if within_df is None else within_df,
        shops=shops,
        specimens=specimens,
    )
