"""How strong a joint is in a shop that is not in the book yet."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pandas as pd
from scipy import stats

from results.practice import strength
from stats.inference.batches import limits_from_sums
from stats.practice.limit import Limit, next_shop, shop_tested
from stats.practice.shops import FEWEST_SHOPS, FEWEST_SPECIMENS, ShopEvidence, TooThin, evidence_of, through_network

from . import lines
from .entry import Method, by_code, num, numbers, pct

MEANS_MPA, SPREADS, COUNTS = [20.0, 22.0, 24.0, 18.0, 21.0], [0.12, 0.16, 0.14, 0.15, 0.13], [6, 5, 8, 6, 10]
SERIES = pd.DataFrame({"study": [*"AABCD"], "mean_log": np.log(MEANS_MPA), "sd_log": SPREADS, "n": COUNTS})
_WITH = f"Five series of four shops, A, A, B, C and D: {numbers(MEANS_MPA, 2)} MPa"
# What the lines of a limit don't say of their own symbols.
_LETTERS = {
    "τ": "sd between shops, of logs",
    "σ": "sd among joints made alike, of logs",
    "γ": "confidence",
    "f": "degrees of freedom of σ_T",
    "z": "normal quantile of the coverage",
    "m": "single joints that the mean is worth",
}


@cache
def evidence() -> ShopEvidence:
    """What the shops of the examples tell."""
    return evidence_of(SERIES)


@cache
def limit() -> Limit:
    """Lower limit for another shop, as the examples go on with it: a stress, MPa."""
    return next_shop(evidence())


def limits() -> tuple[Method, ...]:
    """What the shops that tested a joint tell of another shop's."""
    return _evidence(), _network(), _next_shop(), _single(), _shop_tested()


def _evidence() -> Method:
    found = evidence()
    try:
        next_shop(evidence_of(SERIES.head(1)))
        thin = ""
    except TooThin as error:
        thin = str(error)
    return by_code(
        "another-shop-evidence",
        "How strong a joint is over shops",
        evidence_of,
        f"Every shop counts once, however many series it tested. Below {FEWEST_SHOPS} shops or {FEWEST_SPECIMENS} "
        "specimens, or without any series that tells a spread, no limit is given.",
        (
            f"{_WITH}; sd of logs {numbers(SPREADS, 2)}; {', '.join(map(str, COUNTS))} specimens: mean over shops "
            f"exp({num(found.mean_log, digits=4)}) = {num(math.exp(found.mean_log), 'MPa')}, its standard error "
            f"{num(found.mean_se)}; σ = {num(found.within_sd or 0)} on {found.within_df:g} degrees of freedom, "
            f"τ = {num(found.between_sd or 0)} on {found.between_df:g}",
            f"the first series alone: {thin}",
        ),
        formulas=("σ² = Σ (n_i - 1) · s_i² / Σ (n_i - 1)", "y = Σ n_i · m_i / Σ n_i, of each shop"),
        symbols=(
            "m_i, s_i, n_i = mean and sd of a series' logs, and its specimens",
            "σ = sd among joints made alike, of logs",
            "y = a shop's own mean of logs; all of them are pooled to a mean over shops and τ",
        ),
        source="Viechtbauer (2005) and Knapp and Hartung (2003), as for pooling many studies",
    )


def reach(found: ShopEvidence) -> float:
    """How far the mean over shops may be off, written out once more as it is shown; a test holds the two together."""
    return float(stats.t.ppf(0.975, max(found.between_df, 1.0))) * found.mean_se


def _network() -> Method:
    known, own = evidence(), evidence_of(SERIES.tail(2))
    ratio, se = 0.9, 0.10
    found = through_network(
        known, math.log(ratio), se, tau2=0.03, df=3.0, shops=own.shops, specimens=own.specimens,
        within_sd=own.within_sd, within_df=own.within_df,
    )  # fmt: skip
    way = strength.NETWORK if own.why_thin() or reach(found) < reach(own) else strength.OWN
    return by_code(
        "another-shop-network",
        "The same through the network",
        through_network,
        "A joint that few shops tested is known through one that many tested, by the ratio of the two over all "
        "studies. Both ways are worked where both can be had; the one whose mean is known better is taken, and the "
        "network's where the joint's own shops are too few for a limit. The other is shown.",
        (
            f"a joint that two shops tested, by all studies {ratio:g} times as strong as that of the four shops (se of "
            f"logs {num(se)}, τ² 0.03): exp({num(known.mean_log, digits=4)} + ln {ratio:g}) = "
            f"{num(math.exp(found.mean_log), 'MPa')}, standard error √({num(known.mean_se)}² + {num(se)}²) = "
            f"{num(found.mean_se)}, τ = {num(found.between_sd or 0)}",
            f"t · se is {num(reach(own))} by its own two shops and {num(reach(found))} through the network. Its "
            f"strength is taken {strength.ROUTES[way]}",
        ),
        formulas=("mean = reference + log ratio", "se² = se_reference² + se_ratio²", "taken: the least t · se"),
        symbols=(
            "t = Student's quantile on the degrees of freedom between shops, 97.5 %",
            "τ² = variance between studies of a log ratio",
        ),
        source="the model of the network; standard errors added in squares as JCGM 100:2008 (GUM) has it",
    )


