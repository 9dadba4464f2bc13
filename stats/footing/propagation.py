"""The law of propagation of uncertainty, for any model that can be called."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from stats.errors import StatsError

Floats = NDArray[np.float64]
Model = Callable[[Floats], ArrayLike]

STEP = 0.01
"""Step of the differences, in standard uncertainties: small against what bends a formula, large against rounding."""


class BadUncertainty(StatsError):
    """Uncertainties of inputs that can't be used."""

    code = "uncertainty"


def contributions(model: Model, at: ArrayLike, u: ArrayLike, names: Sequence[str] = ()) -> Floats:
    """What the standard uncertainty of each input does to a result.

    Parameters
    ----------
    model : callable
        Result, of any shape, from the inputs, shape (k,). It may refuse an input by a `StatsError`.
    at : array_like, shape (k,)
        The inputs.
    u : array_like, shape (k,)
        Their standard uncertainties, 0 or more.
    names : sequence of str, optional
        Names of the inputs, for messages.

    Returns
    -------
    ndarray, shape (k, ...)
        Sensitivity times standard uncertainty, with its sign, for each input and each result.

    Raises
    ------
    BadUncertainty
        If an uncertainty is no number of 0 or more, or the model refuses an input's neighbours on both sides.

    Notes
    -----
    c_i·u_i by central differences over a hundredth of u_i. Where an input lies at the end of its range, the
    three-point difference on the side that is left, exact for a parabola as the central one is.

    References
    ----------
    JCGM 100:2008, 5.1.3 and its note 2.

    Examples
    --------
    >>> contributions(lambda x: x[0] * x[1], [450.0, 0.3], [4.5, 0.001]).round(4).tolist()
    [1.35, 0.45]
    """
    centre, widths = np.asarray(at, dtype=float), np.asarray(u, dtype=float)
    labels = list(names) or [f"input {i}" for i in range(centre.size)]
    if centre.ndim != 1 or widths.shape != centre.shape or len(labels) != centre.size:
        raise BadUncertainty(f"u (shape {widths.shape}) must have one value for each of {centre.size} inputs.")
    for label, width in zip(labels, widths, strict=True):
        if not (np.isfinite(width) and width >= 0):
            raise BadUncertainty(f"u of {label} ({width:g}) must be a number of 0 or more.")
    result = np.asarray(model(centre), dtype=float)
    rows = [_difference(model, centre, result, i, STEP * widths[i], labels[i]) for i in range(centre.size)]
    return np.array(rows).reshape(centre.size, *result.shape) / STEP


def _difference(model: Model, at: Floats, result: Floats, i: int, step: float, label: str) -> Floats:
    """Change of the result over one step of one input."""
    if step == 0:
        return np.zeros_like(result)

    def beside(steps: int) -> Floats | None:
        moved = at.copy()
        moved[i] += steps * step
        try:
            return np.asarray(model(moved), dtype=float)
        except StatsError:
            return None

    up, down = beside(1), beside(-1)
    if up is not None and down is not None:
        return (up - down) / 2
    sign, near = (1, up) if up is not None else (-1, down)
    far = beside(2 * sign)
    if near is None or far is None:
        raise BadUncertainty(f"u of {label} ({step / STEP:g}) must be 0: the result exists at {at[i]:g} alone.")
    return sign * (4 * near - far - 3 * result) / 2


def combined(parts: Floats, correlation: ArrayLike | None = None) -> tuple[Floats, Floats]:
    """Combined standard uncertainty of results, and the share of each input.

    Parameters
    ----------
    parts : ndarray, shape (k, ...)
        As `contributions` gives them.
    correlation : array_like, shape (k, k), optional
        Correlation of the inputs; none are correlated without it.

    Returns
    -------
    u : ndarray, shape (...)
        Combined standard uncertainty.
    shares : ndarray, shape (k, ...)
        Share of each input in the variance, the sum being 1; a correlated input's can be negative. All 0
        where nothing is uncertain.

    Raises
    ------
    BadUncertainty
        If the correlation is not that of any k quantities.

    Notes
    -----
    u² = ΣΣ c_i·u_i·r_ij·c_j·u_j, of which input i has the part c_i·u_i·Σ_j r_ij·c_j·u_j. First order: it fails
    where the result bends within the uncertainty of an input, as cos φ does at 0.

    References
    ----------
    JCGM 100:2008, 5.1.2 and 5.2.2.

    Examples
    --------
    >>> u, shares = combined(np.array([3.0, 4.0]))
    >>> float(u), shares.tolist()
    (5.0, [0.36, 0.64])
    """
    size = parts.shape[0]
    r = np.eye(size) if correlation is None else _checked(np.asarray(correlation, dtype=float), size)
    terms = parts * np.tensordot(r, parts, axes=1)
    variance = np.maximum(terms.sum(axis=0), 0.0)
    shares = np.divide(terms, variance, out=np.zeros_like(terms), where=variance > 0)
    return np.sqrt(variance), shares


def _checked(r: Floats, size: int) -> Floats:
    if r.shape != (size, size) or not np.all(np.isfinite(r)):
        raise BadUncertainty(f"correlation (shape {r.shape}) must hold {size} by {size} numbers.")
    if np.any(np.abs(r) > 1) or not np.allclose(r, r.T) or not np.allclose(np.diag(r), 1):
        raise BadUncertainty("correlation must be symmetric, with 1 on the diagonal and -1 to 1 elsewhere.")
    least = float(np.linalg.eigvalsh(r)[0]) if size else 0.0
    if least < -1e-9:
        raise BadUncertainty(f"correlation must be possible for {size} inputs at once; least eigenvalue {least:.3g}.")
    return r
