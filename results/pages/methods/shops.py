"""Between shops, and how far a comparison can be trusted."""

from __future__ import annotations

import numpy as np
import pandas as pd

from stats.charts.look import counted
from stats.inference import certainty, certainty_domains, consistency, interlab, pool
from stats.inference.batches import basis_between_batches

from .entry import Method, Part, by_code, num, pct

# Mean logs of one joint in six shops, four specimens each, one shop off and one of wide spread.
SHOPS = {"A": 7.60, "B": 7.57, "C": 7.63, "D": 7.59, "E": 7.95, "F": 7.55}
STEPS = np.array([-0.06, -0.02, 0.02, 0.06])


def between_shops() -> Part:
    """Repeatability, reproducibility, a shop's standing, batches."""
    return Part(
        "shops",
        "Between shops",
        "How well shops repeat themselves and each other. The examples take one joint in six shops, four specimens "
        "each; "
        "shop E reads high, shop F spreads.",
        (_precision(), *_critical(), _standing(), _poolable(), _batches()),
    )


def _specimens() -> pd.DataFrame:
    wide = {"F": 2.5}
    rows = [(shop, "dowel", mean + wide.get(shop, 1.0) * step) for shop, mean in SHOPS.items() for step in STEPS]
    return pd.DataFrame(rows, columns=["study", "joint", "y"])


def _precision() -> Method:
    found = interlab.precision(_specimens())
    level, shops = found.levels.loc["dowel"], found.shops.set_index("study")
    h, k = (", ".join(f"{name} {num(row[what], digits=2)}" for name, row in shops.iterrows()) for what in ("h", "k"))
    return by_code(
        "shops-precision",
        "Repeatability, reproducibility, Mandel's h and k",
        interlab.precision,
        "s_r is how specimens of one shop differ, s_R how those of any two do; h says how far off a shop's mean is, "
        "k how "
        "wide its own spread. On logs they read as shares.",
        (
            f"s_r = {num(level['s_r'])}, s_L = {num(level['s_L'])}, s_R = {num(level['s_R'])}: two specimens of one "
            "shop "
            f"differ by less than a factor {num(np.exp(level['r_limit']))} in 95 of 100 cases, of two shops "
            f"{num(np.exp(level['R_limit']))}",
            f"h: {h} (critical {num(shops['h_critical'].iloc[0])})",
            f"k: {k} (critical {num(shops['k_critical'].iloc[0])})",
        ),
        formulas=("h = (m_i - m) / s_m", "k = s_i / s_r", "s_R² = s_r² + s_L²"),
        symbols=("m_i, s_i = mean and sd of shop i", "m, s_m = mean and sd of the shops' means"),
    )


def _critical() -> tuple[Method, ...]:
    return (
        by_code(
            "shops-critical-h",
            "Critical value of h",
            consistency.critical_h,
            "How far off one of so many shops may be by chance.",
            (f"of six shops at 0.5 %: {num(consistency.critical_h(6))}",),
            formulas=("(p - 1) t / √(p (t² + p - 2)), t on p - 2 degrees of freedom",),
            symbols=("p = number of shops",),
            source="Wilrich P-T (2013); ISO 5725-2:2019",
        ),
        by_code(
            "shops-critical-k",
            "Critical value of k",
            consistency.critical_k,
            "How wide a shop's own spread may be by chance.",
            (f"of six shops of four at 0.5 %: {num(consistency.critical_k(3, 18))}",),
            formulas=("√(ν / (ν_i + (ν - ν_i) / F))",),
            symbols=("ν_i, ν = degrees of freedom of the shop and of all", "F = quantile on ν_i and ν - ν_i"),
            source="Wilrich P-T (2013); ISO 5725-2:2019",
        ),
    )


