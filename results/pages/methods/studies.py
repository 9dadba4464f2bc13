"""The statistics over studies: one contrast pooled, spreads lent and steadied, joints side by side."""

from __future__ import annotations

from functools import cache
from typing import cast

import numpy as np
import pandas as pd

from stats.inference import pool, sidebyside, spread
from stats.inference.estimates import LAST_RESORT_SD_LOG
from stats.inference.reml import q_profile, reml_variance
from stats.inference.small_study import small_study
from stats.interval import Interval

from .entry import Method, Part, by_code, chance, num, numbers, pct

# Log ratios of two joints in five studies, and their variances.
Y, V = [-0.05, -0.42, -0.08, -0.36, -0.19], [0.006, 0.008, 0.005, 0.010, 0.007]
STUDIES = "ABCDE"


def pooling() -> Part:
    """One contrast over studies."""
    return Part(
        "studies",
        "One comparison over studies",
        "Studies, not specimens, are what is independent: specimens of one shop share its rig, its boards and its "
        "hands. The "
        f"examples take the ln ratios of two joints in five studies: {numbers(Y, 2)}, with variances {numbers(V, 2)}.",
        (
            _random_effects(),
            _between(),
            _heterogeneity(),
            _leave_out(),
            _small(),
            *_spreads(),
            *_side_by_side(),
            _kept_word(),
        ),
    )


@cache
def _pooled() -> pool.RandomEffects:
    return pool.random_effects(Y, V, labels=list(STUDIES))


def between(low: float, high: float) -> str:
    """The ends of an interval of logs, as ratios."""
    return f"{num(np.exp(low))} to {num(np.exp(high))}"


def _random_effects() -> Method:
    found = _pooled()
    ends = cast(Interval, found.prediction)  # five studies have one
    return by_code(
        "pool-random-effects",
        "Mean over studies, interval, and what the next shop should expect",
        pool.random_effects,
        "The mean over studies that truly differ, weighted by how well each is known; and where another shop's own "
        "mean "
        "may fall (the prediction interval), which is wider.",
        (
            f"weights {', '.join(pct(w) for w in found.weights)}; μ = {num(found.estimate)}, se {num(found.se)}: ratio "
            f"{num(np.exp(found.estimate))}, {between(found.interval.low, found.interval.high)} on {found.df:g} "
            "degrees of "
            "freedom",
            f"the next shop should expect {between(ends.low, ends.high)}",
        ),
        formulas=("μ = Σ w_i y_i / Σ w_i, w_i = 1 / (v_i + τ²)", "se² = Σ w_i (y_i - μ)² / ((k - 1) Σ w_i)"),
        symbols=(
            "y_i, v_i = ln ratio of study i and its variance",
            "τ² = variance between studies",
            "k = number of studies",
        ),
    )


def _between() -> Method:
    found = {method: pool.random_effects(Y, V, method=method).tau2 for method in ("REML", "PM", "DL")}
    return by_code(
        "pool-between-studies",
        "Variance between studies",
        reml_variance,
        "How much studies differ beyond their own errors: by restricted likelihood, as the book has it, or by "
        "Paule-Mandel or DerSimonian-Laird for those who ask.",
        (", ".join(f"τ² by {method} {num(value or 0.0)}" for method, value in found.items()),),
        formulas=(
            "REML: least of Σ ln(v_i + τ²) + ln Σ w_i + Σ w_i (y_i - μ)²",
            "Paule-Mandel: Σ w_i (y_i - μ)² = k - 1",
            "DerSimonian-Laird: (Q - (k - 1)) / (Σ u_i - Σ u_i² / Σ u_i), u_i = 1 / v_i",
        ),
        symbols=("w_i = 1 / (v_i + τ²)", "Q = Σ u_i (y_i - μ)² about the mean weighted by u"),
        source="Viechtbauer (2005); DerSimonian and Laird (1986), from memory",
    )


def _heterogeneity() -> Method:
    found = _pooled()
    ends = cast(Interval, found.tau2_interval)  # five studies have one
    return by_code(
        "pool-heterogeneity",
        "Whether studies differ: Q, I², and the interval of τ²",
        q_profile,
        "I² is the share of all variance that lies between studies. With few studies all of these are hardly known.",
        (
            f"Q = {num(found.q)} on {found.k - 1}, {chance(found.q_p)}; I² = {pct(found.i2 or 0.0)}; τ from "
            f"{num(ends.low**0.5)} to {num(ends.high**0.5)}",
        ),
        formulas=("I² = τ² / (τ² + s²)", "Q(τ²) between the quantiles of χ² on k - 1"),
        symbols=("s² = typical variance within a study",),
    )


def _leave_out() -> Method:
    found = pool.leave_one_out(Y, V, labels=list(STUDIES))
    column = next(name for name in ("left_out", "label", "study", found.columns[0]) if name in found)
    said = ", ".join(f"without {row[column]} {num(np.exp(row['estimate']))}" for row in found.to_dict(orient="records"))
    return by_code(
        "pool-leave-one-out",
        "Each study left out in turn",
        pool.leave_one_out,
        "What the mean would be without any one study.",
        (said,),
        source="the mean over studies, worked again",
    )


def _small() -> Method:
    rng = np.linspace(0.05, 0.2, 12)
    y = -0.2 - 0.9 * rng + 0.02 * np.cos(np.arange(12))
    found = small_study(y, rng**2)
    return by_code(
        "pool-small-studies",
        "Whether less precise studies show larger differences",
        small_study,
        "A sign that results may be missing. Ten studies are the least for which it says much.",
        (f"twelve studies with a slope built in: slope {num(found.slope)}, {chance(found.p)}",),
    )


