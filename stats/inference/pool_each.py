"""One contrast pooled over studies, for many contrasts at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from stats.inference.pool import _NO_SPREAD
from stats.inference.reml import _GRID
from stats.inference.study_contrasts import BadContrasts, checked_unnamed

Floats = NDArray[np.float64]
_MOST_STEPS = 200


@dataclass(frozen=True, eq=False)
class Pooled:
    """Contrasts pooled each by itself, as `pool.random_effects` pools one by its defaults.

    Parameters
    ----------
    estimate, se : ndarray, shape (contrasts,)
        Pooled contrast and its standard error [unit of y].
    low, high : ndarray, shape (contrasts,)
        Interval for the mean over studies [unit of y].
    prediction_low, prediction_high : ndarray, shape (contrasts,)
        Interval for one further study [unit of y]; NaN for a single study.
    tau2 : ndarray, shape (contrasts,)
        Between-study variance [unit of y squared]; NaN for a single study.
    k : ndarray of int, shape (contrasts,)
        Studies.
    level : float
        Level of the intervals.
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
    ys, vs = checked_unnamed(y, v, level)
    of = np.asarray(contrast, dtype=np.intp)
    k = np.bincount(of, minlength=contrasts) if of.shape == ys.shape else np.zeros(0, dtype=np.intp)
    if len(k) != contrasts or (k == 0).any():
        raise BadContrasts(f"contrast has shape {of.shape}; it needs a number below {contrasts} a study, each once.")
    fits = _Fits(ys, vs, of, contrasts, k, _medians(vs, of, k))
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


def _medians(v: Floats, of: NDArray[np.intp], k: NDArray[np.intp]) -> Floats:
    """The median of each contrast's variances, as numpy has it."""
    rising, first = v[np.lexsort((v, of))], np.cumsum(k) - k
    middle: Floats = (rising[first + (k - 1) // 2] + rising[first + k // 2]) / 2
    return middle


class _Fits:
    """The restricted likelihoods of all contrasts as functions of a between-study variance each."""

    def __init__(
        self, y: Floats, v: Floats, of: NDArray[np.intp], size: int, k: NDArray[np.intp], scale: Floats
    ) -> None:
        self.y, self.v, self.of, self.size, self.k, self.scale = y, v, of, size, k, scale

    def summed(self, values: Floats) -> Floats:
        return np.bincount(self.of, values, self.size).astype(np.float64, copy=False)

    def criterion(self, t: Floats) -> Floats:
        """Minus twice the restricted log likelihood, at one variance a contrast."""
        u = 1.0 / (self.v + t[self.of])
        total = self.summed(u)
        r = self.y - (self.summed(u * self.y) / total)[self.of]
        criterion: Floats = -self.summed(np.log(u)) + np.log(total) + self.summed(u * r**2)
        return criterion

    def slope(self, t: Floats) -> Floats:
        """Its scaled derivative."""
        u = 1.0 / (self.v + t[self.of])
        total = self.summed(u)
        ur = u * (self.y - (self.summed(u * self.y) / total)[self.of])
        squares = self.summed(u**2)
        slope: Floats = (total - squares / total - self.summed(ur**2)) / squares
        return slope

    def between(self) -> Floats:
        """The variance that minimises each criterion, 0 where it rises from zero on."""
        points = [np.zeros(self.size), *(self.scale * g for g in _GRID)]
        rises = [self.slope(t) for t in points]
        while (rises[-1][self.k > 1] < 0.0).any():
            points.append(points[-1] * 10.0)
            rises.append(self.slope(points[-1]))
            if len(points) > _MOST_STEPS:  # pragma: no cover - the derivative tends to df / t > 0
                raise ArithmeticError("A restricted likelihood has no minimum.")
        t, slopes = np.array(points), np.array(rises)
        best = np.where(slopes[0] >= 0.0, self.criterion(t[0]), np.inf)
        found = np.zeros(self.size)
        turns = (slopes[:-1] < 0.0) & (slopes[1:] >= 0.0) & (self.k > 1)
        while turns.any():
            # The first turn of each contrast that has one left.
            some: NDArray[np.bool_] = np.any(turns, axis=0)
            at = np.argmax(turns, axis=0)[some]
            root = np.zeros(self.size)
            root[some] = self._part(some).root(t[at, some], t[at + 1, some])
            turns[at, some] = False
            criterion = self.criterion(root)
            better = some & (criterion < best)
            best, found = np.where(better, criterion, best), np.where(better, root, found)
        return found

    def _part(self, which: NDArray[np.bool_]) -> _Fits:
        kept = which[self.of]
        place = np.cumsum(which) - 1
        part = self.y[kept], self.v[kept], place[self.of[kept]]
        return _Fits(*part, int(which.sum()), self.k[which], self.scale[which])

    def root(self, low: Floats, high: Floats) -> Floats:
        return falling_to_rising(self.slope, low, high, self.scale)


def falling_to_rising(f: Callable[[Floats], Floats], low: Floats, high: Floats, scale: Floats) -> Floats:
    """Solve f(t) = 0 for many t at once, each between a `low` where f < 0 and a `high` where f >= 0.

    Notes
    -----
    Chandrupatla's method: inverse quadratic interpolation where the last three points allow it, else a halving [1]_.

    References
    ----------
    .. [1] Chandrupatla TR (1997). A new hybrid quadratic/bisection algorithm for finding the zero of a nonlinear
       function without using derivatives. Advances in Engineering Software 28: 145-149.
    """
    # The newest point, the one across the root from it, and the one before.
    a, b, fa, fb = high, low, f(high), f(low)
    part = np.full(len(a), 0.5)
    for _ in range(_MOST_STEPS):
        t = a + part * (b - a)
        ft = f(t)
        across = (ft < 0.0) == (fa < 0.0)
        c, fc = np.where(across, a, b), np.where(across, fa, fb)
        b, fb = np.where(across, b, a), np.where(across, fb, fa)
        a, fa = t, ft
        best = np.where(np.abs(fa) < np.abs(fb), a, b)
        with np.errstate(invalid="ignore", divide="ignore"):
            least = (1e-13 * np.abs(best) + 1e-14 * scale) / (2.0 * np.abs(b - a))
            if ((least > 0.5) | (np.minimum(np.abs(fa), np.abs(fb)) == 0.0)).all():
                break
            least = np.minimum(least, 0.5)
            xi, phi = (a - b) / (c - b), (fa - fb) / (fc - fb)
            inner = (phi**2 < xi) & ((1.0 - phi) ** 2 < 1.0 - xi)
            part = fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb)
        part = np.where(inner & np.isfinite(part), np.clip(part, least, 1.0 - least), 0.5)
    return best
