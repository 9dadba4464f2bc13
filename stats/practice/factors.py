"""Named factors between a joint as tested and a joint in use; 1 unless somebody takes one."""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from stats.errors import StatsError
from stats.footing import adjust
from stats.footing.adjustment import checked_number
from stats.footing.timber import PROPERTIES, Timber
from stats.scalar import said, scalar

NAMES = MappingProxyType(
    {
        "moisture": "moisture in use",
        "duration": "a load that stays",
        "repeated": "loading again and again",
        "size": "size",
        "own": "a factor of one's own",
    }
)
"""What a factor may be for."""

LASTING_S = MappingProxyType(
    {"minutes": 600.0, "day": 86_400.0, "month": 30 * 86_400.0, "year": 365.25 * 86_400.0, "decade": 3652.5 * 86_400.0}
)
"""Times under load to choose from [s]."""

WETTEST_PCT = 300.0
"""Most moisture taken, as `stats.footing.adjust.moisture` takes it [%]."""

CHAIR_SOURCE = (
    'abstract of "Technical note: Static versus cyclic load capacity of side chairs constructed with mortise and tenon '
    'joints", Wood and Fiber Science (Likos, Haviarova, Eckelman, Erdil and Ozcifci 2013: authors, year and journal '
    "from memory)"
)
CHAIR_SHARES = MappingProxyType({"rectangular": 0.565, "round": 0.668, "diamond": 0.692})
"""Cyclic load passed over static load of side chairs, by the tenon's shape as the abstract orders them."""

# Mean cycles to failure at shares of the static strength, two-pin dowel T-joints of plywood, one-sided bending.
_DOWEL_SHARE = np.array([0.40, 0.50, 0.60, 0.70, 0.80, 0.90])
_DOWEL_CYCLES = np.array([131_253.0, 78_122.0, 31_617.0, 11_023.0, 4_161.0, 329.0])
DOWEL_SOURCE = (
    'abstract of "Bending fatigue life of two-pin dowel joints in furniture grade pine plywood", Forest Products '
    "Journal (Zhang and others 2003: year from memory): mean cycles to failure of T-joints at 40 to 90 % of static "
    "strength"
)


@dataclass(frozen=True)
class Factor:
    """A factor on the strength of a joint.

    Parameters
    ----------
    name : str
        A key of `NAMES`.
    value : float
        What the tested strength is multiplied by [-].
    words : str
        What it stands for.
    source : str
        Where it comes from.
    note : str
        What to mind, or "".
    """

    name: str
    value: float
    words: str
    source: str
    note: str = ""


def own(value: float, words: str = "") -> Factor:
    """A factor that the reader answers for.

    Parameters
    ----------
    value : float
        The factor [-], above 0 and at most 1.5.
    words : str, optional
        What it stands for.

    Returns
    -------
    Factor

    Raises
    ------
    StatsError
        If the value is out of range.
    """
    if not 0.0 < scalar(value) <= 1.5:  # NaN too
        raise StatsError(
            f"own factor ({said(value, 'g')}) must be above 0 and at most 1.5: what the strength is multiplied by."
        )
    return Factor("own", float(value), words or NAMES["own"], "the reader's own")


def moisture(timber: Timber, prop: str, tested_pct: float, service_pct: float) -> Factor:
    """Strength at the moisture of use over strength at the moisture tested, as clear wood has it.

    Parameters
    ----------
    timber : Timber
        The timber; the table must have the property at 12 % and green.
    prop : str
        A key of `stats.footing.timber.PROPERTIES`: what governs the joint.
    tested_pct, service_pct : float
        Moisture contents [%].

    Returns
    -------
    Factor
        Held to at most 1: wood drier than tested is not credited.

    Raises
    ------
    StatsError
        If the table lacks a value, or a moisture is not 0 to 300 %.

    Notes
    -----
    The ratio of the two factors of Wood Handbook Eq. 5-3. Glue softens too, so that for a joint it is an upper guide.
    """
    dry, green = timber.value(prop), timber.value(prop, green=True)
    if dry is None or green is None:
        raise StatsError(f"timber ({timber.name}) must have a {PROPERTIES[prop].name} at 12 % and green in the table.")
    # Checked here, since there a moisture that is not known is taken as 12 %.
    pcts = [
        checked_number(pct, name, 0.0, WETTEST_PCT, open_low=False)
        for name, pct in (("tested_pct", tested_pct), ("service_pct", service_pct))
    ]
    at = [adjust.moisture(dry, green, pct, timber.intersection_mc_pct) for pct in pcts]
    ratio = float(at[1].factor) / float(at[0].factor)
    note = "clear wood; glue softens too, so that a joint may lose more"
    if ratio > 1:
        note = "use is drier than the test: not credited"
    notes = "; ".join(dict.fromkeys(one for one in (note, *(step.note for step in at)) if one))
    return Factor("moisture", min(ratio, 1.0), f"{pcts[0]:g} % tested, {pcts[1]:g} % in use", at[0].source, notes)


