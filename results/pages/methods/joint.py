"""From what the joint felt to a like-for-like quantity: sections, bonded areas, the ladder of footings."""

from __future__ import annotations

from typing import cast

from results.pages.wording import footing_symbol
from stats.footing.footings import FOOTINGS, Ladder, LoadCase
from stats.footing.ladder import climb
from stats.footing.section import AREA_RULES, SECTION_RULES, bonded_area, section, torsion_face
from stats.footing.step import Step
from stats.footing.timber import PROPERTIES, Timber
from stats.footing.units import read

from .entry import COMMON, Method, Part, amount, anchor, by_code, num, put_in, spelled, symbols_of

# One board of sizes, all different, that every rule can be worked with.
SIZES = {
    "member_thickness_mm": 22.0,
    "member_depth_mm": 60.0,
    "other_depth_mm": 70.0,
    "bond_length_mm": 100.0,
    "bond_width_mm": 50.0,
    "tenon_length_mm": 40.0,
    "tenon_depth_mm": 45.0,
    "tenon_thickness_mm": 8.0,
    "tenon_count": 2,
    "haunch_length_mm": 10.0,
    "haunch_depth_mm": 15.0,
    "fastener_count": 3,
    "fastener_diameter_mm": 9.0,
    "fastener_depth_mm": 25.0,
    "slot_length_mm": 58.0,
    "slot_depth_mm": 11.0,
    "finger_count": 7,
    "slope_deg": 9.5,
    "scarf_ratio": 8.0,
    "spline_depth_mm": 12.0,
    "groove_depth_mm": 6.0,
}
FORCE_N, MOMENT_NM = 5000.0, 100.0
PULLED = {
    "shear": "A pull apart shears it, so it is set against shear.",
    "tension": "A pull apart opens it, so it is set against tension across the grain.",
}
_AREA_SYMBOLS = COMMON | {"F": "force at the joint, N", "r": "radius of the slot's circle, mm"}
_FACE_SYMBOLS = COMMON | {
    "r": "from the face's middle to its corner, mm",
    "b": "width of the face, mm",
    "h": "height of the face, mm",
    "n": "number of faces alike",
}


def areas() -> Part:
    """Bonded areas and sections."""
    found = [_section(code) for code in SECTION_RULES] + [_torsion()] + [_area(code) for code in AREA_RULES]
    return Part(
        "areas",
        "Sections and bonded areas",
        "What carries the load. A moment is set against the section of the member, a force against the bonded area: "
        "the "
        "faces that can hold, as if glued all over. The joint's vocabulary names the rule.",
        tuple(found),
    )


def number(step: Step) -> float:
    """The factor of a step that all specimens share."""
    return float(cast(float, step.factor))


def _area(code: str) -> Method:
    rule = AREA_RULES[code]
    dims = {name: SIZES[name] for name in (*rule.area_needs, *rule.optional) if name in SIZES}
    area = bonded_area(code, dims)
    step = area.steps[0]
    beside = "".join(f"; beside it, not counted: {n} {num(a, 'mm²')}" for n, a in area.beside_mm2.items())
    return Method(
        anchor("area", code),
        rule.name,
        PULLED[rule.pull] + ("" if rule.torsion_needs else " Nothing here turns on itself under a torque."),
        (rule.formula, "σ or τ = F / A"),
        spelled({"F": _AREA_SYMBOLS["F"]} | symbols_of([step], dims, _AREA_SYMBOLS)),
        mind=rule.note,
        sources=(rule.source,),
        example=(
            f"{put_in(step)}{beside}",
            f"{num(FORCE_N, 'N')} ÷ {num(area.value_mm2, 'mm²', 4)} = {num(FORCE_N * number(step), 'MPa')}",
        ),
        code="stats.footing.section.bonded_area",
    )


def _section(code: str) -> Method:
    rule = SECTION_RULES[code]
    dims = {name: SIZES[name] for name in rule.section_needs}
    part = section(code, dims)
    step = part.steps[0]
    stress = num(MOMENT_NM * number(step), "MPa")
    return Method(
        anchor("section", code),
        rule.name,
        f"Set against the {PROPERTIES[rule.solid_property].name} of solid wood.",
        (step.formula,),
        spelled({"M": COMMON["M"]} | symbols_of([step], dims)),
        mind=rule.note,
        sources=(rule.source,),
        example=(put_in(step), f"{num(MOMENT_NM, 'N·m')} ÷ {num(part.modulus_mm3, 'mm³', 4)} = {stress}"),
        code="stats.footing.section.section",
    )


def _torsion() -> Method:
    dims = {name: SIZES[name] for name in AREA_RULES["tenon"].torsion_needs} | {"tenon_count": 2}
    face = torsion_face("tenon", dims)
    step = face.steps[0]
    turning = [rule.name.lower() for rule in AREA_RULES.values() if rule.torsion_needs]
    return by_code(
        "torsion-face",
        "Glued faces that resist a torque",
        torsion_face,
        f"For joints with plane faces: {', '.join(turning)}. Others have no stress under a torque.",
        (
            "Cheeks of two tenons: " + put_in(step),
            f"{num(MOMENT_NM, 'N·m')} ÷ {num(face.modulus_mm3, 'mm³', 4)} = {num(MOMENT_NM * number(step), 'MPa')}",
        ),
        formulas=(step.formula,),
        symbols=spelled({"T": COMMON["T"]} | symbols_of([step], {}, _FACE_SYMBOLS)),
        source=step.source,
    )


