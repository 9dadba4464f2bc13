"""The geometry of each kind of glued face: what area can hold, and what turns under a torque."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from stats.errors import StatsError
from stats.footing.fields import FIELDS, count, number
from stats.footing.step import Input

Dims = Mapping[str, Any]
Inputs = dict[str, Input]
Work = Callable[[Dims], tuple[float, Inputs]]


@dataclass(frozen=True)
class Face:
    """Plane glued faces alike.

    Parameters
    ----------
    b_mm, h_mm : float
        Sides [mm].
    count : int
        How many share the load.
    """

    b_mm: float
    h_mm: float
    count: int


def _nothing_beside(dims: Dims) -> Mapping[str, float]:
    return {}


@dataclass(frozen=True)
class AreaRule:
    """A bonded area: its needs, its formula, and the functions that work it; see `section.Rule`.

    Parameters
    ----------
    code, name : str
        Code and name.
    needs : tuple of str
        Sizes that the area needs.
    formula : str
        The formula, in symbols.
    pull : {"shear", "tension", ""}
        What a pull apart does to the bond: shears it (tenons, dowels) or opens it (butts).
    work : callable
        Takes the sizes by name [mm, counts] and gives the area [mm²] and the inputs as a step shows them.
    optional : tuple of str
        Sizes it also uses when given.
    note : str
        What to mind, or "".
    face_needs : tuple of str
        Sizes that the face which resists a torque needs; empty where there is none.
    face : callable or None
        Takes the sizes by name and gives that `Face`.
    beside : callable
        Takes the sizes by name and gives areas that are not counted, by what they are [mm²].
    """

    code: str
    name: str
    needs: tuple[str, ...]
    formula: str
    pull: str
    work: Work
    optional: tuple[str, ...] = ()
    note: str = ""
    face_needs: tuple[str, ...] = ()
    face: Callable[[Dims], Face] | None = None
    beside: Callable[[Dims], Mapping[str, float]] = _nothing_beside


def _inputs(dims: Dims, symbols: Mapping[str, str]) -> tuple[list[float], Inputs]:
    """Numbers by the order of their symbols, and the inputs as a step shows them."""
    values = [number(dims, name) for name in symbols.values()]
    shown: Inputs = {s: (v, FIELDS[n].unit) for (s, n), v in zip(symbols.items(), values, strict=True)}
    return values, shown


def _product(**symbols: str) -> Work:
    """A rectangle: the product of two sizes."""

    def work(dims: Dims) -> tuple[float, Inputs]:
        values, shown = _inputs(dims, symbols)
        return math.prod(values), shown

    return work


def _times(factor: float, work: Work) -> Work:
    def scaled(dims: Dims) -> tuple[float, Inputs]:
        area, shown = work(dims)
        return factor * area, shown

    return scaled


def _rectangle(b: str, h: str, cheeks: int = 1, counted: str | None = None) -> Callable[[Dims], Face]:
    def face(dims: Dims) -> Face:
        number_of = count(dims, counted, 1) if counted else 1
        return Face(number(dims, b), number(dims, h), cheeks * number_of)

    return face


def _tenon(length: str) -> Work:
    """Two cheeks a tenon."""

    def work(dims: Dims) -> tuple[float, Inputs]:
        (long, deep), shown = _inputs(dims, {"l": length, "d": "tenon_depth_mm"})
        tenons = count(dims, "tenon_count", 1)
        shown["n"] = (float(tenons), "")
        return 2 * tenons * long * deep, shown

    return work


def _tenon_edges(length: str) -> Callable[[Dims], Mapping[str, float]]:
    """The tenon's two narrow edges, which meet cross or end grain and are not counted."""

    def beside(dims: Dims) -> Mapping[str, float]:
        if dims.get("tenon_thickness_mm") in (None, ""):
            return {}
        thick = number(dims, "tenon_thickness_mm")
        return {"edges": 2 * count(dims, "tenon_count", 1) * number(dims, length) * thick}

    return beside


def _haunched(dims: Dims) -> tuple[float, Inputs]:
    area, shown = _tenon("tenon_length_mm")(dims)
    (long, deep), haunch = _inputs(dims, {"l_h": "haunch_length_mm", "d_h": "haunch_depth_mm"})
    return area + 2 * long * deep, shown | haunch


def _cylinders(dims: Dims) -> tuple[float, Inputs]:
    (diameter, depth), shown = _inputs(dims, {"d": "fastener_diameter_mm", "L": "fastener_depth_mm"})
    fasteners = count(dims, "fastener_count")
    shown["n"] = (float(fasteners), "")
    return fasteners * math.pi * diameter * depth, shown


