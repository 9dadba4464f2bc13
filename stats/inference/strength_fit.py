"""A fitted strength distribution: its parameters, quantiles, lower limits and how well it fits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special, stats

from stats.inference.posterior import lognormal_lower_quantile, weibull_lower_quantile
from stats.inference.sample import Floats, TooFew, checked_share
from stats.interval import Interval

GOODNESS_DRAWS = 1999  # simulated samples behind a p value; its standard error is below 0.012


@dataclass(frozen=True)
class Quantile:
    """A quantile of fitted strength with its interval.

    Parameters
    ----------
    p : float
        Share of joints below.
    estimate : float
        The quantile, in the unit of the readings.
    interval : Interval
        Its two-sided interval.
    se_log : float
        Standard error of its log [-].
    """

    p: float
    estimate: float
    interval: Interval
    se_log: float


@dataclass(frozen=True)
class Goodness:
    """How straight the probability plot is, and how often chance alone gives a plot this crooked.

    Parameters
    ----------
    statistic : float
        Correlation of the probability plot [-].
    p : float
        Chance of a plot this crooked or worse where the model holds.
    n_broke : int
        Broken specimens, which are the points of the plot.
    method : str
        How it was worked.
    """

    statistic: float
    p: float
    n_broke: int
    method: str


@dataclass(frozen=True)
class CensoredFit:
    """What the two fits share: strength as location and scale on logarithms.

    Parameters
    ----------
    values, broke : tuple
        The readings, and whether each specimen broke (else it held).
    location, log_scale : float
        Location of log strength, and the log of its scale.
    loglik : float
        Log-likelihood of the readings themselves (not of their logs).
    location_covariance : ndarray, shape (2, 2)
        Inverse observed information on (location, log_scale).
    """

    values: tuple[float, ...]
    broke: tuple[bool, ...]
    location: float
    log_scale: float
    loglik: float
    location_covariance: NDArray[np.float64]

    model = "location-scale"

    @property
    def n(self) -> int:
        """Specimens in all."""
        return len(self.values)

    @property
    def held(self) -> int:
        """Specimens that held."""
        return self.n - sum(self.broke)

    @property
    def aic(self) -> float:
        """Akaike's criterion, two parameters: lower is better, for the same readings."""
        return 4.0 - 2.0 * self.loglik

    def standard_quantile(self, p: float) -> float:
        """Quantile of the standardised log strength.

        Parameters
        ----------
        p : float
            Share of joints below, between 0 and 1.

        Returns
        -------
        float
            (log x - location) / scale.
        """
        raise NotImplementedError

    def quantile(self, p: float, level: float = 0.95) -> Quantile:
        """Strength below which the share `p` of joints lies, with a two-sided interval.

        Parameters
        ----------
        p : float
            Share of joints below, 0 to 1: 0.05 is the 5th percentile.
        level : float
            Confidence level of the interval.

        Returns
        -------
        Quantile

        Raises
        ------
        BadSetting
            If p or level is not between 0 and 1.

        Notes
        -----
        Delta method on the log: ``log x_p = location + scale * w``, ``w`` the standard quantile, gradient
        ``(1, scale * w)``. For large samples; with fewer than about ten broken specimens it is too narrow,
        and `lower_limit` is the better tool for a design value.
        """
        p, level = checked_share(p, "p"), checked_share(level, "level")
        scale = float(np.exp(self.log_scale))
        step = scale * self.standard_quantile(p)
        gradient = np.array([1.0, step])
        se = float(np.sqrt(gradient @ self.location_covariance @ gradient))
        centre = self.location + step
        reach = float(stats.norm.ppf(0.5 + level / 2)) * se
        ends = Interval(float(np.exp(centre - reach)), float(np.exp(centre + reach)), level)
        return Quantile(p, float(np.exp(centre)), ends, se)

    def lower_limit(self, p: float, confidence: float) -> float:
        """Limit that the `p` quantile exceeds with the stated confidence, fit for small samples.

        See `stats.inference.posterior` for how: exact where nothing is censored (and where testing stopped
        after a set number of breaks), close to it otherwise.

        Parameters
        ----------
        p : float
            Share of joints below the quantile, between 0 and 1.
        confidence : float
            Probability that the limit keeps its word, between 0 and 1.

        Returns
        -------
        float
            In the unit of the readings.

        Raises
        ------
        BadSetting
            If p or confidence is not between 0 and 1.
        """
        raise NotImplementedError

    def goodness(self) -> Goodness:
        """Probability-plot correlation of the broken specimens, with a simulated p value.

        Returns
        -------
        Goodness

        Raises
        ------
        TooFew
            If fewer than three specimens broke.

        Notes
        -----
        Plotting positions follow Kaplan and Meier with half a step back, so that held specimens push later
        ones up. The correlation does not depend on location or scale, so its distribution under the model is
        simulated from standard samples with specimens held at the same ranks (fixed seed). A small sample
        can pass under almost any model: a large p is no proof.

        References
        ----------
        Filliben, J. J. (1975). The probability plot correlation coefficient test for normality.
        Technometrics 17, 111-117.
        """
        logs = np.log(np.array(self.values))
        order = np.lexsort((~np.array(self.broke), logs))  # at a tie, breaks come before held ones
        event = np.array(self.broke)[order]
        if event.sum() < 3:
            raise TooFew(f"{event.sum()} specimens broke; a goodness of fit needs at least 3.")
        at_risk = np.arange(self.n, 0, -1)
        survival = np.cumprod(np.where(event, 1 - 1 / at_risk, 1.0))
        before = np.concatenate(([1.0], survival[:-1]))
        below = 1 - (survival + before)[event] / 2
        scores = np.array([self.standard_quantile(float(p)) for p in below])
        statistic = float(np.corrcoef(logs[order][event], scores)[0, 1])
        uniform = np.sort(np.random.default_rng(0).random((GOODNESS_DRAWS, self.n)), axis=1)[:, event]
        draws = self._standard_quantiles(uniform)
        draws = draws - draws.mean(axis=1, keepdims=True)
        centred = scores - scores.mean()
        r = draws @ centred / np.sqrt((draws**2).sum(axis=1) * (centred**2).sum())
        p = float((1 + (r <= statistic).sum()) / (1 + GOODNESS_DRAWS))
        return Goodness(statistic, p, int(event.sum()), f"probability-plot correlation, {self.model}")

    def _standard_quantiles(self, p: Floats) -> Floats:
        raise NotImplementedError