# The ladder

READING, ARM, MOISTURE_PCT = "127 kg", "12 in", 9.0
RAIL_MM = {"member_thickness_mm": 22.2, "member_depth_mm": 63.5}
OWN_SOLID_MPA, CONTROL_N = 92.0, 310.0
_FOOTING_SAYS = {
    "peak_load": "What the rig read, in newtons. It means nothing without its arm and section.",
    "at_joint": "The load taken to the joint by the loading's formula: a moment, or a force where the joint is "
    "pulled or "
    "sheared.",
    "stress": "What the joint felt over what carries it: a moment over the section, a force over the bonded area, a "
    "torque "
    "over the glued faces. Nominal: as if the wood were one piece.",
    "ratio_solid": "The stress over what the timber itself takes by the handbook, in the specimen's own moisture.",
    "ratio_solid_matched": "The stress over what solid bars of the same wood took in the same study. Never mixed "
    "with the "
    "ratio to the handbook.",
    "ratio_control": "The reading over the control's, on one setup: whatever the rig reads wrong cancels.",
}
_FOOTING_FORMULAS = {
    "peak_load": "F as read",
    "at_joint": "M, N, V or T by the loading",
    "stress": "σ = M / Z, τ or σ = F / A, τ = T · r / (n · J)",
    "ratio_solid": "R = stress / (S · k)",
    "ratio_solid_matched": "Rₘ = stress / Sₘ",
    "ratio_control": "C = reading / c",
}
_FOOTING_SYMBOLS = {
    "ratio_solid": {"S": "handbook strength of the timber at 12 %, MPa", "k": "product of the adjustments that are on"},
    "ratio_solid_matched": {"Sₘ": "geometric mean stress of the study's own solid bars, MPa"},
    "ratio_control": {"c": "geometric mean of the control's readings"},
}


def ladder_example(timber: Timber | None) -> Ladder:
    """A luggage scale at the end of an arm, as somebody would type it, with solid bars and a control beside it."""
    return climb(
        LoadCase(
            reads="force",
            loading="cantilever_arm",
            values=[read(READING, "force").si],
            setup={"arm_mm": read(ARM, "length").si, "arm_reference": "face"},
            dims=RAIL_MM,
            section_rule="member",
            timber=timber,
            moisture_pct=MOISTURE_PCT,
            solid_stress_mpa=OWN_SOLID_MPA,
            control_value=CONTROL_N,
        )
    )


def footings(timber: Timber | None) -> Part:
    """The ladder of footings, climbed with one reading."""
    ladder = ladder_example(timber)
    rail = " × ".join(amount(size, "") for size in RAIL_MM.values())
    wood_name = timber.name if timber else "a timber that is not in the vocabulary"
    return Part(
        "footings",
        "Footings: from a load to a like-for-like quantity",
        f"One example climbs the whole ladder. A luggage scale reads {READING} at the end of an arm of {ARM} from the "
        "joint's "
        f"face; the rail is {rail} mm of {wood_name} at {MOISTURE_PCT:g} % moisture; the study's own solid bars took "
        f"{num(OWN_SOLID_MPA, 'MPa')}, its control {num(CONTROL_N, 'N')}. Loads and stresses stay as tested; only "
        "the solid "
        "wood is adjusted.",
        tuple(_footing(code, ladder) for code in FOOTINGS),
    )


def _footing(code: str, ladder: Ladder) -> Method:
    kind, found = FOOTINGS[code], ladder[code]
    order = list(FOOTINGS)
    below = ladder[order[order.index(code) - 1]].steps if code in order[1:4] else ()
    steps = found.steps[len(below) :] if code != "ratio_solid_matched" else found.steps[-1:]
    lines = [f"{s.name}: {s.formula}" + (f" with {put_in(s)}" if s.inputs else "") for s in steps]
    if code == "peak_load" and found.values is not None:
        lines.append(f"{READING} = {num(found.values[0], found.unit, 4)}")
    elif found.values is None:
        lines.append(f"Can't be had here; missing: {'; '.join(found.missing)}.")
    else:
        lines.append(found.worked)
    unit = "In N·m, or N for a force" if code == "at_joint" else f"In {kind.unit}" if kind.unit else "A pure number"
    return Method(
        anchor("footing", code),
        kind.name.capitalize() if code != "at_joint" else "Moment or force at the joint",
        f"{_FOOTING_SAYS[code]} {unit}. Comparable across {kind.across}.",
        (_FOOTING_FORMULAS[code],),
        spelled({footing_symbol(kind, kind.unit): kind.name} | _FOOTING_SYMBOLS.get(code, {})),
        mind=" ".join(f"{flag[0].upper()}{flag[1:]}." for flag in found.flags),
        sources=tuple(dict.fromkeys(step.source for step in steps)) or ("as read",),
        example=tuple(lines),
        code="stats.footing.ladder.climb",
    )
