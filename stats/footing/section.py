"""Bonded areas and member sections, by rules that the joint vocabulary points at."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from stats.errors import NotCovered, StatsError
from stats.footing.area_rules import AREAS, AreaRule, Face
from stats.footing.fields import given, number
from stats.footing.step import GEOMETRY, STATICS, Input, Step


@dataclass(frozen=True)
class Rule:
    """A rule for a bonded area or a section, as the vocabulary and the help pages show it.

    Parameters
    ----------
    code, name : str
        Code and name.
    area_needs, section_needs, torsion_needs : tuple of str
        Sizes that its area, its section, or the face that resists a torque need; empty where it has none.
    optional : tuple of str
        Sizes it also uses when given.
    formula, note, source, provenance : str
        The formula in words and symbols, what to mind, and where it comes from.
    pull : {"shear", "tension", ""}
        What a pull apart does to the bond: shears it (tenons, dowels) or opens it (butts).
    solid_property : str
        For a section: the strength of solid wood that M/Z is set against.
    """

    code: str
    name: str
    area_needs: tuple[str, ...]
    section_needs: tuple[str, ...]
    torsion_needs: tuple[str, ...]
    optional: tuple[str, ...]
    formula: str
    note: str
    source: str
    provenance: str
    pull: str = ""
    solid_property: str = ""


def _area_rule(rule: AreaRule) -> Rule:
    return Rule(
        code=rule.code,
        name=rule.name,
        area_needs=rule.needs,
        section_needs=(),
        torsion_needs=rule.face_needs,
        optional=rule.optional,
        formula=rule.formula,
        note=rule.note,
        source=GEOMETRY,
        provenance="derived",
        pull=rule.pull,
    )


AREA_RULES: dict[str, Rule] = {code: _area_rule(rule) for code, rule in AREAS.items()}
"""Rules for the bonded area, by code."""

SECTION_RULES: dict[str, Rule] = {
    rule.code: rule
    for rule in (
        Rule(
            "member",
            "Gross section of the member",
            (),
            ("member_thickness_mm", "member_depth_mm"),
            (),
            (),
            "Z = b · D² / 6",
            "Give the weaker of the two members. Never the tenon's own section: the shoulder carries load "
            "too, and a ratio to the tenon would pass 1.",
            STATICS,
            "derived",
            solid_property="mor",
        ),
        Rule(
            "glued_edge",
            "Glued edge bent across the grain",
            (),
            ("bond_length_mm", "bond_width_mm"),
            (),
            (),
            "Z = L · t² / 6",
            "A panel bent across its glue line: L along the line, t the board's thickness. Set against "
            "tension across the grain, as the solid board would split there.",
            STATICS,
            "derived",
            solid_property="tension_perp",
        ),
    )
}
"""Rules for the section that carries a moment, by code."""


@dataclass(frozen=True)
class Area:
    """A bonded area with its derivation.

    Parameters
    ----------
    value_mm2 : float
        Nominal bonded area [mm²].
    rule : str
        Code of the rule.
    steps : tuple of Step
        The step from a force [N] to a mean stress [MPa]; its factor is 1/area.
    beside_mm2 : dict of str to float
        Areas that also touch but are not counted, such as a tenon's edges.
    """

    value_mm2: float
    rule: str
    steps: tuple[Step, ...]
    beside_mm2: Mapping[str, float]


@dataclass(frozen=True)
class Section:
    """A section that carries a moment.

    Parameters
    ----------
    width_mm, depth_mm : float
        b across and D in the bending plane [mm].
    modulus_mm3 : float
        Z = b·D²/6 [mm³].
    rule : str
        Code of the rule.
    solid_property : str
        Strength of solid wood that M/Z is set against.
    steps : tuple of Step
        The step from a moment [N·m] to a stress [MPa].
    """

    width_mm: float
    depth_mm: float
    modulus_mm3: float
    rule: str
    solid_property: str
    steps: tuple[Step, ...]


@dataclass(frozen=True)
class TorsionFace:
    """The glued face or faces that resist a torque.

    Parameters
    ----------
    face : Face
        Sides [mm] and how many alike.
    modulus_mm3 : float
        n·J/r [mm³], so that the greatest shear is T over it.
    rule : str
        Code of the area rule.
    steps : tuple of Step
        The step from a torque [N·m] to a shear stress [MPa].
    """

    face: Face
    modulus_mm3: float
    rule: str
    steps: tuple[Step, ...]


def needed_dims(action: str, area_rule: str | None, section_rule: str | None) -> tuple[str, ...]:
    """Sizes that a joint's stress needs under an action.

    Parameters
    ----------
    action : {"bending", "axial", "shear", "torsion"}
        What the joint feels.
    area_rule, section_rule : str or None
        The joint's rules.

    Returns
    -------
    tuple of str
        Names of the sizes; empty if the joint has no rule for this action.

    Raises
    ------
    StatsError
        If the rule that the action goes by is unknown.

    Examples
    --------
    >>> needed_dims("bending", "tenon", "member")
    ('member_thickness_mm', 'member_depth_mm')
    """
    if action == "bending":
        return _find(SECTION_RULES, section_rule, "section_rule").section_needs if section_rule else ()
    if not area_rule:
        return ()
    rule: Rule = _find(AREA_RULES, area_rule, "area_rule")
    return rule.torsion_needs if action == "torsion" else rule.area_needs


def _find(rules: Mapping[str, Any], rule: str, field: str) -> Any:
    if rule not in rules:
        raise StatsError(f"{field} ({rule!r}) must be one of {', '.join(rules)}.")
    return rules[rule]


def bonded_area(rule: str, dims: Mapping[str, Any]) -> Area:
    """Nominal bonded area of a joint.

    Parameters
    ----------
    rule : str
        A key of `AREA_RULES`.
    dims : mapping
        Sizes by name [mm], counts, slopes; None counts as not given.

    Returns
    -------
    Area
        Area, its step, and what touches besides.

    Raises
    ------
    MissingInputs
        If a size that the rule needs was not given.
    StatsError
        If the rule is unknown or a size can't be.

    Notes
    -----
    The area is nominal: the faces that can hold, long grain where the joint has any, as if glued all over.

    Examples
    --------
    >>> round(bonded_area("dowels", {"fastener_count": 1, "fastener_diameter_mm": 10,
    ...                              "fastener_depth_mm": 25}).value_mm2)
    785
    """
    found: AreaRule = _find(AREAS, rule, "area_rule")
    given(dims, found.needs, f"the bonded area ({found.name.lower()})")
    area, inputs = found.work(dims)
    if not area > 0:
        raise StatsError(f"the bonded area ({found.name.lower()}) came to {area:g} mm²; check the sizes.")
    shown: dict[str, Input] = {**inputs, "A": (area, "mm²")}
    step = Step("mean stress on the bond", f"F / A, {found.formula}", shown, 1 / area, "MPa", GEOMETRY)
    return Area(area, rule, (step,), found.beside(dims))


def section(rule: str, dims: Mapping[str, Any]) -> Section:
    """Section that a moment at the joint is set against.

    Parameters
    ----------
    rule : str
        A key of `SECTION_RULES`.
    dims : mapping
        Sizes by name [mm].

    Returns
    -------
    Section
        b, D, Z and the step from moment to stress.

    Raises
    ------
    MissingInputs
        If a size that the rule needs was not given.
    StatsError
        If the rule is unknown or a size is not positive.

    Examples
    --------
    >>> round(section("member", {"member_thickness_mm": 22.2, "member_depth_mm": 63.5}).modulus_mm3)
    14919
    """
    found: Rule = _find(SECTION_RULES, rule, "section_rule")
    given(dims, found.section_needs, f"the section ({found.name.lower()})")
    width, depth = (number(dims, name) for name in found.section_needs)
    modulus = width * depth**2 / 6
    inputs: dict[str, Input] = {"b": (width, "mm"), "D": (depth, "mm"), "Z": (modulus, "mm³")}
    formula = f"σ = M / Z, {found.formula}"
    if rule == "glued_edge":
        inputs = {"L": (width, "mm"), "t": (depth, "mm"), "Z": (modulus, "mm³")}
    step = Step("nominal bending stress", formula, inputs, 1000 / modulus, "MPa", STATICS)
    return Section(width, depth, modulus, rule, found.solid_property, (step,))


def torsion_face(rule: str, dims: Mapping[str, Any]) -> TorsionFace:
    """The glued faces that resist a torque, and the greatest shear on them.

    Parameters
    ----------
    rule : str
        A key of `AREA_RULES`.
    dims : mapping
        Sizes by name [mm].

    Returns
    -------
    TorsionFace
        Faces, modulus and the step from torque to stress.

    Raises
    ------
    NotCovered
        If the joint has no plane face that turns on itself, as dowels have not.
    MissingInputs
        If a size was not given.

    Notes
    -----
    Rigid members on a thin bond: τ = T·r/(n·J) with r = ½·√(b² + h²) and J = b·h·(b² + h²)/12. An upper bound
    for a tenon, since its shoulder bears as well.

    Examples
    --------
    >>> face = torsion_face("face", {"bond_length_mm": 32, "bond_width_mm": 38})
    >>> round(100_000 / face.modulus_mm3, 1)
    9.9
    """
    found: AreaRule = _find(AREAS, rule, "area_rule")
    what = f"the face that resists the torque ({found.name.lower()})"
    if found.face is None:
        raise NotCovered(what, "this joint has no plane glued face that turns on itself.")
    given(dims, found.face_needs, what)
    face = found.face(dims)
    polar = face.b_mm * face.h_mm * (face.b_mm**2 + face.h_mm**2) / 12
    reach = math.hypot(face.b_mm, face.h_mm) / 2
    modulus = face.count * polar / reach
    inputs: dict[str, Input] = {
        "b": (face.b_mm, "mm"),
        "h": (face.h_mm, "mm"),
        "n": (float(face.count), ""),
        "J": (polar, "mm⁴"),
        "r": (reach, "mm"),
    }
    formula = "τ = T · r / (n · J), J = b · h · (b² + h²) / 12, r = ½ · √(b² + h²)"
    step = Step("greatest shear on the glued face", formula, inputs, 1000 / modulus, "MPa", STATICS)
    return TorsionFace(face, modulus, rule, (step,))
