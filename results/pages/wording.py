"""Words that several pages share."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from stats.footing.footings import FootingKind
from stats.footing.units import from_si, show

from .in_language import figure
from .scale import KIND_OF, readers


def footing_name(kind: FootingKind, unit: str) -> str:
    """A footing's name for an action: what was measured at the joint, not "moment or force"."""
    if kind.code == "at_joint":
        return "moment at the joint" if unit == "N·m" else "force at the joint"
    return kind.name


def footing_symbol(kind: FootingKind, unit: str) -> str:
    """A footing's symbol for an action: a force at the joint is no moment."""
    if kind.code == "at_joint" and unit == "N":
        return "F"
    return kind.symbol.replace("R_m", "Rₘ")


def how_invented(flags: Iterable[bool]) -> str:
    """How many of the results shown are made up, to begin a sentence; nothing if none is."""
    made_up = list(flags)
    if not any(made_up):
        return ""
    return "All of these results are" if all(made_up) else "Some of these results are"


def with_unit(text: str, unit: str) -> str:
    """A heading with its unit, where it has one."""
    return f"{text}, {unit}" if unit else text


def beside(value: float, unit: str, units: Mapping[str, str], digits: int = 3) -> str:
    """A result in SI, and in the reader's unit beside it: ``267 N·m (197 ft·lbf)``.

    Parameters
    ----------
    value : float
    unit : str
        Of SI.
    units : mapping of str to str
        As `results.practice.asked.Asked.units_typed` has them; what was typed goes before what was chosen.
    digits : int, optional
    """
    kind = KIND_OF.get(unit, "")
    said, other = figure(show(value, unit, digits)), units.get(kind) or readers(unit)
    return said if other == unit else f"{said} ({figure(show(from_si(value, kind, other), other, digits))})"


def tidy(value: float) -> str:
    """Four digits without idle zeros: 300, 304.8, 14 920."""
    return _spaced(value, 4)


def exact(value: float) -> str:
    """A length typed in any unit, in all the digits a rule can tell: 300, 298.45, 1 301.75."""
    return _spaced(value, 6)


def _spaced(value: float, digits: int) -> str:
    return f"{float(f'{value:.{digits}g}'):,.10g}".replace(",", " ")
