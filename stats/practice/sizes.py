"""Sizes of a joint that can't be, each alone or together."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from typing import Any

from stats.errors import StatsError
from stats.footing.fields import DIM_FIELDS

LARGEST_MM = 3000.0
"""Largest size of a joint's parts taken [mm]."""
SMALLEST_MM = 0.5
"""Smallest size of a joint's parts taken [mm]."""

# Field, the field it must not pass, and why.
_WITHIN = (
    ("tenon_depth_mm", "member_depth_mm", "a tenon can't be deeper than the member it is cut on"),
    ("tenon_thickness_mm", "member_thickness_mm", "a tenon can't be thicker than the member it is cut on"),
    ("tenon_thickness_mm", "other_thickness_mm", "a mortise can't be wider than the member it is cut in"),
    ("tenon_length_mm", "other_depth_mm", "a tenon can't be longer than the member it enters is deep"),
    ("fastener_diameter_mm", "member_thickness_mm", "a dowel or screw can't be thicker than its member"),
    ("fastener_depth_mm", "other_depth_mm", "a dowel or screw can't go deeper than the member it enters"),
    ("fastener_spacing_mm", "member_depth_mm", "dowels or screws can't be further apart than their member is deep"),
    ("slot_depth_mm", "other_depth_mm", "a slot can't be deeper than the member it is cut in"),
    ("slot_length_mm", "member_depth_mm", "a slot can't be longer than the member it is cut along"),
    ("spline_depth_mm", "member_depth_mm", "a spline can't be deeper than the member it is let into"),
)


def check_sizes(dims: Mapping[str, Any], as_tested: Collection[str] = ()) -> dict[str, float]:
    """A joint's sizes as numbers, refused where they can't be.

    Parameters
    ----------
    dims : mapping
        Sizes by the names of `stats.footing.fields.DIM_FIELDS` [mm], counts and slopes; None and "" count as not given.
    as_tested : collection of str, optional
        Names of the sizes that nobody gave and that were taken as tested: a message says so of them.

    Returns
    -------
    dict of str to float
        Those that were given.

    Raises
    ------
    StatsError
        Naming the first field that can't be, its value, and what would be right.

    Examples
    --------
    >>> check_sizes({"member_depth_mm": 60, "tenon_depth_mm": 40})
    {'member_depth_mm': 60.0, 'tenon_depth_mm': 40.0}
    """
    sizes = {name: _number(name, value) for name, value in dims.items() if value not in (None, "")}
    for name, other, why in _WITHIN:
        if name in sizes and other in sizes and sizes[name] > sizes[other]:
            size, most = (_told(sizes, one, as_tested) for one in (name, other))
            raise StatsError(f"{name} ({size}) must be at most {other} ({most}): {why}.")
    _refuse_long_tenon(sizes, as_tested)
    _refuse_crowding(sizes, as_tested)
    return sizes


def _told(sizes: Mapping[str, float], name: str, as_tested: Collection[str]) -> str:
    return f"{sizes[name]:g}{', as tested; give yours' if name in as_tested else ''}"


def _number(name: str, value: Any) -> float:
    if name not in DIM_FIELDS:
        raise StatsError(f"{name} ({value!r}) is no size of a joint; one of {', '.join(DIM_FIELDS)} is.")
    try:
        number = float(value)
    except (TypeError, ValueError):
        number = None
    if number is None or isinstance(value, bool):
        raise StatsError(f"{name} ({value!r}) must be a number: {DIM_FIELDS[name].words}.")
    if name.endswith("_mm"):
        if not SMALLEST_MM <= number <= LARGEST_MM:  # NaN too
            raise StatsError(
                f"{name} ({number:g}) must be {SMALLEST_MM:g} to {LARGEST_MM:g} mm: {DIM_FIELDS[name].words}."
            )
    elif name.endswith("_count"):
        if not (math.isfinite(number) and number == int(number) and 1 <= number <= 200):
            raise StatsError(f"{name} ({number:g}) must be a whole number, 1 to 200: {DIM_FIELDS[name].words}.")
    elif not (math.isfinite(number) and number > 0):
        raise StatsError(f"{name} ({number:g}) must be above zero: {DIM_FIELDS[name].words}.")
    return number


def _refuse_long_tenon(sizes: Mapping[str, float], as_tested: Collection[str]) -> None:
    """A tenon longer than its rail is wide, unless the member it enters is known and has the room."""
    long, wide = sizes.get("tenon_length_mm"), sizes.get("member_depth_mm")
    if long is None or wide is None or "other_depth_mm" in sizes or long <= wide:
        return
    raise StatsError(
        f"tenon_length_mm ({_told(sizes, 'tenon_length_mm', as_tested)}) must be at most member_depth_mm "
        f"({_told(sizes, 'member_depth_mm', as_tested)}): the tenon is longer than its member is wide. If it is so, "
        "give other_depth_mm, the depth of the member it enters."
    )


def _refuse_crowding(sizes: Mapping[str, float], as_tested: Collection[str]) -> None:
    """Dowels, tenons that together pass their member."""
    tenons, thick, member = (sizes.get(n) for n in ("tenon_count", "tenon_thickness_mm", "member_thickness_mm"))
    if tenons and thick and member and tenons * thick > member:
        raise StatsError(
            f"tenon_count ({_told(sizes, 'tenon_count', as_tested)}) times tenon_thickness_mm "
            f"({_told(sizes, 'tenon_thickness_mm', as_tested)}) must be at most member_thickness_mm "
            f"({_told(sizes, 'member_thickness_mm', as_tested)})."
        )
    names = ("fastener_count", "fastener_diameter_mm", "member_depth_mm")
    fasteners, across, deep = (sizes.get(name) for name in names)
    spacing = sizes.get("fastener_spacing_mm")
    if across and spacing and spacing < across:
        raise StatsError(
            f"fastener_spacing_mm ({_told(sizes, 'fastener_spacing_mm', as_tested)}) must be at least "
            f"fastener_diameter_mm ({_told(sizes, 'fastener_diameter_mm', as_tested)}): the holes would run into each "
            "other."
        )
    if fasteners and across and deep:
        needed = (fasteners - 1) * spacing + across if spacing else fasteners * across
        if needed > deep:
            raise StatsError(
                f"fastener_count ({_told(sizes, 'fastener_count', as_tested)}) of {across:g} mm must fit in "
                f"member_depth_mm ({_told(sizes, 'member_depth_mm', as_tested)}); they need {needed:g} mm."
            )
