"""A timber's properties as its page shows them."""

from __future__ import annotations

from dataclasses import dataclass

from results.models import Timber

from . import scale

ROWS = (
    ("sg", "specific gravity (ovendry mass over volume)", "", ""),
    ("mor", "modulus of rupture (bending strength)", "_mpa", "MPa"),
    ("shear", "shear parallel to the grain", "_mpa", "MPa"),
    ("tension_perp", "tension across the grain", "_mpa", "MPa"),
    ("comp_parallel", "compression along the grain", "_mpa", "MPa"),
    ("comp_perp", "compression across the grain", "_mpa", "MPa"),
    ("moe", "modulus of elasticity", "_gpa", "GPa"),
    ("hardness", "side hardness", "_n", "N"),
)


@dataclass(frozen=True)
class Property:
    name: str
    unit: str
    green: float | None
    dry: float | None


def properties(timber: Timber) -> list[Property]:
    """Each property that the timber has, green and at 12 % moisture."""
    rows = []
    for stem, name, ending, unit in ROWS:
        found = (getattr(timber, f"{stem}_{state}{ending}") for state in ("green", "12"))
        if unit == "GPa" and scale.readers("MPa") != "MPa":  # no other unit is that large
            unit, found = "MPa", (value and 1000 * value for value in found)
        green, dry = (None if value is None else scale.scaled(value, unit) for value in found)
        rows.append(Property(name, scale.readers(unit), green, dry))
    return [row for row in rows if row.green is not None or row.dry is not None]
