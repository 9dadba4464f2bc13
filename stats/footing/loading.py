"""Loading arrangements: what the joint feels for one newton on the rig."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from stats.errors import NotCovered, StatsError
from stats.footing.fields import count, given, number
from stats.footing.step import STATICS, Input, Step, total_factor

ACTIONS = ("bending", "axial", "shear", "torsion")
"""What a joint may feel."""
ACTION_UNITS = {"bending": "N·m", "torsion": "N·m", "axial": "N", "shear": "N"}
"""Unit of each action at the joint."""


@dataclass(frozen=True)
class Action:
    """What the joint feels for one newton applied.

    Parameters
    ----------
    loading : str
        Code of the arrangement.
    kind : {"bending", "axial", "shear", "torsion"}
        The action that the arrangement tests.
    factor : float
        Action at the joint for one newton [N·m or N].
    unit : {"N·m", "N"}
        Unit of the action.
    shear_factor, normal_factor : float or None
        Shear and normal force at the joint for one newton [-], as sizes without sign; None if statics alone does
        not give it.
    normal_sense : {"tension", "compression", ""}
        Sense of the normal force.
    sense : {"opening", "closing", ""}
        For a corner, which way it turns.
    faces : int
        Bonded faces that share a shear.
    place : str
        Where the action is taken.
    steps : tuple of Step
        The derivation; its factors multiply to `factor`.
    """

    loading: str
    kind: str
    factor: float
    unit: str
    shear_factor: float | None
    normal_factor: float | None
    normal_sense: str
    sense: str
    faces: int
    place: str
    steps: tuple[Step, ...]


@dataclass(frozen=True)
class Loading:
    """A loading arrangement.

    Parameters
    ----------
    code, name : str
        Code and name.
    action : str
        What the joint feels.
    needs, optional : tuple of str
        Setup lengths it must have and may have.
    formula : str
        Action at the joint.
    note : str
        What to mind.
    source : str
        Where the formula comes from.
    """

    code: str
    name: str
    action: str
    needs: tuple[str, ...]
    optional: tuple[str, ...]
    formula: str
    note: str
    source: str = STATICS


@dataclass(frozen=True)
class _Statics:
    """What an arrangement's own function finds."""

    steps: tuple[Step, ...]
    shear: float | None
    normal: float | None = 0.0
    normal_sense: str = ""
    place: str = "at the joint"
    faces: int = 1


def _moment(formula: str, inputs: Mapping[str, Input], factor: float, note: str = "") -> Step:
    return Step("moment at the joint", formula, inputs, factor, "N·m", STATICS, note)


def _mm(value: float) -> Input:
    return (value, "mm")


def _cantilever(setup: Mapping[str, Any]) -> _Statics:
    """M = F·a·cos φ about the joint face, wherever the arm was measured to."""
    arm = number(setup, "arm_mm")
    angle = number(setup, "angle_deg", 0.0, low=-89.0, high=89.0)
    reference = setup.get("arm_reference") or "face"
    taken_off = {"face": 0.0, "centre": 0.5, "far_face": 1.0}
    if reference not in taken_off:
        raise StatsError(f"arm_reference ({reference!r}) must be face, centre or far_face.")
    inputs: dict[str, Input] = {"a": _mm(arm)}
    to_face, formula = arm, "M = F · a"
    if taken_off[reference]:
        given(setup, ["other_depth_mm"], f"an arm measured to the {reference.replace('_', ' ')}")
        depth = number(setup, "other_depth_mm")
        to_face = arm - taken_off[reference] * depth
        inputs["D_o"] = _mm(depth)
        formula = "M = F · (a - D_o / 2)" if reference == "centre" else "M = F · (a - D_o)"
    if to_face <= 0:
        raise StatsError(f"arm_mm ({arm:g}) must reach beyond the joint face; measured to the {reference}.")
    slope = math.radians(angle)
    if angle:
        inputs["φ"] = (angle, "°")
        formula += " · cos φ"
    note = "" if setup.get("arm_reference") else "arm taken to the joint face (not said)"
    step = _moment(formula, inputs, to_face / 1000 * math.cos(slope), note)
    return _Statics((step,), math.cos(slope), abs(math.sin(slope)), place="at the joint face")


