"""The unit names people type, by the kind of quantity; the factors themselves come from pint."""

from __future__ import annotations

import difflib
from functools import cache

from stats.errors import StatsError
from stats.footing.numerals import plain
from stats.footing.reading_errors import UnknownUnit, WrongUnitKind

SI = {
    "force": "N",
    "length": "mm",
    "moment": "N·m",
    "pressure": "MPa",
    "stress": "MPa",
    "area": "mm²",
    "mass": "kg",
    "density": "kg/m³",
    "percent": "%",
    "hours": "h",
    "seconds": "s",
    "temperature": "°C",
    "rate": "mm/min",
    "angle": "°",
    "number": "",
}
"""Unit a quantity of each kind is kept in."""

KIND_WORDS = {
    "force": ("a force", "A load"),
    "length": ("a length", "A length"),
    "moment": ("a moment", "A moment"),
    "pressure": ("a pressure", "A pressure"),
    "stress": ("a stress", "A stress"),
    "area": ("an area", "An area"),
    "mass": ("a mass", "A mass"),
    "density": ("a density", "A density"),
    "percent": ("a percentage", "A percentage"),
    "hours": ("a time", "A time"),
    "seconds": ("a time", "A time"),
    "temperature": ("a temperature", "A temperature"),
    "rate": ("a rate", "A loading rate"),
    "angle": ("an angle", "An angle"),
    "number": ("a number", "A plain number"),
}

_TIME = {
    "s": ("second", "sec secs second seconds"),
    "min": ("minute", "mins minute minutes"),
    "h": ("hour", "hr hrs hour hours"),
    "d": ("day", "day days"),
    "wk": ("week", "week weeks"),
}
_PRESSURE = {
    "MPa": ("megapascal", "megapascal megapascals N/mm2 N/mm^2"),
    "psi": ("psi", "lbf/in2 lbf/in^2 lb/in2 lb/in^2 lbf/sqin"),
    "bar": ("bar", "bars"),
    "kPa": ("kilopascal", "kilopascal kilopascals"),
    "Pa": ("pascal", "pascal pascals"),
    "GPa": ("gigapascal", "gigapascal gigapascals kN/mm2"),
    "ksi": ("ksi", "kip/in2"),
    "kgf/cm²": ("kilogram*standard_gravity/centimeter**2", "kgf/cm2 kg/cm2 kgf/cm^2 kg/cm^2"),
    "kgf/mm²": ("kilogram*standard_gravity/millimeter**2", "kgf/mm2 kg/mm2 kgf/mm^2 kg/mm^2"),
}

# kind -> shown name -> (the unit in pint's words, other spellings). The shown name is a spelling too. Spaces
# and dots inside a spelling are dropped before look-up, so that "ft lb", "ft·lb" and "ft-lb" are one entry.
NAMES: dict[str, dict[str, tuple[str, str]]] = {
    "force": {
        "N": ("newton", "newton newtons"),
        "kN": ("kilonewton", "kilonewton kilonewtons"),
        "lbf": ("force_pound", "lb lbs pound pounds # poundforce"),
        # On a load, kilograms are what a scale shows: the weight of that mass under standard gravity.
        "kgf": ("kilogram*standard_gravity", "kg kgs kilo kilos kilogram kilograms kp"),
        "gf": ("gram*standard_gravity", "g gram grams"),
        "ozf": ("force_ounce", "oz ounce ounces"),
        "daN": ("decanewton", ""),
        "tf": ("tonne*standard_gravity", "t tonne tonnes"),
        "kip": ("kip", "kips"),
    },
    "length": {
        "mm": ("millimeter", "millimetre millimetres millimeter millimeters"),
        "cm": ("centimeter", "centimetre centimetres centimeter centimeters"),
        "m": ("meter", "metre metres meter meters"),
        "in": ("inch", 'inch inches ins "'),
        "ft": ("foot", "foot feet '"),
        "yd": ("yard", "yard yards"),
        "thou": ("thou", ""),
    },
    "moment": {
        "N·m": ("newton*meter", "Nm newtonmetre newtonmetres newtonmeter newtonmeters"),
        "N·mm": ("newton*millimeter", "Nmm"),
        "N·cm": ("newton*centimeter", "Ncm"),
        "kN·m": ("kilonewton*meter", "kNm"),
        "ft·lbf": (
            "foot*force_pound",
            "ftlbf ftlb ftlbs lbfft lbft lbsft footpound footpounds poundfeet",
        ),
        "in·lbf": ("inch*force_pound", "inlbf inlb inlbs lbfin lbin lbsin inchpound inchpounds poundinch"),
        "in·ozf": ("inch*force_ounce", "inoz inozf ozin ozfin"),
        "kgf·m": ("kilogram*standard_gravity*meter", "kgfm kgm mkg mkgf"),
        "kgf·cm": ("kilogram*standard_gravity*centimeter", "kgfcm kgcm cmkg"),
    },
    "pressure": _PRESSURE
    | {
        "mbar": ("millibar", "millibar"),
        "atm": ("standard_atmosphere", "atmosphere atmospheres"),
    },
    "stress": _PRESSURE,
    "area": {
        "mm²": ("millimeter**2", "mm2 mm^2 sqmm"),
        "cm²": ("centimeter**2", "cm2 cm^2 sqcm"),
        "m²": ("meter**2", "m2 m^2 sqm"),
        "in²": ("inch**2", "in2 in^2 sqin sqinch sqinches squareinch squareinches"),
        "ft²": ("foot**2", "ft2 ft^2 sqft squarefeet"),
    },
    "mass": {
        "kg": ("kilogram", "kgs kilo kilos kilogram kilograms"),
        "g": ("gram", "gram grams"),
        "lb": ("pound", "lbs pound pounds lbm"),
        "oz": ("ounce", "ounce ounces"),
        "t": ("tonne", "tonne tonnes"),
    },
    "density": {
        "kg/m³": ("kilogram/meter**3", "kg/m3 kg/m^3"),
        "g/cm³": ("gram/centimeter**3", "g/cm3 g/cm^3 g/cc g/ml"),
        "lb/ft³": ("pound/foot**3", "lb/ft3 lb/ft^3 lbs/ft3 lb/cuft lbs/cuft pcf"),
    },
    "percent": {"%": ("percent", "percent pct")},
    "hours": _TIME,
    "seconds": _TIME,
    "temperature": {
        "°C": ("degC", "C degC celsius centigrade"),
        "°F": ("degF", "F degF fahrenheit"),
        "K": ("kelvin", "kelvin"),
    },
    "rate": {
        "mm/min": ("millimeter/minute", "mm/minute mmpermin"),
        "mm/s": ("millimeter/second", "mm/sec"),
        "cm/min": ("centimeter/minute", ""),
        "in/min": ("inch/minute", "inch/min inches/min"),
        "in/s": ("inch/second", "in/sec"),
    },
    "angle": {
        "°": ("degree", "deg degs degree degrees"),
        "rad": ("radian", "radian radians"),
    },
    "number": {},
}

