"""The ways of carrying a strength from the size tested to the size built."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from stats.errors import MissingInputs, NotCovered
from stats.footing.loading import ACTION_UNITS
from stats.practice.limit import Limit
from stats.practice.scaling import Resistance, by_area, by_bond, by_section, by_torque, has_bond, ratio
from stats.practice.working import Line

RULES = {
    "section": "by the member's section, as if the wood decided",
    "bond": "by the glued faces, as if the glue decided",
    "area": "by the bonded area",
    "as tested": "built as tested, size for size",
}
"""How a strength was carried from the size tested to the size built."""
AREA_SOURCE = (
    "withdrawal grows with the glued area until the fastener itself breaks: Crews (1959), thesis, Michigan State "
    "University, abstract"
)


@dataclass(frozen=True)
class Joint:
    """What is known of the joint, in the piece and in the tests.

    Parameters
    ----------
    action : {"bending", "axial", "shear", "torsion"}
        What the joint feels.
    footing : str
        Code of the footing that the limit is on.
    dims, tested : mapping of str to float
        Sizes of the piece's joint and of the joint as tested, by name [mm, counts]; no `dims` for one built as tested.
    area_rule, section_rule : str or None
        Keys of `AREA_RULES` and `SECTION_RULES`.
    solid_mpa : float or None
        Strength of the solid wood in the piece [MPa].
    """

    action: str
    footing: str
    dims: Mapping[str, float]
    tested: Mapping[str, float]
    area_rule: str | None
    section_rule: str | None
    solid_mpa: float | None


Way = tuple[str, float, tuple[Line, ...]]
Measure = Callable[[str, Mapping[str, float]], Resistance]


def ways(joint: Joint, limit: Limit) -> list[Way]:
    """Every way of carrying the footing over.

    Parameters
    ----------
    joint : Joint
        In the piece and in the tests.
    limit : Limit
        What the tests give, on the joint's footing.

    Returns
    -------
    list of (str, float, tuple of Line)
        Rule, capacity for one unit of the footing [N·m or N for that unit], working.

    Raises
    ------
    MissingInputs
        If a size or strength that the rule needs was not given, of the piece or of the tests.
    NotCovered
        If no rule carries this footing over.
    """
    if not joint.dims:
        unit = ACTION_UNITS[joint.action]
        line = Line("capacity", "R", "L", {"L": (limit.value, unit)}, limit.value, unit, "definition",
                    RULES["as tested"])  # fmt: skip
        return [("as tested", 1.0, (line,))]
    if joint.action != "bending":
        return [_other(joint, limit)]
    found = [_by_section(joint, limit)]
    # Where this joint's faces have no such rule, one way is left; a size that was not given hides none.
    if joint.tested and joint.area_rule and has_bond(joint.area_rule):
        try:
            found.append(_by_bond(joint, limit))
        except (MissingInputs, NotCovered):
            if joint.dims != joint.tested:  # built as tested the ways agree, and one is enough
                raise
    return found


def _resistance(of: Measure, rule: str, sizes: Mapping[str, float], where: str) -> Resistance:
    """What a strength grows with, in the piece or in the tests; a refusal says in which of the two."""
    try:
        return of(rule, sizes)
    except MissingInputs as error:
        raise MissingInputs(error.missing, f"{error.what} {where}") from None
    except NotCovered as error:
        raise NotCovered(f"{error.what} {where}", error.reason) from None


def _in_piece(of: Measure, rule: str, joint: Joint) -> Resistance:
    return _resistance(of, rule, joint.dims, "in the piece")


def _in_tests(of: Measure, rule: str, joint: Joint) -> Resistance:
    if not joint.tested:
        raise MissingInputs(["tested_dims"], "a capacity at another size than the one tested")
    return _resistance(of, rule, joint.tested, "in the tests")


def _stress(joint: Joint, limit: Limit) -> tuple[float, tuple[Line, ...]]:
    """Stress for one unit of the footing [MPa], and its line."""
    if joint.footing == "stress":
        return 1.0, ()
    solid = joint.solid_mpa or 0.0
    line = Line("stress", "σ", "r · S", {"r": (limit.value, ""), "S": (solid, "MPa")}, limit.value * solid, "MPa",
                "definition of the ratio to solid wood")  # fmt: skip
    return solid, (line,)


def _needs(rule: str | None, name: str) -> str:
    if not rule:
        raise MissingInputs([name], "a capacity at the piece's sizes")
    return rule


def _by_section(joint: Joint, limit: Limit) -> Way:
    rule = _needs(joint.section_rule, "section_rule")
    piece = _in_piece(by_section, rule, joint)
    if joint.footing == "at_joint":
        return ("section", *_by_ratio(joint, limit, piece, _in_tests(by_section, rule, joint)))
    per, before = _stress(joint, limit)
    stress = limit.value * per
    line = Line("moment by the section", "M", "σ · Z", {"σ": (stress, "MPa"), "Z": (piece.value, "mm³")},
                stress * piece.value / 1000, "N·m", piece.source, piece.formula)  # fmt: skip
    return "section", per * piece.value / 1000, (*before, line)


def _by_bond(joint: Joint, limit: Limit) -> Way:
    """The moment at the tested size, then by the ratio of the glued faces."""
    area_rule, section_rule = _needs(joint.area_rule, "area_rule"), _needs(joint.section_rule, "section_rule")
    piece, tested = _in_piece(by_bond, area_rule, joint), _in_tests(by_bond, area_rule, joint)
    if joint.footing == "at_joint":
        return ("bond", *_by_ratio(joint, limit, piece, tested))
    per, before = _stress(joint, limit)
    section = _in_tests(by_section, section_rule, joint)
    stress, moment = limit.value * per, limit.value * per * section.value / 1000
    at_test = Line("moment at the size tested", "M_t", "σ · Z_t",
                   {"σ": (stress, "MPa"), "Z_t": (section.value, "mm³")}, moment, "N·m", section.source,
                   section.formula)  # fmt: skip
    inputs = {"M_t": (moment, "N·m"), "B": (piece.value, "mm³"), "B_t": (tested.value, "mm³")}
    line = Line("moment by the glued faces", "M", "M_t · B / B_t", inputs, moment * ratio(piece, tested), "N·m",
                piece.source, piece.formula)  # fmt: skip
    return "bond", per * section.value / 1000 * ratio(piece, tested), (*before, at_test, line)


def _by_ratio(joint: Joint, limit: Limit, piece: Resistance, tested: Resistance) -> tuple[float, tuple[Line, ...]]:
    factor, unit = ratio(piece, tested), ACTION_UNITS[joint.action]
    inputs = {"L": (limit.value, unit), "B": (piece.value, piece.unit), "B_t": (tested.value, tested.unit)}
    name = "by the section" if piece.rule == "section" else "by the glued faces"
    return factor, (
        Line(f"capacity {name}", "R", "L · B / B_t", inputs, limit.value * factor, unit, piece.source, piece.formula),
    )


def _other(joint: Joint, limit: Limit) -> Way:
    """A pull, a shear or a torque, by the bonded area or the face that turns."""
    rule = _needs(joint.area_rule, "area_rule")
    of = by_torque if joint.action == "torsion" else by_area
    piece = _in_piece(of, rule, joint)
    if joint.footing == "at_joint":
        return ("area", *_by_ratio(joint, limit, piece, _in_tests(of, rule, joint)))
    per, before = _stress(joint, limit)
    stress = limit.value * per
    turns = joint.action == "torsion"
    symbol, scale = ("B", 1000.0) if turns else ("A", 1.0)
    name = "capacity by the face that turns" if turns else "capacity by the bonded area"
    source = AREA_SOURCE if joint.action == "axial" else piece.source
    inputs = {"τ": (stress, "MPa"), symbol: (piece.value, piece.unit)}
    line = Line(name, "R", f"τ · {symbol}", inputs, stress * piece.value / scale, ACTION_UNITS[joint.action], source,
                piece.formula)  # fmt: skip
    return "area", per * piece.value / scale, (*before, line)
