"""The solid wood that joints are measured against: tabled strengths, and what they are for a specimen."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from stats.errors import NotCovered, StatsError
from stats.footing import adjust as adjustments
from stats.footing.adjustment import (
    ADJUSTMENTS,
    DRY_PCT,
    HANDBOOK,
    STANDARD_DEPTH_MM,
    STANDARD_TIME_S,
    Adjustment,
    Floats,
    cap,
    checked,
    checked_number,
    plain_float,
)
from stats.footing.step import Step
from stats.footing.timber import PROPERTIES, SG_LAWS, Timber

DEFAULT_ADJUST = frozenset({"moisture"})
"""Adjustments that are on unless said otherwise."""


@dataclass(frozen=True)
class Strength:
    """A strength of solid wood in the specimen's condition.

    Parameters
    ----------
    value : float or ndarray, shape (n,)
        The strength, in `unit`.
    unit : str
        Its unit.
    prop : str
        Which property.
    base : float
        The table's value at 12 %, in `unit`.
    adjustments : tuple of Adjustment
        What was applied, in order, the cap last if it bit.
    flags : tuple of str
        What was assumed or went beyond a formula's range.
    source : str
        The table's source.
    """

    value: Floats
    unit: str
    prop: str
    base: float
    adjustments: tuple[Adjustment, ...]
    flags: tuple[str, ...]
    source: str

    @property
    def steps(self) -> tuple[Step, ...]:
        """The table's value, then each adjustment."""
        name = PROPERTIES[self.prop].name
        table = Step(f"solid wood: {name}", "table value at 12 %", {}, self.base, self.unit, self.source)
        return (table, *(a.step(self.unit) for a in self.adjustments))


@dataclass(frozen=True)
class _Condition:
    """What is known of the specimens."""

    timber: Timber
    prop: str
    moisture_pct: Floats | None
    density_kgm3: Floats | None
    time_to_failure_s: Floats | None
    depth_mm: float | None


def _unapplied(name: str, formula: str, note: str, flagged: bool = False) -> Adjustment:
    """An adjustment that is on but could not change anything, and why."""
    return Adjustment(name, 1.0, formula, {}, HANDBOOK, note, flagged)


def _moisture(c: _Condition) -> Adjustment:
    if c.moisture_pct is None:
        return _unapplied("moisture", "taken at 12 %", "moisture not given: taken at 12 %, an assumption")
    dry, green = c.timber.value(c.prop), c.timber.value(c.prop, green=True)
    if dry is None or green is None:
        note = f"no green value for {c.timber.name}: its value at 12 % is used"
        return _unapplied("moisture", "taken at 12 %", note, flagged=True)
    return adjustments.moisture(dry, green, c.moisture_pct, c.timber.intersection_mc_pct)


def _density(c: _Condition) -> Adjustment:
    if c.density_kgm3 is None:
        return _unapplied("density", "taken as tabled", "density not given: the table's is used")
    if c.timber.sg_12 is None or (c.timber.group, "12%", c.prop) not in SG_LAWS:
        note = f"no specific gravity at 12 % for {c.timber.name}: not adjusted"
        return _unapplied("density", "taken as tabled", note, flagged=True)
    wet = np.asarray(DRY_PCT if c.moisture_pct is None else c.moisture_pct)
    # Density at moisture M is G·(1 + M/100)·1000, with G on the volume at that moisture.
    sg = np.asarray(c.density_kgm3) / (10 * (100 + np.where(np.isnan(wet), DRY_PCT, wet)))
    return adjustments.density(sg, c.timber.sg_12, SG_LAWS[(c.timber.group, "12%", c.prop)][1])


def _rate(c: _Condition) -> Adjustment:
    if c.time_to_failure_s is None:
        return _unapplied("rate", "taken at 300 s", "time to failure not given: taken at 300 s")
    back = adjustments.rate(c.time_to_failure_s, STANDARD_TIME_S)
    factor = plain_float(1 / np.asarray(back.factor))
    return Adjustment("rate", factor, f"1 / ({back.formula})", back.inputs, back.source, back.note)


