"""One line of a derivation in words, symbols and numbers."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from stats.footing.step import STATICS
from stats.footing.units import show

Number = tuple[float, str]
"""A number with its unit."""


@dataclass(frozen=True)
class Line:
    """A quantity with its formula, what went in, and the result.

    Unlike a `stats.footing.step.Step` it need not be a factor: a demand may be a sum.

    Parameters
    ----------
    name : str
        What is worked out, in words.
    symbol : str
        Its symbol.
    formula : str
        The formula, in the symbols of `inputs`.
    inputs : dict of str to (value, unit)
        What went in.
    value : float
        The result, in `unit`.
    unit : str
        Its unit.
    source : str
        Where the formula comes from.
    note : str
        An assumption that goes with it, or "".
    """

    name: str
    symbol: str
    formula: str
    inputs: Mapping[str, Number]
    value: float
    unit: str
    source: str = STATICS
    note: str = ""

    @property
    def worked(self) -> str:
        """The line with its numbers.

        Examples
        --------
        >>> inputs = {"F": (560.0, "N"), "h": (300.0, "mm"), "n": (2.0, "")}
        >>> Line("moment", "M", "F · h / n", inputs, 84.0, "N·m").worked
        'M = F · h / n = 560 N · 300 mm / 2 = 84.0 N·m'
        """
        result = _shown(self.value, self.unit) if self.unit == "mm" else show(self.value, self.unit)
        return f"{self.symbol} = {self.formula} = {self._with_numbers()} = {result}"

    def _with_numbers(self) -> str:
        symbols = "|".join(re.escape(symbol) for symbol in sorted(self.inputs, key=len, reverse=True))

        def number(found: re.Match[str]) -> str:
            text, power = _shown(*self.inputs[found[1]]), found[2]
            return f"({text}){power}" if power else text

        # A symbol stands by itself, not within a longer one; a power behind it is no letter of it.
        return re.sub(rf"(?<!\w)({symbols})([²³]?)(?!\w)", number, self.formula)

    def to_dict(self) -> dict[str, Any]:
        """The line as plain lists and numbers, fit for JSON."""
        return {
            "name": self.name,
            "symbol": self.symbol,
            "formula": self.formula,
            "inputs": {symbol: list(given) for symbol, given in self.inputs.items()},
            "value": self.value,
            "unit": self.unit,
            "worked": self.worked,
            "source": self.source,
            "note": self.note,
        }


def _shown(value: float, unit: str) -> str:
    if not unit and value == int(value) and abs(value) < 1e6:
        return str(int(value))
    # A fourth digit where three would not give the result shown, as of 1 267 mm.
    return show(value, unit, 3 if float(f"{value:.2e}") == float(f"{value:.3e}") else 4)
