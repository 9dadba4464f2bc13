"""The solid wood that joints are set against, and what its strength is adjusted for."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from stats.footing import adjust, timber
from stats.footing.adjustment import ADJUSTMENTS, CAP_HIGH, CAP_LOW, HANDBOOK, Adjustment
from stats.footing.timber import PROPERTIES, SG_LAWS, Timber
from stats.footing.wood import DEFAULT_ADJUST, strength

from .entry import Method, Part, anchor, by_code, num, put_in, spelled

_ADJUSTMENT_SAYS = {
    "moisture": "Dry wood is stronger than damp wood. The handbook's value at 12 % is taken to the specimen's "
    "moisture.",
    "density": "A denser board of one timber is stronger than the table's.",
    "rate": "A slow test breaks wood at a lower load than a quick one; the handbook's values are for about five "
    "minutes.",
    "duration": "The same for loads that last, by another curve; never beside the rate.",
    "size_depth": "A deep beam breaks at a lower stress than a shallow one.",
}
_ADJUSTMENT_SYMBOLS = {
    "P12": "strength at 12 % moisture",
    "Pg": "strength green",
    "M": "moisture content, %",
    "Mp": "moisture below which drying strengthens, %",
    "G": "specific gravity of the specimen",
    "G0": "specific gravity of the table's timber",
    "e": "exponent of the property's law",
    "t": "time to failure after, s",
    "t0": "time to failure before, s",
    "SL": "strength that lasts for a time, % of the short test's",
    "d": "depth after, mm",
    "d0": "depth before, mm",
    "P": "strength along the grain",
    "Q": "strength across the grain",
    "θ": "angle to the grain, °",
    "n": "exponent, 1.5 to 2 in tension and bending",
    "k": "product of all adjustments",
}
_WORKED: dict[str, tuple[str, Callable[[], Adjustment]]] = {
    "moisture": ("A red oak of 99 MPa at 12 % and 57.2 MPa green", partial(adjust.moisture, 99.0, 57.2, 8.0)),
    "density": ("Bending, in a board of 0.68 where the table has 0.63", partial(adjust.density, 0.68, 0.63, 1.13)),
    "rate": ("Broken in 30 s, wanted at 300 s", partial(adjust.rate, 30.0, 300.0)),
    "duration": ("Broken in 30 s, wanted at 300 s", partial(adjust.duration, 30.0, 300.0)),
    "size_depth": ("A member 100 mm deep", partial(adjust.size_depth, 100.0)),
}


def solid_wood() -> Part:
    """The strengths that joints are set against, and what they are adjusted for."""
    found = [_property(code) for code in PROPERTIES] + [_strength(), _law()]
    found += [_adjustment(name) for name in ADJUSTMENTS] + [_cap(), _hankinson(), _emc()]
    on = ", ".join(sorted(DEFAULT_ADJUST))
    return Part(
        "solid-wood",
        "Solid wood and adjustments",
        "What a joint's stress is set against is the handbook's clear wood of its timber. Each adjustment is a step "
        "of its "
        f"own on the study's page. The book's stored ratios have these on: {on}. The rest are for those who ask for "
        "them.",
        tuple(found),
    )


OAK = Timber(
    "red_oak", "red oak", "hardwood", sg_12=0.63, mor_12_mpa=99.0, mor_green_mpa=57.2, shear_12_mpa=12.3,
    tension_perp_12_mpa=5.5, comp_parallel_12_mpa=46.6, comp_perp_12_mpa=7.0, moe_12_gpa=12.5, hardness_12_n=5700.0,
)  # fmt: skip
_AGAINST = {
    "mor": "Joints that are bent are set against it.",
    "shear": "Bonds that are sheared, and joints that are pulled or twisted in shear, are set against it.",
    "tension_perp": "Glue lines pulled apart across the grain, and glued edges that are bent, are set against it.",
}


def _property(code: str) -> Method:
    one = PROPERTIES[code]
    low, high = (SG_LAWS[group, "12%", code] for group in ("softwood", "hardwood"))
    value = timber.law("hardwood", code, 0.63)
    return Method(
        anchor("wood", code),
        f"{one.name[0].upper()}{one.name[1:]}, {one.unit}",
        _AGAINST.get(code, "Shown on the timber's page; no footing is set against it."),
        (
            f"hardwood at 12 %: {high[0]:,g} · G^{high[1]:g}; softwood at 12 %: {low[0]:,g} · G^{low[1]:g}".replace(
                ",", " "
            ),
        ),
        ("G = specific gravity, ovendry mass over volume at 12 %",),
        sources=(f"{HANDBOOK} Table 5-11 (from memory, checked against the clear-wood tables)",),
        example=(f"A hardwood of G = 0.63: {num(value, one.unit)} by the law",),
        code="stats.footing.timber.law",
    )


def _strength() -> Method:
    found = strength(OAK, "mor", 8.0)
    factors = " × ".join(num(float(a.factor), digits=4) for a in found.adjustments)
    return by_code(
        "wood-strength",
        "Strength of solid wood in the specimen's condition",
        strength,
        "The table's value at 12 % times every adjustment that is on.",
        (f"Red oak at 8 %: {num(found.base, 'MPa')} × {factors} = {num(float(found.value), 'MPa', 4)}",),
        formulas=("S · k, k held within the cap",),
        symbols=("S = table value at 12 %", "k = product of the adjustments"),
        source=f"{HANDBOOK} clear-wood tables; each timber's page names its own",
    )


def _law() -> Method:
    value = timber.law("hardwood", "mor", 0.63)
    return by_code(
        "wood-law",
        "Laws of specific gravity",
        timber.law,
        "What a property would be if specific gravity told all. A timber's own table value is used wherever there is "
        "one; the density adjustment takes the law's exponent.",
        (f"Modulus of rupture of a hardwood of G = 0.63: 171.3 · 0.63^1.13 = {num(value, 'MPa')}",),
        formulas=("A · G^e",),
        symbols=("A, e = coefficient and exponent of the property", "G = specific gravity"),
    )


def _adjustment(name: str) -> Method:
    case, work = _WORKED[name]
    found = work()
    state = "On unless turned off." if name in DEFAULT_ADJUST else "Off unless asked for."
    return _adjusted(anchor("adjustment", name), name.replace("_", " ").capitalize(), found, case, state)


def _adjusted(place: str, name: str, found: Adjustment, case: str, state: str = "") -> Method:
    symbols = {symbol: _ADJUSTMENT_SYMBOLS[symbol] for symbol in found.inputs}
    if "SL" in found.formula:
        symbols["SL"] = _ADJUSTMENT_SYMBOLS["SL"]
    does = getattr(adjust, found.name)
    return by_code(
        place,
        name,
        does,
        f"{_ADJUSTMENT_SAYS.get(found.name, '')} {state}".strip(),
        (f"{case}: {put_in(found.step())}: factor {num(float(found.factor), digits=4)}",),
        formulas=(found.formula,),
        symbols=spelled(symbols),
        source=found.source,
    )


def _cap() -> Method:
    found = adjust.cap(1.5)
    return by_code(
        "adjustment-cap",
        "Cap on all adjustments together",
        adjust.cap,
        f"Their product is held within {CAP_LOW:g} and {CAP_HIGH:g}, and flagged where it would pass.",
        (f"Adjustments that make 1.5 together are held: × {num(float(found.factor), digits=4)} = {CAP_HIGH:g}",),
        formulas=(found.formula,),
        symbols=spelled({"k": _ADJUSTMENT_SYMBOLS["k"]}),
        source=found.source,
    )


def _hankinson() -> Method:
    found = adjust.hankinson(51.3, 7.4, 30.0)
    case = f"51.3 MPa along and 7.4 MPa across, at 30°: {num(51.3 * float(found.factor), 'MPa')}"
    says = "For those who compute with the code; no footing of the book uses it."
    return _adjusted("adjustment-hankinson", "Strength at an angle to the grain", found, case, says)


def emc_by_formula(t: float, rh_pct: float) -> float:
    """The same formula written out once more, as it is shown; a test holds the two together."""
    h = rh_pct / 100
    w = 349 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    bound = (k1 * k * h + 2 * k1 * k2 * (k * h) ** 2) / (1 + k1 * k * h + k1 * k2 * (k * h) ** 2)
    return 1800 / w * (k * h / (1 - k * h) + bound)


def _emc() -> Method:
    return by_code(
        "adjustment-emc",
        "Moisture that wood comes to",
        adjust.emc,
        "In air of a temperature and humidity, for a study that recorded its air and not its wood. No factor, and "
        "nothing "
        "the book puts in by itself.",
        (f"20 °C and 65 %: {num(adjust.emc(20.0, 65.0), '%')} moisture",),
        formulas=(
            "M = 1800 / W · (K·h / (1 - K·h) + (K₁·K·h + 2·K₁·K₂·(K·h)²) / (1 + K₁·K·h + K₁·K₂·(K·h)²))",
            "W = 349 + 1.29·t + 0.0135·t²; K = 0.805 + 0.000736·t - 0.00000273·t²",
            "K₁ = 6.27 - 0.00938·t - 0.000303·t²; K₂ = 1.91 + 0.0407·t - 0.000293·t²",
        ),
        symbols=("M = moisture content, %", "t = temperature, °C", "h = relative humidity, 0 to 1"),
    )
