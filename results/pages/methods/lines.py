"""Lines of a derivation as a method shows them: formulas, what their symbols mean, and the lines with their numbers."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from stats.practice.piece import PieceInput
from stats.practice.working import Line

from .entry import spelled


def formulas(lines: Iterable[Line]) -> tuple[str, ...]:
    """Each formula once, with the symbol that it gives."""
    return tuple(dict.fromkeys(f"{line.symbol} = {line.formula}" for line in lines))


def worked(lines: Iterable[Line]) -> tuple[str, ...]:
    """Each line with its numbers, and what it takes for granted."""
    return tuple(f"{line.worked}{f' ({line.note})' if line.note else ''}" for line in lines)


def sources(lines: Iterable[Line]) -> tuple[str, ...]:
    """Each source once."""
    return tuple(dict.fromkeys(line.source for line in lines))


def symbols(
    lines: Iterable[Line], inputs: Iterable[PieceInput] = (), own: Mapping[str, str] | None = None
) -> tuple[str, ...]:
    """What the symbols of some lines mean: inputs of a piece, results of other lines, or what `own` says.

    Parameters
    ----------
    lines : iterable of Line
        As the code gave them.
    inputs : iterable of PieceInput
        What the piece takes.
    own : mapping, optional
        Meanings of symbols that are neither.

    Raises
    ------
    LookupError
        If a symbol's meaning can't be told.
    """
    rows, asked = list(lines), list(inputs)
    told = dict(own or {})
    told |= {one.symbol: _with_unit(one.words.removeprefix("the "), one.unit) for one in asked}
    told |= {line.symbol: _with_unit(line.name, line.unit) for line in rows if line.symbol not in told}
    used = [symbol for line in rows for symbol in (*line.inputs, line.symbol)]
    unknown = [symbol for symbol in used if symbol not in told]
    if unknown:
        raise LookupError(f"{unknown[0]} has no meaning here; give it one.")
    # An input may stand in no formula, and choose between two.
    used += [one.symbol for one in asked]
    return spelled({symbol: told[symbol] for symbol in dict.fromkeys(used)})


def _with_unit(words: str, unit: str) -> str:
    return f"{words}, {unit}" if unit else words
