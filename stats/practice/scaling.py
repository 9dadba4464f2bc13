"""From the joint as tested to the joint as built: by the member's section and by the glued faces."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from stats.errors import NotCovered
from stats.footing.fields import given
from stats.footing.section import AREA_RULES, SECTION_RULES, bonded_area, needed_dims, section, torsion_face

COUPLES = ("dowels", "screws")
"""Rules of bonded areas whose rows make a couple when the joint is bent."""
COUPLE_SOURCE = "two-pin couple of dowels, M ~ F · (s + e / 2) (from memory)"


@dataclass(frozen=True)
class Resistance:
    """What of a joint's geometry a strength grows with.

    Parameters
    ----------
    rule : {"section", "bond"}
        The member's section, or the glued faces.
    value : float
        Section modulus or bond modulus [mm³], or bonded area [mm²].
    unit : str
        Its unit.
    formula, source : str
        How it was had.
    """

    rule: str
    value: float
    unit: str
    formula: str
    source: str


def by_section(rule: str, dims: Mapping[str, float]) -> Resistance:
    """Section modulus of the member, which a moment is set against.

    Parameters
    ----------
    rule : str
        A key of `SECTION_RULES`.
    dims : mapping
        Sizes by name [mm, counts].

    Returns
    -------
    Resistance
        [mm³]

    Raises
    ------
    MissingInputs
        If a size was not given.
    StatsError
        If the rule is unknown or a size can't be.
    """
    found = section(rule, dims)
    return Resistance("section", found.modulus_mm3, "mm³", SECTION_RULES[rule].formula, found.steps[0].source)


def by_area(rule: str, dims: Mapping[str, float]) -> Resistance:
    """Bonded area, which a pull or a shear is set against.

    Parameters
    ----------
    rule : str
        A key of `AREA_RULES`.
    dims : mapping
        Sizes by name [mm, counts].

    Returns
    -------
    Resistance
        [mm²]

    Raises
    ------
    MissingInputs
        If a size was not given.
    StatsError
        If the rule is unknown or a size can't be.
    """
    found = bonded_area(rule, dims)
    return Resistance("bond", found.value_mm2, "mm²", AREA_RULES[rule].formula, found.steps[0].source)


def by_torque(rule: str, dims: Mapping[str, float]) -> Resistance:
    """Torsion modulus of plane glued faces, which a torque is set against.

    Parameters
    ----------
    rule : str
        A key of `AREA_RULES`.
    dims : mapping
        Sizes by name [mm, counts].

    Returns
    -------
    Resistance
        [mm³]

    Raises
    ------
    MissingInputs
        If a size was not given.
    NotCovered
        If the joint has no such face: the couple of `by_bond` is of bending, and says nothing of a twist.
    """
    if rule in COUPLES:
        raise NotCovered("the torque that dowels or screws bear", "their couple is of bending, not of a twist.")
    found = torsion_face(rule, dims)
    return Resistance("bond", found.modulus_mm3, "mm³", found.steps[0].formula, found.steps[0].source)


def has_bond(rule: str) -> bool:
    """Whether `by_bond` knows these faces: plane cheeks, dowels and screws.

    Parameters
    ----------
    rule : str
        A key of `AREA_RULES`.

    Returns
    -------
    bool

    Raises
    ------
    StatsError
        If the rule is unknown.
    """
    return rule in COUPLES or bool(needed_dims("torsion", rule, None))


def by_bond(rule: str, dims: Mapping[str, float]) -> Resistance:
    """What of the glued faces a moment grows with.

    Parameters
    ----------
    rule : str
        A key of `stats.footing.section.AREA_RULES`.
    dims : mapping
        Sizes [mm].

    Returns
    -------
    Resistance
        In mm³: the torsion modulus of plane cheeks, or bonded area times lever of dowels and screws.

    Raises
    ------
    MissingInputs
        If a size was not given; for dowels the spacing and the distance to the edge besides.
    NotCovered
        If this joint's faces have no such rule, or a single dowel makes no couple.

    Notes
    -----
    Cheeks turned on themselves: n·J/r, an upper bound since the shoulder bears as well. Two rows of dowels: A·(s + e/2)
    with A the area of one row, s their spacing and e from the pressed row to the edge.
    """
    if rule not in COUPLES:
        given(dims, needed_dims("torsion", rule, None), f"what the {AREA_RULES[rule].name.lower()} bear")
        return by_torque(rule, dims)
    if dims.get("fastener_count", 2) < 2:
        raise NotCovered("the moment that a single dowel or screw bears", "it takes two to make a couple.")
    names = (*AREA_RULES[rule].area_needs, "fastener_spacing_mm", "fastener_edge_mm")
    given(dims, names, "the couple of the dowels or screws")
    row = bonded_area(rule, dims).value_mm2 / 2
    lever = dims["fastener_spacing_mm"] + dims["fastener_edge_mm"] / 2
    return Resistance("bond", row * lever, "mm³", "A / 2 · (s + e / 2)", COUPLE_SOURCE)


def ratio(piece: Resistance, tested: Resistance) -> float:
    """How much more the joint as built has than the joint as tested.

    Parameters
    ----------
    piece, tested : Resistance
        Of one rule and unit, which is not checked.

    Returns
    -------
    float
        [-]
    """
    return piece.value / tested.value
