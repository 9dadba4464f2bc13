"""Lower tolerance limit where specimens come in batches that differ: glue-ups, boards, shops."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

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

_ROUNDING = 1e-12  # as `sample.log_spread`: a smaller spread of logs is rounding


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
        Mean square between batches over mean square within [-].
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
    BadSetting
        If coverage or confidence is not between 0 and 1, or model not one that exists.

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
    number = {label: at for at, label in enumerate(dict.fromkeys(labels.tolist()))}
    of = np.array([number[label] for label in labels.tolist()], dtype=np.intp)
    k, n = len(number), array.size
    if k < 2 or k == n:
        raise TooFew(f"{n} readings in {k} batches; there must be two batches, one of them with two readings.")
    sizes = np.bincount(of)
    means = np.bincount(of, numbers) / sizes
    squares = np.bincount(of, (numbers - means[of]) ** 2)
    found = limits_from_sums(sizes, means, squares, np.zeros(k, dtype=np.intp), 1, coverage, confidence)
    limit, between, within, effective = (
        float(part[0]) for part in (found.limit, found.between, found.within, found.effective)
    )
    value = float(np.exp(limit) if model == "lognormal" else limit)
    return BatchLimit(
        value,
        n,
        k,
        coverage,
        confidence,
        model,
        float(found.factor[0]),
        sd_between=float(np.sqrt(max(0.0, (between - within) / effective))),
        sd_within=float(np.sqrt(within)),
        variance_ratio=float(between / within) if within > 0 else float("inf"),
        notes=_notes(k, value),
    )


@dataclass(frozen=True, eq=False)
class BatchSums:
    """Limits of many samples of batches, and what they come from; each an array over the samples.

    Parameters
    ----------
    limit : ndarray, shape (samples,)
        The limit on the scale of the means.
    factor : ndarray, shape (samples,)
        Factor applied to the sd of one specimen.
    between, within : ndarray, shape (samples,)
        Mean squares between and within batches.
    effective : ndarray, shape (samples,)
        Effective batch size n'.
    """

    limit: NDArray[np.float64]
    factor: NDArray[np.float64]
    between: NDArray[np.float64]
    within: NDArray[np.float64]
    effective: NDArray[np.float64]


def limits_from_sums(
    sizes: ArrayLike,
    means: ArrayLike,
    squares: ArrayLike,
    sample: ArrayLike,
    samples: int,
    coverage: float = 0.95,
    confidence: float = 0.75,
) -> BatchSums:
    """The limits of `basis_between_batches` from each batch's size, mean and sum of squares, for many samples at once.

    Parameters
    ----------
    sizes, means, squares : array_like, shape (batches,)
        Readings of a batch, their mean, and the sum of their squares about it; of logs for the lognormal model.
    sample : array_like of int, shape (batches,)
        Which sample each batch belongs to, 0 to ``samples - 1``.
    samples : int
        Number of samples.
    coverage, confidence : float
        As for `basis_between_batches`.

    Returns
    -------
    BatchSums
        NaN for samples of fewer than two batches, without a batch of two readings, or without any spread.

    Raises
    ------
    BadSetting
        If coverage or confidence is not between 0 and 1, and any sample has a limit.
    """
    size, mean, square = (np.asarray(part, dtype=np.float64) for part in (sizes, means, squares))
    of = np.asarray(sample, dtype=np.intp)

    def summed(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.bincount(of, values, samples).astype(np.float64, copy=False)

    n, k = summed(size), summed(np.ones(len(size)))
    with np.errstate(invalid="ignore", divide="ignore"):
        grand = summed(size * mean) / n
        between = summed(size * (mean - grand[of]) ** 2) / (k - 1)
        within = summed(square) / (n - k)
        effective = (n - summed(size**2) / n) / (k - 1)
        spread = np.sqrt((between * (k - 1) + within * (n - k)) / (n - 1))
        usable = (k >= 2) & (n > k) & (spread >= _ROUNDING * np.maximum(1.0, np.abs(grand)))
        pooled = np.maximum(between, within)
        u = pooled / within
        w = np.where(np.isfinite(u), np.sqrt(u / (u + effective - 1)), 1.0)
        k0, k1 = (_factors(np.where(usable, count, np.nan), coverage, confidence) for count in (n, k))
        root = np.sqrt(effective)
        factor = (k0 - k1 / root + (k1 - k0) * w) / (1 - 1 / root)
        limit = grand - factor * np.sqrt(pooled / effective + (effective - 1) / effective * within)
    return BatchSums(limit, factor, between, within, effective)


def _factors(n: NDArray[np.float64], coverage: float, confidence: float) -> NDArray[np.float64]:
    """The normal factor of each count; NaN for none."""
    return np.array([np.nan if np.isnan(one) else normal_factor(int(one), coverage, confidence) for one in n])


def _notes(batches: int, value: float) -> tuple[str, ...]:
    notes = []
    if batches < 5:
        notes.append(f"Only {batches} batches: how much batches differ is hardly known, so the limit is low.")
    if value <= 0:
        notes.append("The limit falls to zero or below: the normal model does not fit; use lognormal.")
    return tuple(notes)