def _centre_point(setup: Mapping[str, Any]) -> _Statics:
    """Each support carries F/2, so M = F·x/2 at x from the nearer one."""
    span = number(setup, "span_mm")
    offset = number(setup, "joint_offset_mm", span / 2, high=span / 2)
    if offset == span / 2:
        return _Statics((_moment("M = F · L / 4", {"L": _mm(span)}, span / 4000),), 0.5)
    inputs = {"x": _mm(offset), "L": _mm(span)}
    return _Statics((_moment("M = F · x / 2", inputs, offset / 2000),), 0.5)


def _two_point(setup: Mapping[str, Any]) -> _Statics:
    """Between the loads M = F·a/2 and no shear; outside them M = F·x/2."""
    load = number(setup, "load_offset_mm")
    span = number(setup, "span_mm", math.inf)
    if load >= span / 2:
        raise StatsError(f"load_offset_mm ({load:g}) must be less than half of span_mm ({span:g}).")
    offset = number(setup, "joint_offset_mm", load, high=span / 2)
    if offset >= load:
        note = "joint between the loads: no shear there"
        return _Statics((_moment("M = F · a / 2", {"a": _mm(load)}, load / 2000, note),), 0.0)
    inputs = {"x": _mm(offset), "a": _mm(load)}
    return _Statics((_moment("M = F · x / 2", inputs, offset / 2000),), 0.5)


def _legs(setup: Mapping[str, Any]) -> tuple[float, float, float, dict[str, Input], str]:
    """Legs p and q, the face offset c on leg p, the inputs, and where the moment is taken."""
    leg = number(setup, "leg_mm")
    other = number(setup, "leg_b_mm", leg)
    offset = number(setup, "face_offset_mm", 0.0, open_low=False)
    if offset >= leg:
        raise StatsError(f"face_offset_mm ({offset:g}) must be less than leg_mm ({leg:g}).")
    inputs = {"p": _mm(leg)} | ({"q": _mm(other)} if other != leg else {})
    inputs |= {"c": _mm(offset)} if offset else {}
    return leg, other, offset, inputs, "at the joint face" if offset else "at the corner centre"


def _diagonal(setup: Mapping[str, Any], normal_sense: str) -> _Statics:
    """The force lies along the line through both leg ends; across leg p it has the part q/s."""
    leg, other, offset, inputs, place = _legs(setup)
    slant = math.hypot(leg, other)
    term = "(p - c)" if offset else "p"
    formula = f"M = F · {term} / √2" if leg == other else f"M = F · {term} · q / √(p² + q²)"
    step = _moment(formula, inputs, (leg - offset) / 1000 * other / slant)
    return _Statics((step,), other / slant, leg / slant, normal_sense, place)


def _closing(setup: Mapping[str, Any]) -> _Statics:
    return _diagonal(setup, "compression")


def _pulled_open(setup: Mapping[str, Any]) -> _Statics:
    return _diagonal(setup, "tension")


def _on_rollers(setup: Mapping[str, Any]) -> _Statics:
    """Leg p stands on a roller that carries F·q²/s²; roller friction holds the leg back."""
    leg, other, offset, inputs, place = _legs(setup)
    friction = number(setup, "friction", 0.0, high=0.99, open_low=False)
    if friction and leg != other:
        raise NotCovered(
            "the moment of a corner on rollers with friction",
            "with unequal legs the two rollers' friction does not balance; give equal legs or no friction.",
        )
    slant = math.hypot(leg, other)
    reaction = (other / slant) ** 2
    term = "(p - c)" if offset else "p"
    formula = f"M = F · {term} / (2 · √2)" if leg == other else f"M = F · {term} · p · q² / (p² + q²)^1.5"
    if friction:
        inputs["μ"] = (friction, "")
        formula += " · (1 - μ)"
    step = _moment(formula, inputs, reaction * (leg - offset) / 1000 * leg / slant * (1 - friction))
    shear = reaction * (leg / slant) * (1 - friction)
    normal = reaction * (other / slant) * (1 + friction)
    return _Statics((step,), shear, normal, "compression", place)


