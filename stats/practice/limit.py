"""The load that most joints of a kind exceed in a shop that is not yet in the book."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy import special
from scipy import stats as distributions

from stats.errors import StatsError
from stats.inference.planning import sd_log_from_cv
from stats.inference.sample import checked_above, checked_count, checked_share
from stats.inference.tolerance_factors import noncentral_factor, normal_factor
from stats.interval import Interval
from stats.practice.shops import FEWEST_SPECIMENS, ShopEvidence, TooThin
from stats.practice.working import Line
from stats.scalar import said, scalar

SOURCE = (
    "one-sided tolerance limit of a random-effects model: Satterthwaite (1946), Biometrics Bulletin 2, 110-114, for "
    "the degrees of freedom, with the between-shop part raised to its upper limit as Mee and Owen (1983), "
    "Technometrics 25, 253-261, do (from memory); coverage checked by simulation"
)
_DEFINITION = "definition"


@dataclass(frozen=True)
class Limit:
    """A lower limit on a footing, and where single joints lie.

    Parameters
    ----------
    value : float
        The limit, in the footing's unit.
    typical : float
        Geometric mean (or mean, for the normal model), in the footing's unit.
    single : Interval
        Where a further joint would lie.
    coverage, confidence : float
        Share of joints above the limit, and the probability that it keeps its word.
    scope : {"another shop", "the shop tested"}
        For whose joints.
    model : {"lognormal", "normal"}
        What single joints are taken to follow.
    location, spread, df : float
        Of a further joint's predictive t distribution, on logs for the lognormal model.
    shops, specimens : int
        Studies and specimens behind it.
    lines : tuple of Line
        The working.
    notes : tuple of str
        What to know before using it.
    """

    value: float
    typical: float
    single: Interval
    coverage: float
    confidence: float
    scope: str
    model: str
    location: float
    spread: float
    df: float
    shops: int
    specimens: int
    lines: tuple[Line, ...]
    notes: tuple[str, ...]

    def chance_below(self, value: float) -> float:
        """Chance that a further joint breaks below a value of the footing.

        Parameters
        ----------
        value : float
            In the footing's unit.

        Returns
        -------
        float
            Between 0 and 1.

        Raises
        ------
        StatsError
            If the value is no number.
        """
        if math.isnan(scalar(value)):
            raise StatsError(f"value ({said(value)}) must be a number.")
        if value <= 0:
            return 0.0
        at = math.log(value) if self.model == "lognormal" else value
        return float(distributions.t.cdf((at - self.location) / self.spread, self.df))

    @property
    def words(self) -> str:
        """What the limit is, in words."""
        quantile = 100 * (1 - self.coverage)
        return f"{quantile:g} % lower limit, {100 * self.confidence:g} % confidence, for joints of {self.scope}"


def next_shop(evidence: ShopEvidence, coverage: float = 0.95, confidence: float = 0.75, *, level: float = 0.9) -> Limit:
    """Load that a share of single joints made in another shop exceed, with a stated confidence.

    Parameters
    ----------
    evidence : ShopEvidence
        Mean over shops with what surrounds it.
    coverage, confidence : float, optional
        0.95 and 0.75 for the 5th percentile as timber standards take it; 0.90 and 0.90 for the other usual pair.
    level : float, optional
        Level of the interval for a single joint.

    Returns
    -------
    Limit

    Raises
    ------
    TooThin
        With one shop, fewer than five specimens, no prediction, or no spread.
    StatsError
        If coverage, confidence or level does not lie between 0 and 1.

    Notes
    -----
    A joint of another shop varies by sigma_T² = tau² + sigma². The limit is ``exp(mu - k sigma_T)`` with
    ``k = t(confidence; f, z √m) / √m`` the noncentral t quantile, z the normal quantile of the coverage,
    ``m = sigma_T² / se²`` and f by Satterthwaite from the between-shop mean square B = (shops) se² on its degrees of
    freedom and what is left of sigma_T² on those within. Few shops can't tell a large tau from none, so in m and f, B
    is raised to its upper limit at the confidence asked for. In 500 invented books for each of 32 cases (2 to 10
    shops, series of 5 or 10, tau 0 to 0.3, sigma 0.15; tests/stats/practice/shopbooks.py) the 75 % limit kept its word
    73 to 99 % of the time and the 90 % one 90 to 100 %; it errs downwards where shops are few and alike.

    References
    ----------
    .. [1] Satterthwaite FE (1946). An approximate distribution of estimates of variance components. Biometrics
       Bulletin 2: 110-114.
    .. [2] Mee RW, Owen DB (1983). Improved factors for one-sided tolerance limits for balanced one-way ANOVA random
       model. Technometrics 25: 253-261 (from memory).

    Examples
    --------
    >>> many = ShopEvidence(3.0, 0.05, 0.10, 0.15, 7, 60, 8, 68)
    >>> limit = next_shop(many)
    >>> round(limit.typical, 1), round(limit.value, 1)
    (20.1, 14.0)
    """
    coverage, confidence = checked_share(coverage, "coverage"), checked_share(confidence, "confidence")
    level = checked_share(level, "level")
    thin = evidence.why_thin()
    if thin:
        raise TooThin(thin)
    tau, sigma = evidence.between_sd or 0.0, evidence.within_sd or 0.0
    total = tau**2 + sigma**2
    raised = max(1.0, evidence.between_df / float(distributions.chi2.ppf(1 - confidence, evidence.between_df)))
    df, m = _satterthwaite(evidence, total, raised)
    factor = noncentral_factor(df, m, coverage, confidence)
    plain_df, _ = _satterthwaite(evidence, total, 1.0)
    value = math.exp(evidence.mean_log - factor * math.sqrt(total))
    spread = math.sqrt(total + evidence.mean_se**2)
    lines = (
        Line("spread of single joints over shops", "σ_T", "√(τ² + σ²)", {"τ": (tau, ""), "σ": (sigma, "")},
             math.sqrt(total), "", _DEFINITION, "on logs: τ between shops, σ among joints made alike"),
        Line("factor on it", "k", "t(γ; f, z · √m) / √m",
             {"γ": (confidence, ""), "f": (df, ""), "z": (float(special.ndtri(coverage)), ""), "m": (m, "")},
             factor, "", SOURCE),
        Line("lower limit over the geometric mean", "r", "exp(-k · σ_T)",
             {"k": (factor, ""), "σ_T": (math.sqrt(total), "")}, value / math.exp(evidence.mean_log), "", _DEFINITION),
    )  # fmt: skip
    return Limit(
        value=value,
        typical=math.exp(evidence.mean_log),
        single=_single(evidence.mean_log, spread, plain_df, level, log=True),
        coverage=coverage,
        confidence=confidence,
        scope="another shop",
        model="lognormal",
        location=evidence.mean_log,
        spread=spread,
        df=plain_df,
        shops=evidence.shops,
        specimens=evidence.specimens,
        lines=lines,
        notes=_notes(evidence),
    )


def _satterthwaite(evidence: ShopEvidence, total: float, raised: float) -> tuple[float, float]:
    """Degrees of freedom of the whole spread, and how many single joints the mean is worth.

    The between-shop mean square, which (shops)·se² estimates, is multiplied by `raised`; what is left of the whole
    spread is that within shops.
    """
    se2 = evidence.mean_se**2
    square = min(max((evidence.between_df + 1) * se2, (evidence.between_sd or 0.0) ** 2), total)
    between, rest = square * raised, total - square
    df = (between + rest) ** 2 / (between**2 / evidence.between_df + rest**2 / evidence.within_df)
    return df, (between + rest) / (se2 * raised)


def _single(location: float, spread: float, df: float, level: float, *, log: bool) -> Interval:
    reach = float(distributions.t.ppf((1 + level) / 2, df)) * spread
    low, high = location - reach, location + reach
    return Interval(math.exp(low), math.exp(high), level) if log else Interval(max(low, 0.0), high, level)


def _notes(evidence: ShopEvidence) -> tuple[str, ...]:
    few = f"Only {evidence.shops} shops: the limit lies low because how much shops differ is hardly known."
    unseen = "The shops agree as closely as their own spread allows; the limit still allows for a difference unseen."
    return (*((few,) if evidence.shops < 5 else ()), *((unseen,) if not evidence.between_sd else ()))


def shop_tested(
    mean: float, sd: float, n: int, coverage: float = 0.95, confidence: float = 0.75, *, model: str = "normal",
    level: float = 0.9,
) -> Limit:  # fmt: skip
    """Lower limit of one large series by itself, as its authors print it: for that shop's joints and no other's.

    Parameters
    ----------
    mean, sd : float
        Mean and standard deviation of the readings, in the footing's unit.
    n : int
        Specimens.
    coverage, confidence : float, optional
        As for `next_shop`.
    model : {"normal", "lognormal"}, optional
        What readings are taken to follow. The lognormal model takes mean and sd for those of the readings.
    level : float, optional
        Level of the interval for a single joint.

    Returns
    -------
    Limit
        Its scope says that it does not hold for another shop.

    Raises
    ------
    TooThin
        With fewer than five specimens.
    StatsError
        If a number can't be.

    Notes
    -----
    ``mean - k sd`` with the exact factor of `stats.inference.tolerance_factors.normal_factor`, on logs for the
    lognormal model, whose spread is ``√ln(1 + (sd / mean)²)``.

    Examples
    --------
    >>> round(shop_tested(353, 48, 215, coverage=0.90, confidence=0.90).value)
    285
    """
    mean, sd = checked_above(mean, "mean"), checked_above(sd, "sd")
    n = checked_count(n, "n", 1)
    level = checked_share(level, "level")
    if model not in ("normal", "lognormal"):
        raise StatsError(f"model ({model!r}) must be normal or lognormal.")
    if n < FEWEST_SPECIMENS:
        raise TooThin((f"Only {n} specimens in all; {FEWEST_SPECIMENS} are the fewest.",))
    k = normal_factor(n, coverage, confidence)
    log = model == "lognormal"
    spread = sd_log_from_cv(sd / mean) if log else sd
    location = math.log(mean) - spread**2 / 2 if log else mean
    value = math.exp(location - k * spread) if log else location - k * spread
    if value <= 0:
        raise TooThin((f"sd ({sd:g}) is so large beside mean ({mean:g}) that the limit falls below zero.",))
    formula = "exp(μ - k · s)" if log else "μ - k · s"
    line = Line("lower limit", "L", formula, {"μ": (location, ""), "k": (k, ""), "s": (spread, "")}, value, "",
                "exact one-sided tolerance factor of a normal sample, Owen (1963)")  # fmt: skip
    return Limit(
        value=value,
        typical=math.exp(location) if log else mean,
        single=_single(location, spread * math.sqrt(1 + 1 / n), n - 1.0, level, log=log),
        coverage=coverage,
        confidence=confidence,
        scope="the shop tested",
        model=model,
        location=location,
        spread=spread * math.sqrt(1 + 1 / n),
        df=n - 1.0,
        shops=1,
        specimens=n,
        lines=(line,),
        notes=("One shop's own limit: how much another shop's joints differ is not in it.",),
    )
