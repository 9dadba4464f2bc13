"""The statistics of one series: centre, spread, lower limits, specimens that held."""

from __future__ import annotations

from functools import cache
from typing import cast

import numpy as np
from scipy import stats

from stats.inference import censored, describe, tolerance
from stats.inference.posterior import lognormal_lower_quantile, weibull_lower_quantile
from stats.inference.strength_fit import CensoredFit
from stats.inference.tolerance_factors import hanson_koopmans_factor, normal_factor, order_minimum_n, order_rank
from stats.interval import Interval

from .entry import Method, Part, by_code, chance, num, numbers, pct

# Five joints of one series, another five, and a third: moments at the joint, N·m.
A = [310.0, 350.0, 362.0, 371.0, 400.0]
B = [410.0, 455.0, 431.0, 398.0, 440.0]
C = [288.0, 305.0, 341.0, 322.0, 299.0]
# The last of the first five held: the rig stopped at 400.
HELD = [True, True, True, True, False]
SAMPLE = f"A = {numbers(A, 3)} N·m"
MEAN_LOG, SD_LOG = "mean of the natural logarithms", "standard deviation of the logs, divisor n - 1"


def one_series() -> Part:
    """What is said of one series."""
    return Part(
        "series",
        "One series",
        "Strengths are positive and skewed, and ratios are what people compare; so all runs on natural logarithms "
        "and comes "
        f"back as geometric means and ratios. The examples take the five joints {SAMPLE}.",
        (_summary(), _sums(), *_limits(), *_fits(), _goodness()),
    )


def _summary() -> Method:
    found = describe.summary(A)
    logs = np.log(A)
    t, n = float(stats.t.ppf(0.975, len(A) - 1)), len(A)
    ends = cast(Interval, found.geometric_interval)  # five readings have one
    low, high = ends.low, ends.high
    return by_code(
        "series-geometric-mean",
        "Geometric mean, interval and coefficient of variation",
        describe.summary,
        "The centre of a series, how sure it is, and how much specimens differ.",
        (
            f"mean of logs {num(logs.mean(), digits=5)}, geometric mean exp({num(logs.mean(), digits=5)}) = "
            f"{num(found.geometric_mean, 'N·m', 4)}",
            f"s = {num(found.sd_log)}, t = {num(t, digits=4)}: exp({num(logs.mean(), digits=5)} ± {num(t, digits=4)} · "
            f"{num(found.sd_log)} / √{n}) = {num(low, 'N·m')} to {num(high, 'N·m')}",
            f"mean as read {num(found.mean, 'N·m', 4)}, coefficient of variation {pct(found.cv)}",
        ),
        formulas=("G = exp(m)", "exp(m ± t · s / √n)", "coefficient of variation: sd / mean as read"),
        symbols=(f"m = {MEAN_LOG}", f"s = {SD_LOG}", "t = Student's quantile on n - 1 degrees of freedom, 95 %"),
        source="Student's t on logarithms, textbook",
    )


def _sums() -> Method:
    logs = np.log(A)
    found = describe.from_sums(len(A), logs.sum(), (logs**2).sum())
    return by_code(
        "series-sums",
        "The same from stored sums",
        describe.from_sums,
        "Pages read counts and sums of logs, not specimens, so that their cost follows the number of series.",
        (
            f"n = {len(A)}, sum {num(logs.sum(), digits=6)}, sum of squares {num((logs**2).sum(), digits=6)}: "
            f"{num(found.geometric_mean, 'N·m', 4)}, {num(found.low, 'N·m')} to {num(found.high, 'N·m')}",
        ),
        source="algebra of the sample variance",
    )