def _pull(setup: Mapping[str, Any]) -> _Statics:
    step = Step("force at the joint", "N = F", {}, 1.0, "N", STATICS)
    return _Statics((step,), 0.0, 1.0, "tension")


def _lap(setup: Mapping[str, Any]) -> _Statics:
    faces = count(setup, "shear_faces", 1)
    note = "the pull is off the line of the bond in a single lap, so that it peels too" if faces == 1 else ""
    step = Step("force at the joint", "V = F", {}, 1.0, "N", STATICS, note)
    return _Statics((step,), 1.0, 0.0, faces=faces)


def _block(setup: Mapping[str, Any]) -> _Statics:
    return _Statics((Step("force at the joint", "V = F", {}, 1.0, "N", STATICS),), 1.0)


def _twist(setup: Mapping[str, Any]) -> _Statics:
    arm = number(setup, "arm_mm")
    step = Step("torque at the joint", "T = F · a", {"a": _mm(arm)}, arm / 1000, "N·m", STATICS)
    return _Statics((step,), None, None)


def _racking(setup: Mapping[str, Any], divisor: float) -> _Statics:
    """Push along the rail, shared by equal frames, then by the columns."""
    height = number(setup, "rail_height_mm")
    frames = count(setup, "frame_count", 1)
    diagonal = number(setup, "diagonal_deg", 0.0, high=89.0, open_low=False)
    steps = []
    if diagonal:
        share = math.cos(math.radians(diagonal))
        steps.append(Step("push along the rail", "H = F · cos θ", {"θ": (diagonal, "°")}, share, "N", STATICS))
    if frames > 1:
        inputs: dict[str, Input] = {"n": (float(frames), "")}
        steps.append(Step("share of one frame", "H / n", inputs, 1 / frames, "N", STATICS))
    across = float(total_factor(steps)) / 2
    note = "joints taken as equal, so that they share alike"
    steps.append(_moment(f"M = H · h / {divisor:g}", {"h": _mm(height)}, height / 1000 / divisor, note))
    return _Statics(tuple(steps), across, None, place="at each corner")


def _frame(setup: Mapping[str, Any]) -> _Statics:
    return _racking(setup, 4.0)


def _portal(setup: Mapping[str, Any]) -> _Statics:
    return _racking(setup, 2.0)


