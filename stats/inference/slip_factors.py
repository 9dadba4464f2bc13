"""The slips of units that can be made: each with its factor, its words, and how common it is held to be."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["force", "moment", "stress", "pressure", "mass", "length"]


@dataclass(frozen=True)
class Factor:
    """A slip that can be made.

    Parameters
    ----------
    value : float
        Its factor [-].
    too_low, too_high : str
        What is said of a reading too low, or too high, by it.
    weight : float
        How common it is held to be beside the others [-].
    """

    value: float
    too_low: str
    too_high: str
    weight: float = 1.0


def _units(value: float, large: str, small: str, weight: float = 1.0) -> Factor:
    """One quantity is a `value` times smaller number in the large unit than in the small one."""
    too_low, too_high = (f"read as {a} but looks like {b}" for a, b in ((small, large), (large, small)))
    return Factor(value, too_low, too_high, weight)


def _point(places: int) -> Factor:
    moved = {1: "one place", 2: "two places", 3: "three places"}[places]
    # a slipped point is rarer than a wrong unit, the more so the farther it slips
    weight = 0.5 ** (2 * places - 1)
    return Factor(10.0**places, f"decimal point {moved} too far left", f"decimal point {moved} too far right", weight)


_POINTS = (_point(1), _point(2), _point(3))
_FORCE = (  # what shop scales show comes first
    _units(4.4482216, "pounds-force", "newtons", 3.0),
    _units(9.80665, "kilograms-force", "newtons", 3.0),
    _units(2.2046226, "kilograms", "pounds", 1.5),
)
FACTORS: dict[Kind, tuple[Factor, ...]] = {
    "force": (*_FORCE, _units(1000.0, "kilonewtons", "newtons"), *_POINTS[:2]),
    "moment": (
        *_FORCE,
        _units(12.0, "foot-pounds", "inch-pounds"),
        _units(25.4, "an arm in inches", "an arm in millimetres"),
        _units(1000.0, "newton metres", "newton millimetres"),
        *_POINTS[:2],
    ),
    "stress": (
        _units(145.03774, "megapascals", "pounds per square inch"),
        _units(10.0, "megapascals", "bar"),
        _units(1000.0, "megapascals", "kilopascals"),
        _units(4.4482216, "a load in pounds-force", "a load in newtons"),
        _units(9.80665, "a load in kilograms-force", "a load in newtons"),
        _POINTS[1],
    ),
    "pressure": (
        _units(145.03774, "megapascals", "pounds per square inch"),
        _units(14.503774, "bar", "pounds per square inch"),
        _units(10.0, "megapascals", "bar"),
        _units(1000.0, "megapascals", "kilopascals"),
        _units(4.0, "the ram's radius", "the ram's diameter"),
        *_POINTS[:2],
    ),
    "mass": (_FORCE[2], _units(1000.0, "kilograms", "grams"), *_POINTS[:2]),
    "length": (
        _units(25.4, "inches", "millimetres"),
        _units(12.0, "feet", "inches"),
        _units(10.0, "centimetres", "millimetres"),
        _units(1000.0, "metres", "millimetres"),
        _POINTS[1],
    ),
}
