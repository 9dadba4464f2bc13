"""From what was read to what the joint felt: units, instruments, loadings."""

from __future__ import annotations

from stats.footing import calibration, units
from stats.footing.fields import FIELDS
from stats.footing.loading import LOADINGS, Action, action_at_joint
from stats.footing.reading import INSTRUMENTS, to_force
from stats.footing.unit_names import KIND_WORDS, SI

from .entry import COMMON, Method, Part, anchor, by_code, num, put_in, spelled, symbols_of

# Something typed in each kind of unit; every unit offered is in the list beside it.
TYPED = {
    "force": ("280 lb", "127 kg"),
    "length": ("1 1/2 in", "2' 6\""),
    "moment": ("55 ft·lbf",),
    "pressure": ("2 900 psi", "200 bar"),
    "stress": ("1 450 psi",),
    "area": ("1.5 in2",),
    "mass": ("2 lb 4 oz",),
    "density": ("43 lb/ft3",),
    "percent": ("8.5",),
    "hours": ("2 d",),
    "seconds": ("5 min",),
    "temperature": ("68 °F",),
    "rate": ("0.5 in/min",),
    "angle": ("10 deg",),
    "number": ("3",),
}


def readings() -> Part:
    """Units and instruments."""
    found = [_unit(kind) for kind in SI] + [_instrument(code) for code in INSTRUMENTS]
    found.append(_calibration())
    return Part(
        "readings",
        "Units and readings",
        "What is typed is kept as typed, and read into one unit for each kind of quantity. Kilograms and pounds on a "
        "load are the weight of that mass. A reading becomes a force on the specimen by what it was read on.",
        tuple(found),
    )


def _unit(kind: str) -> Method:
    lines = [f"{text} is read as {_plain(units.read(text, kind).si, SI[kind])}" for text in TYPED[kind]]
    others = [unit for unit in units.UNITS[kind] if unit and unit != SI[kind]]
    return Method(
        anchor("unit", kind),
        f"{KIND_WORDS[kind][1]}{', ' + SI[kind] if SI[kind] else ''}",
        formulas=(", ".join(_factor(unit, kind) for unit in others),) if others else (),
        sources=("SI and the international definitions of the inch, the pound and standard gravity",),
        example=tuple(lines),
        code="stats.footing.units.read",
    )


def _factor(unit: str, kind: str) -> str:
    """What one of a unit is, or for one with a zero of its own how it is turned."""
    scale, zero = units.factor(unit, kind), units.to_si(0.0, unit, kind)
    if zero:
        sign = "-" if zero < 0 else "+"
        return f"{SI[kind]} = {scale:.7g} · {unit} {sign} {abs(zero):.7g}"
    return f"1 {unit} = {_plain(scale, SI[kind])}"


def _plain(value: float, unit: str) -> str:
    """Seven digits at most, none idle."""
    text = f"{float(f'{value:.7g}'):,.12f}".rstrip("0").rstrip(".").replace(",", " ")
    return f"{text}{unit}" if unit == "°" else f"{text} {unit}".strip()


READ_AT = {"force": 1240.0, "pressure": 8.6, "moment": 75.0}
NEEDED = {"ram_diameter_mm": 42.9, "lever_ratio": 5.0}


def _instrument(code: str) -> Method:
    tool = INSTRUMENTS[code]
    given = {name: NEEDED[name] for name in tool.needs}
    read = READ_AT[tool.reads]
    load = to_force(read, code, **given)
    unit = {"force": "N", "pressure": "MPa", "moment": "N·m"}[tool.reads]
    own = COMMON | {"p": "pressure read, MPa", "A": "area of the ram, mm²"}
    symbols = symbols_of(load.steps, given, own)
    steps = ", ".join(f"{step.formula} with {put_in(step)}" for step in load.steps) or "taken as it is shown"
    limits = tool.accuracy_pct
    accuracy = f" Typical accuracy {limits[0]:g} to {limits[1]:g} %." if limits else ""
    return Method(
        anchor("instrument", code),
        tool.name,
        f"Shows a {tool.reads}.{accuracy}",
        tuple(step.formula for step in load.steps),
        spelled(symbols),
        mind=tool.note,
        sources=tuple(dict.fromkeys([*(step.source for step in load.steps), tool.source])),
        example=(f"{num(read, unit)} read: {steps}: {num(load.value, load.unit)}",),
        code="stats.footing.reading.to_force",
    )


