"""What may be set beside what, and how well each footing is known."""

from __future__ import annotations

import dataclasses

import numpy as np

from stats.footing import input_uncertainty, uncertainty
from stats.footing.comparability import VERDICTS, SeriesFacts, best, pool_key, verdict
from stats.footing.fields import FIELDS
from stats.footing.footings import FOOTINGS, LoadCase
from stats.footing.input_uncertainty import InputUncertainty, defaults
from stats.footing.timber import PROPERTIES

from .entry import Method, Part, anchor, by_code, num, pct

RULES = "rules of this book"
ALL = frozenset(FOOTINGS)
# Four made-up series of two shops: all differ, so that every verdict can be shown.
RAIL = SeriesFacts(
    "the dowelled rail of shop A", "A", "A's rig", "dowel", "bending", size=(22, 60), timber="red oak",
    adhesive="PVA", footings=ALL, control="A's butts", control_joint="butt",
)  # fmt: skip
TENON = dataclasses.replace(RAIL, id="the tenoned rail of shop A", joint="mt_blind")
OTHER = dataclasses.replace(
    RAIL, id="the tenoned rail of shop B", study="B", setup="B's rig", joint="mt_blind", size=(30, 80), timber="ash",
    adhesive="hide glue", control="B's butts",
)  # fmt: skip
PULLED = dataclasses.replace(OTHER, id="the pulled tenon of shop B", action="axial")
BOND = dataclasses.replace(RAIL, id="the glue line of shop A", joint="edge", bond_or_joint="bond")
_SAYS = {
    "same": "Measured alike: one rig, one size. Compared as measured.",
    "normalised": "Rig, size or timber may differ; the footing takes account of it.",
    "through a control": "Each is set against a control of its own, and the controls are the same joint.",
    "not comparable": "They have no axis in common on this footing, and none is drawn.",
}
_SHOWN = {
    "same": ((RAIL, TENON, "at_joint"),),
    "normalised": ((RAIL, OTHER, "ratio_solid"),),
    "through a control": ((RAIL, OTHER, "ratio_control"),),
    "not comparable": (
        (RAIL, OTHER, "peak_load"),
        (RAIL, OTHER, "stress"),
        (RAIL, PULLED, "ratio_solid"),
        (RAIL, BOND, "ratio_solid"),
    ),
}


def verdicts() -> Part:
    """The rules of comparability."""
    found = [_verdict(kind) for kind in VERDICTS] + [_pooled(), _closest(), _cautions()]
    return Part(
        "comparing",
        "What may be compared",
        "Every chart, table, sentence and answer that compares asks the same rules. They give one of four verdicts "
        "on two "
        "series, each with its reasons.",
        tuple(found),
    )


def _verdict(kind: str) -> Method:
    lines = []
    for a, b, footing in _SHOWN[kind]:
        found = verdict(a, b, footing)
        lines.append(f"{_name(a)} and {b.id}, {FOOTINGS[footing].name}: {found.kind}. {' '.join(found.reasons)}")
    place, name = anchor("verdict", kind), kind.capitalize()
    # The rules are written once, with the first.
    if kind == VERDICTS[0]:
        across = [f"{one.name}: {one.across}" for one in FOOTINGS.values()]
        return by_code(place, name, verdict, _SAYS[kind], lines, formulas=across, source=RULES)
    code = "stats.footing.comparability.verdict"
    return Method(place, name, _SAYS[kind], sources=(RULES,), example=tuple(lines), code=code)


def _name(facts: SeriesFacts) -> str:
    return f"{str(facts.id)[0].upper()}{str(facts.id)[1:]}"


def _pooled() -> Method:
    key = dict(zip(("tests", "action", "joint", "faces", "conditioning"), pool_key(RAIL), strict=True))
    said = ", ".join(f"{name} {value or 'not recorded'}" for name, value in key.items())
    return by_code(
        "verdict-pooled",
        "What may be averaged as one thing",
        pool_key,
        "Series are averaged only where all of these are alike.",
        (f"{_name(RAIL)} is averaged with what has: {said}.",),
        source=RULES,
    )


def _closest() -> Method:
    footing, found = best(RAIL, OTHER)
    return by_code(
        "verdict-closest",
        "The closest footing",
        best,
        "Where several footings would do, the one with the closest verdict is offered, the lowest on the ladder first.",
        (f"{_name(RAIL)} and {OTHER.id}: {FOOTINGS[str(footing)].name}, {found.kind}.",),
        source=RULES,
    )