def _plates(dims: Dims) -> tuple[float, Inputs]:
    """Two faces a plate, each a circular segment of chord c and depth h: exact, not a share of c·h."""
    (chord, depth), shown = _inputs(dims, {"c": "slot_length_mm", "h": "slot_depth_mm"})
    if depth > chord / 2:
        raise StatsError(f"slot_depth_mm ({depth:g}) must be at most half of slot_length_mm ({chord:g}).")
    plates = count(dims, "fastener_count", 1)
    radius = (chord**2 / 4 + depth**2) / (2 * depth)
    segment = radius**2 * math.acos((radius - depth) / radius) - (radius - depth) * chord / 2
    shown |= {"n": (float(plates), ""), "r": (radius, "mm")}
    return 2 * plates * segment, shown


def _fingers(second: str) -> Work:
    """One face between each two neighbours, so one fewer than fingers."""

    def work(dims: Dims) -> tuple[float, Inputs]:
        (one, other), shown = _inputs(dims, {"D": "member_depth_mm", "l": second})
        fingers = count(dims, "finger_count", low=2)
        shown["n"] = (float(fingers), "")
        return (fingers - 1) * one * other, shown

    return work


def _splined_mitre(dims: Dims) -> tuple[float, Inputs]:
    symbols = {"b": "member_thickness_mm", "D": "member_depth_mm", "s": "spline_depth_mm"}
    (width, depth, spline), shown = _inputs(dims, symbols)
    return math.sqrt(2) * depth * (width + 2 * spline), shown


def _scarf(dims: Dims) -> tuple[float, Inputs]:
    symbols = {"b": "member_thickness_mm", "D": "member_depth_mm", "k": "scarf_ratio"}
    (width, depth, ratio), shown = _inputs(dims, symbols)
    return width * depth * math.hypot(1, ratio), shown


def _grooved(board: str) -> Work:
    """A board's edge or end let into a groove: its own thickness and both walls."""

    def work(dims: Dims) -> tuple[float, Inputs]:
        (long, thick, deep), shown = _inputs(dims, {"L": "bond_length_mm", "t": board, "g": "groove_depth_mm"})
        return long * (thick + 2 * deep), shown

    return work


_MEMBER = ("member_thickness_mm", "member_depth_mm")
_BOND = ("bond_length_mm", "bond_width_mm")
_CROSSED = ("member_depth_mm", "other_depth_mm")
_TENON = ("tenon_length_mm", "tenon_depth_mm")
_THROUGH = ("other_depth_mm", "tenon_depth_mm")
_ROD = ("fastener_count", "fastener_diameter_mm", "fastener_depth_mm")
_END = _product(b="member_thickness_mm", D="member_depth_mm")
_OVERLAP = _product(D="member_depth_mm", D_o="other_depth_mm")

