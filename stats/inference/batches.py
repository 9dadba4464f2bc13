"""Lower tolerance limit where specimens come in batches that differ: glue-ups, boards, shops."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from stats.inference.sample import (
    BadSetting,
    NoSpread,
    TooFew,
    checked,
    checked_labels,
    checked_share,
    log_spread,
)
from stats.inference.tolerance_factors import normal_factor


@dataclass(frozen=True)
class BatchLimit:
    """A lower tolerance limit for a specimen of a batch not yet made, and how it was had.

    Parameters
    ----------
    value : float
        The limit, in the unit of the readings.
    n, batches : int
        Specimens and batches.
    coverage, confidence : float
        Share of joints above the limit, and the probability that it keeps its word.
    model : str
        "lognormal" (worked on logs) or "normal".
    factor : float
        Factor applied to the sd of one specimen.
    sd_between, sd_within : float
        Standard deviations between and within batches, of logs for the lognormal model.
    variance_ratio : float
        Mean square between batches over mean square within.
    notes : tuple of str
        What to know before using it.
    """

    value: float
    n: int
    batches: int
    coverage: float
    confidence: float
    model: Literal["lognormal", "normal"]
    factor: float
    sd_between: float
    sd_within: float
    variance_ratio: float
    notes: tuple[str, ...] = ()


def basis_between_batches(
    values: ArrayLike,
    batch: ArrayLike,
    coverage: float = 0.95,
    confidence: float = 0.75,
    model: Literal["lognormal", "normal"] = "lognormal",
) -> BatchLimit:
    """Lower tolerance limit that allows for batches which differ (one-way random effects).

    Parameters
    ----------
    values : array_like, shape (n,)
        Readings, above zero, of specimens that broke.
    batch : array_like, shape (n,)
        Label of each specimen's batch.
    coverage, confidence : float
        Share of joints above the limit, and the probability that it keeps its word.
    model : {"lognormal", "normal"}
        Work on logs, as all strength statistics here do, or on the readings.

    Returns
    -------
    BatchLimit

    Raises
    ------
    BadSample
        If a reading is not finite and above zero, or a label is missing.
    TooFew
        If there are fewer than two batches, or no batch with two specimens.
    NoSpread
        If all readings are equal.

    Notes
    -----
    With k batches of sizes n_i, N in all, ``n' = (N - sum(n_i^2) / N) / (k - 1)``, ``u = MSB / MSE`` (1 where
    less) and ``w = sqrt(u / (u + n' - 1))``, the factor is
    ``T = (k0 - k1 / sqrt(n') + (k1 - k0) w) / (1 - 1 / sqrt(n'))``, k0 and k1 the normal factors for N and
    for k. The limit is ``mean - T s`` with ``s^2 = MSB / n' + (n' - 1) / n' MSE``, MSB not below MSE. Between
    its two extremes (batches alike: N readings; no spread within: k readings) it is an approximation. With
    three batches or fewer it is mostly a statement of ignorance.

    References
    ----------
    MIL-HDBK-17-1F (2002), vol. 1, section 8.3.5.2.
    Vangel, M. G. (1992). New methods for one-sided tolerance limits for a one-way balanced random-effects
    ANOVA model. Technometrics 34, 176-185.

    Examples
    --------
    >>> limit = basis_between_batches([31, 33, 35, 36, 37, 39], ["a", "a", "b", "b", "c", "c"])
    >>> round(limit.value, 1)
    26.7
    """
    if model not in ("lognormal", "normal"):
        raise BadSetting(f"model is {model!r}; it must be lognormal or normal.")
    coverage, confidence = checked_share(coverage, "coverage"), checked_share(confidence, "confidence")
    array = checked(values, minimum=3)
    labels = checked_labels(batch, array.size, "batch")
    numbers = np.log(array) if model == "lognormal" else array
    if log_spread(numbers) == 0:
        raise NoSpread(f"all {array.size} readings are {array[0]:g}; a lower limit needs some spread.")
    groups = [numbers[labels == label] for label in dict.fromkeys(labels.tolist())]
    k, n = len(groups), array.size
    if k < 2 or k == n:
        raise TooFew(f"{n} readings in {k} batches; there must be two batches, one of them with two readings.")
    sizes = np.array([group.size for group in groups])
    grand = float(numbers.mean())
    between = sum(group.size * (group.mean() - grand) ** 2 for group in groups) / (k - 1)
    within = sum(((group - group.mean()) ** 2).sum() for group in groups) / (n - k)
    effective = float((n - (sizes**2).sum() / n) / (k - 1))
    pooled = max(between, within)
    u = pooled / within if within > 0 else np.inf
    w = np.sqrt(u / (u + effective - 1)) if np.isfinite(u) else 1.0
    k0, k1 = normal_factor(n, coverage, confidence), normal_factor(k, coverage, confidence)
    root = np.sqrt(effective)
    factor = float((k0 - k1 / root + (k1 - k0) * w) / (1 - 1 / root))
    s = np.sqrt(pooled / effective + (effective - 1) / effective * within)
    limit = grand - factor * s
    value = float(np.exp(limit) if model == "lognormal" else limit)
    return BatchLimit(
        value,
        n,
        k,
        coverage,
        confidence,
        model,
        factor,
        sd_between=float(np.sqrt(max(0.0, (between - within) / effective))),
        sd_within=float(np.sqrt(within)),
        variance_ratio=float(between / within) if within > 0 else float("inf"),
        notes=_notes(k, value),
    )


def _notes(batches: int, value: float) -> tuple[str, ...]:
    notes = []
    if batches < 5:
        notes.append(f"Only {batches} batches: how much batches differ is hardly known, so the limit is low.")
    if value <= 0:
        notes.append("The limit falls to zero or below: the normal model does not fit; use lognormal.")
    return tuple(notes)