def _duration(c: _Condition) -> Adjustment:
    if c.time_to_failure_s is None:
        return _unapplied("duration", "taken at 300 s", "time to failure not given: taken at 300 s")
    return adjustments.duration(STANDARD_TIME_S, c.time_to_failure_s)


def _size_depth(c: _Condition) -> Adjustment:
    if c.prop != "mor" or c.depth_mm is None:
        return _unapplied("size_depth", "not adjusted", "the depth rule is for bending of a known depth")
    return adjustments.size_depth(c.depth_mm, STANDARD_DEPTH_MM)


_APPLY: dict[str, Callable[[_Condition], Adjustment]] = {
    "moisture": _moisture,
    "density": _density,
    "rate": _rate,
    "duration": _duration,
    "size_depth": _size_depth,
}


def check_adjust(adjust: Collection[str]) -> None:
    """Refuse adjustments that are unknown or exclude each other.

    Parameters
    ----------
    adjust : collection of str
        Some of `ADJUSTMENTS`.

    Raises
    ------
    StatsError
        If one is unknown, or both rate and duration are there.
    """
    unknown = sorted(set(adjust) - set(ADJUSTMENTS))
    if unknown:
        raise StatsError(f"adjust ({', '.join(unknown)}) must be among {', '.join(ADJUSTMENTS)}.")
    if {"rate", "duration"} <= set(adjust):
        raise StatsError("adjust (rate, duration) must hold one of the two: both are for time under load.")


def strength(
    timber: Timber,
    prop: str,
    moisture_pct: ArrayLike | None = None,
    density_kgm3: ArrayLike | None = None,
    adjust: Collection[str] = DEFAULT_ADJUST,
    *,
    time_to_failure_s: ArrayLike | None = None,
    depth_mm: float | None = None,
) -> Strength:
    """Strength of solid wood in the specimens' condition.

    Parameters
    ----------
    timber : Timber
        The timber.
    prop : str
        A key of `PROPERTIES`.
    moisture_pct : float or array_like, shape (n,), optional
        Moisture content at the test [%]; without it 12 % is taken, and said so.
    density_kgm3 : float or array_like, shape (n,), optional
        Density at that moisture [kg/m³].
    adjust : collection of str, optional
        Adjustments turned on, of `adjustment.ADJUSTMENTS`.
    time_to_failure_s : float or array_like, shape (n,), optional
        Time to failure [s], for ``rate`` or ``duration``.
    depth_mm : float, optional
        Depth of the member [mm], for ``size_depth``.

    Returns
    -------
    Strength
        Value, adjustments, flags.

    Raises
    ------
    NotCovered
        If the table has no value for this property.
    StatsError
        If an adjustment is unknown or an input can't be.

    Notes
    -----
    The factors are multiplied, and their product is held within 0.75 to 1.33 and flagged where it passes.

    Examples
    --------
    >>> oak = Timber("red_oak", "red oak", "hardwood", mor_12_mpa=99, mor_green_mpa=57.2)
    >>> round(strength(oak, "mor", moisture_pct=8).value, 1)
    117.2
    """
    check_adjust(adjust)
    base = timber.value(prop)
    if base is None:
        raise NotCovered(f"the {PROPERTIES[prop].name} of {timber.name}", "the table has no value for it.")
    condition = _Condition(
        timber,
        prop,
        None if moisture_pct is None else checked(moisture_pct, "moisture_pct", 0, 300, open_low=False, nan=True),
        None if density_kgm3 is None else checked(density_kgm3, "density_kgm3", 0, 2000, nan=True),
        None if time_to_failure_s is None else checked(time_to_failure_s, "time_to_failure_s"),
        None if depth_mm is None else checked_number(depth_mm, "depth_mm"),
    )
    applied = [_APPLY[name](condition) for name in ADJUSTMENTS if name in adjust]
    total: Floats = 1.0
    for adjustment in applied:
        total = total * adjustment.factor
    held = cap(total)
    if held.flagged:
        applied.append(held)
        total = total * held.factor
    return Strength(
        value=base * total,
        unit=PROPERTIES[prop].unit,
        prop=prop,
        base=base,
        adjustments=tuple(applied),
        flags=tuple(a.note for a in applied if a.note),
        source=timber.source or f"{HANDBOOK} clear-wood tables",
    )
