"""What a joint of the book bears at the sizes of a piece."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from stats.errors import StatsError
from stats.footing.footings import FOOTINGS as LADDER
from stats.practice.capacity import FOOTINGS, Capacity, capacity
from stats.practice.carry import AREA_SOURCE, RULES
from stats.practice.limit import Limit, shop_tested
from stats.practice.scaling import by_bond
from stats.practice.sizes import LARGEST_MM, SMALLEST_MM, check_sizes
from stats.practice.working import Line

from . import lines
from .entry import Method, amount, anchor, by_code, num
from .piece_limit import limit

# Invented: rails as tested and as built, tenoned or dowelled.
TESTED = {"member_thickness_mm": 20.0, "member_depth_mm": 50.0, "tenon_length_mm": 25.0, "tenon_depth_mm": 30.0}
BUILT = {"member_thickness_mm": 20.0, "member_depth_mm": 60.0, "tenon_length_mm": 30.0, "tenon_depth_mm": 40.0}
DOWELS = {"fastener_count": 2, "fastener_diameter_mm": 10.0, "fastener_depth_mm": 30.0, "fastener_spacing_mm": 30.0,
          "fastener_edge_mm": 15.0}  # fmt: skip
TENON: Mapping[str, Any] = {"area_rule": "tenon", "section_rule": "member"}
_LETTERS = {
    "L": "lower limit of what the joint tested bears, N·m or N",
    "r": "lower limit of the ratio to solid wood",
    "S": "strength of the piece's solid wood, MPa",
    "σ": "lower limit of the stress, MPa",
    "τ": "lower limit of the stress on the glued faces, MPa",
    "Z": "section modulus of the member in the piece, mm³",
    "Z_t": "section modulus of the member tested, mm³",
    "A": "bonded area in the piece, mm²",
    "M_t": "moment that the joint tested bears, N·m",
    "M": "moment that the joint in the piece bears, N·m",
    "R": "what the joint in the piece bears, N·m or N",
}


def _letters(of: str) -> dict[str, str]:
    """What the symbols mean where a capacity is carried over by the ratio of something."""
    unit = "mm³ or mm²" if " or " in of or "area" in of else "mm³"
    return _LETTERS | {"B": f"{of} in the piece, {unit}", "B_t": f"the same of the joint tested, {unit}"}


def moment(dims: Mapping[str, Any] = BUILT, **options: Any) -> Capacity:
    """The tenon of the examples, by the stress that four shops tell."""
    return capacity(limit(), "stress", "bending", dims, **{**TENON, "tested_dims": TESTED, **options})


def force() -> Limit:
    """A moment or a force of one made-up series, for a footing that starts from it."""
    return shop_tested(300.0, 40.0, 100)


def carried() -> tuple[Method, ...]:
    """How a strength is carried from the size tested to the size built."""
    return _capacity(), _section(), _bond(), _area(), _as_tested(), _sizes()


def _capacity() -> Method:
    found = moment()
    bare = moment(size_effect=False)
    ways = "; ".join(f"{RULES[one.rule]} {num(one.value, found.unit)}" for one in found.scaled)
    return by_code(
        "capacity",
        "What a joint bears at the sizes of a piece",
        capacity,
        "A lower limit is carried to the piece's sizes by every way that its footing and sizes allow. The lowest is "
        f"taken and all are shown. It may start from: {', '.join(LADDER[code].name for code in FOOTINGS)}.",
        (
            f"rails of 20 × 50 mm tested, 20 × 60 mm built; tenons of 25 × 30 mm and 30 × 40 mm: {ways}",
            f"taken: {num(found.value, found.unit)}; a middling joint bears {num(found.typical, found.unit)}",
            f"with the effect of size turned off: {num(bare.value, bare.unit)}",
            *found.notes[-2:],
        ),
        formulas=("capacity = least of the ways, times every factor taken off",),
        symbols=("factors: moisture, duration, loading again and again, size, your own; 1 where none is taken",),
        source="derived from the definitions of the footings",
    )


def _way(
    rule: str,
    name: str,
    rows: tuple[Line, ...],
    says: str,
    of: str = "",
    more: tuple[str, ...] = (),
    own: tuple[str, ...] = (),
) -> Method:
    """A way as the lines of some capacities have it; `of` is what its ratio is of."""
    return Method(
        anchor("way", rule),
        name,
        f"{RULES[rule][0].upper()}{RULES[rule][1:]}. {says}",
        (*lines.formulas(rows), *more),
        (*lines.symbols(rows, own=_letters(of)), *own),
        sources=lines.sources(rows),
        example=lines.worked(rows),
        code="stats.practice.capacity.capacity",
    )


def _lines_of(found: Capacity, rule: str) -> tuple[Line, ...]:
    """The lines of one way, without those of what use takes off."""
    scaled = next(one for one in found.scaled if one.rule == rule)
    return scaled.lines[: len(scaled.lines) - len(scaled.factors)]


def _section() -> Method:
    ratio = shop_tested(0.25, 0.04, 100)
    by_ratio = capacity(ratio, "ratio_solid", "bending", BUILT, solid_mpa=100.0, **TENON)
    as_moment = capacity(force(), "at_joint", "bending", BUILT, tested_dims=TESTED, **TENON)
    rows = (*_lines_of(by_ratio, "section"), *_lines_of(as_moment, "section"))
    return _way(
        "section",
        "Carried over by the member's section",
        rows,
        "From a stress, from a ratio to solid wood by way of the stress, or from a moment by the ratio of sections.",
        "section modulus of the member",
        ("Z = b · D² / 6",),
        ("b, D = thickness and depth of the member in the bending plane, mm",),
    )


def _bond() -> Method:
    as_moment = capacity(force(), "at_joint", "bending", BUILT, tested_dims=TESTED, **TENON)
    rows = (*_lines_of(moment(), "bond"), *_lines_of(as_moment, "bond"))
    couple = by_bond("dowels", DOWELS)
    return by_code(
        anchor("way", "bond"),
        "Carried over by the glued faces",
        by_bond,
        f"{RULES['bond'][0].upper()}{RULES['bond'][1:]}: the moment at the size tested, times the ratio of the faces.",
        (
            *lines.worked(rows),
            f"two dowels of 10 mm, 30 mm deep, 30 mm apart and 15 mm from the edge: B = {couple.formula} = "
            f"{num(couple.value, couple.unit)} ({couple.source})",
        ),
        formulas=(*lines.formulas(rows), "B = n · J / r of plane faces", f"B = {couple.formula} of dowels and screws"),
        symbols=(
            *lines.symbols(rows, own=_letters("modulus of the glued faces")),
            "n, b, h = faces, and the sides of one, mm",
            "J, r = polar second moment of a face, mm⁴, and half its diagonal, mm",
            "τ, T = greatest shear on a face, MPa, under a torque, N·m",
            "A = bonded area of all dowels or screws, mm²",
            "s, e = spacing of the dowels, and from the pressed one to the member's edge, mm",
        ),
        source=f"statics of rigid members on a thin bond; {couple.source}",
    )


def _area() -> Method:
    stress, pull = limit(), shop_tested(4000.0, 500.0, 100)
    rows = (
        *capacity(stress, "stress", "axial", BUILT, area_rule="tenon").scaled[0].lines,
        *capacity(pull, "at_joint", "axial", BUILT, area_rule="tenon", tested_dims=TESTED).scaled[0].lines,
    )
    turned = capacity(stress, "stress", "torsion", BUILT, area_rule="tenon").scaled[0].lines
    return _way(
        "area",
        "Carried over by the bonded area",
        (*rows, *turned),
        f"For a pull or a shear; for a torque by the modulus of the face that turns. A pull: {AREA_SOURCE}.",
        "bonded area, or modulus of the face that turns",
        own=(
            "n, l, d = tenons, and the length and height of one, mm",
            "in the torque's formula n, b, h = faces, and the sides of one, mm; J, r, T as for the glued faces",
        ),
    )


def _as_tested() -> Method:
    return _way(
        "as tested",
        "Built as tested",
        capacity(force(), "at_joint", "bending").scaled[0].lines,
        "Nothing is carried over: the limit is the capacity.",
    )


def _refused(dims: Mapping[str, Any]) -> str:
    try:
        check_sizes(dims)
    except StatsError as error:
        return str(error)
    raise LookupError(f"{dims} is not refused; the example shows a refusal.")


def _sizes() -> Method:
    return by_code(
        "sizes-refused",
        "Sizes that can't be",
        check_sizes,
        f"A size of {amount(SMALLEST_MM, 'mm')} to {amount(LARGEST_MM, 'mm')} is taken, and one part must fit in the "
        "other. What doesn't is refused with its name, its value and what would be right.",
        (
            _refused({"tenon_depth_mm": 70, "member_depth_mm": 60}),
            _refused({"tenon_length_mm": 80, "member_depth_mm": 60}),
            _refused(
                {"fastener_count": 3, "fastener_diameter_mm": 10, "fastener_spacing_mm": 30, "member_depth_mm": 60}
            ),
        ),
        formulas=("(n - 1) · s + d ≤ D",),
        symbols=("n, s, d = count, spacing and diameter of dowels or screws, mm", "D = depth of their member, mm"),
        source="geometry",
    )
