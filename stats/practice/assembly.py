"""What several joints hold together: bounds beside each other, and not one joint times their number."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import optimize

from stats.errors import StatsError
from stats.footing.units import show
from stats.practice.strength_law import (
    Model,
    StrengthLaw,
    bundle_mean,
    bundle_quantile,
    weakest_quantile,
    weakest_share,
)

MOST_JOINTS = 40
"""Most joints taken."""
LOW_SHARE = 0.05
"""The share of assemblies that hold less than `Bound.low`."""


@dataclass(frozen=True)
class Bound:
    """What an assembly holds under one assumption.

    Parameters
    ----------
    code, name : str
        Code and name.
    mean : float
        On average, in the unit of one joint.
    low : float or None
        What 95 of 100 such assemblies exceed, in the unit of one joint; None where no spread enters.
    of_product : float
        The mean over the n-fold product [-].
    formula, assumption : str
        How it is had, and what it takes for granted.
    """

    code: str
    name: str
    mean: float
    low: float | None
    of_product: float
    formula: str
    assumption: str


@dataclass(frozen=True)
class Sharing:
    """Bounds on what n joints hold together.

    Parameters
    ----------
    law : StrengthLaw
        Of one joint.
    n : int
        Joints.
    shares : tuple of float
        Share of the load that each takes before anything breaks.
    unit : str
        Unit of the loads.
    bounds : tuple of Bound
        The product, what the frame's own shares allow, what is left when joints pass on load, and the weakest first.
    words : str
        The bounds in a sentence.
    """

    law: StrengthLaw
    n: int
    shares: tuple[float, ...]
    unit: str
    bounds: tuple[Bound, ...]
    words: str

    def __getitem__(self, code: str) -> Bound:
        for one in self.bounds:
            if one.code == code:
                return one
        raise KeyError(code)


def share(
    mean: float,
    n: int,
    *,
    cv: float = 0.15,
    model: Model = "lognormal",
    shares: Sequence[float] | None = None,
    unit: str = "N",
) -> Sharing:
    """Bound what n joints made alike hold together.

    Parameters
    ----------
    mean : float
        Mean strength of one joint, in `unit`.
    n : int
        Joints that share the load, 1 to 40.
    cv : float, optional
        Coefficient of variation among them, above 0 and at most 1.
    model : {"lognormal", "weibull"}, optional
        The law they follow.
    shares : sequence of float, optional
        Share of the load that each takes by the statics of the frame; alike where not given. They are brought to a sum
        of one.
    unit : str, optional
        Unit of `mean`.

    Returns
    -------
    Sharing
        Bounds, the highest first as their assumptions go: ``product``, ``frame``, ``bundle`` where the joints share
        alike, ``weakest``.

    Raises
    ------
    StatsError
        If a number is out of range, or shares are not n numbers of 0 or more.

    Notes
    -----
    product: n·m, as if every joint stood at its own strength at once. frame: m / s with s the largest share: the first
    joint to reach a mean strength. bundle: equal shares, and when one breaks the others take over what it held and it
    holds nothing: the mean of max (n - j + 1)·x_(j). weakest: equal shares, and the first to break ends it: n·x_(1),
    for the Weibull law n·m·n^(-1/k). With unequal shares the last becomes the load at which the first of them breaks.

    References
    ----------
    .. [1] David HA, Nagaraja HN (2003). Order Statistics, 3rd ed. Wiley.
    .. [2] Daniels HE (1945). The statistical theory of the strength of bundles of threads. I. Proceedings of the Royal
       Society A 183: 405-435.

    Examples
    --------
    >>> four = share(300.0, 4, cv=0.2, unit="lbf")
    >>> round(four["product"].mean), round(four["weakest"].mean)
    (1200, 969)
    """
    if not (isinstance(n, int | np.integer) and not isinstance(n, bool) and 1 <= n <= MOST_JOINTS):
        raise StatsError(f"n ({n!r}) must be a whole number of joints, 1 to {MOST_JOINTS}.")
    law = StrengthLaw(mean, cv, model)
    law = StrengthLaw(float(law.mean), float(law.cv), model)
    parts = _shares(shares, int(n))
    product = n * law.mean
    largest = float(parts.max())
    weakest_mean, weakest_low = _weakest(law, parts)
    rows = (
        ("product", "Perfect sharing", product, None, "n · m",
         "Every joint stands at its own strength at the same moment. No frame does that: this is the upper bound, and "
         "what people quote."),
        ("frame", "By the shares of the frame", law.mean / largest, None, "m / largest share",
         "Each joint takes its share by statics, all are of mean strength, and the one that takes most decides."),
        ("bundle", "Joints that pass their load on", bundle_mean(law, n), bundle_quantile(law, n, LOW_SHARE),
         "max over j of (n - j + 1) · x_(j)",
         "Joints share alike; one that breaks holds nothing more, and the others take over at once, without a jolt."),
        ("weakest", "The weakest first", weakest_mean, weakest_low, "least of x_i / share of i",
         "Brittle joints: the first that breaks ends it, since its jolt takes the others along."),
    )  # fmt: skip
    alike = bool(np.allclose(parts, 1 / n, rtol=1e-12))
    bounds = tuple(
        Bound(code, name, value, low, value / product, formula, assumption)
        for code, name, value, low, formula, assumption in rows
        if code != "bundle" or alike  # that law is of joints that share alike
    )
    return Sharing(law, int(n), tuple(float(p) for p in parts), unit, bounds, _words(bounds, int(n), unit))


def _shares(shares: Sequence[float] | None, n: int) -> NDArray[np.float64]:
    if shares is None:
        return np.full(n, 1 / n)
    try:
        parts = np.asarray(shares, dtype=float)
    except (TypeError, ValueError):
        parts = np.empty(0)
    if parts.shape != (n,) or not np.isfinite(parts).all() or (parts < 0).any() or parts.sum() <= 0:
        raise StatsError(f"shares ({shares!r}) must be {n} numbers of 0 or more, not all 0: one a joint.")
    return np.asarray(parts / parts.sum())


def _weakest(law: StrengthLaw, parts: NDArray[np.float64]) -> tuple[float, float]:
    """Mean and low point of the load at which the first joint breaks."""
    n = len(parts)
    if np.allclose(parts, 1 / n, rtol=1e-12):
        return n * law.mean * weakest_share(law, n), n * weakest_quantile(law, n, LOW_SHARE)
    loaded = parts[parts > 0]

    def lasts(load: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(np.prod(1 - law.below(load[:, None] * loaded), axis=1))

    high = float(law.quantile(1 - 1e-9)) / float(loaded.max())
    # Flat at both ends, so that the midpoint rule is as good as any.
    mean = float(high * lasts(high * (np.arange(2000) + 0.5) / 2000).mean())
    low = optimize.brentq(lambda f: 1 - float(lasts(np.array([f]))[0]) - LOW_SHARE, 1e-9 * high, high, rtol=1e-10)
    return mean, float(low)


def _words(bounds: tuple[Bound, ...], n: int, unit: str) -> str:
    by = {one.code: one for one in bounds}
    low = by["weakest"].low or 0.0
    return (
        f"If the first to break ends it, 95 of 100 such assemblies hold more than {show(low, unit)}, and on average "
        f"{show(by['weakest'].mean, unit)}: {100 * by['weakest'].of_product:.0f} % of {n} times one joint, "
        f"{show(by['product'].mean, unit)}, the upper bound, which no frame reaches."
    )
