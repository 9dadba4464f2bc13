"""What the seasons do across a joint: moisture from the air, movement from moisture, and what glue must hold."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from stats.errors import StatsError
from stats.footing.adjust import emc
from stats.footing.adjustment import checked_number
from stats.footing.units import show
from stats.interval import Interval
from stats.practice.working import Line

MOVEMENT_SOURCE = "Wood Handbook FPL-GTR-190, Table 13-5: D · C · (M_2 - M_1), from 6 to 14 % moisture"
ACROSS_SOURCE = "modulus across the grain 0.04 to 0.12 of that along it, Wood Handbook chapter 5 (from memory)"
TABLE_PCT = (6.0, 14.0)
"""Moisture between which the coefficients hold [%]."""
E_ACROSS_OVER_ALONG = (0.04, 0.12)
"""Modulus of elasticity across the grain over that along it."""
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_LARGEST_WIDTH_MM = 5000.0
_LARGEST_COEFFICIENT = 0.006
_LARGEST_PCT = 30.0  # about fibre saturation: above it wood does not move


@dataclass(frozen=True)
class Movement:
    """How much a width moves between two moistures.

    Parameters
    ----------
    change_mm : float
        Widening, or below zero shrinking [mm].
    strain : float
        The same over the width [-].
    width_mm, coefficient_per_pct, from_pct, to_pct : float
        What went in [mm, 1/%, %, %].
    lines : tuple of Line
        The working.
    notes : tuple of str
        What to mind.
    """

    change_mm: float
    strain: float
    width_mm: float
    coefficient_per_pct: float
    from_pct: float
    to_pct: float
    lines: tuple[Line, ...]
    notes: tuple[str, ...]


def coefficient(radial_per_pct: float, tangential_per_pct: float, ring_deg: float) -> float:
    """Coefficient of a board whose rings meet its face at an angle.

    Parameters
    ----------
    radial_per_pct, tangential_per_pct : float
        Change of width for each percent of moisture, over the width [1/%].
    ring_deg : float
        Angle between the rings and the board's face: 90 for a quartersawn board, whose width is radial, 0 for a
        flatsawn one, whose width is tangential [°].

    Returns
    -------
    float
        [1/%]

    Raises
    ------
    StatsError
        If a coefficient or the angle is out of range.

    Notes
    -----
    C_R·sin²α + C_T·cos²α: the strain along a line between the two principal directions. Derived from geometry.

    Examples
    --------
    >>> round(coefficient(0.00158, 0.00369, 90), 5), round(coefficient(0.00158, 0.00369, 0), 5)
    (0.00158, 0.00369)
    """
    checked_number(radial_per_pct, "radial_per_pct", 0.0, _LARGEST_COEFFICIENT)
    checked_number(tangential_per_pct, "tangential_per_pct", 0.0, _LARGEST_COEFFICIENT)
    checked_number(ring_deg, "ring_deg", 0.0, 90.0, open_low=False)
    turned = math.radians(ring_deg)
    return radial_per_pct * math.sin(turned) ** 2 + tangential_per_pct * math.cos(turned) ** 2


def movement(width_mm: float, coefficient_per_pct: float, from_pct: float, to_pct: float) -> Movement:
    """How much a width moves between two moistures.

    Parameters
    ----------
    width_mm : float
        Width across the grain at `from_pct` [mm].
    coefficient_per_pct : float
        Radial, tangential, or from `coefficient` [1/%].
    from_pct, to_pct : float
        Moisture content before and after [%].

    Returns
    -------
    Movement

    Raises
    ------
    StatsError
        If a number is out of range.

    Notes
    -----
    ΔD = D·C·(M2 - M1). The coefficients are for 6 to 14 %; beyond that the result is flagged.

    References
    ----------
    Wood Handbook FPL-GTR-190, chapter 13, Table 13-5.

    Examples
    --------
    >>> round(movement(300, 0.00369, 6, 12).change_mm, 2)
    6.64
    """
    checked_number(width_mm, "width_mm", 0.0, _LARGEST_WIDTH_MM)
    checked_number(coefficient_per_pct, "coefficient_per_pct", 0.0, _LARGEST_COEFFICIENT)
    for name, value in (("from_pct", from_pct), ("to_pct", to_pct)):
        checked_number(value, name, 0.0, _LARGEST_PCT, open_low=False)
    strain = coefficient_per_pct * (to_pct - from_pct)
    change = width_mm * strain
    inputs = {
        "D": (width_mm, "mm"),
        "C": (coefficient_per_pct, "1/%"),
        "M_1": (from_pct, "%"),
        "M_2": (to_pct, "%"),
    }
    line = Line("change of width", "ΔD", "D · C · (M_2 - M_1)", inputs, change, "mm", MOVEMENT_SOURCE)
    outside = min(from_pct, to_pct) < TABLE_PCT[0] or max(from_pct, to_pct) > TABLE_PCT[1]
    notes = ("The coefficients hold from 6 to 14 % moisture; this goes beyond.",) if outside else ()
    return Movement(change, strain, width_mm, coefficient_per_pct, from_pct, to_pct, (line,), notes)


@dataclass(frozen=True)
class CrossGrain:
    """What a glued cross-grain joint is forced to hold.

    Parameters
    ----------
    strain : float
        Strain that is prevented, as a size [-].
    free_mm : float
        How far the two faces would part if nothing held them, from end to end of the joint [mm].
    stress_mpa : Interval or None
        Elastic stress that would prevent it, least and most [MPa]; None without a modulus.
    tension_perp_mpa : float or None
        Strength of the wood across the grain, set beside it [MPa].
    lines : tuple of Line
        The working.
    notes : tuple of str
        What to mind.
    """

    strain: float
    free_mm: float
    stress_mpa: Interval | None
    tension_perp_mpa: float | None
    lines: tuple[Line, ...]
    notes: tuple[str, ...]


def cross_grain(moved: Movement, *, moe_gpa: float | None = None, tension_perp_mpa: float | None = None) -> CrossGrain:
    """What a glued joint is forced to hold whose other member runs along the grain there.

    Parameters
    ----------
    moved : Movement
        Of the member that moves, over the width of the joint.
    moe_gpa : float, optional
        Modulus of elasticity along the grain [GPa], for a bound on the stress.
    tension_perp_mpa : float, optional
        Strength across the grain [MPa], set beside it.

    Returns
    -------
    CrossGrain

    Raises
    ------
    StatsError
        If a number is out of range.

    Notes
    -----
    Along the grain wood hardly moves, so that the whole strain C·ΔM is prevented. Stress σ = ε·E_⊥ with E_⊥ 0.04 to
    0.12 of the modulus along the grain, if all of it is prevented and nothing creeps: an upper bound, since the bond
    and the wood give, and relax over weeks.

    Examples
    --------
    >>> held = cross_grain(movement(100, 0.00369, 12, 7), moe_gpa=12.5, tension_perp_mpa=5.5)
    >>> round(held.strain, 4), round(held.stress_mpa.low, 1), round(held.stress_mpa.high, 1)
    (0.0185, 9.2, 27.7)
    """
    strain = abs(moved.strain)
    lines = [
        *moved.lines,
        Line("strain prevented", "ε", "C · |M_2 - M_1|",
             {"C": (moved.coefficient_per_pct, "1/%"), "M_1": (moved.from_pct, "%"), "M_2": (moved.to_pct, "%")},
             strain, "", MOVEMENT_SOURCE, "along the grain wood hardly moves"),
    ]  # fmt: skip
    stress = None
    if moe_gpa is not None:
        checked_number(moe_gpa, "moe_gpa", 0.0, 40.0)
        low, high = (strain * share * moe_gpa * 1000 for share in E_ACROSS_OVER_ALONG)
        stress = Interval(low, high, 1.0)
        lines.append(
            Line("stress to prevent it, at most", "σ", "ε · e · E",
                 {"ε": (strain, ""), "e": (E_ACROSS_OVER_ALONG[1], ""), "E": (moe_gpa * 1000, "MPa")}, high, "MPa",
                 ACROSS_SOURCE, "if nothing gives and nothing creeps")
        )  # fmt: skip
    if tension_perp_mpa is not None:
        checked_number(tension_perp_mpa, "tension_perp_mpa", 0.0, 50.0)
    return CrossGrain(
        strain,
        abs(moved.change_mm),
        stress,
        tension_perp_mpa,
        tuple(lines),
        _cross_notes(moved, stress, tension_perp_mpa),
    )


def _cross_notes(moved: Movement, stress: Interval | None, strength: float | None) -> tuple[str, ...]:
    notes = [*moved.notes, "An upper bound: bond and wood give, and relax over weeks; but the seasons come back."]
    if moved.change_mm > 0:
        notes.append("It swells: the wood is crushed across the grain, and gaps open once it dries again.")
    elif stress is not None and strength is not None and stress.low > strength:
        notes.append(
            f"It shrinks: even the least of it, {show(stress.low, 'MPa')}, passes what the wood bears across the grain "
            f"({show(strength, 'MPa')}). Expect a crack, or a bond that creeps."
        )
    elif stress is not None and strength is not None and stress.high > strength:
        notes.append(
            f"It shrinks: the most of it, {show(stress.high, 'MPa')}, passes what the wood bears across the grain "
            f"({show(strength, 'MPa')}). It may crack; slots or buttons let it move (common practice)."
        )
    if stress is None:
        notes.append("No modulus given: the strain alone is known, not the stress.")
    return tuple(notes)


def year(
    temperature_c: ArrayLike, rh_pct: ArrayLike, *, width_mm: float, coefficient_per_pct: float, glued_pct: float
) -> pd.DataFrame:
    """Moisture and movement over a year of monthly air.

    Parameters
    ----------
    temperature_c, rh_pct : array_like, shape (12,)
        Mean temperature [°C] and relative humidity [%] of each month, January first.
    width_mm, coefficient_per_pct : float
        As for `movement`.
    glued_pct : float
        Moisture content when it was glued up [%].

    Returns
    -------
    DataFrame
        month, temperature_c, rh_pct, emc_pct, change_mm (against the day it was glued).

    Raises
    ------
    StatsError
        If there are not twelve months, or a number is out of range.

    Notes
    -----
    Each month's equilibrium moisture is taken as reached. Thick or finished wood lags behind the air and swings less:
    an upper bound.
    """
    t, h = (_months(values, name) for values, name in ((temperature_c, "temperature_c"), (rh_pct, "rh_pct")))
    moisture = np.asarray(emc(t, h))
    change = [
        movement(width_mm, coefficient_per_pct, glued_pct, min(float(m), _LARGEST_PCT)).change_mm for m in moisture
    ]
    return pd.DataFrame({"month": MONTHS, "temperature_c": t, "rh_pct": h, "emc_pct": moisture, "change_mm": change})


def _months(values: ArrayLike, name: str) -> NDArray[np.float64]:
    try:
        array = np.asarray(values, dtype=float)
    except (TypeError, ValueError):
        raise StatsError(f"{name} ({values!r}) must be twelve finite numbers, January first.") from None
    if array.shape != (12,) or not np.isfinite(array).all():
        raise StatsError(f"{name} (shape {array.shape}) must be twelve finite numbers, January first.")
    return array


@dataclass(frozen=True)
class Freshness:
    """How much of the evidence has lived through seasons or cycles.

    Parameters
    ----------
    series, seasoned, unknown : int
        Series in all, those cycled or soaked or loaded again and again before the test, and those that don't say.
    words : str
        The caution.
    """

    series: int
    seasoned: int
    unknown: int
    words: str


def freshness(conditioning: Sequence[str], cycles: Sequence[int | None]) -> Freshness:
    """How much of the evidence has lived through seasons or cycles, and the caution that follows.

    Parameters
    ----------
    conditioning : sequence of str
        Of each series, as the book records it: ``cycled``, ``soaked``, ``climate``, ``indoors`` or ``unknown``.
    cycles : sequence of int or None
        Load cycles before the test.

    Returns
    -------
    Freshness

    Raises
    ------
    StatsError
        If the two are not equally long.

    Examples
    --------
    >>> freshness(["indoors", "cycled", "unknown"], [None, None, None]).seasoned
    1
    """
    if len(conditioning) != len(cycles):
        raise StatsError(f"cycles ({len(cycles)}) must be as many as conditioning ({len(conditioning)}): one a series.")
    pairs = list(zip(conditioning, cycles, strict=True))
    seasoned = sum(kind in ("cycled", "soaked") or bool(count) for kind, count in pairs)
    unknown = sum(kind == "unknown" and not count for kind, count in pairs)
    start = "Fresh glue-ups flatter a joint: the seasons and use wear it."
    if not pairs:
        found = "The book has no series to tell by."
    elif not seasoned:
        found = f"None of {len(pairs)} series was cycled, soaked or loaded again and again before it was broken."
    else:
        found = (
            f"{seasoned} of {len(pairs)} series were cycled, soaked or loaded again and again before they were broken."
        )
    silent = f" {unknown} don't say." if unknown else ""
    return Freshness(len(pairs), seasoned, unknown, f"{start} {found}{silent}")