def duration(lasting_s: float, tested_s: float = 300.0) -> Factor:
    """Strength under a load that stays over strength in a short test, by the Madison curve.

    Parameters
    ----------
    lasting_s : float
        How long the load stays, all times added up [s]; see `LASTING_S`.
    tested_s : float, optional
        Time to failure in the tests [s].

    Returns
    -------
    Factor
        At most 1.

    Raises
    ------
    StatsError
        If a time can't be.

    Notes
    -----
    The curve is for solid wood in bending; glue that creeps, such as PVA, may lose more.

    Examples
    --------
    >>> found = duration(LASTING_S["decade"])
    >>> round(found.value, 2), found.words
    (0.61, 'load stays 10 years in all')
    """
    lasting, tested = checked_number(lasting_s, "lasting_s"), checked_number(tested_s, "tested_s")
    found = adjust.duration(tested, lasting)
    note = "solid wood in bending; a glue that creeps may lose more"
    words = f"load stays {_time(lasting)} in all"
    return Factor("duration", min(float(found.factor), 1.0), words, found.source, note)


def _time(seconds: float) -> str:
    """A time as people say it: 10 minutes, 30 days, 1 year."""
    units = (("year", 365.25 * 86_400.0), ("day", 86_400.0), ("hour", 3600.0), ("minute", 60.0), ("second", 1.0))
    unit, length = next((one for one in units if seconds >= one[1]), units[-1])
    number = float(f"{seconds / length:.3g}")
    return f"{number:g} {unit}{'' if number == 1 else 's'}"


def repeated_chair(tenon: str = "rectangular") -> Factor:
    """Load that side chairs with mortise and tenon passed again and again, over what they bore once.

    Parameters
    ----------
    tenon : {"rectangular", "round", "diamond"}, optional
        Shape of the tenon.

    Returns
    -------
    Factor

    Raises
    ------
    StatsError
        For another shape.

    Examples
    --------
    >>> repeated_chair().value
    0.565
    """
    if tenon not in CHAIR_SHARES:
        raise StatsError(f"tenon ({tenon!r}) must be one of {', '.join(CHAIR_SHARES)}.")
    note = "whole chairs of one laboratory; the abstract does not say plainly which share is whose, so take the lowest"
    return Factor("repeated", CHAIR_SHARES[tenon], f"{tenon} tenons, front to back", CHAIR_SOURCE, note)


def repeated_dowel(cycles: float) -> Factor:
    """Share of the static strength at which two-pin dowel joints lasted so many loadings, on average.

    Parameters
    ----------
    cycles : float
        Number of loadings, 329 to 131 253: the range tested.

    Returns
    -------
    Factor

    Raises
    ------
    StatsError
        If cycles is out of the range tested.

    Notes
    -----
    Read between the six published means, straight in the logarithm of cycles. A mean number of cycles: half of such
    joints fail sooner.

    Examples
    --------
    >>> round(repeated_dowel(25_000).value, 2)
    0.62
    """
    low, high = float(_DOWEL_CYCLES[-1]), float(_DOWEL_CYCLES[0])
    if not low <= scalar(cycles) <= high:  # NaN too
        raise StatsError(f"cycles ({said(cycles, 'g')}) must be {low:g} to {high:g}, the range that was tested.")
    share = float(np.interp(math.log(cycles), np.log(_DOWEL_CYCLES[::-1]), _DOWEL_SHARE[::-1]))
    note = "plywood joints of one laboratory, one-sided bending; half of them failed sooner"
    return Factor("repeated", share, f"{cycles:g} loadings", DOWEL_SOURCE, note)


def size_depth(piece_mm: float, tested_mm: float) -> Factor:
    """Bending stress that a deeper member bears over that of the member tested.

    Parameters
    ----------
    piece_mm, tested_mm : float
        Depth of the member in the piece and in the tests [mm].

    Returns
    -------
    Factor
        Held to at most 1: a smaller piece is not credited.

    Raises
    ------
    StatsError
        If a depth is not above zero.

    Notes
    -----
    (d0/d)^(1/9), a rule for solid beams. For the size of a bond no rule with a source is known; larger bonds are
    expected to bear less for each square millimetre.

    Examples
    --------
    >>> round(size_depth(100, 50).value, 3), size_depth(25, 50).value
    (0.926, 1.0)
    """
    piece, tested = checked_number(piece_mm, "piece_mm"), checked_number(tested_mm, "tested_mm")
    found = adjust.size_depth(piece, tested)
    value = float(found.factor)
    note = "smaller than tested: not credited" if value > 1 else "a rule for solid beams"
    return Factor("size", min(value, 1.0), f"{tested:g} mm tested, {piece:g} mm in the piece", found.source, note)
