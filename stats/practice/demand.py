"""What a piece asks of its worst joint, by statics, every step shown."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from stats.errors import StatsError
from stats.practice import pieces_boards, pieces_frames, pieces_seating
from stats.practice.caution import Caution, caution
from stats.practice.piece import LARGEST_LOAD_N, Piece, PieceInput
from stats.practice.working import Line
from stats.scalar import scalar

__all__ = ["LARGEST_FACTOR", "LARGEST_LOAD_N", "PIECES", "Demand", "Piece", "PieceInput", "demand", "find"]

_ORDER = ("chair_leaned", "seat", "table_racking", "shelf_fixed", "bookcase_racking", "door_hung", "frame_racked",
          "drawer_front", "bed_rail", "arm")  # fmt: skip
_ALL = {one.code: one for one in (*pieces_seating.PIECES, *pieces_frames.PIECES, *pieces_boards.PIECES)}
PIECES: dict[str, Piece] = {code: _ALL[code] for code in _ORDER}
"""Kinds of piece by code."""

FACTORS = {
    "dynamic": "for a load that comes on suddenly: somebody drops into the seat, a drawer hits its stop",
    "misuse": "for use it was not made for: standing on a chair, swinging on a gate",
}
"""Factors on the loads, by name; 1 unless somebody says otherwise."""
LARGEST_FACTOR = 10.0
"""Largest factor on the loads that is taken [-]."""
_YOURS = "your own figure"


@dataclass(frozen=True)
class Demand:
    """What a piece asks of its worst joint.

    Parameters
    ----------
    piece : str
        A key of `PIECES`.
    action : {"bending", "axial"}
        What is set against a capacity.
    value, unit : float, str
        That action [N·m or N].
    joint : str
        Which joint, in words.
    least : float
        What the joint surely feels of it, in `unit`; below `value` where statics alone does not decide.
    determinate : bool
        Whether equilibrium alone gives it.
    bending_nm, axial_n, shear_n : float
        All that the joint feels [N·m, N, N].
    inputs : dict of str to float
        What was given or taken by default, before the factors.
    defaulted : tuple of str
        Names of inputs that were not given.
    factors : dict of str to float
        Dynamic and misuse factors on the loads.
    lines : tuple of Line
        The working.
    assumption : str
        What the statics take for granted.
    notes : tuple of str
        What else to know.
    caution : Caution
        What must be said beside it.
    """

    piece: str
    action: str
    value: float
    unit: str
    joint: str
    least: float
    determinate: bool
    bending_nm: float
    axial_n: float
    shear_n: float
    inputs: Mapping[str, float]
    defaulted: tuple[str, ...]
    factors: Mapping[str, float]
    lines: tuple[Line, ...]
    assumption: str
    notes: tuple[str, ...]
    caution: Caution

    @property
    def load_factor(self) -> float:
        """Product of the factors."""
        return math.prod(self.factors.values())


def find(piece: str) -> Piece:
    """The kind of piece with that code.

    Parameters
    ----------
    piece : str
        A key of `PIECES`.

    Returns
    -------
    Piece

    Raises
    ------
    StatsError
        If there is none with that code.
    """
    if piece not in PIECES:
        raise StatsError(f"piece ({piece!r}) must be one of {', '.join(PIECES)}.")
    return PIECES[piece]


def demand(
    piece: str,
    given: Mapping[str, Any] | None = None,
    *,
    dynamic: float = 1.0,
    misuse: float = 1.0,
    use: str = "own",
) -> Demand:
    """What a piece asks of its worst joint.

    Parameters
    ----------
    piece : str
        A key of `PIECES`.
    given : mapping, optional
        Sizes and loads by the names of the piece's inputs [mm, N, N/m, °]; what is missing, None or "" takes its
        default.
    dynamic, misuse : float, optional
        Factors on all loads, 1 to 10; see `FACTORS`. No figure for them is offered here: they are the reader's own.
    use : str, optional
        What the piece is for, a key of `caution.USES`.

    Returns
    -------
    Demand
        The action at the joint with its working, what the statics assume, and the cautions.

    Raises
    ------
    StatsError
        For an unknown piece, use or input, a value out of range, or sizes that contradict each other; the message names
        the field, the value and what would be right.

    Notes
    -----
    Statics of rigid, undeformed members. Where equilibrium alone does not decide, the result is what the joint feels
    if the members it meets can't turn or nothing else helps, which is the most; `least` is the other end.

    References
    ----------
    Derived from statics; beams with fixed ends and the portal method as any table of beam formulas has them, and
    checked against frames solved by the direct stiffness method.

    Examples
    --------
    >>> leaned = demand("chair_leaned", {"sitter_n": 981, "back_push_n": 560})
    >>> round(leaned.value), leaned.unit
    (151, 'N·m')
    >>> leaned.lines[1].worked
    'M_b = F · h / n = 560 N · 300 mm / 2 = 84.0 N·m'
    """
    kind = find(piece)
    said = dict(given or {})
    unknown = sorted(set(said) - {one.name for one in kind.inputs})
    if unknown:
        names = ", ".join(one.name for one in kind.inputs)
        raise StatsError(f"{unknown[0]} ({said[unknown[0]]!r}) is not asked of this piece; it takes {names}.")
    values = {one.name: one.checked(said.get(one.name)) for one in kind.inputs}
    _refuse_no_load(kind, values)
    factors = {"dynamic": _factor("dynamic", dynamic), "misuse": _factor("misuse", misuse)}
    total = math.prod(factors.values())
    found = kind.work({one.name: values[one.name] * (total if one.is_load else 1.0) for one in kind.inputs})
    return Demand(
        piece=kind.code,
        action=kind.action,
        value=found.lines[-1].value,
        unit=kind.unit,
        joint=kind.joint,
        least=found.least,
        determinate=kind.determinate,
        bending_nm=found.bending_nm,
        axial_n=found.axial_n,
        shear_n=found.shear_n,
        inputs=values,
        defaulted=tuple(one.name for one in kind.inputs if said.get(one.name) in (None, "")),
        factors=factors,
        lines=(*_factored(kind, values, factors, total), *found.lines),
        assumption=kind.assumption,
        notes=found.notes,
        caution=caution(use),
    )


def _factor(name: str, value: float) -> float:
    if not 1.0 <= scalar(value) <= LARGEST_FACTOR:  # NaN too
        raise StatsError(f"{name} ({value!r}) must be 1 to {LARGEST_FACTOR:g}: a factor {FACTORS[name]}.")
    return float(value)


def _factored(kind: Piece, values: Mapping[str, float], factors: Mapping[str, float], total: float) -> tuple[Line, ...]:
    """A line for each load that the factors raise; nothing where they are 1."""
    if total == 1.0:
        return ()
    return tuple(
        Line(
            f"{one.words}, raised",
            one.symbol,
            f"{one.symbol}_0 · k_d · k_m",
            {
                f"{one.symbol}_0": (values[one.name], one.unit),
                "k_d": (factors["dynamic"], ""),
                "k_m": (factors["misuse"], ""),
            },
            values[one.name] * total,
            one.unit,
            _YOURS,
            "dynamic and misuse factors",
        )
        for one in kind.inputs
        if one.is_load and values[one.name]
    )


def _refuse_no_load(kind: Piece, values: Mapping[str, float]) -> None:
    loads = [one.name for one in kind.inputs if one.is_load]
    if not any(values[name] for name in loads):
        raise StatsError(f"{loads[0]} (0) must be above zero, or another load: nothing loads this piece.")