def _spreads() -> tuple[Method, ...]:
    frame = pd.DataFrame(
        {
            "study": list("AABBCC"),
            "joint": ["dowel", "mitre"] * 3,
            "v": [0.0009, 0.0061, 0.0040, 0.0052, 0.0110, 0.0021],
            "n": [3, 4, 5, 4, 3, 6],
        }
    )
    steady = spread.steady_variance(frame)
    missing = frame.assign(v=frame["v"].where(frame.index != 2))
    filled = spread.impute_variance(missing, least_df=4)
    return (
        by_code(
            "spread-steadied",
            "Spreads of few specimens steadied",
            spread.steady_variance,
            "The spread of three specimens is off by a factor as often as not, and a lucky series would lead.",
            (
                f"variances {numbers(frame['v'], 2)} of {', '.join(map(str, frame['n']))} specimens become "
                f"{numbers(steady['v'], 2)}",
            ),
            formulas=("(d₀ s₀² + d s²) / (d₀ + d)",),
            symbols=(
                "s², d = variance of logs in a series, on n - 1 degrees of freedom",
                "s₀², d₀ = what all share",
            ),
        ),
        by_code(
            "spread-borrowed",
            "Missing spreads borrowed",
            spread.impute_variance,
            "A published mean without a spread takes that of like series (the same joint, then its family, then "
            "all), is "
            "marked, and carries less weight; without a count it weighs as one specimen.",
            (
                f"the third variance missing: {num(filled['v'].iloc[2], digits=2)} from "
                f"{filled['imputed_from'].iloc[2]}",
            ),
            source=f"pooled variance, textbook; with no spread anywhere {LAST_RESORT_SD_LOG:g} of logs "
            "(common "
            "practice)",
        ),
    )


@cache
def _table() -> tuple[pd.DataFrame, pd.DataFrame]:
    """Series of two joints in four studies, as the comparison reads them."""
    rows = [
        ("A", "dowel", 7.60, 0.10),
        ("A", "mitre", 7.02, 0.12),
        ("B", "dowel", 7.45, 0.09),
        ("B", "mitre", 6.98, 0.15),
        ("C", "dowel", 7.71, 0.11),
        ("C", "mitre", 7.21, 0.13),
        ("D", "dowel", 7.58, 0.08),
        ("D", "mitre", 7.12, 0.10),
    ]
    frame = pd.DataFrame(rows, columns=["study_id", "joint", "mean_log", "sd_log"])
    frame = frame.assign(
        series_id=range(len(frame)), joint_name=frame["joint"], family=frame["joint"], n=5, held=0, flagged=0
    )
    return frame, pd.DataFrame(columns=["series_id", "value", "outcome"])


def _side_by_side() -> tuple[Method, ...]:
    frame, specimens = _table()
    series = sidebyside.series_estimates(frame, specimens)
    means, lines = sidebyside.study_means(series), sidebyside.groups(series, specimens)
    found = sidebyside.ratios(series, "dowel").iloc[0]
    top = lines.iloc[0]
    return (
        by_code(
            "compare-series",
            "A series as the comparison reads it",
            sidebyside.series_estimates,
            "Its mean log and the variance of that, with held specimens counted as held.",
            (f"mean log {num(series['y'].iloc[0])}, variance {num(series['v'].iloc[0])}, steadied "
             f"{num(series['v_steady'].iloc[0])}",),
            source="put together from the methods above and below",
        ),
        by_code(
            "compare-study-means",
            "One mean for each joint of each study",
            sidebyside.study_means,
            "Several series of one joint in one study count as one.",
            (", ".join(f"{r.study_id} {r.joint} {num(r.y)}" for r in means.head(3).itertuples()),),
            source="inverse-variance weights, textbook",
        ),
        by_code(
            "compare-groups",
            "One line a joint",
            sidebyside.groups,
            f"Mean over studies, prediction (from {sidebyside.FEWEST_TO_PREDICT} studies on), spread within series, "
            "the 5 % "
            "limit at 75 %.",
            (
                f"dowels of four studies: {num(top.geometric_mean, digits=4)}, {num(top.low, digits=4)} to "
                f"{num(top.high, digits=4)}; the next shop {num(top.prediction_low, digits=4)} to "
                f"{num(top.prediction_high, digits=4)}; coefficient of variation {num(top.cv_pct)} %",
            ),
            source="put together from the methods above and below",
        ),
        by_code(
            "compare-ratios",
            "Each joint as a ratio to one",
            sidebyside.ratios,
            "Within studies first; through other studies where none holds both; as two means only on a footing that "
            "holds "
            "across rigs, and said so.",
            (f"mitre over dowel: {num(found.ratio)}, {num(found.low)} to {num(found.high)}, {found.basis}",),
        ),
    )  # fmt: skip


def _kept_word() -> Method:
    return Method(
        "intervals-hold",
        "How often the intervals hold",
        "Intervals use restricted maximum likelihood with the Knapp-Hartung correction, on variances that are steadied "
        "first; a prediction takes one degree of freedom fewer. These were chosen by simulation: over 2,000 made-up "
        "books of 3 to 40 studies, 3 to 10 specimens a series, a coefficient of variation of 10 to 25 % and up to 0.3 "
        "between shops (sd of logs), 95 % intervals of pooled means held the truth in 93.8 % of cases, of ratios "
        "through the network in 94.9 %; predictions in 94.5 and 95.2 %. Plain normal intervals held it in 92 to 93 % "
        "only, and far less often with two or three studies.",
        mind="Predictions err on the wide side where shops agree, and a little on the narrow side where they differ a "
        "little. A lower limit asked for with 75 % confidence kept its word in 74.8 % of 2,000 series of 3 to 10 "
        "specimens, and one between shops in 76 to 81 % of 8,000 books.",
        sources=("simulated with this book's own code",),
    )