def _cautions() -> Method:
    found = verdict(RAIL, OTHER, "ratio_solid")
    return Method(
        "verdict-cautions",
        "Cautions beside a verdict",
        "What differs besides and no footing takes out is told beside the numbers, though it forbids nothing.",
        sources=(RULES,),
        example=(f"{_name(RAIL)} and {OTHER.id}: {' '.join(found.cautions)}",),
        code="stats.footing.comparability.verdict",
    )


# How well a footing is known

CASE = LoadCase(
    "force",
    "cantilever_arm",
    [1240.0],
    {"arm_mm": 300.0, "arm_reference": "face"},
    {"member_thickness_mm": 22.2, "member_depth_mm": 63.5},
    section_rule="member",
)


def uncertainties() -> Part:
    """Measurement uncertainty by the GUM."""
    return Part(
        "uncertainty",
        "Measurement uncertainty",
        "How well a footing is known from the measuring alone: the instrument, the lengths, the sizes, the moisture. "
        "The "
        "scatter between specimens is another matter, and stands in the intervals.",
        (_propagation(), _defaults(), _kinds()),
    )


def _propagation() -> Method:
    found = uncertainty.of_footings(CASE, defaults(CASE, "luggage_scale"))
    lines = [f"{np.asarray(CASE.values)[0]:g} N on a luggage scale at 300 mm from the face, a rail of 22.2 × 63.5 mm:"]
    for code in ("at_joint", "stress"):
        one = found[code]
        budget = ", ".join(f"{_input(row.name)} {pct(row.share)}" for row in one.budget)
        lines.append(
            f"{FOOTINGS[code].name} {num(one.value, one.unit)} ± {num(one.k * one.u, one.unit, 2)} (k = {one.k:g}); "
            f"shares of the variance: {budget}"
        )
    return by_code(
        "uncertainty-footing",
        "Uncertainty of a footing",
        uncertainty.of_footings,
        "Each input is moved a little and the whole ladder climbed again; the parts are put together.",
        lines,
        formulas=("u² = ΣΣ c_i·u_i·r_ij·c_j·u_j", "interval: value ± k·u"),
        symbols=(
            "c = change of the footing for one unit of an input",
            "u = standard uncertainty of the input",
            "r = correlation of two inputs, 0 unless given",
            "k = coverage factor, 2",
        ),
    )


def _defaults() -> Method:
    found = defaults(CASE, "luggage_scale", resolution=1.0)
    spread = ", ".join(f"{PROPERTIES[name].name} {pct(cv)}" for name, cv in input_uncertainty.SPECIES_CV.items())
    lines = [f"{_input(name)}: {one.source}, u = {_u(one)}" for name, one in found.items()]
    return by_code(
        "uncertainty-inputs",
        "What each input's uncertainty is taken to be",
        defaults,
        "Unless somebody knows better. Spread of one timber's boards about its handbook value: " + spread + ".",
        lines,
    )


def _input(name: str) -> str:
    """A source of uncertainty in words: an input, or what the instrument brings."""
    return FIELDS[name].words.removeprefix("the ") if name in FIELDS else name


def _u(one: InputUncertainty) -> str:
    return pct(one.u, 3) if one.relative else num(one.u)


def _kinds() -> Method:
    limits, step = InputUncertainty.rectangular(1.0), InputUncertainty.resolution(1.0)
    stated = InputUncertainty.expanded(0.5)
    return Method(
        "uncertainty-kinds",
        "From limits, steps and certificates to a standard uncertainty",
        "Limits that hold anywhere alike, one step of a display, and a certificate's expanded uncertainty.",
        ("limits ±a: u = a / √3", "step a: u = a / √12", "certificate U with its k: u = U / k"),
        ("a = half the width of the limits, or one step", "U = expanded uncertainty", "k = its coverage factor"),
        sources=("JCGM 100:2008, 4.3.7, F.2.2.1 and 4.3.3",),
        example=(
            f"±1 mm: u = {num(limits.u, 'mm')}; a step of 1 N: u = {num(step.u, 'N')}; ±0.5 N at k = 2: u = "
            f"{num(stated.u, 'N')}",
        ),
        code="stats.footing.input_uncertainty.InputUncertainty",
    )
