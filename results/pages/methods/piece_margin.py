"""What a joint gives over what a piece asks, what raises it, and what several joints hold together."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from stats.practice import strength_law
from stats.practice.assembly import share
from stats.practice.demand import demand
from stats.practice.leverage import leverage
from stats.practice.margin import Margin, margin, raise_most, slope
from stats.practice.places import PLACES, fits
from stats.practice.strength_law import Model, StrengthLaw

from . import lines
from .comparing import RULES
from .entry import Method, by_code, num, pct
from .piece_bears import BUILT, moment

MODELS: dict[Model, str] = {"lognormal": "lognormal", "weibull": "Weibull"}


def _chair(dims: Mapping[str, Any] = BUILT) -> Margin:
    """The tenon of the examples in a chair of the examples."""
    asked = demand("chair_leaned", {"sitter_n": 1000, "back_push_n": 400, "leg_mm": 400, "back_height_mm": 300})
    return margin(moment(dims), asked)


def margins() -> tuple[Method, ...]:
    """The margin, and what would raise it."""
    return _margin(), _raise(), _places(), _slope()


def _margin() -> Method:
    found = _chair()
    single = found.single
    return by_code(
        "margin",
        "Margin",
        margin,
        "The lower limit of what the joint bears, over what the piece asks. Different actions are never set against "
        "each other.",
        (
            lines.worked([found.line])[0],
            found.words,
            f"a middling joint: {num(found.typical)}; {pct(single.level)} of single joints lie from "
            f"{num(single.low)} to {num(single.high)}; chance that one bears less than the piece asks: "
            f"{pct(found.chance_short)}",
        ),
        formulas=(*lines.formulas([found.line]), "chance of falling short = T((ln(M / c) - μ) / S)"),
        symbols=(
            "R = lower limit of what the joint bears, N·m or N",
            "M = what the piece asks of it, N·m or N",
            "c = what the joint bears for one unit of the footing",
            "T, μ, S = as for a further joint of another shop",
        ),
        source="definition",
    )


def _raise() -> Method:
    tries = raise_most(_chair, BUILT)
    return by_code(
        "margin-raise",
        "What would raise the margin most",
        raise_most,
        "The margin is worked again with each usual change: members a fifth deeper or thicker, a tenon 10 mm longer "
        "or higher, one dowel, plate, screw or tenon more, dowels 10 mm deeper or further apart, 2 mm thicker. Other "
        "joints are tried the same way, but for those that aren't made at such a place.",
        tuple(
            f"{one.words}: {num(one.before)} becomes {num(one.after)} to {num(one.after_upper)}, gain × {num(one.gain)}"
            for one in tries
        ),
        formulas=("gain = √(after · after_upper / (before · before_upper))",),
        symbols=(
            "before, after = margin by the lower of the ways, as planned and as changed",
            "before_upper, after_upper = margin if only glue (or wood) decided",
        ),
        source=RULES,
    )


def _places() -> Method:
    codes = ("mt_blind", "dowel", "mitre", "housing", "dovetail_through", "edge")
    names = {code: code.removesuffix("_blind").replace("mt", "mortise and tenon").replace("_", " ") for code in codes}
    return by_code(
        "margin-places",
        "Which joints are tried at a place",
        fits,
        "What can't be made where the piece's worst joint is isn't offered in its stead, however much it bears.",
        tuple(
            f"{words}: of {', '.join(names.values())}, tried are "
            f"{', '.join(names[code] for code in codes if fits(code, place))}"
            for place, words in PLACES.items()
        ),
        source="common practice",
    )


def _slope() -> Method:
    names = {"member_depth_mm": "depth of the member", "member_thickness_mm": "thickness of the member"}
    rows = [f"{words}: {num(slope(_chair, BUILT, name), digits=2)}" for name, words in names.items()]
    return by_code(
        "margin-slope",
        "How the margin grows with one size",
        slope,
        "Percent of margin for each percent of a size, by a step of one percent either way. A section's margin grows "
        "with the square of its depth, less what the effect of size takes off.",
        rows,
        formulas=("ln(n₊ / n₋) / ln((1 + h) / (1 - h))",),
        symbols=("n₊, n₋ = margin with the size a step larger and smaller", "h = step, 0.01"),
        source="difference quotient on logarithms, textbook",
    )


# Several joints, and long members


def shared() -> tuple[Method, ...]:
    """What several joints hold together, and what a long member does."""
    return _share(), _law(), _weakest(), _bundle(), _leverage()


def _share() -> Method:
    four, uneven = share(1000.0, 4, cv=0.2), share(1000.0, 4, cv=0.2, shares=[2, 1, 1, 1])
    rows = []
    for one in four.bounds:
        low = "" if one.low is None else f", 95 of 100 such assemblies hold more than {num(one.low, 'N')}"
        rows.append(f"{one.name}: {num(one.mean, 'N')} on average, {pct(one.of_product)} of the product{low}")
    return by_code(
        "sharing",
        "Joints that share a load",
        share,
        "Four bounds beside each other, and not one joint times their number.",
        (
            "Four joints of 1 000 N, coefficient of variation 20 %:",
            *rows,
            f"one that takes twice what each other takes: {num(uneven['frame'].mean, 'N')} by the shares of the frame, "
            f"{num(uneven['weakest'].mean, 'N')} if the first to break ends it",
        ),
        formulas=tuple(f"{one.name}: {one.formula}" for one in four.bounds),
        symbols=(
            "n, m = joints, and mean strength of one, N or N·m",
            "x_i, x_(j) = strength of a joint, and of the weakest but j - 1, N or N·m",
            *(f"{one.name}: {one.assumption}" for one in four.bounds),
        ),
    )


def _law() -> Method:
    rows = []
    for model, name in MODELS.items():
        one = StrengthLaw(1000.0, 0.2, model)
        rows.append(
            f"mean 1 000 N, coefficient of variation 20 %, {name}: shape {num(one.shape)}, scale "
            f"{num(one.scale, 'N')}; {pct(float(one.below(700.0)))} break below 700 N"
        )
    return by_code(
        "strength-law",
        "The law that joints made alike follow",
        StrengthLaw,
        "Lognormal or Weibull, with the mean and the coefficient of variation given.",
        rows,
        formulas=(
            "lognormal: s = √(ln(1 + cv²)), median = m · exp(-s² / 2)",
            "Weibull: Γ(1 + 2/k) / Γ(1 + 1/k)² = 1 + cv², scale = m / Γ(1 + 1/k)",
        ),
        symbols=(
            "m, cv = mean, N or N·m, and coefficient of variation",
            "s = sd of logs",
            "k = shape; the scale is the strength that 63.2 % don't reach, N or N·m",
        ),
        source="moments of the lognormal and the Weibull distribution, textbook",
    )


def _weakest() -> Method:
    rows = []
    for model, name in MODELS.items():
        law = StrengthLaw(1000.0, 0.2, model)
        rows.append(
            f"four joints, {name}: the weakest is on average {pct(strength_law.weakest_share(law, 4), 3)} of one "
            f"joint; in 5 of 100 fours it lies below {num(strength_law.weakest_quantile(law, 4, 0.05), 'N')}"
        )
    return by_code(
        "strength-weakest",
        "The weakest of several joints",
        strength_law.weakest_share,
        "How much weaker the weakest is than a joint by itself, on average and at the low end.",
        rows,
        formulas=("low end: F⁻¹(1 - (1 - p)^(1/n))",),
        symbols=(
            "n = joints",
            "k = shape of the Weibull law",
            "φ, Φ = normal density and distribution",
            "F⁻¹ = strength below which a share of single joints lies, N or N·m",
            "p = chance, 0.05",
        ),
    )


def _bundle() -> Method:
    law = StrengthLaw(1000.0, 0.2)
    mean, low = strength_law.bundle_mean(law, 4), strength_law.bundle_quantile(law, 4, 0.05)
    return by_code(
        "strength-bundle",
        "Joints that pass their load on",
        strength_law.bundle_below,
        "What is left once the weak ones have gone: the load at which no joint is left to take over.",
        (
            f"four joints of 1 000 N, 20 %, lognormal: chance to hold less than 3 000 N "
            f"{pct(strength_law.bundle_below(law, 4, 3000.0))}; {num(mean, 'N')} on average; 5 of 100 hold less than "
            f"{num(low, 'N')}",
        ),
        formulas=("max over j of (n - j + 1) · x_(j)", "mean = ∫ (1 - G(F)) dF"),
        symbols=(
            "n = joints",
            "x_(j) = strength of the weakest but j - 1, N or N·m",
            "F = load on all of them together, N or N·m",
            "G(F) = chance to hold less than F",
        ),
    )


def _leverage() -> Method:
    found = leverage(120.0, [100.0, 400.0, 800.0], push_n=300.0)
    rows = "; ".join(f"{row.arm_mm:g} mm: {num(row.force_n, 'N')}" for row in found.table.itertuples())
    measured = leverage(120.0)
    return by_code(
        "leverage",
        "Leverage: the force that breaks a joint at the end of a member",
        leverage,
        "Short members flatter a joint, long ones show it. One person's push is set beside it.",
        (
            f"a joint of 120 N·m: {rows}",
            f"a push of 300 N breaks it from {num(found.reach_mm, 'mm')} on; one of {num(measured.push_n, 'N')} from "
            f"{num(measured.reach_mm, 'mm')} on ({measured.push_source})",
        ),
        formulas=("F = 1000 · M / a", "reach = 1000 · M / P"),
        symbols=(
            "M = what the joint bears, best a lower limit, N·m",
            "a = from the joint's face to the force, mm",
            "F = force at that distance that breaks the joint, N",
            "P, reach = a push, N, and the distance from which on it breaks the joint, mm",
        ),
        source="derived from statics",
    )