def _calibration() -> Method:
    known, read = [0.0, 98.1, 196.1, 294.2], [0.2, 97.0, 194.5, 291.0]
    scale = calibration.fit(known, read)
    value, u = scale.correct(250.0)
    return by_code(
        "instrument-calibration",
        "Calibration against known weights",
        calibration.fit,
        "A scale that was tried with known weights has its zero and gain taken out, with what is left uncertain.",
        (
            f"Weights of {', '.join(f'{x:g}' for x in known)} N read {', '.join(f'{x:g}' for x in read)} N: "
            f"zero {num(scale.zero, 'N')}, gain {num(scale.gain, digits=5)}, scatter {num(scale.residual_sd, 'N')}.",
            f"A reading of 250 N is {num(value, 'N', 4)}, known to ±{num(u, 'N', 2)} (one standard uncertainty).",
        ),
        formulas=("force = zero + gain · reading",),
    )


LOAD_N = 1240.0
# For each arrangement setups that between them show each form of its formula, the plain one first.
SETUPS: dict[str, tuple[dict[str, object], ...]] = {
    "cantilever_arm": (
        {"arm_mm": 300.0, "arm_reference": "face"},
        {"arm_mm": 300.0, "arm_reference": "centre", "other_depth_mm": 60.0},
        {"arm_mm": 300.0, "arm_reference": "far_face", "other_depth_mm": 60.0, "angle_deg": 10.0},
    ),
    "centre_point_bending": ({"span_mm": 600.0}, {"span_mm": 600.0, "joint_offset_mm": 200.0}),
    "two_point_bending": (
        {"load_offset_mm": 200.0, "span_mm": 600.0},
        {"load_offset_mm": 200.0, "span_mm": 600.0, "joint_offset_mm": 150.0},
    ),
    "corner_closing": (
        {"leg_mm": 250.0, "face_offset_mm": 30.0},
        {"leg_mm": 250.0, "face_offset_mm": 30.0, "leg_b_mm": 180.0},
    ),
    "corner_opening": (
        {"leg_mm": 250.0, "face_offset_mm": 30.0, "friction": 0.1},
        {"leg_mm": 250.0, "face_offset_mm": 30.0, "leg_b_mm": 180.0},
    ),
    "corner_pulled_open": (
        {"leg_mm": 250.0, "face_offset_mm": 30.0},
        {"leg_mm": 250.0, "face_offset_mm": 30.0, "leg_b_mm": 180.0},
    ),
    "withdrawal": ({},),
    "lap_shear": ({"shear_faces": 1}, {"shear_faces": 2}),
    "block_shear": ({},),
    "torsion": ({"arm_mm": 300.0},),
    "frame_racking": ({"rail_height_mm": 400.0}, {"rail_height_mm": 400.0, "frame_count": 2, "diagonal_deg": 30.0}),
    "portal_racking": ({"rail_height_mm": 400.0}, {"rail_height_mm": 400.0, "frame_count": 2, "diagonal_deg": 30.0}),
}
ACTIONS = {"bending": "a bending moment", "axial": "an axial force", "shear": "a shear force", "torsion": "a torque"}


def loadings() -> Part:
    """Every loading arrangement."""
    return Part(
        "loadings",
        "Loading arrangements",
        f"What the joint feels for a load on the rig. Each example takes F = {num(LOAD_N, 'N')}. The specimen is taken "
        "as rigid and as it stood before it bent.",
        tuple(_loading(code) for code in LOADINGS),
    )


def _loading(code: str) -> Method:
    one = LOADINGS[code]
    symbols: dict[str, str] = {}
    lines, formulas = [], [one.formula]
    for setup in SETUPS[code]:
        action = action_at_joint(code, setup)
        symbols |= symbols_of(action.steps, setup, COMMON | {"n": "number of frames that share the load"})
        formulas += [step.formula for step in action.steps]
        lines.append(_worked(action))
    used = {letter: COMMON[letter] for letter in "FMNVTH" if any(letter in formula.split() for formula in formulas)}
    needs = "; ".join(FIELDS[name].words for name in one.needs)
    return Method(
        anchor("loading", code),
        one.name,
        f"The joint feels {ACTIONS[one.action]}. Needs {needs or 'no length'}.",
        (one.formula,),
        spelled(used | symbols),
        mind=one.note,
        sources=(one.source,),
        example=tuple(lines),
        code="stats.footing.loading.action_at_joint",
    )


def _worked(action: Action) -> str:
    formulas = "; ".join(step.formula for step in action.steps)
    inputs = ", ".join(text for step in action.steps if (text := put_in(step)))
    beside = []
    if action.shear_factor and action.kind != "shear":
        beside.append(f"a shear of {num(LOAD_N * action.shear_factor, 'N')}")
    if action.normal_factor and action.kind != "axial":
        sense = f"a {action.normal_sense}" if action.normal_sense else "a force along the member"
        beside.append(f"{sense} of {num(LOAD_N * action.normal_factor, 'N')}")
    if action.faces > 1:
        beside.append(f"{num(LOAD_N / action.faces, 'N')} on each of {action.faces} bonded faces")
    result = f"{num(LOAD_N * action.factor, action.unit)} {action.place}"
    return f"{formulas}{' with ' + inputs if inputs else ''}: {', '.join([result, *beside])}"
