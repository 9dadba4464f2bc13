"""Unit slips: readings off by the factor between two units, named as such with the odds.

Each reading is taken to be one of three things: an ordinary member of its series; an odd specimen (starved
of glue, split, of better timber), spread widely about it; or an ordinary one read or typed in another
unit, which lands it a known factor away. Bayes' rule gives the odds of the last, at stated prior shares.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import get_args

import numpy as np
from numpy.typing import ArrayLike

from stats.inference.sample import (
    BadSample,
    BadSetting,
    Floats,
    checked,
    checked_above,
    checked_count,
    checked_share,
)
from stats.inference.slip_factors import FACTORS, Factor, Kind
from stats.scalar import said, scalar

TYPICAL_SD_LOG = 0.15  # joints of one series commonly have a coefficient of variation of 10 to 20 %
SPREADS = np.array([0.04, 0.07, 0.11, 0.15, 0.2, 0.28, 0.4])
PRIOR = 0.02  # share of readings, or of series, taken to hold a slip before looking
ODD_SHARE = 0.05  # share taken to be odd for a reason of their own
# How far those lie, as the mean of an exponential on logs: a joint can be starved of glue to any degree,
# but is seldom much stronger than its fellows.
ODD_WEAKER, ODD_STRONGER = 0.35, 0.15
LEAST_SHARE_NAMED = 0.05
CENTRE_STEP, CENTRE_REACH = 0.02, 0.3  # of the grid of typical logs, and how far from a reading it goes


@dataclass(frozen=True)
class Candidate:
    """One reading of what went wrong.

    Parameters
    ----------
    factor : float
        What the reading would be multiplied by to agree with the rest.
    likely : str
        In words.
    share : float
        Its share of the probability of a slip, 0 to 1.
    """

    factor: float
    likely: str
    share: float


@dataclass(frozen=True)
class Slip:
    """A reading, or a series, that looks like a slip of units.

    Parameters
    ----------
    index : int or None
        The reading, from 0; None where it can't be told which (or the whole series is meant).
    likely : str
        The likeliest slip in words.
    factor : float
        What the reading would be multiplied by to agree.
    odds : float
        Odds for a slip of any kind against none, at the prior shares stated.
    residual_log : float
        Log of the reading over the typical one.
    candidates : tuple of Candidate
        All that are worth naming, likeliest first: 9.8 and 10 can seldom be told apart.
    """

    index: int | None
    likely: str
    factor: float
    odds: float
    residual_log: float
    candidates: tuple[Candidate, ...]

    @property
    def probability(self) -> float:
        """Probability of a slip, from the odds."""
        return self.odds / (1 + self.odds) if np.isfinite(self.odds) else 1.0


@dataclass(frozen=True)
class SlipReport:
    """The slips found in a series, and what could not be told.

    Parameters
    ----------
    slips : tuple of Slip
        What looks like a slip.
    n : int
        Readings.
    kind : {"force", "moment", "stress", "pressure", "mass", "length"}
        What they are.
    prior : float
        Share taken to be slips before looking.
    sd_log : float
        Spread within the series, as sd of logs [-].
    notes : tuple of str
        What could not be told.
    """

    slips: tuple[Slip, ...]
    n: int
    kind: Kind
    prior: float
    sd_log: float
    notes: tuple[str, ...] = field(default=())


def unit_slips(
    values: ArrayLike,
    *,
    kind: Kind = "force",
    sd_log: float | None = None,
    prior: float = PRIOR,
    least_odds: float = 1.0,
) -> SlipReport:
    """Find specimens of a series that look as if they were read or typed in another unit.

    Parameters
    ----------
    values : array_like, shape (n,)
        Readings of one series, above zero.
    kind : {"force", "moment", "stress", "pressure", "mass", "length"}
        What they are, which says the slips that can be made.
    sd_log : float, optional
        Spread expected within the series, as sd of logs. Left out, it is learnt from the series, starting
        from what is common for joints.
    prior : float
        Share of readings taken to be slips before looking.
    least_odds : float
        Slips with lower odds [-] are not reported.

    Returns
    -------
    SlipReport

    Raises
    ------
    BadSample
        If a reading is not finite and above zero, or there is none.
    BadSetting
        If kind is unknown, or prior, sd_log or least_odds out of range.

    Notes
    -----
    Log readings are independent given the typical log value c and the spread s, with density
    ``(1 - prior - odd) N(x; c, s) + odd A(x; c) + prior sum_f w_f N(x; c +- log f, s)``. odd is 5 %; A falls
    off exponentially, by 0.35 (on logs) below c and 0.15 above, since a joint can be starved to any degree
    but is seldom much stronger than its fellows. c is flat, s as given or lognormal about 0.15; both are
    summed over a grid. The weights w_f say how common each slip is held to be, a judgement and no count.

    Where more than half of a series slipped, the right ones look wrong. A factor of two or so (kilograms
    against pounds) is seldom told from an odd specimen, and 1.36 (newton metres against foot-pounds) never,
    so that it is not looked for.

    Examples
    --------
    >>> report = unit_slips([2210, 2480, 523, 2350, 2290])
    >>> slip = report.slips[0]
    >>> slip.index, slip.likely
    (2, 'read as newtons but looks like pounds-force')
    """
    array = checked(values)
    factors, prior, least_odds = _settings(kind, prior, least_odds)
    spreads, spread_log_prior = _spreads(sd_log)
    logs = np.log(array)
    notes: tuple[str, ...] = ()
    if array.size == 1:
        notes = ("One reading has nothing beside it to look wrong against.",)
        return SlipReport((), 1, kind, prior, float(spreads[spread_log_prior.argmax()]), notes)
    shifts, shares, remedies = _shifts(factors)
    centres = _centres(logs)
    weights, slip_given = _grid(logs, centres, spreads, spread_log_prior, (shifts, prior * shares))
    by_shift = np.einsum("cs,csnk->nk", weights, slip_given)
    each = by_shift.sum(axis=1)
    anywhere = 1 - float((weights * np.prod(1 - slip_given.sum(axis=3), axis=2)).sum())
    centre = float(np.median(logs))
    slips = [
        _slip(i, logs[i] - centre, each[i], by_shift[i], remedies)
        for i in range(array.size)
        if _odds(each[i]) >= least_odds and each[i] > 0.5
    ]
    if not slips and _odds(anywhere) >= least_odds:
        at = int(each.argmax())
        slips = [_slip(None, logs[at] - centre, anywhere, by_shift[at], remedies)]
        notes = ("Some readings differ by the factor of a unit, but it can't be told which are wrong.",)
    elif array.size <= 3:
        notes = (f"With {array.size} readings only a gross slip shows.",)
    slips.sort(key=lambda slip: -slip.odds)
    learnt = float((weights.sum(axis=0) * spreads).sum())
    return SlipReport(tuple(slips), array.size, kind, prior, learnt, notes)


def series_slip(
    mean_log: float,
    n: int,
    expected_log: float,
    expected_sd_log: float,
    *,
    kind: Kind = "force",
    sd_log: float = TYPICAL_SD_LOG,
    prior: float = PRIOR,
) -> Slip:
    """Odds that a whole series was read in another unit, against what such series are expected to give.

    Parameters
    ----------
    mean_log : float
        Mean of the logs of the series.
    n : int
        Specimens in it.
    expected_log : float
        Log of the geometric mean expected, from like series or from the timber's strength.
    expected_sd_log : float
        How far like series lie from that, as sd of logs.
    kind : {"force", "moment", "stress", "pressure", "mass", "length"}
        What the readings are.
    sd_log : float
        Spread of specimens within the series, as sd of logs.
    prior : float
        Share of series taken to hold such a slip before looking.

    Returns
    -------
    Slip
        Its index is None; low odds mean that no slip is seen.

    Raises
    ------
    BadSample
        If a log is not finite.
    BadSetting
        If a spread, count or prior is out of range.

    Notes
    -----
    The three-part mixture of `unit_slips` for the one difference, with
    ``s^2 = expected_sd_log^2 + sd_log^2 / n``. A wide expectation (a factor of two either way) can show
    only large slips.

    Examples
    --------
    >>> import numpy as np
    >>> slip = series_slip(np.log(52), 6, np.log(240), 0.25)
    >>> slip.likely, slip.odds > 2
    ('read as newtons but looks like pounds-force', True)
    """
    for name, value in (("mean_log", mean_log), ("expected_log", expected_log)):
        if not math.isfinite(scalar(value)):
            raise BadSample(f"{name} is {said(value)}; it must be a finite number.")
    n = checked_count(n, "n", 1)
    wide = checked_above(expected_sd_log, "expected_sd_log")
    within = checked_above(sd_log, "sd_log")
    factors, prior, _ = _settings(kind, prior, 1.0)
    shifts, shares, remedies = _shifts(factors)
    residual = float(mean_log - expected_log)
    spread = np.array([np.sqrt(wide**2 + within**2 / n)])
    _, slip_given = _grid(np.array([residual]), np.zeros(1), spread, np.zeros(1), (shifts, prior * shares))
    by_shift = slip_given[0, 0, 0]
    return _slip(None, residual, float(by_shift.sum()), by_shift, remedies)


def _settings(kind: Kind, prior: float, least_odds: float) -> tuple[tuple[Factor, ...], float, float]:
    if kind not in get_args(Kind):
        raise BadSetting(f"kind is {kind!r}; it must be one of {', '.join(get_args(Kind))}.")
    prior = checked_share(prior, "prior")
    if prior + ODD_SHARE >= 1:
        raise BadSetting(f"prior is {prior}; it must leave room for ordinary readings, below 0.95.")
    return FACTORS[kind], prior, checked_above(least_odds, "least_odds")


def _spreads(sd_log: float | None) -> tuple[Floats, Floats]:
    """Spreads to sum over and the log of their prior weight."""
    if sd_log is not None:
        return np.array([checked_above(sd_log, "sd_log")]), np.zeros(1)
    return SPREADS, -((np.log(SPREADS / TYPICAL_SD_LOG) / np.log(1.8)) ** 2) / 2


def _shifts(factors: tuple[Factor, ...]) -> tuple[Floats, Floats, list[tuple[float, str]]]:
    """Log displacement each slip gives a reading, its share of all slips, and its remedy and text."""
    shifts = np.array([sign * np.log(f.value) for f in factors for sign in (-1.0, 1.0)])
    weights = np.array([f.weight for f in factors for _ in range(2)])
    remedies = [r for f in factors for r in ((f.value, f.too_low), (1 / f.value, f.too_high))]
    return shifts, weights / weights.sum(), remedies


def _centres(logs: Floats) -> Floats:
    """Typical logs worth considering: a grid, less the empty stretches far from every reading."""
    grid = np.arange(logs.min(), logs.max() + CENTRE_STEP, CENTRE_STEP)
    ordered = np.sort(logs)
    above = ordered[np.minimum(np.searchsorted(ordered, grid), logs.size - 1)]
    below = ordered[np.maximum(np.searchsorted(ordered, grid) - 1, 0)]
    return np.asarray(grid[np.minimum(np.abs(above - grid), np.abs(grid - below)) <= CENTRE_REACH])


def _grid(
    logs: Floats,
    centres: Floats,
    spreads: Floats,
    spread_log_prior: Floats,
    slip_prior: tuple[Floats, Floats],
) -> tuple[Floats, Floats]:
    """Posterior weight of each centre and spread, and the chance of each slip of each reading given them.

    Shapes: (centres, spreads) and (centres, spreads, readings, slips).
    """
    shifts, shares = slip_prior
    x = logs[None, None, :] - centres[:, None, None]
    s = spreads[None, :, None]
    ordinary = (1 - shares.sum() - ODD_SHARE) * _normal(x, s)
    weaker, stronger = np.hypot(ODD_WEAKER, s), np.hypot(ODD_STRONGER, s)
    # an odd reading is never out of the question, so the total never runs down to zero
    odd = ODD_SHARE * np.exp(-np.abs(x) / np.where(x < 0, weaker, stronger)) / (weaker + stronger)
    slip = shares * _normal(x[..., None] - shifts, s[..., None])
    total = ordinary + odd + slip.sum(axis=3)
    log_weight = np.log(total).sum(axis=2) + spread_log_prior
    weight = np.exp(log_weight - log_weight.max())
    return weight / weight.sum(), slip / total[..., None]


def _normal(x: Floats, sd: Floats) -> Floats:
    return np.asarray(np.exp(-((x / sd) ** 2) / 2) / (sd * np.sqrt(2 * np.pi)))


def _odds(probability: float) -> float:
    return float(probability / (1 - probability)) if probability < 1 else float("inf")


def _slip(
    index: int | None,
    residual: float,
    probability: float,
    by_shift: Floats,
    remedies: list[tuple[float, str]],
) -> Slip:
    total = float(by_shift.sum())
    share = by_shift / total if total > 0 else np.full_like(by_shift, 1 / by_shift.size)
    order = np.argsort(-share, kind="stable")
    named = tuple(
        Candidate(remedies[i][0], remedies[i][1], float(share[i]))
        for rank, i in enumerate(order)
        if rank == 0 or share[i] >= LEAST_SHARE_NAMED
    )
    return Slip(index, named[0].likely, named[0].factor, _odds(probability), float(residual), named)