REFUSED = {
    "mPa": "mPa is a thousandth of a pascal; write MPa for megapascal.",
    "ton": "A ton may be 907, 1000 or 1016 kg; write it in kg, lb or N.",
    "tons": "A ton may be 907, 1000 or 1016 kg; write it in kg, lb or N.",
    "mN": "mN is a thousandth of a newton; write N or kN.",
}
"""Spellings that would be guessed wrong, with what to write instead."""

PARTS = {("ft", "in"): 12.0, ("lbf", "ozf"): 16.0, ("lb", "oz"): 16.0}
"""Units that follow each other in one quantity (2 ft 6 in), with how many of the second make the first."""


def unit_key(spelling: str) -> str:
    """A spelling without what people put between its letters: spaces, dots, dashes, stars.

    Parameters
    ----------
    spelling : str
        A unit as typed, made plain.

    Returns
    -------
    str
        What `spellings` has as key.
    """
    spelling = spelling.strip().removesuffix(".")
    if "/" in spelling:
        return spelling.replace(" ", "")
    for mark in (" ", "·", "-", ".", "*"):
        spelling = spelling.replace(mark, "")
    return spelling


@cache
def spellings(kind: str) -> dict[str, str]:
    """Spelling -> shown name; lower-case spellings are added where they are no doubt.

    Parameters
    ----------
    kind : str
        Kind of quantity, a key of `SI`.

    Returns
    -------
    dict of str to str
        Keys are as `unit_key` gives them.

    Raises
    ------
    StatsError
        If the kind is unknown.
    """
    if kind not in NAMES:
        raise StatsError(f"kind ({kind!r}) must be one of {', '.join(NAMES)}.")
    exact = {
        unit_key(plain(spelling)): name
        for name, (_, others) in NAMES[kind].items()
        for spelling in (name, *others.split())
    }
    lower: dict[str, set[str]] = {}
    for spelling, name in exact.items():
        lower.setdefault(spelling.casefold(), set()).add(name)
    return {key: next(iter(names)) for key, names in lower.items() if len(names) == 1} | exact


def shown_name(unit: str, text: str, kind: str) -> str:
    """Shown name of a unit as typed.

    Parameters
    ----------
    unit : str
        The unit as typed.
    text : str
        The whole quantity as typed, for messages.
    kind : str
        Kind of quantity, a key of `SI`.

    Returns
    -------
    str
        A key of ``NAMES[kind]``.

    Raises
    ------
    UnknownUnit
        If no kind has that unit, or its spelling would be guessed wrong (`REFUSED`).
    WrongUnitKind
        If it is a unit of another kind.
    StatsError
        If the unit is no text, or the kind unknown.
    """
    if not isinstance(unit, str):
        raise StatsError(f"unit ({unit!r}) must be text, such as mm.")
    key = unit_key(plain(unit))
    known = spellings(kind)
    if key in REFUSED:
        raise UnknownUnit(text, f"The unit {unit!r} is not taken.", REFUSED[key])
    name = known.get(key) or known.get(key.casefold())
    if name is not None:
        return name
    # A kilogram is a mass, though on a load it is read as the weight of one.
    for other in ("mass", *NAMES):
        if key in spellings(other) or key.casefold() in spellings(other):
            allowed = ", ".join(NAMES[kind]) or "no unit"
            raise WrongUnitKind(text, f"{unit} is {KIND_WORDS[other][0]}.", f"{KIND_WORDS[kind][1]} needs {allowed}.")
    near = difflib.get_close_matches(key.casefold(), [k for k in known if len(k) > 1], n=1)
    hint = f"Did you mean {known[near[0]]}? " if near else ""
    allowed = ", ".join(NAMES[kind]) or "no unit at all"
    raise UnknownUnit(text, f"{unit!r} is not a unit known here.", f"{hint}{KIND_WORDS[kind][1]} takes {allowed}.")