_ROWS = (
    AreaRule("face", "Glued face", _BOND, "A = L · w", "tension", _product(L=_BOND[0], w=_BOND[1]),
             face_needs=_BOND, face=_rectangle(*_BOND)),
    AreaRule("member_end", "End of the member", _MEMBER, "A = b · D", "tension", _END,
             note="The smaller member's end.", face_needs=_MEMBER, face=_rectangle(*_MEMBER)),
    AreaRule("lap_face", "Overlap along the members", _BOND, "A = L · w", "shear",
             _product(L=_BOND[0], w=_BOND[1]), face_needs=_BOND, face=_rectangle(*_BOND)),
    AreaRule("overlap", "Overlap of crossed members", _CROSSED, "A = D · D_o", "tension", _OVERLAP,
             note="One face; the shoulders of a half-lap meet end grain and are not counted.",
             face_needs=_CROSSED, face=_rectangle(*_CROSSED)),
    AreaRule("bridle", "Two cheeks of a bridle", _CROSSED, "A = 2 · D · D_o", "shear", _times(2, _OVERLAP),
             face_needs=_CROSSED, face=_rectangle(*_CROSSED, cheeks=2)),
    AreaRule("tenon", "Cheeks of a tenon", _TENON, "A = 2 · n · l · d", "shear", _tenon("tenon_length_mm"),
             optional=("tenon_count", "tenon_thickness_mm"),
             note="Cheeks only; the narrow edges meet end or cross grain and are told apart.",
             face_needs=_TENON, face=_rectangle(*_TENON, cheeks=2, counted="tenon_count"),
             beside=_tenon_edges("tenon_length_mm")),
    AreaRule("through_tenon", "Cheeks of a through tenon", _THROUGH, "A = 2 · n · l · d", "shear",
             _tenon("other_depth_mm"), optional=("tenon_count", "tenon_thickness_mm"),
             note="As long as the mating member is deep; what stands proud is not counted.",
             face_needs=_THROUGH, face=_rectangle(*_THROUGH, cheeks=2, counted="tenon_count"),
             beside=_tenon_edges("other_depth_mm")),
    AreaRule("haunched_tenon", "Cheeks of a tenon and its haunch",
             (*_TENON, "haunch_length_mm", "haunch_depth_mm"), "A = 2 · n · l · d + 2 · l_h · d_h", "shear",
             _haunched, optional=("tenon_count", "tenon_thickness_mm"),
             note="The tenon's height leaves the haunch out. A torque is taken by the tenon alone.",
             face_needs=_TENON, face=_rectangle(*_TENON, cheeks=2, counted="tenon_count"),
             beside=_tenon_edges("tenon_length_mm")),
    AreaRule("loose_tenon", "Cheeks of a loose tenon in one member", _TENON, "A = 2 · n · l · d", "shear",
             _tenon("tenon_length_mm"), optional=("tenon_count", "tenon_thickness_mm"),
             note="The length in the member where it is shorter.",
             face_needs=_TENON, face=_rectangle(*_TENON, cheeks=2, counted="tenon_count"),
             beside=_tenon_edges("tenon_length_mm")),
    AreaRule("dowels", "Round faces of the dowels", _ROD, "A = n · π · d · L", "shear", _cylinders,
             note="In the member where they are shorter; the butt between the members is not counted."),
    AreaRule("screws", "Thread of the screws", _ROD, "A = n · π · d · L", "shear", _cylinders,
             note="Outer cylinder of the thread in the wood that holds it: a nominal face, with no glue."),
    AreaRule("plates", "Faces of the plates in one member", ("slot_length_mm", "slot_depth_mm"),
             "A = 2 · n · (r² · acos((r - h) / r) - (r - h) · c / 2), r = (c² / 4 + h²) / (2 · h)", "shear",
             _plates, optional=("fastener_count",),
             note="Each face as the whole circular segment cut by the slot; the plate itself is a little "
             "smaller. The butt between the members is not counted."),
    AreaRule("fingers", "Faces between fingers", ("finger_count", "member_depth_mm", "other_depth_mm"),
             "A = (n - 1) · D · l", "shear", _fingers("other_depth_mm"),
             note="n counts fingers on both parts. A board bent at its corner lies with its thickness in the "
             "bending plane, so its thickness is its depth here."),
    AreaRule("tails", "Cheeks of through dovetails", ("finger_count", "member_depth_mm", "other_depth_mm"),
             "A = (n - 1) · D · l", "shear", _fingers("other_depth_mm"), optional=("slope_deg",),
             note="n counts tails and pins on both parts. A cheek at slope α is longer by 1 / cos α, and the "
             "part of its shear along the pull is less by cos α: the slope falls out."),
    AreaRule("blind_tails", "Cheeks of half-blind dovetails",
             ("finger_count", "member_depth_mm", "tenon_length_mm"), "A = (n - 1) · D · l", "shear",
             _fingers("tenon_length_mm"), optional=("slope_deg",),
             note="As through dovetails, with the tail's own length; its end is not counted."),
    AreaRule("groove_walls", "Walls of a sliding dovetail", ("bond_length_mm", "groove_depth_mm"),
             "A = 2 · L · g", "shear", _times(2, _product(L="bond_length_mm", g="groove_depth_mm"))),
    AreaRule("housing", "Floor and walls of a housing",
             ("bond_length_mm", "member_depth_mm", "groove_depth_mm"), "A = L · (t + 2 · g)", "shear",
             _grooved("member_depth_mm"), note="End grain on the floor, long to end grain on the walls."),
    AreaRule("tongue", "Tongue and shoulders", (*_BOND, "groove_depth_mm"), "A = L · (t + 2 · g)", "tension",
             _grooved("bond_width_mm"), note="The whole edge glued, around the tongue."),
    AreaRule("mitre", "Mitred end at 45°", _MEMBER, "A = √2 · b · D", "tension", _times(math.sqrt(2), _END),
             note="A profile cut into the mitre is not counted."),
    AreaRule("splined_mitre", "Mitred end and spline", (*_MEMBER, "spline_depth_mm"),
             "A = √2 · D · (b + 2 · s)", "tension", _splined_mitre,
             note="A spline along the whole mitre, both faces in one member; its slot is not taken off."),
    AreaRule("scarf", "Scarf", (*_MEMBER, "scarf_ratio"), "A = b · D · √(1 + k²)", "shear", _scarf),
)  # fmt: skip

AREAS: dict[str, AreaRule] = {rule.code: rule for rule in _ROWS}