def _standing() -> Method:
    means = _specimens().groupby("study")["y"].agg(["mean", "var", "size"])
    found = interlab.standing(means["mean"], means["var"] / means["size"], labels=list(means.index))
    said = ", ".join(f"{row.study} {num(row.z, digits=2)} ({row.verdict})" for row in found.itertuples())
    return by_code(
        "shops-standing",
        "A shop's standing",
        interlab.standing,
        "How far a shop's result lies from all the others', as a z-score. A reason to look, no verdict on a shop.",
        (f"z: {said}",),
        formulas=("z = (y - a) / √(σ² + u²)", "ζ = (y - a) / √(v + u²)"),
        symbols=(
            "y, v = the shop's value and its variance",
            "a, u = the other shops pooled, and how well that is known",
            "σ = what one shop's result may differ by",
        ),
    )


def _poolable() -> Method:
    groups = {name: part["y"].to_numpy() for name, part in _specimens().groupby("study")}
    four, all_six = ({n: v for n, v in groups.items() if n in names} for names in ("ABCD", "ABCDEF"))
    few, every = interlab.poolable(four), interlab.poolable(all_six)
    said = [
        f"{'may' if one.poolable else 'may not'} be pooled (p {one.p_is} {num(one.p, digits=2)})"
        for one in (few, every)
    ]
    return by_code(
        "shops-poolable",
        "Whether shops may share one distribution",
        interlab.poolable,
        "The k-sample Anderson-Darling test.",
        (f"A to D {said[0]}; all six {said[1]}",),
    )


def _batches() -> Method:
    frame = _specimens()
    found = basis_between_batches(np.exp(frame["y"]), frame["study"])
    return by_code(
        "limit-between-studies",
        "Lower limit over studies that differ",
        basis_between_batches,
        "For a joint of a further shop: shops are batches. The 5 % limit at 75 % confidence of a comparison over "
        "studies.",
        (
            f"six shops of four: sd of logs between {num(found.sd_between)}, within {num(found.sd_within)}, factor "
            f"{num(found.factor)}: {num(found.value)}",
        ),
    )


# How far a comparison can be trusted

_DOMAINS = {
    "risk of bias": certainty_domains.risk_of_bias,
    "inconsistency": certainty_domains.inconsistency,
    "indirectness": certainty_domains.indirectness,
    "imprecision": certainty_domains.imprecision,
    "missing evidence": certainty_domains.missing_evidence,
}


def _graded() -> tuple[certainty.Certainty, pd.DataFrame]:
    y, v = [-0.21, -0.35, -0.10], [0.010, 0.012, 0.008]
    found = pool.random_effects(y, v)
    evidence = pd.DataFrame(
        {"study": ["A", "B", "C"], "weight": found.weights, "n": [5, 4, 6], "direct": True, "like": [True, True, False],
         "imputed": [False, True, False], "contributor": ["x", "y", "z"]}
    )  # fmt: skip
    return certainty.grade(found, evidence), evidence


def trusted() -> Part:
    """Certainty by five domains."""
    grade, _ = _graded()
    return Part(
        "certainty",
        "How far a comparison can be trusted",
        "A grade from high to very low: high, less the steps of five domains, each judged from the evidence by a "
        "written "
        "rule. It speaks of this evidence, not of the joint.",
        (_grade(grade), *(_domain(one) for one in grade.domains)),
    )


def _grade(found: certainty.Certainty) -> Method:
    steps = ", ".join(f"{one.name} {one.steps}" for one in found.domains)
    return by_code(
        "certainty-grade",
        "The grade",
        certainty.grade,
        f"A difference of {pct(found.matters)} is taken to matter unless said otherwise.",
        (f"three studies, one without a spread of its own and one not like for like: {steps}: {found.level}",),
        formulas=("high - steps of all domains; three or more: very low",),
    )


def _domain(found: certainty_domains.Domain) -> Method:
    does = _DOMAINS[found.name]
    # The rule is the docstring's second paragraph.
    rule = " ".join(" ".join(part.split()) for part in (does.__doc__ or "").strip().split("\n\n")[1:])
    return Method(
        f"certainty-{found.name.replace(' ', '-')}",
        found.name.capitalize(),
        rule,
        sources=("GRADE's domain (Guyatt GH et al. 2008); the rule is this book's",),
        example=(f"the same three studies: {counted(found.steps, 'step')}. {found.reason}",),
        code=f"{does.__module__}.{does.__qualname__}",
    )