def _next_shop() -> Method:
    found = limit()
    other = next_shop(evidence(), 0.90, 0.90)
    return by_code(
        "another-shop-limit",
        "Lower limit for another shop",
        next_shop,
        f"The strength that {pct(found.coverage)} of single joints made in another shop exceed, with "
        f"{pct(found.confidence)} confidence; or {pct(other.coverage)} with {pct(other.confidence)}.",
        (
            _WITH,
            *lines.worked(found.lines),
            f"{found.words}: {num(found.value, 'MPa')}, where the geometric mean is {num(found.typical, 'MPa')}",
            f"{other.words}: {num(other.value, 'MPa')}",
            f"a comparison's limit, and that of a joint's page, of the same readings: {num(_by_readings(), 'MPa')}. It "
            "puts single readings together, studies being batches that differ, and can't use a study that published "
            "only its mean; this one takes each shop's mean and the common spread, so that it can",
            *found.notes,
        ),
        formulas=(
            *lines.formulas(found.lines),
            "limit = r · exp(μ)",
            "B = (f_B + 1) · se², not below τ² and not above σ_T²; W = σ_T² - B",
            "u = f_B / χ²(1 - γ; f_B), not below 1",
            "f = (u · B + W)² / ((u · B)² / f_B + W² / f_W)",
            "m = (u · B + W) / (u · se²)",
        ),
        symbols=(
            *lines.symbols(found.lines, own=_LETTERS),
            "μ, se = mean of logs over shops and its standard error",
            "B, W = parts of σ_T² between and within shops",
            "f_B, f_W = degrees of freedom between shops and within",
            "u = what B is raised by",
        ),
    )


def _by_readings() -> float:
    """The limit of a comparison, were the series of the examples all of single readings."""
    sums = {}
    for study, part in SERIES.groupby("study"):
        n, mean, sd = (part[name].to_numpy() for name in ("n", "mean_log", "sd_log"))
        middle = float(np.average(mean, weights=n))
        sums[study] = (n.sum(), middle, float(np.sum((n - 1) * sd**2 + n * (mean - middle) ** 2)))
    sizes, means, squares = (np.array(column, dtype=float) for column in zip(*sums.values(), strict=True))
    return math.exp(limits_from_sums(sizes, means, squares, np.zeros(len(sums), dtype=int), 1).limit[0])


def _single() -> Method:
    found = limit()
    at = 15.0
    return Method(
        "another-shop-single",
        "Where a further joint lies",
        "The interval for a single joint of another shop, and the chance that it breaks below a value: what a margin's "
        "interval and its chance of falling short are read from.",
        ("exp(μ ± t · S)", "chance below x = T((ln x - μ) / S)", "S² = τ² + σ² + se²"),
        (
            "μ, se = mean of logs over shops and its standard error",
            "τ, σ = sd between shops and among joints made alike, of logs",
            "T, t = Student's distribution and its quantile, on the degrees of freedom of σ_T without the raise",
        ),
        sources=("Student's t for a further value, textbook; degrees of freedom by Satterthwaite (1946)",),
        example=(
            f"S = {num(found.spread)} on {num(found.df)} degrees of freedom: {pct(found.single.level)} of further "
            f"joints lie from {num(found.single.low, 'MPa')} to {num(found.single.high, 'MPa')}",
            f"chance that one breaks below {at:g} MPa: {pct(found.chance_below(at))}",
        ),
        code="stats.practice.limit.Limit.chance_below",
    )


def _shop_tested() -> Method:
    plain, log = shop_tested(300.0, 40.0, 100), shop_tested(300.0, 40.0, 100, model="lognormal")
    case = "100 joints of one shop, mean 300 N·m, sd 40 N·m"
    return by_code(
        "another-shop-tested",
        "Lower limit of the shop tested",
        shop_tested,
        "One large series by itself, as its authors print it. It holds for that shop's joints and for no other's.",
        (
            f"{case}: {lines.worked(plain.lines)[0]} N·m",
            f"as a lognormal one: {lines.worked(log.lines)[0]} N·m",
            *plain.notes,
        ),
        formulas=lines.formulas((*plain.lines, *log.lines)),
        symbols=(
            "L = lower limit, in the unit of the readings",
            "μ, s = mean and sd of the readings; for the lognormal model of their logs",
            "k = exact one-sided tolerance factor for n specimens",
        ),
        source=plain.lines[0].source,
    )
