"""What a joint of the book gives at the sizes of a piece, from a lower limit on a footing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from stats.errors import MissingInputs, NotCovered, StatsError
from stats.footing.loading import ACTION_UNITS
from stats.interval import Interval
from stats.practice.carry import RULES, Joint, ways
from stats.practice.factors import NAMES, Factor, size_depth
from stats.practice.limit import Limit
from stats.practice.scaling import has_bond
from stats.practice.sizes import check_sizes
from stats.practice.working import Line
from stats.scalar import said, scalar

__all__ = ["FOOTINGS", "RULES", "Capacity", "Scaled", "capacity"]

FOOTINGS = ("stress", "ratio_solid", "ratio_solid_matched", "at_joint")
"""Footings that can be carried to a piece. A peak load can't, without its rig; nor can a ratio to a control."""
_LARGEST_SOLID_MPA = 400.0


@dataclass(frozen=True)
class Scaled:
    """The capacity by one way of carrying it over.

    Parameters
    ----------
    rule : str
        A key of `RULES`.
    value : float
        Capacity [N·m or N].
    factor : float
        Capacity for one unit of the footing.
    lines : tuple of Line
        The working.
    factors : tuple of Factor
        What was taken off for use.
    """

    rule: str
    value: float
    factor: float
    lines: tuple[Line, ...]
    factors: tuple[Factor, ...]


@dataclass(frozen=True)
class Capacity:
    """What a joint gives.

    Parameters
    ----------
    value : float
        Lower limit of the action that it bears [N·m or N]: the lowest of `scaled`.
    upper : float
        The highest of `scaled`, in `unit`; the same where there is one way only.
    unit, action : str
        Unit, and what the joint feels.
    typical : float
        What a middling joint bears, in `unit`, by the way of `value`.
    single : Interval
        Where a further joint would lie, by the way of `value`.
    scaled : tuple of Scaled
        The ways, lowest first.
    factors : tuple of Factor
        What was taken off for use, by the way of `value`.
    limit : Limit
        What it rests on.
    footing : str
        Where that came from.
    dims : dict of str to float
        Sizes of the piece's joint; empty for one built as tested.
    notes : tuple of str
        What to know before using it.
    """

    value: float
    upper: float
    unit: str
    action: str
    typical: float
    single: Interval
    scaled: tuple[Scaled, ...]
    factors: tuple[Factor, ...]
    limit: Limit
    footing: str
    dims: Mapping[str, float]
    notes: tuple[str, ...]

    @property
    def rule(self) -> str:
        """The way of `value`."""
        return self.scaled[0].rule

    @property
    def lines(self) -> tuple[Line, ...]:
        """The working: of the limit, then of the way of `value`."""
        return self.limit.lines + self.scaled[0].lines

    @property
    def per_footing(self) -> float:
        """Capacity for one unit of the footing, by the way of `value`."""
        return self.scaled[0].factor


def capacity(
    limit: Limit,
    footing: str,
    action: str,
    dims: Mapping[str, Any] | None = None,
    *,
    area_rule: str | None = None,
    section_rule: str | None = None,
    tested_dims: Mapping[str, Any] | None = None,
    solid_mpa: float | None = None,
    size_effect: bool = True,
    factors: Sequence[Factor] = (),
) -> Capacity:
    """What a joint of the book gives at the sizes of a piece.

    Parameters
    ----------
    limit : Limit
        From `limit.next_shop`, or `limit.shop_tested` for one shop's own joints.
    footing : str
        Footing of the limit, one of `FOOTINGS`.
    action : {"bending", "axial", "shear", "torsion"}
        What the joint feels.
    dims : mapping, optional
        Sizes of the piece's joint [mm]. None for one built exactly as tested, on the footing ``at_joint`` only.
    area_rule, section_rule : str, optional
        The joint's rules, as the vocabulary has them.
    tested_dims : mapping, optional
        Sizes of the joints tested; with them a moment is carried over by the glued faces as well, if there is a rule.
    solid_mpa : float, optional
        Strength of the piece's solid wood [MPa], for a ratio to solid wood.
    size_effect : bool, optional
        Whether a deeper member than tested is taken to bear less stress; needs `tested_dims`.
    factors : sequence of Factor, optional
        What use takes off, from `factors`.

    Returns
    -------
    Capacity
        The lower of what the ways of carrying it over give, with both.

    Raises
    ------
    MissingInputs
        If a size, rule or strength that is needed was not given, in the piece or, where tested sizes are given, in the
        tests.
    NotCovered
        For a footing that can't be carried to a piece, a moment on a single dowel at another size than tested, or a
        torque on dowels or screws.
    StatsError
        For an unknown action, sizes that can't be, or two factors for one thing.

    Notes
    -----
    By the section: M = σ·Z, with σ the limit as a stress. By the glued faces: the moment at the tested size times the
    ratio of the glued faces' moduli. A pull or shear: F = τ·A. Which of wood and glue decides is rarely known; where
    the joint is built as tested the ways agree. No joint-size effect with a source is known for bonds.

    Examples
    --------
    >>> from stats.practice.limit import shop_tested
    >>> oak = shop_tested(353, 48, 215, coverage=0.90, confidence=0.90)
    >>> round(capacity(oak, "at_joint", "bending").value)
    285
    """
    joint = _checked(footing, action, dims, area_rule, section_rule, tested_dims, solid_mpa)
    taken = tuple(factors)
    size = _size(joint) if size_effect else None
    _refuse_twice(((size,) if size else ()) + taken)
    scaled = [
        _factored(rule, factor, lines, (size, *taken) if size and rule == "section" else taken, limit,
                  ACTION_UNITS[action])
        for rule, factor, lines in ways(joint, limit)
    ]  # fmt: skip
    scaled.sort(key=lambda one: one.value)
    lowest = scaled[0]
    return Capacity(
        value=lowest.value,
        upper=scaled[-1].value,
        unit=ACTION_UNITS[action],
        action=action,
        typical=limit.typical * lowest.factor,
        single=Interval(limit.single.low * lowest.factor, limit.single.high * lowest.factor, limit.single.level),
        scaled=tuple(scaled),
        factors=lowest.factors,
        limit=limit,
        footing=footing,
        dims=joint.dims,
        notes=_notes(joint, limit, taken, size_effect, len(scaled)),
    )