def _limits() -> tuple[Method, ...]:
    found = tolerance.lower_limit(A, 0.95, 0.75)
    plain = tolerance.lower_limit(A, 0.95, 0.75, "normal")
    logs = np.log(A)
    k = normal_factor(len(A), 0.95, 0.75)
    says = "The strength that 95 % of such joints exceed, so worked that it keeps its word in 75 of 100 series."
    many = [*A, *B, *C, *(x * 1.07 for x in A + B), 305.0, 377.0, 415.0]
    order = tolerance.lower_limit(many, 0.95, 0.75, "order")
    weibull = tolerance.lower_limit(A, 0.95, 0.75, "weibull")
    few = tolerance.lower_limit(A, 0.95, 0.75, "hanson-koopmans")
    rank, power = hanson_koopmans_factor(len(A), 0.95, 0.75)
    held = tolerance.lower_limit(A, 0.95, 0.75, broke=HELD)
    ordered = sorted(A)
    return (
        by_code(
            "limit-lognormal",
            "Lower limit, lognormal",
            normal_factor,
            says,
            (
                f"n = {len(A)}: k = {num(k, digits=4)}; exp({num(logs.mean(), digits=5)} - {num(k, digits=4)} · "
                f"{num(logs.std(ddof=1))}) = {num(found.value, 'N·m')}",
                f"as a normal one: {num(np.mean(A), digits=4)} - {num(k, digits=4)} · "
                f"{num(np.std(A, ddof=1), digits=4)} "
                f"= {num(plain.value, 'N·m')}",
            ),
            formulas=("exp(m - k · s)", "normal: mean - k · sd"),
            symbols=(f"m = {MEAN_LOG}", f"s = {SD_LOG}", "k = exact one-sided tolerance factor"),
        ),
        by_code(
            "limit-order",
            "Lower limit by rank",
            order_rank,
            "The lowest reading, or one of the lowest, whatever the distribution. It takes many specimens.",
            (
                f"at least {order_minimum_n(0.05, 0.75)} specimens for a 5 % limit at 75 %",
                f"of {len(many)} specimens the one of rank {order.rank}: {num(order.value, 'N·m')}",
            ),
        ),
        by_code(
            "limit-weibull",
            "Lower limit, Weibull",
            weibull_lower_quantile,
            "Strength as that of the weakest of many parts.",
            (f"A, all broken: {num(weibull.value, 'N·m')}",),
            source="Lawless, J. F. (2003). Statistical Models and Methods for Lifetime Data, 2nd ed., section 5.1.2 "
            "and "
            "app. E.",
        ),
        by_code(
            "limit-hanson-koopmans",
            "Lower limit for few specimens, almost without a model",
            hanson_koopmans_factor,
            "For a handful of specimens where no distribution is to be assumed.",
            (
                f"n = {len(A)}: rank {rank}, k = {num(power, digits=4)}; {ordered[rank - 1]:g} · ({ordered[0]:g} / "
                f"{ordered[rank - 1]:g})^{num(power, digits=4)} = {num(few.value, 'N·m')}",
            ),
            formulas=("x_r · (x₁ / x_r)^k",),
            symbols=("x₁, x_r = the lowest reading and the one of rank r", "k = factor for n"),
        ),
        by_code(
            "limit-held",
            "Lower limit where specimens held",
            lognormal_lower_quantile,
            tolerance.CENSORED_NOTE,
            (f"A with the last held: {num(held.value, 'N·m')}, where all broken it is {num(found.value, 'N·m')}",),
            source="Lawless, J. F. (2003). Statistical Models and Methods for Lifetime Data, 2nd ed., section 5.1.2 "
            "and "
            "app. E.",
        ),
    )


def _fits() -> tuple[Method, ...]:
    normal, weibull = censored.fit_lognormal(A, HELD), censored.fit_weibull(A, HELD)
    middle = normal.quantile(0.5)
    return (
        by_code(
            "held-lognormal",
            "Specimens that held: lognormal fit",
            censored.fit_lognormal,
            "A specimen that the rig could not break is at least this strong (right-censored). Centre and spread "
            "come from "
            "the likelihood of all of them; a series of which fewer than two broke gives none.",
            (
                f"A with the last held: geometric mean {num(normal.geometric_mean, 'N·m', 4)}, sd of logs "
                f"{num(normal.sd_log)}; as if it had broken {num(np.exp(np.log(A).mean()), 'N·m', 4)}",
            ),
            formulas=("Σ over broken ln φ((x - m) / s) / s + Σ over held ln(1 - Φ((x - m) / s)), greatest",),
            symbols=(
                "x = log of the reading",
                "m, s = mean and sd of the logs",
                "φ, Φ = normal density and distribution",
            ),
        ),
        by_code(
            "held-weibull",
            "Specimens that held: Weibull fit",
            censored.fit_weibull,
            "The same with the Weibull distribution: shape (higher is less spread) and scale (63.2 % lie below).",
            (f"A with the last held: shape {num(weibull.shape)}, scale {num(weibull.scale, 'N·m')}",),
        ),
        by_code(
            "held-quantile",
            "A quantile of a fit and its interval",
            CensoredFit.quantile,
            "Below which a share of joints lies. The interval of a centre with held specimens is that of the half.",
            (
                f"half of them lie below {num(middle.estimate, 'N·m')}, "
                f"{num(middle.interval.low, 'N·m')} to {num(middle.interval.high, 'N·m')}",
            ),
            source="delta method, textbook",
        ),
    )


@cache
def _goodness() -> Method:
    found = censored.fit_lognormal(A).goodness()
    return by_code(
        "held-goodness",
        "Whether a distribution fits",
        CensoredFit.goodness,
        "How straight the broken specimens lie on the paper of a distribution.",
        (f"A, lognormal: correlation {num(found.statistic, digits=4)}, {chance(found.p)}",),
    )