@dataclass(frozen=True)
class WeibullFit(CensoredFit):
    """A two-parameter Weibull fit: `shape` (higher is less spread) and `scale` (63.2 % lie below)."""

    model = "weibull"

    @property
    def shape(self) -> float:
        """Weibull shape."""
        return float(np.exp(-self.log_scale))

    @property
    def scale(self) -> float:
        """Weibull scale, in the unit of the readings."""
        return float(np.exp(self.location))

    @property
    def covariance(self) -> NDArray[np.float64]:
        """Covariance of (shape, scale)."""
        jacobian = np.array([[0.0, -self.shape], [self.scale, 0.0]])
        return np.asarray(jacobian @ self.location_covariance @ jacobian.T)

    def standard_quantile(self, p: float) -> float:
        """Quantile of the smallest-extreme-value distribution."""
        return float(np.log(-np.log1p(-checked_share(p, "p"))))

    def _standard_quantiles(self, p: Floats) -> Floats:
        return np.asarray(np.log(-np.log1p(-p)))

    def lower_limit(self, p: float, confidence: float) -> float:
        """Lower confidence limit of the `p` quantile by conditional inference."""
        p, confidence = checked_share(p, "p"), checked_share(confidence, "confidence")
        logs = np.log(np.array(self.values))
        standard = (logs - self.location) * self.shape
        limit = weibull_lower_quantile(standard, np.array(self.broke), p, confidence)
        return float(np.exp(self.location + limit / self.shape))


@dataclass(frozen=True)
class LognormalFit(CensoredFit):
    """A lognormal fit: `mean_log` and `sd_log` (maximum likelihood, so divisor n where all broke)."""

    model = "lognormal"

    @property
    def mean_log(self) -> float:
        """Mean of log strength."""
        return self.location

    @property
    def sd_log(self) -> float:
        """Standard deviation of log strength."""
        return float(np.exp(self.log_scale))

    @property
    def geometric_mean(self) -> float:
        """Geometric mean, which is also the median."""
        return float(np.exp(self.location))

    @property
    def covariance(self) -> NDArray[np.float64]:
        """Covariance of (mean_log, sd_log), shape (2, 2)."""
        jacobian = np.diag([1.0, self.sd_log])
        return np.asarray(jacobian @ self.location_covariance @ jacobian)

    def standard_quantile(self, p: float) -> float:
        """Quantile of the standard normal distribution."""
        return float(special.ndtri(checked_share(p, "p")))

    def _standard_quantiles(self, p: Floats) -> Floats:
        return np.asarray(special.ndtri(p))

    def lower_limit(self, p: float, confidence: float) -> float:
        """Lower confidence limit of the `p` quantile by integrating the likelihood."""
        p, confidence = checked_share(p, "p"), checked_share(confidence, "confidence")
        logs = np.log(np.array(self.values))
        standard = (logs - self.location) / self.sd_log
        limit = lognormal_lower_quantile(standard, np.array(self.broke), p, confidence)
        return float(np.exp(self.location + limit * self.sd_log))
