"""What a kind of piece is: the inputs it takes, and what its statics find."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from stats.errors import StatsError
from stats.practice.working import Line, Number
from stats.scalar import said, scalar

LARGEST_LOAD_N = 20_000.0
"""Largest load taken [N]: two tonnes, beyond anything a piece of furniture is asked to hold."""

Values = Mapping[str, float]


@dataclass(frozen=True)
class PieceInput:
    """One thing to say of a piece.

    Parameters
    ----------
    name : str
        Its name, ending in its unit.
    symbol : str
        Its symbol in the formulas.
    words : str
        What it is, as a phrase.
    unit : str
        Unit, "" for a count.
    default : float
        Value where none is given, in `unit`: a figure to start from, no requirement. Only a preset's load has a
        source.
    low, high : float
        Range taken, in `unit`, ends included.
    whole : bool
        Whether it must be a whole number.
    """

    name: str
    symbol: str
    words: str
    unit: str
    default: float
    low: float
    high: float
    whole: bool = False

    @property
    def is_load(self) -> bool:
        """Whether the dynamic and misuse factors act on it."""
        return self.unit in ("N", "N/m")

    def checked(self, value: Any) -> float:
        """The value as a number in range, or the default where none is given.

        Raises
        ------
        StatsError
            Naming the field, the value and the range.
        """
        if value is None or value == "":
            return self.default
        try:
            number = float(value)
        except (TypeError, ValueError):
            number = None
        if number is None or isinstance(value, bool):
            raise StatsError(f"{self.name} ({value!r}) must be a number: {self.words}.")
        if not self.low <= number <= self.high:  # NaN too
            ends = f"{self.low:g} to {self.high:g} {self.unit}".strip()
            raise StatsError(f"{self.name} ({number:g}) must be {ends}: {self.words}.")
        if self.whole and number != int(number):
            raise StatsError(f"{self.name} ({number:g}) must be a whole number: {self.words}.")
        return number


def load(name: str, symbol: str, words: str, default: float, *, unit: str = "N", low: float = 1.0) -> PieceInput:
    """An input that is a load.

    Parameters
    ----------
    name : str
        Its name, ending in its unit.
    symbol : str
        Its symbol in the formulas.
    words : str
        What it is, as a phrase.
    default : float
        Value where none is given, in `unit`.
    unit : str, optional
        Its unit.
    low : float, optional
        Least taken, in `unit`; the most is `LARGEST_LOAD_N`.

    Returns
    -------
    PieceInput
    """
    return PieceInput(name, symbol, words, unit, default, low, LARGEST_LOAD_N)


def length(name: str, symbol: str, words: str, default: float, low: float = 10.0, high: float = 6000.0) -> PieceInput:
    """An input that is a length.

    Parameters
    ----------
    name : str
        Its name, ending in its unit.
    symbol : str
        Its symbol in the formulas.
    words : str
        What it is, as a phrase.
    default : float
        Value where none is given [mm].
    low, high : float, optional
        Range taken [mm], ends included.

    Returns
    -------
    PieceInput
    """
    return PieceInput(name, symbol, words, "mm", default, low, high)


def count(name: str, symbol: str, words: str, default: int, low: int = 1, high: int = 12) -> PieceInput:
    """An input that is a count.

    Parameters
    ----------
    name : str
        Its name.
    symbol : str
        Its symbol in the formulas.
    words : str
        What it is, as a phrase.
    default : int
        Count where none is given.
    low, high : int, optional
        Range taken, ends included.

    Returns
    -------
    PieceInput
    """
    return PieceInput(name, symbol, words, "", float(default), float(low), float(high), whole=True)


@dataclass(frozen=True)
class Statics:
    """What a piece's own statics find at its worst joint.

    Parameters
    ----------
    lines : tuple of Line
        The working; the last line is the action that is set against a capacity.
    bending_nm, axial_n, shear_n : float
        What the joint feels [N·m, N, N], sizes without sign.
    least : float
        What the joint surely feels of that action, in its unit; the same as the result where statics alone decides.
    notes : tuple of str
        What else to know.
    """

    lines: tuple[Line, ...]
    bending_nm: float
    axial_n: float
    shear_n: float
    least: float
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Piece:
    """A kind of piece.

    Parameters
    ----------
    code, name : str
        Code and name.
    joint : str
        Its worst joint, in words.
    action : {"bending", "axial"}
        What is set against a capacity.
    inputs : tuple of PieceInput
        What to say of it.
    assumption : str
        What the statics take for granted.
    determinate : bool
        Whether equilibrium alone gives the action; otherwise it is an upper bound.
    work : callable
        From checked values to statics; it refuses sizes that are each possible but not together.
    """

    code: str
    name: str
    joint: str
    action: Literal["bending", "axial"]
    inputs: tuple[PieceInput, ...]
    assumption: str
    determinate: bool
    work: Callable[[Values], Statics] = field(repr=False, compare=False)

    @property
    def unit(self) -> str:
        """Unit of the action."""
        return "N·m" if self.action == "bending" else "N"


def shown(piece_inputs: tuple[PieceInput, ...], values: Values, *names: str) -> dict[str, Number]:
    """Some inputs by symbol, as a line keeps them.

    Parameters
    ----------
    piece_inputs : tuple of PieceInput
        All inputs of the piece.
    values : mapping
        Value of each by name, in its unit.
    *names : str
        Which of them.

    Returns
    -------
    dict of str to (float, unit)
        In the order of `names`.
    """
    by_name = {one.name: one for one in piece_inputs}
    return {by_name[name].symbol: (values[name], by_name[name].unit) for name in names}


def newton_metres(force_n: float, length_mm: float) -> float:
    """A force times a length in millimetres [N·m].

    Parameters
    ----------
    force_n : float
        The force [N].
    length_mm : float
        The length [mm].

    Returns
    -------
    float
        [N·m]

    Raises
    ------
    StatsError
        If one of the two is no finite number.
    """
    for name, value in (("force_n", force_n), ("length_mm", length_mm)):
        if not math.isfinite(scalar(value)):
            raise StatsError(f"{name} ({said(value)}) must be a finite number.")
    return force_n * length_mm / 1000.0
