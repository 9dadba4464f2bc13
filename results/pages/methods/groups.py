"""The statistics of groups in one study, and of planning."""

from __future__ import annotations

import numpy as np

from stats.inference import groups, planning, planning_one, ratios, studentized_range

from .entry import Method, Part, by_code, chance, num, numbers, pct
from .series import A, B, C


def within_study() -> Part:
    """Groups compared within one study, and how many specimens a plan wants."""
    return Part(
        "groups",
        "Groups in one study, and planning",
        f"Series of one shop, on one rig. The examples take A ({numbers(A, 3)}), B ({numbers(B, 3)}) and C "
        f"({numbers(C, 3)}) N·m.",
        (*_two(), *_more(), *_plans()),
    )


def _two() -> tuple[Method, ...]:
    found = ratios.ratio(B, A)
    alike = ratios.equivalent(A, [361.0, 342.0, 380.0, 352.0, 366.0], 1.25)
    logs = [np.log(x) for x in (B, A)]
    sums = ratios.ratio_from_sums(logs[0].mean(), logs[0].var(ddof=1), 5, logs[1].mean(), logs[1].var(ddof=1), 5)
    return (
        by_code(
            "ratio-welch",
            "Ratio of two geometric means",
            ratios.ratio,
            "How many times one joint takes what another takes, with its interval.",
            (
                f"B over A: d = {num(found.log_ratio)}, se = {num(found.se_log)}, {num(found.df, digits=3)} degrees of "
                f"freedom: {num(found.ratio)}, {num(found.interval.low)} to {num(found.interval.high)}, "
                f"{chance(found.p)}",
                f"from stored means and variances of logs the same: {num(sums.ratio)}",
            ),
        ),
        by_code(
            "ratio-equivalence",
            "Shown to be alike",
            ratios.equivalent,
            "Whether two joints are shown to lie within a margin of each other.",
            (
                f"A and another five within a factor {alike.margin:g}: ratio {num(alike.ratio.ratio)}, "
                f"{chance(alike.p)}: "
                f"{'shown' if alike.equivalent else 'not shown'}",
            ),
        ),
    )


def _more() -> tuple[Method, ...]:
    values, labels = [*A, *B, *C], [*"AAAAABBBBBCCCCC"]
    logs = np.log(values)
    welch, kruskal = groups.welch_anova(logs, labels), groups.kruskal(values, labels)
    pairs, ranks = groups.games_howell(logs, labels), groups.dunn(values, labels)
    q = studentized_range.critical(0.95, 3, 12)
    pair = ", ".join(f"{r.a}-{r.b} {num(r.p, digits=2)}" for r in pairs.itertuples())
    rank = ", ".join(f"{r.a}-{r.b} {num(r.p_adjusted, digits=2)}" for r in ranks.itertuples())
    return (
        by_code(
            "groups-welch",
            "Whether any of several groups differs",
            groups.welch_anova,
            "Means of logs, each group with its own spread.",
            (f"F = {num(welch.statistic)} on {welch.df[0]:g} and {num(welch.df[1])}, {chance(welch.p)}",),
            formulas=(
                "F = Σ w_i (m_i - m)² / (g - 1) ÷ (1 + 2 (g - 2) / (g² - 1) · Λ)",
                "w_i = n_i / s_i², Λ = Σ (1 - w_i / Σw)² / (n_i - 1), on g - 1 and (g² - 1) / (3 Λ)",
            ),
            symbols=("m_i, s_i², n_i = mean, variance and count of a group's logs", "m = Σ w_i m_i / Σw", "g = groups"),
        ),
        by_code(
            "groups-games-howell",
            "Which of several groups differ",
            groups.games_howell,
            "Every pair, each group with its own spread and count.",
            (f"p of each pair: {pair}",),
            formulas=("q = |m_a - m_b| / √((s_a² / n_a + s_b² / n_b) / 2), against the Studentized range",),
            symbols=("m, s², n = mean, variance and count of a group's logs",),
        ),
        by_code(
            "groups-studentized-range",
            "The Studentized range",
            studentized_range.tail,
            "What the largest difference among several means may come to by chance.",
            (f"three means on 12 degrees of freedom stay within {num(q, digits=4)} in 95 of 100 cases",),
        ),
        by_code(
            "groups-kruskal",
            "Whether any group differs, by ranks",
            groups.kruskal,
            "Without a distribution: only the order of the readings counts.",
            (f"H = {num(kruskal.statistic)} on {kruskal.df[0]:g}, {chance(kruskal.p)}",),
            formulas=("H = 12 / (N (N + 1)) · Σ R_i² / n_i - 3 (N + 1), corrected for ties",),
            symbols=("R_i, n_i = sum of ranks and count of a group", "N = all readings"),
        ),
        by_code(
            "groups-dunn",
            "Which groups differ, by ranks",
            groups.dunn,
            "Every pair by its mean ranks, p adjusted by Holm for the number of pairs.",
            (f"adjusted p of each pair: {rank}",),
        ),
    )


def _plans() -> tuple[Method, ...]:
    wanted, seen = planning.n_for_ratio(1.2, 0.15), planning.detectable_ratio(6, 0.15)
    width, limit = planning_one.n_for_precision(0.10, 0.15), planning_one.n_for_lower_limit(0.95, 0.75)
    return (
        by_code(
            "plan-ratio",
            "How many specimens to tell two joints apart",
            planning.n_for_ratio,
            "For a ratio worth telling, at the spread that such joints usually show.",
            (f"a ratio of 1.2 at a coefficient of variation of 15 %: {wanted.n} of each",),
        ),
        by_code(
            "plan-detectable",
            "What so many specimens would tell",
            planning.detectable_ratio,
            "The other way round: the smallest ratio that a test of this size would be expected to see, 4 times in 5.",
            (f"6 of each at 15 %: a ratio of {num(seen.ratio)}",),
            source="noncentral t, as for the number of specimens",
        ),
        by_code(
            "plan-precision",
            "How many for a mean of so much",
            planning_one.n_for_precision,
            "For an interval of a stated width.",
            (f"±10 % at 15 %: {width.n}",),
            source="Student's t on logarithms, textbook",
        ),
        by_code(
            "plan-limit",
            "How many for a lower limit",
            planning_one.n_for_lower_limit,
            "For a lognormal limit that comes near the true percentile, and for one by rank.",
            (
                f"5 % limit at 75 %, within {pct(limit.share)} of the true one: {limit.n}, by rank {limit.n_order}",
                f"sd of logs of a coefficient of variation of 15 %: √(ln(1 + 0.15²)) = "
                f"{num(planning.sd_log_from_cv(0.15), digits=4)}",
            ),
            source="noncentral t (Owen 1963), as for the lower limit",
        ),
    )
