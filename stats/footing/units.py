"""Reading what people type into SI, and showing SI in what they like.

The unit algebra is pint's; the numerals are ours, because people write `1 1/2`, `2' 6"`, `12,5` and `1 240`.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, TypeVar

from scipy import constants

from stats.errors import StatsError
from stats.footing.numerals import NUMBER, finite, plain, refuse_no_number, value_of
from stats.footing.reading_errors import (
    Absurd,
    AmbiguousNumber,
    NotANumber,
    NotFinite,
    ReadingError,
    UnitMissing,
    UnknownUnit,
    WrongUnitKind,
)
from stats.footing.unit_names import KIND_WORDS, NAMES, PARTS, SI, shown_name, spellings, unit_key
from stats.scalar import scalar

if TYPE_CHECKING:
    import pandas as pd

Values = TypeVar("Values", float, "pd.Series")

__all__ = [
    "GRAVITY_M_S2",
    "INCH_MM",
    "KGF_N",
    "LARGEST_SI",
    "LBF_N",
    "PSI_MPA",
    "SI",
    "UNITS",
    "Absurd",
    "AmbiguousNumber",
    "NotANumber",
    "NotFinite",
    "Reading",
    "ReadingError",
    "UnitMissing",
    "UnknownUnit",
    "WrongUnitKind",
    "factor",
    "from_si",
    "read",
    "show",
    "to_si",
]

GRAVITY_M_S2 = float(constants.g)
"""Standard gravity [m/s²]."""
LBF_N = float(constants.lbf)
"""One pound-force [N]."""
KGF_N = float(constants.kgf)
"""One kilogram-force [N]."""
INCH_MM = float(constants.inch * 1000)
"""One inch [mm]."""
PSI_MPA = float(constants.psi / 1e6)
"""One pound-force per square inch [MPa]."""
LARGEST_SI = 1e9
"""Beyond this in SI nothing typed is believed."""

UNITS: dict[str, list[str]] = {kind: list(names) for kind, names in NAMES.items()}
"""Kind of quantity -> the unit names offered in help text."""

_LONGEST = 60
# Kinds with one unit only, where a bare number is no doubt.
_BARE = {"number": "", "percent": "%"}


MOST_DIGITS = 17  # more than a number holds


@dataclass(frozen=True)
class Reading:
    """A typed quantity and its value in SI.

    Parameters
    ----------
    text : str
        What was typed.
    magnitude : float
        The number, in the unit typed (or in the default unit); feet and inches are in feet.
    unit : str
        The unit as typed; "" if it came from the default.
    kind : str
        Kind of quantity.
    si : float
        Value in `si_unit`.
    si_unit : str
        The unit that kind is kept in.
    """

    text: str
    magnitude: float
    unit: str
    kind: str
    si: float
    si_unit: str


def read(text: str | float, kind: str, *, default_unit: str | None = None, decimal: str | None = None) -> Reading:
    """Read a quantity as people write it.

    Parameters
    ----------
    text : str or float
        Such as ``1 1/2 in``, ``2' 6"``, ``280 lb``, ``12,5 mm``, ``1 240 N``.
    kind : str
        Kind of quantity, a key of `SI`.
    default_unit : str, optional
        Unit of a number that has none.
    decimal : {".", ","}, optional
        The decimal sign used. Without it the number itself must tell.

    Returns
    -------
    Reading
        The number, the unit as typed and the SI value.

    Raises
    ------
    NotANumber
        If there is no number in the text, more than one, or separators that make none.
    AmbiguousNumber
        If the decimal sign can't be told.
    NotFinite
        If the value is infinite, NaN or a word for no number.
    Absurd
        If the SI value is beyond anything in a workshop.
    UnitMissing
        If there is no unit and the kind needs one.
    UnknownUnit, WrongUnitKind
        If the unit is not known, or of another kind.
    StatsError
        If `kind` or `decimal` is not one that exists.

    Notes
    -----
    An error of the text carries ``code``, ``text`` and ``hint``.

    Without `decimal`, ``1,240`` is refused since it may be 1240 or 1.240; ``1.240`` is read as 1.24.
    A kilogram or pound given for a force is the weight of that mass under standard gravity.

    Examples
    --------
    >>> read("1 1/2 in", "length").si
    38.1
    >>> read("127 kg", "force").si
    1245.44455
    """
    _check_kind(kind)
    if decimal not in (None, ".", ","):
        raise StatsError(f"decimal ({decimal!r}) must be '.', ',' or None.")
    if isinstance(text, bool) or not isinstance(text, str):
        text = _number_text(text)
        decimal = "."
    source = plain(text)
    if not source:
        raise NotANumber(text, "There is nothing to read.", "Write a number and its unit.")
    if len(source) > _LONGEST:
        raise NotANumber(text, f"{source[:20]!r}... is too long for a quantity.", "Write one value and its unit.")
    refuse_no_number(source)
    magnitude, typed, name = _quantity(source, text, kind, decimal)
    if name is None:
        name = _default(text, kind, default_unit)
    scale, offset = _linear(kind, name)
    # 1.5 × 25.4 is 38.1; the last digit of a double is not the maker's.
    si = finite(float(f"{magnitude * scale + offset:.15g}"), text)
    if abs(si) > LARGEST_SI:
        raise Absurd(text, f"{text!r} is {si:.3g} {SI[kind]}, beyond anything in a workshop.", "Check the number.")
    return Reading(text, magnitude, typed, kind, si, SI[kind])


def _number_text(value: Any) -> str:
    """A number from a spreadsheet cell, as text."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise NotANumber(str(value), f"{value!r} is not a number.", "Write a number such as 12.5.")
    if not math.isfinite(value):
        raise NotFinite(str(value), f"{value!r} is not a finite number.", "Leave the cell empty instead.")
    return repr(value)