def _checked(
    footing: str,
    action: str,
    dims: Mapping[str, Any] | None,
    area_rule: str | None,
    section_rule: str | None,
    tested_dims: Mapping[str, Any] | None,
    solid_mpa: float | None,
) -> Joint:
    if action not in ACTION_UNITS:
        raise StatsError(f"action ({action!r}) must be one of {', '.join(ACTION_UNITS)}.")
    if footing not in FOOTINGS:
        why = {
            "peak_load": "a load means nothing without the rig it was read on.",
            "ratio_control": "a ratio to a control is no strength; take a footing that is.",
        }.get(footing, f"footing ({footing!r}) must be one of {', '.join(FOOTINGS)}.")
        raise NotCovered("the capacity", why)
    if solid_mpa is not None and not 0.1 <= scalar(solid_mpa) <= _LARGEST_SOLID_MPA:  # NaN too
        raise StatsError(f"solid_mpa ({said(solid_mpa, 'g')}) must be 0.1 to {_LARGEST_SOLID_MPA:g} MPa.")
    if footing.startswith("ratio_solid") and solid_mpa is None:
        raise MissingInputs(["solid_mpa"], "a capacity from a ratio to solid wood")
    sizes = check_sizes(dims or {})
    if not sizes and footing != "at_joint":
        raise MissingInputs(["dims"], "a capacity from a stress")
    return Joint(action, footing, sizes, check_sizes(tested_dims or {}), area_rule, section_rule, solid_mpa)


def _size(joint: Joint) -> Factor | None:
    """The depth rule, where it applies: a member bent, tested at a known depth."""
    name = "member_depth_mm"
    if joint.action != "bending" or joint.section_rule != "member" or not {name} <= joint.tested.keys() & joint.dims:
        return None
    return size_depth(joint.dims[name], joint.tested[name])


def _refuse_twice(factors: Sequence[Factor]) -> None:
    """Two factors for one thing; of one's own there may be several."""
    names = [one.name for one in factors if one.name != "own"]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice == "size":
        raise StatsError(
            "factors (size) must not hold the effect of size, which is taken off already: leave it out, or turn "
            "size_effect off."
        )
    if twice:
        raise StatsError(f"factors ({twice}, given twice) must hold one factor for {NAMES[twice]}.")


def _factored(
    rule: str, factor: float, lines: tuple[Line, ...], factors: Sequence[Factor], limit: Limit, unit: str
) -> Scaled:
    """The capacity with every factor taken off, a line each."""
    value = limit.value * factor
    working = list(lines)
    for one in factors:
        after = value * one.value
        working.append(
            Line(f"{NAMES[one.name]}: {one.words}", "R", "R_0 · k", {"R_0": (value, unit), "k": (one.value, "")}, after,
                 unit, one.source, one.note)
        )  # fmt: skip
        value, factor = after, factor * one.value
    return Scaled(rule, value, factor, tuple(working), tuple(factors))


def _notes(joint: Joint, limit: Limit, factors: Sequence[Factor], size_effect: bool, found: int) -> tuple[str, ...]:
    taken = {one.name for one in factors}
    left_out = [NAMES[name] for name in ("moisture", "duration", "repeated") if name not in taken]
    notes = list(limit.notes)
    if left_out:
        notes.append(f"Not taken off: {', '.join(left_out)}. The figure holds for one short load on a joint as tested.")
    if not joint.dims:
        return tuple(notes)
    if joint.action != "bending":
        notes.append("A larger bond is expected to bear less for each square millimetre; no sourced rule is known.")
        return tuple(notes)
    if "size" not in taken and not size_effect:
        notes.append("The effect of size is turned off.")
    elif "size" not in taken and not joint.tested:
        notes.append("No effect of size is taken off: the sizes tested are not given.")
    return (*notes, *_ways_note(joint, found))


def _ways_note(joint: Joint, found: int) -> tuple[str, ...]:
    """Which ways were gone, and why no more."""
    if found > 1:
        said = "Carried over by the section and by the glued faces: the lower of the two is taken, both are shown."
    elif not joint.area_rule:
        return ()
    elif not has_bond(joint.area_rule):
        said = "Carried over by the section alone: no rule is known for a moment on these glued faces."
    elif not joint.tested:
        said = "Carried over by the section alone: without the sizes tested, what the glued faces bear can't be had."
    else:
        said = "Carried over by the section alone: built as tested, every way gives the same."
    return (said,)
