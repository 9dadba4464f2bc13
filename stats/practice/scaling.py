"""From the joint as tested to the joint as built: by the member's section and by the glued faces."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from stats.errors import MissingInputs, NotCovered, StatsError
from stats.footing.section import bonded_area, section, torsion_face

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
    """Section modulus of the member, which a moment is set against."""
    found = section(rule, dims)
    return Resistance("section", found.modulus_mm3, "mm³", "Z = b · D² / 6", found.steps[0].source)


def by_area(rule: str, dims: Mapping[str, float]) -> Resistance:
    """Bonded area, which a pull or a shear is set against."""
    found = bonded_area(rule, dims)
    return Resistance("bond", found.value_mm2, "mm²", found.steps[0].formula, found.steps[0].source)


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
        If this joint's faces have no such rule.

    Notes
    -----
    Cheeks turned on themselves: n·J/r, an upper bound since the shoulder bears as well. Two rows of dowels: A·(s + e/2)
    with A the area of one row, s their spacing and e from the pressed row to the edge.
    """
    if rule not in ("dowels", "screws"):
        found = torsion_face(rule, dims)
        return Resistance("bond", found.modulus_mm3, "mm³", "n · J / r of the glued cheeks", found.steps[0].source)
    missing = [name for name in ("fastener_spacing_mm", "fastener_edge_mm") if not dims.get(name)]
    if missing:
        raise MissingInputs(missing, "the lever of the dowels")
    if dims.get("fastener_count", 0) < 2:
        raise NotCovered("the moment of a single dowel by its glued face", "it takes two to make a couple.")
    row = bonded_area(rule, dims).value_mm2 / 2
    lever = dims["fastener_spacing_mm"] + dims["fastener_edge_mm"] / 2
    return Resistance("bond", row * lever, "mm³", "A / 2 · (s + e / 2) of the dowels", COUPLE_SOURCE)


def ratio(piece: Resistance, tested: Resistance) -> float:
    """How much more the joint as built has than the joint as tested."""
    if piece.unit != tested.unit:
        raise StatsError(f"piece ({piece.unit}) and tested ({tested.unit}) must be of one kind.")
    return piece.value / tested.value