def _quantity(source: str, text: str, kind: str, decimal: str | None) -> tuple[float, str, str | None]:
    """Magnitude, unit as typed and its shown name (None without a unit), for one number or two in parts."""
    first = _match(source)
    magnitude = finite(value_of(first, text, decimal), text)
    rest = source[first.end() :].strip()
    if not rest:
        return magnitude, "", None
    if rest[0].isdigit() or (len(rest) > 1 and rest[0] in "-+/.," and rest[1].isdigit()):
        raise NotANumber(text, f"{text!r} holds more than one number.", "Write one value to a cell, with its unit.")
    for (big, small), count in PARTS.items():
        parts = _parts(rest, text, kind, decimal, big, small)
        if parts is not None:
            below, typed = parts
            sign = -1.0 if first["sign"] == "-" else 1.0
            return magnitude + sign * below / count, typed, big
    return magnitude, rest, shown_name(rest, text, kind)


def _parts(rest: str, text: str, kind: str, decimal: str | None, big: str, small: str) -> tuple[float, str] | None:
    """The second number of `2 ft 6 in` and the units as typed, or None if the text is not of that form."""
    if big not in NAMES[kind] or not any(c.isdigit() for c in rest):
        return None
    start = next(i for i, c in enumerate(rest) if c.isdigit())
    if spellings(kind).get(unit_key(rest[:start])) != big:
        return None
    second = _match(rest, start)
    unit = rest[second.end() :].strip()
    # The inch mark is often left off after feet: 2' 6
    if unit and spellings(kind).get(unit_key(unit)) != small:
        return None
    return value_of(second, text, decimal), f"{rest[:start].strip()} {unit}".strip()


def _match(source: str, start: int = 0) -> re.Match[str]:
    found = NUMBER.match(source, start)
    assert found is not None  # every part of NUMBER is optional, so it always matches
    return found


def _default(text: str, kind: str, default_unit: str | None) -> str:
    if default_unit:
        return shown_name(default_unit, default_unit, kind)
    if kind in _BARE:
        return _BARE[kind]
    raise UnitMissing(text, f"{text!r} has no unit.", f"{KIND_WORDS[kind][1]} needs one of {', '.join(UNITS[kind])}.")


@cache
def _registry() -> Any:
    import pint  # slow to import, and only the first conversion of each unit needs it

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


