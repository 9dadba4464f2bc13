"""Adjustments between conditions: each named, with its formula and source, and never applied unasked."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from stats.errors import StatsError
from stats.footing.adjustment import (
    ADJUSTMENTS,
    CAP_HIGH,
    CAP_LOW,
    DRY_PCT,
    GREEN_PCT,
    HANDBOOK,
    MOISTURE_FLOOR_PCT,
    MOISTURE_VALID_PCT,
    RATE_PER_DECADE,
    STANDARD_DEPTH_MM,
    STANDARD_TIME_S,
    Adjustment,
    Floats,
    cap,
    checked,
    checked_number,
    plain_float,
)
from stats.footing.step import scalar_or_tuple

__all__ = [
    "ADJUSTMENTS",
    "CAP_HIGH",
    "CAP_LOW",
    "Adjustment",
    "cap",
    "density",
    "duration",
    "emc",
    "hankinson",
    "moisture",
    "rate",
    "size_depth",
    "stress_level_pct",
]


def moisture(dry: float, green: float, moisture_pct: ArrayLike, intersection_pct: float = GREEN_PCT) -> Adjustment:
    """Strength at a moisture content over strength at 12 %.

    Parameters
    ----------
    dry, green : float
        The property at 12 % and green, in one unit.
    moisture_pct : float or array_like, shape (n,)
        Moisture content [%]; NaN where not known, which is taken as 12 %.
    intersection_pct : float, optional
        Mp, above which drying does not yet strengthen [%].

    Returns
    -------
    Adjustment
        Factor from 12 % to `moisture_pct`.

    Raises
    ------
    StatsError
        If a property is not positive or a moisture content can't be.

    Notes
    -----
    P = P12·(P12/Pg)^((12 − M)/(Mp − 12)) up to Mp and the green value above. Held valid from 8 %; between 4
    and 8 % it is used and flagged, below 4 % the value at 4 % stands. For clear wood: glue softens too, so
    that for a joint the factor is an upper guide.

    References
    ----------
    Wood Handbook FPL-GTR-282, Eq. 5-3 (from memory).

    Examples
    --------
    >>> round(103 * moisture(103, 66, 8, 24).factor, 1)
    119.5
    """
    dry, green = checked_number(dry, "dry"), checked_number(green, "green")
    mp = checked_number(intersection_pct, "intersection_pct", DRY_PCT, 50.0)
    given = np.asarray(checked(moisture_pct, "moisture_pct", 0.0, 300.0, open_low=False, nan=True))
    used = np.where(np.isnan(given), DRY_PCT, np.clip(given, MOISTURE_FLOOR_PCT, mp))
    factor = (dry / green) ** ((DRY_PCT - used) / (mp - DRY_PCT))
    notes = []
    if np.any(np.isnan(given)):
        notes.append("taken at 12 % where moisture was not given: an assumption")
    low = bool(np.any(given < MOISTURE_VALID_PCT))
    if low:
        notes.append("used below 8 %, where the formula is not surely valid; below 4 % its value there")
    return Adjustment(
        "moisture",
        plain_float(factor),
        "(P12 / Pg)^((12 - M) / (Mp - 12))",
        {
            "P12": (dry, ""),
            "Pg": (green, ""),
            "M": (scalar_or_tuple(plain_float(used)), "%"),
            "Mp": (mp, "%"),
        },
        f"{HANDBOOK} Eq. 5-3 (from memory)",
        "; ".join(notes),
        low,
    )


def density(sg: ArrayLike, sg_table: float, exponent: float) -> Adjustment:
    """Strength of a specimen of another specific gravity than the table's.

    Parameters
    ----------
    sg : float or array_like, shape (n,)
        The specimen's specific gravity; NaN where not known, which leaves it unadjusted.
    sg_table : float
        Specific gravity of the tabled timber [-].
    exponent : float
        Exponent of the property's law [-], from `timber.SG_LAWS`.

    Returns
    -------
    Adjustment
        Factor from the tabled timber to the specimen.

    Raises
    ------
    StatsError
        If a specific gravity is not above 0 and at most 1.5.

    Notes
    -----
    (G/G0)^e with the exponents between species; within a species they hold better than between them.

    References
    ----------
    Wood Handbook FPL-GTR-282, Table 5-11 (from memory, checked against the clear-wood tables).

    Examples
    --------
    >>> round(density(0.68, 0.63, 1.13).factor, 3)
    1.09
    """
    given = np.asarray(checked(sg, "sg", 0.0, 1.5, nan=True))
    base = checked_number(sg_table, "sg_table", 0.0, 1.5)
    power = checked_number(exponent, "exponent", 0.0, 5.0, open_low=False)
    used = np.where(np.isnan(given), base, given)
    return Adjustment(
        "density",
        plain_float((used / base) ** power),
        "(G / G0)^e",
        {"G": (scalar_or_tuple(plain_float(used)), ""), "G0": (base, ""), "e": (power, "")},
        f"{HANDBOOK} Table 5-11 (from memory, checked against the clear-wood tables)",
        "table value kept where density was not given" if np.any(np.isnan(given)) else "",
    )


def rate(from_s: ArrayLike, to_s: ArrayLike = STANDARD_TIME_S) -> Adjustment:
    """Strength at one time to failure over strength at another.

    Parameters
    ----------
    from_s, to_s : float or array_like, shape (n,)
        Time to failure before and after [s].

    Returns
    -------
    Adjustment
        Factor from `from_s` to `to_s`.

    Raises
    ------
    StatsError
        If a time is not positive, or the two are ten decades apart.

    Notes
    -----
    1 − 0.08·log10(to/from): about 8 % (7 to 10 %) for ten times the time. A straight line in decades: it is
    meant for a few of them.

    References
    ----------
    Wood Handbook FPL-GTR-282, chapter 5 (from memory).

    Examples
    --------
    >>> round(50 * rate(30, 300).factor, 1)
    46.0
    """
    before, after = checked(from_s, "from_s"), checked(to_s, "to_s")
    factor = 1 - RATE_PER_DECADE * np.log10(np.asarray(after) / np.asarray(before))
    if np.any(factor <= 0):
        raise StatsError(f"from_s and to_s ({before}, {after}) are too far apart for a straight line.")
    return Adjustment(
        "rate",
        plain_float(factor),
        "1 - 0.08 · log10(t / t0)",
        {"t0": (scalar_or_tuple(before), "s"), "t": (scalar_or_tuple(after), "s")},
        f"{HANDBOOK} chapter 5, about 8 % for each decade (from memory)",
    )


def stress_level_pct(time_s: ArrayLike) -> Floats:
    """Share of the short-test strength that wood carries for a time, by the Madison curve.

    Parameters
    ----------
    time_s : float or array_like, shape (n,)
        Time under load [s].

    Returns
    -------
    float or ndarray
        Stress level [%], 100 at about seven and a half minutes.

    Notes
    -----
    108.4/t^0.04635 + 18.3.

    References
    ----------
    The Madison curve for duration of load (from memory).
    """
    return plain_float(108.4 / np.asarray(checked(time_s, "time_s")) ** 0.04635 + 18.3)


def duration(from_s: ArrayLike, to_s: ArrayLike) -> Adjustment:
    """Strength under a load that lasts, over strength under another, by the Madison curve.

    Parameters
    ----------
    from_s, to_s : float or array_like, shape (n,)
        Time under load before and after [s].

    Returns
    -------
    Adjustment
        Factor from `from_s` to `to_s`.

    Raises
    ------
    StatsError
        If a time is not positive.

    Notes
    -----
    SL(t) = 108.4/t^0.04635 + 18.3 at the one time over the other. An alternative to `rate`, never beside it.

    Examples
    --------
    >>> round(duration(30, 300).factor, 3)
    0.915
    """
    before, after = checked(from_s, "from_s"), checked(to_s, "to_s")
    factor = np.asarray(stress_level_pct(after)) / np.asarray(stress_level_pct(before))
    return Adjustment(
        "duration",
        plain_float(factor),
        "SL(t) / SL(t0), SL = 108.4 / t^0.04635 + 18.3",
        {"t0": (scalar_or_tuple(before), "s"), "t": (scalar_or_tuple(after), "s")},
        "Madison curve (from memory)",
    )


def size_depth(depth_mm: float, from_mm: float = STANDARD_DEPTH_MM) -> Adjustment:
    """Bending strength at one depth over bending strength at another.

    Parameters
    ----------
    depth_mm, from_mm : float
        Depth after and before [mm].

    Returns
    -------
    Adjustment
        Factor from `from_mm` to `depth_mm`.

    Raises
    ------
    StatsError
        If a depth is not positive.

    Notes
    -----
    (d0/d)^(1/9): deeper beams break at a lower stress.

    References
    ----------
    Wood Handbook FPL-GTR-282, size effect in bending (from memory).

    Examples
    --------
    >>> round(size_depth(100).factor, 3)
    0.926
    """
    depth, before = checked_number(depth_mm, "depth_mm"), checked_number(from_mm, "from_mm")
    return Adjustment(
        "size_depth",
        (before / depth) ** (1 / 9),
        "(d0 / d)^(1/9)",
        {"d0": (before, "mm"), "d": (depth, "mm")},
        f"{HANDBOOK}, size effect in bending (from memory)",
    )


def hankinson(parallel: float, across: float, angle_deg: ArrayLike, exponent: float = 2.0) -> Adjustment:
    """Strength at an angle to the grain over strength along it.

    Parameters
    ----------
    parallel, across : float
        Strength along and across the grain, in one unit.
    angle_deg : float or array_like, shape (n,)
        Angle to the grain, 0 to 90 [°].
    exponent : float, optional
        n [-]: 1.5 to 2 for tension and bending, 2 to 2.5 for compression.

    Returns
    -------
    Adjustment
        Factor from along the grain to the angle.

    Raises
    ------
    StatsError
        If a strength is not positive, an angle not within 0 to 90°, or the exponent not within 1 to 3.

    Notes
    -----
    Q/(P·sinⁿθ + Q·cosⁿθ).

    References
    ----------
    Wood Handbook FPL-GTR-282, chapter 5, the Hankinson formula (from memory).

    Examples
    --------
    >>> round(51.3 * hankinson(51.3, 7.4, 30).factor, 1)
    20.7
    """
    p, q = checked_number(parallel, "parallel"), checked_number(across, "across")
    n = checked_number(exponent, "exponent", 1.0, 3.0, open_low=False)
    angle = checked(angle_deg, "angle_deg", 0.0, 90.0, open_low=False)
    theta = np.radians(angle)
    factor = q / (p * np.sin(theta) ** n + q * np.cos(theta) ** n)
    return Adjustment(
        "hankinson",
        plain_float(factor),
        "Q / (P · sinⁿ θ + Q · cosⁿ θ)",
        {"P": (p, ""), "Q": (q, ""), "θ": (scalar_or_tuple(angle), "°"), "n": (n, "")},
        f"{HANDBOOK} chapter 5, Hankinson (from memory)",
    )


def emc(temperature_c: ArrayLike, rh_pct: ArrayLike) -> Floats:
    """Moisture content that wood comes to in air of a temperature and humidity.

    Parameters
    ----------
    temperature_c : float or array_like, shape (n,)
        Temperature of the air [°C].
    rh_pct : float or array_like, shape (n,)
        Relative humidity [%].

    Returns
    -------
    float or ndarray, shape (n,)
        Equilibrium moisture content [%], not a factor.

    Raises
    ------
    StatsError
        If a temperature is not within -30 to 150 °C, or a humidity not within 0 to 100 %.

    References
    ----------
    Wood Handbook FPL-GTR-282, Eq. 4-5 (from memory; reproduces Table 4-2).

    Examples
    --------
    >>> round(emc(20, 65), 1)
    12.0
    """
    t = np.asarray(checked(temperature_c, "temperature_c", -30.0, 150.0, open_low=False))
    h = np.asarray(checked(rh_pct, "rh_pct", 0.0, 100.0, open_low=False)) / 100
    w = 349 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    kh = k * h
    bound = k1 * kh + 2 * k1 * k2 * kh**2
    return plain_float(1800 / w * (kh / (1 - kh) + bound / (1 + k1 * kh + k1 * k2 * kh**2)))
