"""One contrast pooled over studies, for many contrasts at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from stats.inference.pool import _NO_SPREAD
from stats.inference.reml import _GRID
from stats.inference.study_contrasts import BadContrasts, checked_contrasts

Floats = NDArray[np.float64]
_MOST_STEPS = 200


@dataclass(frozen=True, eq=False)
class Pooled:
    """Contrasts pooled each by itself, as `pool.random_effects` pools one by its defaults.

    Parameters
    ----------
    estimate, se : ndarray, shape (contrasts,)
        Pooled contrast and its standard error [unit of y].
    low, high : ndarray
        Interval for the mean over studies.
    prediction_low, prediction_high : ndarray
        Interval for one further study; NaN for a single study.
    tau2 : ndarray
        Between-study variance; NaN for a single study.
    k : ndarray of int
        Studies.
    level : float
    """

    estimate: Floats
    se: Floats
    low: Floats
    high: Floats
    prediction_low: Floats
    prediction_high: Floats
    tau2: Floats
    k: NDArray[np.intp]
    level: float


def random_effects_each(
    y: ArrayLike, v: ArrayLike, contrast: ArrayLike, contrasts: int, *, level: float = 0.95
) -> Pooled:
    """Pool each of many contrasts over its studies.

    Parameters
    ----------
    y : array_like, shape (n,)
        A study's contrast [-].
    v : array_like, shape (n,)
        Its variance within the study, above zero.
    contrast : array_like of int, shape (n,)
        Which contrast it is of, 0 to ``contrasts - 1``, each at least once.
    contrasts : int
        Number of contrasts.
    level : float, optional
        Level of all intervals.

    Returns
    -------
    Pooled

    Raises
    ------
    BadContrasts
        For a length that does not match, a value that is not finite, or a variance not above zero.

    Notes
    -----
    The model and the search of `pool.random_effects` (REML, Knapp-Hartung, prediction by t on k - 2): the derivative
    of the restricted likelihood is scanned over the same grid for all contrasts together, and all its changes from
    falling to rising are solved side by side.

    Examples
    --------
    >>> pooled = random_effects_each([-0.21, -0.35, -0.10, 0.4], [0.010, 0.012, 0.008, 0.02], [0, 0, 0, 1], 2)
    >>> pooled.estimate.round(3).tolist(), pooled.k.tolist()
    ([-0.209, 0.4], [3, 1])
    """
    ys, vs, _ = checked_contrasts(y, v, None, level)
    of = np.asarray(contrast, dtype=np.intp)
    k = np.bincount(of, minlength=contrasts) if of.shape == ys.shape else np.zeros(0, dtype=np.intp)
    if len(k) != contrasts or (k == 0).any():
        raise BadContrasts(f"contrast has shape {of.shape}; it needs a number below {contrasts} a study, each once.")
    fits = _Fits(ys, vs, of, contrasts, k)
    several = k > 1
    tau2 = np.where(several, fits.between(), 0.0)
    w = 1.0 / (vs + tau2[of])
    total = fits.summed(w)
    estimate = fits.summed(w * ys) / total
    df = np.maximum(k - 1, 1).astype(float)
    factor = fits.summed(w * (ys - estimate[of]) ** 2) / df
    factor = np.where(several & (factor >= _NO_SPREAD), factor, 1.0)
    se = np.sqrt(factor / total)
    point = (1 + level) / 2
    reach = np.where(several, special.stdtrit(df, point), special.ndtri(point)) * se
    ahead = special.stdtrit(np.maximum(1.0, k - 2.0), point) * np.sqrt(tau2 + np.maximum(1.0, factor) / total)
    ahead = np.where(several, ahead, np.nan)
    return Pooled(
        estimate=estimate,
        se=se,
        low=estimate - reach,
        high=estimate + reach,
        prediction_low=estimate - ahead,
        prediction_high=estimate + ahead,
        tau2=np.where(several, tau2, np.nan),
        k=k,
        level=level,
    )


class _Fits:
    """The restricted likelihoods of all contrasts as functions of a between-study variance each."""

    def __init__(self, y: Floats, v: Floats, of: NDArray[np.intp], size: int, k: NDArray[np.intp]) -> None:
        self.y, self.v, self.of, self.size = y, v, of, size
        order = np.lexsort((v, of))
        first = np.cumsum(k) - k
        middle = v[order]
        # The median of each contrast's variances, as numpy has it.
        self.scale = (middle[first + (k - 1) // 2] + middle[first + k // 2]) / 2
        self.k = k

    def summed(self, values: Floats) -> Floats:
        return np.bincount(self.of, values, self.size).astype(np.float64, copy=False)

    def at(self, t: Floats) -> tuple[Floats, Floats]:
        """Minus twice the restricted log likelihood and its scaled derivative, at one variance a contrast."""
        u = 1.0 / (self.v + t[self.of])
        total = self.summed(u)
        r = self.y - (self.summed(u * self.y) / total)[self.of]
        criterion = -self.summed(np.log(u)) + np.log(total) + self.summed(u * r**2)
        return criterion, self._slope(u, total, u * r)

    def slope(self, t: Floats) -> Floats:
        """The scaled derivative alone."""
        u = 1.0 / (self.v + t[self.of])
        total = self.summed(u)
        return self._slope(u, total, u * (self.y - (self.summed(u * self.y) / total)[self.of]))

    def _slope(self, u: Floats, total: Floats, ur: Floats) -> Floats:
        squares = self.summed(u**2)
        slope: Floats = (total - squares / total - self.summed(ur**2)) / squares
        return slope

    def between(self) -> Floats:
        """The variance that minimises each criterion, 0 where it rises from zero on."""
        points = [np.zeros(self.size), *(self.scale * g for g in _GRID)]
        values = [self.at(t) for t in points]
        while (values[-1][1][self.k > 1] < 0.0).any():
            points.append(points[-1] * 10.0)
            values.append(self.at(points[-1]))
            if len(points) > _MOST_STEPS:  # pragma: no cover - the derivative tends to df / t > 0
                raise ArithmeticError("A restricted likelihood has no minimum.")
        t, slopes = np.array(points), np.array([slope for _, slope in values])
        best = np.where(slopes[0] >= 0.0, values[0][0], np.inf)
        found = np.zeros(self.size)
        turns = (slopes[:-1] < 0.0) & (slopes[1:] >= 0.0) & (self.k > 1)
        while turns.any():
            # The first turn of each contrast that has one left.
            some: NDArray[np.bool_] = np.any(turns, axis=0)
            at = np.argmax(turns, axis=0)[some]
            root = np.zeros(self.size)
            root[some] = self._part(some).root(t[at, some], t[at + 1, some])
            turns[at, some] = False
            criterion = self.at(root)[0]
            better = some & (criterion < best)
            best, found = np.where(better, criterion, best), np.where(better, root, found)
        return found

    def _part(self, which: NDArray[np.bool_]) -> _Fits:
        kept = which[self.of]
        place = np.cumsum(which) - 1
        return _Fits(self.y[kept], self.v[kept], place[self.of[kept]], int(which.sum()), self.k[which])

    def root(self, low: Floats, high: Floats) -> Floats:
        return falling_to_rising(self.slope, low, high, self.scale)


def falling_to_rising(f: Callable[[Floats], Floats], low: Floats, high: Floats, scale: Floats) -> Floats:
    """Solve f(t) = 0 for many t at once, each between a `low` where f < 0 and a `high` where f >= 0.

    Notes
    -----
    False position in Anderson and Björck's form, with a halving whenever three steps have not halved a bracket.
    """
    a, b, fa, fb = low.copy(), high.copy(), f(low), f(high)
    width = b - a
    for step in range(_MOST_STEPS):
        with np.errstate(invalid="ignore", divide="ignore"):
            t = (a * fb - b * fa) / (fb - fa)
        t = np.where((t > a) & (t < b), t, (a + b) / 2)
        if step % 3 == 2:
            t = np.where(b - a > width / 2, (a + b) / 2, t)
            width = b - a
        ft = f(t)
        below = ft < 0.0
        with np.errstate(invalid="ignore", divide="ignore"):
            lighter = np.where(below, 1 - ft / fa, 1 - ft / fb)
        lighter = np.where(lighter > 0, lighter, 0.5)
        fb, fa = np.where(below, fb * lighter, ft), np.where(below, ft, fa * lighter)
        moved = np.minimum(np.abs(t - a), np.abs(t - b))
        a, b = np.where(below, t, a), np.where(below, b, t)
        done = (b - a <= 1e-13 * b + 1e-14 * scale) | (ft == 0.0) | (moved <= 1e-15 * b)
        if done.all():
            break
    return np.where(ft == 0.0, t, np.where(below, a, b))