@cache
def _linear(kind: str, name: str) -> tuple[float, float]:
    """Factor and offset from a unit to SI."""
    if name == SI[kind]:
        return 1.0, 0.0
    registry = _registry()
    unit, si = (NAMES[kind][n][0] for n in (name, SI[kind]))
    zero, one = (float(registry.Quantity(float(v), unit).to(si).magnitude) for v in (0, 1))
    # Fifteen digits drop the noise of chained factors, so that an inch is 25.4 mm and not 25.399999999999995.
    return float(f"{one - zero:.15g}"), float(f"{zero:.12g}") if kind == "temperature" else 0.0


def _conversion(unit: str, kind: str) -> tuple[float, float]:
    _check_kind(kind)
    return _linear(kind, "" if kind == "number" and not unit else shown_name(unit, unit, kind))


def _check_kind(kind: str) -> None:
    if kind not in SI:
        raise StatsError(f"kind ({kind!r}) must be one of {', '.join(SI)}.")


def factor(unit: str, kind: str) -> float:
    """Factor from a unit to the SI unit of its kind.

    Parameters
    ----------
    unit : str
        Any accepted spelling.
    kind : str
        Kind of quantity.

    Returns
    -------
    float
        SI value of one unit; for a temperature the size of one degree.

    Raises
    ------
    UnknownUnit, WrongUnitKind
        If the unit is not known, or of another kind.
    StatsError
        If the kind is unknown.

    Examples
    --------
    >>> factor("in", "length")
    25.4
    """
    return _conversion(unit, kind)[0]


def to_si(value: float, unit: str, kind: str) -> float:
    """A value in SI.

    Parameters
    ----------
    value : float
        Value in `unit`.
    unit : str
        Any accepted spelling; "" where the kind has none.
    kind : str
        Kind of quantity.

    Returns
    -------
    float
        Value in ``SI[kind]``.

    Raises
    ------
    UnknownUnit, WrongUnitKind
        If the unit is not known, or of another kind.
    StatsError
        If the kind is unknown, or the value no number; one that is not known (NaN) stays so.
    """
    scale, offset = _conversion(unit, kind)
    si: float = _number(value) * scale + offset
    return si


def from_si(value: Values, kind: str, unit: str) -> Values:
    """An SI value in another unit.

    Parameters
    ----------
    value : float or pandas.Series
        Values in ``SI[kind]``.
    kind : str
        Kind of quantity.
    unit : str
        Any accepted spelling.

    Returns
    -------
    float or pandas.Series
        Values in `unit`.

    Raises
    ------
    UnknownUnit, WrongUnitKind
        If the unit is not known, or of another kind.
    StatsError
        If the kind is unknown, or the value no number; one that is not known (NaN) stays so.
    """
    scale, offset = _conversion(unit, kind)
    other: Values = (_number(value) - offset) / scale
    return other


def _number(value: Values) -> Values:
    if value is None or isinstance(value, str | bool):
        raise StatsError(f"value ({value!r}) must be a number.")
    return value


def show(value: float, unit: str = "", digits: int = 3) -> str:
    """A value with its unit, in so many significant digits.

    Parameters
    ----------
    value : float
        Value in `unit`.
    unit : str, optional
        Unit to write after it.
    digits : int, optional
        Significant digits, 1 or more.

    Returns
    -------
    str
        Thousands are set apart by a space, as ISO 80000 has it.

    Raises
    ------
    StatsError
        If digits is no whole number from 1 to 17, or the value no number; one that is not known is shown as a dash.

    Examples
    --------
    >>> show(1243.7, "N")
    '1 240 N'
    >>> show(0.3, "m")
    '0.300 m'
    """
    if not 1 <= scalar(digits) <= MOST_DIGITS or digits != int(digits):
        raise StatsError(f"digits ({digits!r}) must be a whole number, 1 to {MOST_DIGITS}.")
    if not math.isfinite(_number(value)):
        number = "–"
    elif value == 0:
        number = "0"
    else:
        # Rounding first, because 99.96 to three digits is 100, which has one place fewer.
        scientific = f"{value:.{digits - 1}e}"
        rounded, places = float(scientific), max(digits - 1 - int(scientific.partition("e")[2]), 0)
        number = f"{rounded:,.{places}f}".replace(",", " ")
        if places > digits + 3:
            number = scientific
    return number + unit if unit == "°" else f"{number} {unit}".strip()