_CORNER = ("leg_b_mm", "face_offset_mm")
_FRAME = ("frame_count", "diagonal_deg")
# Each row is an arrangement, the function that works it, and which way it turns a corner.
_ROWS: tuple[tuple[Loading, Callable[[Mapping[str, Any]], _Statics], str], ...] = (
    (Loading("cantilever_arm", "Cantilever arm", "bending", ("arm_mm",), ("arm_reference", "angle_deg"),
             "M = F · a · cos φ", "Say where the arm is measured to; a load line that turns as the arm sags "
             "shortens it."), _cantilever, ""),
    (Loading("centre_point_bending", "Centre-point bending", "bending", ("span_mm",), ("joint_offset_mm",),
             "M = F · L / 4 at mid-span, F · x / 2 at x from the nearer support",
             "The joint is taken at mid-span unless said."), _centre_point, ""),
    (Loading("two_point_bending", "Two-point bending", "bending", ("load_offset_mm",),
             ("span_mm", "joint_offset_mm"), "M = F · a / 2 between the loads",
             "F is the total of both loads; a runs from a support to the nearer load."), _two_point, ""),
    (Loading("corner_closing", "Corner closed along its diagonal", "bending", ("leg_mm",), _CORNER,
             "M = F · (p - c) / √2; unequal legs F · (p - c) · q / √(p² + q²)",
             "Legs run from the corner centre to the load points; c is on the leg p."), _closing, "closing"),
    (Loading("corner_opening", "Corner opened on rollers", "bending", ("leg_mm",), (*_CORNER, "friction"),
             "M = F · (p - c) · (1 - μ) / (2 · √2)",
             "Half of what the same load does along the diagonal; on free rollers, or give the friction."),
     _on_rollers, "opening"),
    (Loading("corner_pulled_open", "Corner pulled open along its diagonal", "bending", ("leg_mm",), _CORNER,
             "M = F · (p - c) / √2; unequal legs F · (p - c) · q / √(p² + q²)",
             "As closing, reversed."), _pulled_open, "opening"),
    (Loading("withdrawal", "Withdrawal", "axial", (), (), "N = F",
             "A pull out of line with the joint bends it too."), _pull, ""),
    (Loading("lap_shear", "Lap shear", "shear", (), ("shear_faces",), "V = F, shared by the bonded faces",
             "A single lap peels as well as shears."), _lap, ""),
    (Loading("block_shear", "Block shear", "shear", (), (), "V = F",
             "A push out of the plane of the bond opens it too."), _block, ""),
    (Loading("torsion", "Torsion", "torsion", ("arm_mm",), (), "T = F · a",
             "A torque wrench needs no arm."), _twist, ""),
    (Loading("frame_racking", "Frame racked, four joints", "bending", ("rail_height_mm",), _FRAME,
             "M = H · h / 4 at each corner, H = F · cos θ / n",
             "h between rail centre-lines; the joints are taken as equal, with no moment at mid-height."),
     _frame, ""),
    (Loading("portal_racking", "Portal racked, two joints on pinned feet", "bending", ("rail_height_mm",),
             _FRAME, "M = H · h / 2 at each joint, H = F · cos θ / n",
             "h from the feet to the rail centre-line; both feet free to turn and held from sliding."),
     _portal, ""),
)  # fmt: skip

LOADINGS: dict[str, Loading] = {loading.code: loading for loading, _, _ in _ROWS}
"""Loading arrangements by code."""
_WORK = {loading.code: (work, sense) for loading, work, sense in _ROWS}


def find(loading: str) -> Loading:
    """The arrangement with that code.

    Parameters
    ----------
    loading : str
        A key of `LOADINGS`.

    Returns
    -------
    Loading

    Raises
    ------
    StatsError
        If there is none with that code.
    """
    if loading not in LOADINGS:
        raise StatsError(f"loading ({loading!r}) must be one of {', '.join(LOADINGS)}.")
    return LOADINGS[loading]


def action_at_joint(loading: str, setup: Mapping[str, Any]) -> Action:
    """What the joint feels for one newton applied in an arrangement.

    Parameters
    ----------
    loading : str
        A key of `LOADINGS`.
    setup : mapping
        Lengths [mm], angles [°] and counts by name; None counts as not given. An arm measured to the centre
        or far face of the mating member also needs its ``other_depth_mm``.

    Returns
    -------
    Action
        Factor, shear and normal force for one newton, and the steps.

    Raises
    ------
    MissingInputs
        If a length that the arrangement needs was not given.
    NotCovered
        For unequal legs on rollers with friction.
    StatsError
        If the arrangement is unknown or a length can't be.

    Notes
    -----
    Statics of a rigid, undeformed specimen: no self-weight, no turning of the load line as it bends. Frames
    take equal joints.

    Examples
    --------
    >>> action_at_joint("cantilever_arm", {"arm_mm": 300, "arm_reference": "face"}).factor
    0.3
    """
    arrangement = find(loading)
    given(setup, arrangement.needs, f"the {arrangement.action} at the joint ({arrangement.name.lower()})")
    work, sense = _WORK[loading]
    found = work(setup)
    return Action(
        loading=loading,
        kind=arrangement.action,
        factor=float(total_factor(found.steps)),
        unit=ACTION_UNITS[arrangement.action],
        shear_factor=found.shear,
        normal_factor=found.normal,
        normal_sense=found.normal_sense if found.normal else "",
        sense=sense,
        faces=found.faces,
        place=found.place,
        steps=found.steps,
    )


def sense_of(loading: str) -> str:
    """Which way an arrangement turns a corner: "opening", "closing" or ""."""
    find(loading)
    return _WORK[loading][1]
