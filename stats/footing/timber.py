"""A timber as the tables have it: its strengths and stiffness, and the laws of specific gravity they follow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from stats.errors import StatsError
from stats.footing.adjustment import GREEN_PCT, Floats, checked, plain_float
from stats.scalar import said, scalar


@dataclass(frozen=True)
class Property:
    """A strength or stiffness of clear wood.

    Parameters
    ----------
    code, name, unit : str
        Code, name and unit.
    dry, green : str
        Names of `Timber`'s fields at 12 % and green.
    """

    code: str
    name: str
    unit: str
    dry: str
    green: str


PROPERTIES: dict[str, Property] = {
    p.code: p
    for p in (
        Property("mor", "modulus of rupture", "MPa", "mor_12_mpa", "mor_green_mpa"),
        Property("shear", "shear parallel to the grain", "MPa", "shear_12_mpa", "shear_green_mpa"),
        Property("tension_perp", "tension across the grain", "MPa", "tension_perp_12_mpa", "tension_perp_green_mpa"),
        Property(
            "comp_parallel",
            "compression along the grain",
            "MPa",
            "comp_parallel_12_mpa",
            "comp_parallel_green_mpa",
        ),
        Property("comp_perp", "compression across the grain", "MPa", "comp_perp_12_mpa", "comp_perp_green_mpa"),
        Property("moe", "modulus of elasticity", "GPa", "moe_12_gpa", "moe_green_gpa"),
        Property("hardness", "side hardness", "N", "hardness_12_n", "hardness_green_n"),
    )
}
"""Properties by code."""

SG_LAWS: dict[tuple[str, str, str], tuple[float, float]] = {
    (group, condition, prop): law
    for group, condition, laws in (
        ("hardwood", "12%", ((171.3, 1.13), (16.5, 0.70), (76.0, 0.89), (21.6, 2.09), (21.9, 1.13),
                             (10.1, 1.3), (15_300, 2.09))),
        ("softwood", "12%", ((170.7, 1.01), (20.5, 0.84), (93.7, 0.97), (16.5, 1.57), (16.6, 0.85),
                             (6.0, 1.11), (8_590, 1.49))),
        ("hardwood", "green", ((118.7, 1.16), (13.9, 0.72), (49.0, 1.11), (18.5, 2.48), (17.8, 1.24),
                               (10.5, 1.37), (16_550, 2.31))),
        ("softwood", "green", ((109.6, 1.01), (16.1, 0.76), (49.7, 0.94), (8.8, 1.53), (11.0, 0.73),
                               (3.8, 0.78), (6_230, 1.41))),
    )
    for prop, law in zip(
        ("mor", "moe", "comp_parallel", "comp_perp", "shear", "tension_perp", "hardness"), laws, strict=True
    )
}  # fmt: skip
"""(group, condition, property) -> (coefficient, exponent) of coefficient·G^exponent; Wood Handbook
FPL-GTR-282 Table 5-11, from memory, checked against the clear-wood tables."""


GROUPS = ("hardwood", "softwood")
"""Groups of timbers, each with its laws of specific gravity."""
_NUMBERS = (
    *("sg_12", "sg_green", "intersection_mc_pct"),
    *(name for one in PROPERTIES.values() for name in (one.dry, one.green)),
)


@dataclass(frozen=True)
class Timber:
    """A timber as the tables have it; any value may be unknown.

    Parameters
    ----------
    code, name : str
        Code and trade name.
    group : {"hardwood", "softwood"}
        Which laws of specific gravity it follows.
    sg_12, sg_green : float, optional
        Specific gravity [-]: ovendry mass over volume at 12 % and green.
    mor_12_mpa, mor_green_mpa : float, optional
        Modulus of rupture at 12 % and green [MPa].
    shear_12_mpa, shear_green_mpa : float, optional
        Shear strength along the grain [MPa].
    tension_perp_12_mpa, tension_perp_green_mpa : float, optional
        Tension strength across the grain [MPa].
    comp_parallel_12_mpa, comp_parallel_green_mpa : float, optional
        Compression strength along the grain [MPa].
    comp_perp_12_mpa, comp_perp_green_mpa : float, optional
        Compression strength across the grain [MPa].
    moe_12_gpa, moe_green_gpa : float, optional
        Modulus of elasticity [GPa].
    hardness_12_n, hardness_green_n : float, optional
        Side hardness [N].
    intersection_mc_pct : float
        Moisture content below which drying strengthens [%].
    source : str
        Where the values come from.

    Raises
    ------
    StatsError
        If the group is unknown, or a value is given that is no number above 0.
    """

    code: str
    name: str
    group: str
    sg_12: float | None = None
    sg_green: float | None = None
    mor_12_mpa: float | None = None
    mor_green_mpa: float | None = None
    shear_12_mpa: float | None = None
    shear_green_mpa: float | None = None
    tension_perp_12_mpa: float | None = None
    tension_perp_green_mpa: float | None = None
    comp_parallel_12_mpa: float | None = None
    comp_parallel_green_mpa: float | None = None
    comp_perp_12_mpa: float | None = None
    comp_perp_green_mpa: float | None = None
    moe_12_gpa: float | None = None
    moe_green_gpa: float | None = None
    hardness_12_n: float | None = None
    hardness_green_n: float | None = None
    intersection_mc_pct: float = GREEN_PCT
    source: str = ""

    def __post_init__(self) -> None:
        if self.group not in GROUPS:
            raise StatsError(f"group ({self.group!r}) must be one of {', '.join(GROUPS)}.")
        for name in _NUMBERS:
            value = getattr(self, name)
            if value is not None and not 0.0 < scalar(value) < np.inf:
                raise StatsError(f"{name} ({said(value, 'g')}) must be above 0, or left out where the table has none.")

    @property
    def density_12_kgm3(self) -> float | None:
        """Density at 12 % moisture [kg/m³], SG·1.12·1000; None without a specific gravity at 12 %."""
        return None if self.sg_12 is None else self.sg_12 * 1.12 * 1000

    def value(self, prop: str, *, green: bool = False) -> float | None:
        """A property at 12 % or green, None if the table has none.

        Parameters
        ----------
        prop : str
            A key of `PROPERTIES`.
        green : bool, optional
            Whether for green wood.

        Returns
        -------
        float or None
            In the unit of `PROPERTIES`.

        Raises
        ------
        StatsError
            If the property is unknown.
        """
        if prop not in PROPERTIES:
            raise StatsError(f"prop ({prop!r}) must be one of {', '.join(PROPERTIES)}.")
        found: float | None = getattr(self, PROPERTIES[prop].green if green else PROPERTIES[prop].dry)
        return found


def law(group: str, prop: str, sg: ArrayLike, condition: str = "12%") -> Floats:
    """A property as the law of specific gravity has it.

    Parameters
    ----------
    group : {"hardwood", "softwood"}
        Group of the timber.
    prop : str
        A key of `PROPERTIES`.
    sg : float or array_like, shape (n,)
        Specific gravity at the condition.
    condition : {"12%", "green"}, optional
        Condition of the wood.

    Returns
    -------
    float or ndarray, shape (n,)
        The property, in the unit of `PROPERTIES`.

    Raises
    ------
    StatsError
        If there is no law for that group, condition and property, or a specific gravity is not above 0 and at most 1.5.

    Notes
    -----
    A·G^e. Single species lie at 0.6 to 1.45 times the law, so that it estimates a timber only roughly.

    References
    ----------
    Wood Handbook FPL-GTR-282, Table 5-11 (from memory, checked against the clear-wood tables).
    """
    key = (group, condition, prop)
    if key not in SG_LAWS:
        raise StatsError(f"group, condition and prop {key!r} have no law; e.g. ('hardwood', '12%', 'mor').")
    coefficient, exponent = SG_LAWS[key]
    return plain_float(coefficient * np.asarray(checked(sg, "sg", 0.0, 1.5)) ** exponent)
