"""The inputs a footing may need, by name: their unit and what they are in words, and how they are checked."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from stats.errors import MissingInputs, StatsError


@dataclass(frozen=True)
class Field:
    """One input.

    Parameters
    ----------
    name : str
        Its name, ending in its unit.
    unit : str
        Unit, "" for a count or a word.
    words : str
        What it is, as a phrase that can follow "needs".
    """

    name: str
    unit: str
    words: str


def _table(rows: Iterable[tuple[str, str, str]]) -> dict[str, Field]:
    return {name: Field(name, unit, words) for name, unit, words in rows}


SETUP_FIELDS = _table(
    [
        ("arm_mm", "mm", "the distance from the joint to the line of the load"),
        ("arm_reference", "", "where the arm is measured to: face, centre or far_face"),
        ("angle_deg", "°", "the angle of the load line from square to the arm"),
        ("span_mm", "mm", "the distance between the supports"),
        ("load_offset_mm", "mm", "the distance from a support to the nearer load"),
        ("joint_offset_mm", "mm", "the distance from the nearer support to the joint"),
        ("leg_mm", "mm", "the length of the leg from the corner centre to its load point"),
        ("leg_b_mm", "mm", "the length of the other leg, if unequal"),
        ("face_offset_mm", "mm", "the distance from the corner centre to the joint face"),
        ("friction", "", "the coefficient of friction at the supports"),
        ("rail_height_mm", "mm", "the height between rail centre-lines, or from the feet to the rail"),
        ("frame_count", "", "the number of frames that share the load"),
        ("diagonal_deg", "°", "the angle of the push from the rail"),
        ("shear_faces", "", "the number of bonded faces that share the load: 1 single lap, 2 double lap"),
    ]
)
INSTRUMENT_FIELDS = _table(
    [
        ("ram_diameter_mm", "mm", "the diameter of the jack's ram"),
        ("lever_ratio", "", "the load at the joint for one unit of force read"),
    ]
)
DIM_FIELDS = _table(
    [
        ("member_thickness_mm", "mm", "the member's width across the bending plane"),
        ("member_depth_mm", "mm", "the member's depth in the bending plane"),
        ("other_thickness_mm", "mm", "the mating member's width across the bending plane"),
        ("other_depth_mm", "mm", "the mating member's depth in the bending plane"),
        ("bond_length_mm", "mm", "the length of the glued face"),
        ("bond_width_mm", "mm", "the width of the glued face"),
        ("tenon_length_mm", "mm", "the length of the tenon in the mortise"),
        ("tenon_depth_mm", "mm", "the height of the tenon in the bending plane"),
        ("tenon_thickness_mm", "mm", "the thickness of the tenon"),
        ("tenon_count", "", "the number of tenons"),
        ("haunch_length_mm", "mm", "the length of the haunch"),
        ("haunch_depth_mm", "mm", "the height of the haunch in the bending plane"),
        ("fastener_count", "", "the number of dowels, plates or screws"),
        ("fastener_diameter_mm", "mm", "the diameter of the dowel or screw"),
        ("fastener_depth_mm", "mm", "the depth of the fastener in the weaker side"),
        ("fastener_spacing_mm", "mm", "the distance between dowels"),
        ("fastener_edge_mm", "mm", "the distance from the dowel on the compression side to the edge"),
        ("slot_length_mm", "mm", "the length of the slot along the face"),
        ("slot_depth_mm", "mm", "the depth of the slot in one member"),
        ("finger_count", "", "the number of fingers, or tails and pins, on both parts together"),
        ("slope_deg", "°", "the slope of the dovetail"),
        ("scarf_ratio", "", "the scarf's length for one unit of depth: 8 for 1:8"),
        ("spline_depth_mm", "mm", "the depth of the spline in one member"),
        ("groove_depth_mm", "mm", "the depth of the groove or housing"),
        ("tongue_thickness_mm", "mm", "the thickness of the tongue"),
    ]
)
OTHER_FIELDS = _table(
    [
        ("reads", "", "whether the instrument read a force, a moment or a stress"),
        ("loading", "", "the loading arrangement"),
        ("area_rule", "", "a joint whose bonded area has a rule"),
        ("section_rule", "", "a joint whose section has a rule"),
        ("timber", "", "the timber"),
        ("faces", "", "the grain of the bonded faces: end-end, end-side or side-side"),
        ("moisture_pct", "%", "the moisture content at the test"),
        ("density_kgm3", "kg/m³", "the density of the specimen"),
        ("time_to_failure_s", "s", "the time from the start of loading to failure"),
        ("solid_stress_mpa", "MPa", "solid bars of the same wood, tested in the same study"),
        ("control_value", "", "a control in the same study, on the same setup"),
    ]
)
# Found from other records or the vocabulary; nobody types them.
COMPUTED = ("area_rule", "section_rule", "solid_stress_mpa", "control_value")
FIELDS: dict[str, Field] = SETUP_FIELDS | INSTRUMENT_FIELDS | DIM_FIELDS | OTHER_FIELDS
"""Every input by name."""


def words(name: str) -> str:
    """What a field is, as a missing input is told: with its name where somebody can fill it in.

    Parameters
    ----------
    name : str
        A key of `FIELDS`; any other name is given back as it is.

    Returns
    -------
    str
        Such as "the distance between the supports (span_mm)".
    """
    field = FIELDS.get(name)
    if field is None:
        return name
    return field.words if name in COMPUTED else f"{field.words} ({name})"


def given(values: Mapping[str, Any], names: Iterable[str], what: str) -> None:
    """Raise `MissingInputs` for the names that have no value.

    Parameters
    ----------
    values : mapping
        Inputs by name; None and "" count as not given.
    names : iterable of str
        The names that must be there.
    what : str
        What needs them, in words.

    Raises
    ------
    MissingInputs
        Naming all that are missing.
    """
    missing = [name for name in names if values.get(name) in (None, "")]
    if missing:
        raise MissingInputs(missing, what)


def number(
    values: Mapping[str, Any],
    name: str,
    default: float | None = None,
    *,
    low: float = 0.0,
    high: float = math.inf,
    open_low: bool = True,
) -> float:
    """One number from the inputs, checked.

    Parameters
    ----------
    values : mapping
        Inputs by name.
    name : str
        Which one.
    default : float, optional
        Value when it is not given, in the field's unit, taken unchecked; without it `MissingInputs` is raised.
    low, high : float, optional
        Range allowed, in the field's unit; `high` itself is allowed.
    open_low : bool, optional
        Whether `low` itself is refused, as it is for a length.

    Returns
    -------
    float
        The value, in the field's unit.

    Raises
    ------
    MissingInputs
        If it is not given and there is no default.
    StatsError
        If it is no finite number, or out of range.
    """
    value = values.get(name)
    if value in (None, ""):
        if default is None:
            raise MissingInputs([name], "this")
        return default
    try:
        result = float(value)
    except (TypeError, ValueError):
        result = None
    if result is None or isinstance(value, bool):
        raise StatsError(f"{name} ({value!r}) must be a number.")
    too_low = result <= low if open_low else result < low
    if not math.isfinite(result) or too_low or result > high:
        bound = f"above {low:g}" if open_low else f"{low:g} or more"
        top = f" and at most {high:g}" if math.isfinite(high) else ""
        raise StatsError(f"{name} ({result:g}) must be {bound}{top}.")
    return result


def count(values: Mapping[str, Any], name: str, default: int | None = None, *, low: int = 1) -> int:
    """One whole number from the inputs, checked; see `number`.

    Parameters
    ----------
    values : mapping
        Inputs by name.
    name : str
        Which one.
    default : int, optional
        Count when it is not given, not held to `low`; without it `MissingInputs` is raised.
    low : int, optional
        Smallest count allowed.

    Returns
    -------
    int

    Raises
    ------
    MissingInputs
        If it is not given and there is no default.
    StatsError
        If it is no whole number, or below `low`.
    """
    result = number(values, name, default, low=low, open_low=False)
    if result != int(result):
        raise StatsError(f"{name} ({result:g}) must be a whole number.")
    return int(result)
