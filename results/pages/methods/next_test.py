"""What the next test should be, and whether a rig will do."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from stats.footing.units import GRAVITY_M_S2
from stats.inference import network, planning
from stats.practice import caution
from stats.practice.next_study import next_study
from stats.practice.plan import controls, power_curve, running_order
from stats.practice.rig import LEAST_SHARE, SPREADS, Expected, arms_words, check_rig, expected_load

from . import lines
from .comparing import RULES
from .entry import Method, Part, by_code, num, pct
from .networks import ARMS

RATIO, CV = 1.2, 0.15
RAIL: Mapping[str, Any] = {"member_thickness_mm": 20.0, "member_depth_mm": 60.0}
SCALE_KG = 150.0


def planned() -> Part:
    """How the next test is planned."""
    return Part(
        "next-test",
        "The next test",
        "Which two joints a further study should hold, how many specimens, in which order, beside which controls, and "
        "whether the rig reads what they bear. The examples' numbers are made up.",
        (_next(), _power(), _curve(), _order(), _controls(), _expected(), _rig(), _caution()),
    )


def _next() -> Method:
    found = next_study(network.fit(ARMS, "dowel"), n=6, cv=CV)
    rows = tuple(
        f"{row.joint} and {row.versus} (studies that hold both now: {row.studies}): half width {num(row.before)} "
        f"becomes {num(row.after)}, {pct(row.gain)} less"
        for row in found.table.itertuples()
    )
    return by_code(
        "next-study",
        "Where one more study would tell most",
        next_study,
        "Every two joints are tried as a further study; what narrows the network's prediction intervals most comes "
        "first, and before that what links joints that nothing links now.",
        ("The five studies of the network's part, and 6 further specimens of each joint:", *rows, *found.notes),
        formulas=("w = 2 · s² / n + τ²", "C' = C - C·q·q'·C / (w + q'·C·q)", "gain = 1 - after / before"),
        symbols=(
            "s, n = sd of logs within a series, and specimens of each joint",
            "w = variance of what the further study tells",
            "τ² = variance between studies of a log ratio",
            "gain = what a further study of the two takes off the half width, as a share of it",
            "C, C' = covariance of the joints' effects before and after",
            "q = +1 at one joint, -1 at the other",
            "before, after = mean half width of the prediction intervals, on logs",
        ),
    )


def _power() -> Method:
    rows = tuple(
        f"n = {n}: δ = {num(_noncentral(n))} on {2 * n - 2} degrees of freedom, chance "
        f"{pct(planning.power_at(n, RATIO, CV), 3)}"
        for n in (6, 12, 18)
    )
    return by_code(
        "plan-power",
        "Chance of telling two joints apart",
        planning.power_at,
        "For a ratio worth telling, with so many specimens of each joint. A difference seen the wrong way round "
        "doesn't count.",
        (f"a ratio of {RATIO:g} at a coefficient of variation of {pct(CV)}:", *rows),
        formulas=("chance = 1 - T(t; 2·n - 2, δ)", "δ = |ln r| / s · √(n / 2), s = √(ln(1 + cv²))"),
        symbols=(
            "r = ratio of the geometric means",
            "n = specimens of each joint",
            "cv = coefficient of variation within a series",
            "s, δ = sd of logs, and noncentrality",
            "t = Student's quantile, two-sided, 95 %",
            "T = noncentral t distribution",
        ),
        source="Cohen, J. (1988). Statistical Power Analysis for the Behavioral Sciences, 2nd ed., ch. 2. Erlbaum.",
    )


def _noncentral(n: int) -> float:
    """The noncentrality as it is shown; a test holds the chance to it."""
    return float(abs(math.log(RATIO)) / planning.sd_log_from_cv(CV) * (n / 2) ** 0.5)


def _curve() -> Method:
    found = power_curve(RATIO, CV, ns=[4, 8, 12, 16], affordable=6)
    rows = "; ".join(f"{row.n}: {pct(row.power, 3)}, ratio {num(row.detectable)}" for row in found.table.itertuples())
    seen = found.at_n.ratio if found.at_n else 0.0
    return by_code(
        "plan-curve",
        "The chance over the number of specimens",
        power_curve,
        "A curve to half as many again as are needed, so that it shows where more specimens stop to tell much.",
        (
            f"a ratio of {RATIO:g} at {pct(CV)}, 4 times in 5: {found.plan.n} of each are needed",
            f"chance, and the smallest ratio told 4 times in 5, for specimens of each: {rows}",
            f"6 that can be afforded would tell a ratio of {num(seen)}",
        ),
        formulas=("n = 2 to max(1.5 · needed, 8), 200 at most",),
        symbols=("n = specimens of each joint", "needed = specimens for the chance asked for"),
        source="Cohen (1988), as for the chance itself",
    )


def _order() -> Method:
    runs = running_order({"dowel": 3, "tenon": 3}, seed=1, blocks=2)
    rows = tuple(
        f"block {block}: "
        + ", ".join(f"{run.position} {run.series} {run.specimen}" for run in runs if run.block == block)
        for block in (1, 2)
    )
    return by_code(
        "plan-order",
        "Running order",
        running_order,
        "By chance within each day, board or glue-up, every one of which holds its share of every series.",
        ("Three dowelled and three tenoned joints on two days, seed 1:", *rows),
        formulas=("specimen i goes to block ((i - 1) mod blocks) + 1",),
        symbols=("i = place of the specimen, series after series, each in an order by chance",),
        source="randomised blocks, textbook; common practice",
    )


def _controls() -> Method:
    named = (f"beside 8 dowelled joints {one.n} of {one.joint}: {one.why}" for one in controls(["dowel"], 8))
    bond = (f"beside 8 glued edges, as bond tests, {one.n} of {one.joint}" for one in controls(["edge"], 8, bond=True))
    return by_code(
        "plan-controls",
        "Controls beside the joints in question",
        controls,
        "Those that the joints themselves don't hold already. A bond by itself takes solid bars only.",
        (*named, *bond),
        formulas=("solid: the larger of 3 and n / 2, rounded up", "butt: n"),
        symbols=("n = specimens of each series",),
        source="common practice",
    )


def _load(arm_mm: float) -> Expected:
    return expected_load("cantilever_arm", {"arm_mm": arm_mm}, ratio=0.25, solid_mpa=100.0, dims=RAIL, cv=CV)


def _expected() -> Method:
    found = _load(300.0)
    return by_code(
        "plan-load",
        "The load to expect",
        expected_load,
        "From like series of the book, or from the ratio to solid wood that such joints have.",
        (
            *lines.worked(found.lines),
            f"strongest and weakest at a coefficient of variation of {pct(CV)}: {num(found.low_n, 'N')} to "
            f"{num(found.high_n, 'N')}",
        ),
        formulas=(*lines.formulas(found.lines), f"F · exp(±{SPREADS:g} · s), s = √(ln(1 + cv²))"),
        symbols=(
            *lines.symbols(found.lines, own=_LETTERS),
            "s, cv = sd of logs, and coefficient of variation",
        ),
        source="derived from statics",
    )


_LETTERS = {
    "r": "ratio to solid wood to expect",
    "S": "modulus of rupture of the timber, MPa",
    "Z": "section modulus of the member, mm³",
    "M": "moment at the joint to expect, N·m",
    "c": "moment at the joint for one newton on the rig, as the loading has it, m",
    "F": "load on the rig, N",
}


def _rig() -> Method:
    short, long, jack = _load(200.0), _load(300.0), _load(300.0)
    scale = SCALE_KG * GRAVITY_M_S2
    found = [
        check_rig(short, "bathroom_scale", scale, arm_mm=200.0),
        check_rig(long, "bathroom_scale", scale, arm_mm=300.0),
        check_rig(jack, "jack_gauge", 20.0, arm_mm=300.0, ram_diameter_mm=42.9),
    ]
    return by_code(
        "plan-rig",
        "Whether the rig will do",
        check_rig,
        f"The strongest specimen must be read, and the weakest not below {pct(LEAST_SHARE)} of full scale.",
        (
            *(f"{one.words} ({one.verdict})" for one in found),
            lines.worked(found[0].lines)[0],
            f"the strongest wants an arm of {num(found[0].least_arm_mm or 0, 'mm')} or more, the weakest one of "
            f"{num(found[0].most_arm_mm or 0, 'mm')} or less; said in whole steps of 10 mm, of 1 mm below 100 mm, the "
            "least rounded up and the longest down: "
            + arms_words(found[0].least_arm_mm or 0.0, found[0].most_arm_mm or 0.0),
        ),
        formulas=(
            *lines.formulas(found[0].lines),
            "least arm = a · F / S",
            f"most arm = a · F_low / ({LEAST_SHARE:g} · S)",
        ),
        symbols=(
            "F, F_low = load of the strongest and of the weakest specimen, N",
            "S = the most that the instrument reads, or the jack or frame gives where that is less, N",
            "a = arm from the face of the joint that the loads are for, mm",
            "u = strongest specimen over full scale",
        ),
        source="common practice; loads and arms by statics",
    )


def _caution() -> Method:
    return Method(
        "plan-caution",
        "What is said beside every plan",
        "What goes with every chance, order, load and check of a rig.",
        sources=(RULES,),
        example=caution.TESTING,
        code="stats.practice.plan.power_curve",
    )
