"""A comparison worked out the long way: record by record, joint by joint, one thing at a time."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from scipy import stats as scipy_stats

from results.evidence import Choices
from results.evidence.fields import specimen_field
from results.evidence.frames import HARD_LIVES
from results.models import Series, SeriesFooting, Specimen
from stats.errors import StatsError
from stats.footing.comparability import SeriesFacts, partition
from stats.inference import censored, network, pool, tolerance
from stats.inference.batches import basis_between_batches


@dataclass
class One:
    """A series with its specimens that have a value."""

    series: Series
    stored: SeriesFooting
    joint: str
    values: list[float]
    broke: list[bool]
    places: list[str]
    n: float = math.nan
    y: float = math.nan
    v: float = math.nan
    v_steady: float = math.nan
    sd: float = math.nan

    @property
    def held(self) -> int:
        return self.broke.count(False)


@dataclass
class Plain:
    """What there is of a comparison."""

    series: list[One]
    groups: dict[str, dict] = field(default_factory=dict)
    ratios: dict[str, tuple] = field(default_factory=dict)
    failures: dict[tuple[str, str], tuple] = field(default_factory=dict)


def plain(choices: Choices, reference: str) -> Plain:
    """The comparison of all joints under one action and kind of test."""
    chosen = _estimated(_one_axis(_series(choices), choices.footing))
    found = Plain(chosen)
    for joint in dict.fromkeys(one.joint for one in chosen):
        found.groups[joint] = _group([one for one in chosen if one.joint == joint], choices.level)
        found.failures |= _failures(joint, [one for one in chosen if one.joint == joint])
    arms = pd.DataFrame(
        [(one.series.study_id, one.joint, one.y, one.v_steady, one.series.pk) for one in chosen],
        columns=["study", "joint", "y", "v", "series"],
    )
    try:
        fitted = network.fit(arms, reference, level=choices.level)
    except StatsError:  # one study alone compares
        return found
    for joint in found.groups:
        try:
            one = fitted.relative(joint, reference)
        except StatsError:
            continue
        found.ratios[joint] = (one.ratio, one.ratio_interval.low, one.ratio_interval.high, one.studies)
    return found


def _series(choices: Choices) -> list[One]:
    rows = Series.objects.counting().filter(setup__loading__action=choices.action, tests=choices.tests).order_by("pk")
    found = []
    for series in rows.select_related("setup__loading", "joint", "control"):
        stored = series.footings.filter(code=choices.footing, sum_log__isnull=False).first()
        if stored is None:
            continue
        name = specimen_field(choices.footing, choices.action)
        specimens = [one for one in series.specimens.exclude(outcome="void") if getattr(one, name) is not None]
        if not choices.flagged:
            specimens = [one for one in specimens if not one.flagged]
        if not specimens and not series.is_summary:
            continue
        found.append(
            One(
                series,
                stored,
                _kind(series),
                [getattr(one, name) for one in specimens],
                [one.outcome == Specimen.Outcome.BROKE for one in specimens],
                [one.failure_place_id or "" for one in specimens],
            )
        )
    return found


def _kind(series: Series) -> str:
    kind = series.joint_id
    if series.tests == "bond" and series.faces:
        kind += f"+{series.faces}"
    return f"{kind}+{series.conditioning}" if series.conditioning in HARD_LIVES else kind


def _one_axis(series: list[One], footing: str) -> list[One]:
    facts = []
    for one in series:
        s = one.series
        sides = (s.member_thickness_mm, s.member_depth_mm)
        sides = (s.bond_length_mm, s.bond_width_mm) if None in sides else sides
        size = None if None in sides else tuple(round(side, 1) for side in sides)
        facts.append(
            SeriesFacts(
                *(s.pk, s.study_id, s.setup_id, s.joint_id, s.setup.loading.action, s.tests, size, s.timber_id),
                footings=frozenset({footing}),
                control_joint=s.control.joint_id if s.control else None,
            )
        )
    members = {one.id for one in partition(facts, footing).groups[0].members}
    return [one for one in series if one.series.pk in members]


def _estimated(series: list[One]) -> list[One]:
    for one in series:
        logs = np.log([value for value, broke in zip(one.values, one.broke, strict=True) if broke])
        if one.series.is_summary:
            one.n, total = one.stored.n or math.nan, one.stored.n or 1
            one.y = one.stored.sum_log / total
            if one.stored.sum_sq_log is not None and total > 1:
                one.sd = math.sqrt((one.stored.sum_sq_log - total * one.y**2) / (total - 1))
                one.v = one.sd**2 / total
            continue
        one.n = len(logs)
        if len(logs) > 1 and logs.std(ddof=1) > 1e-9:
            one.sd = logs.std(ddof=1)
        if one.held:
            try:
                fit = censored.fit_lognormal(one.values, one.broke)
            except StatsError:
                continue
            one.y, one.v = fit.mean_log, fit.covariance[0, 0]
        else:
            one.y, one.v = logs.mean(), one.sd**2 / len(logs)
    used = [one for one in series if not math.isnan(one.y)]
    frame = pd.DataFrame(
        [(one.series.study_id, one.joint, one.series.joint.family_id, one.y, one.v, one.n) for one in used],
        columns=["study", "joint", "family", "y", "v", "n"],
    )
    filled = network.impute_variance(frame, ("family", "joint"))
    steady = network.steady_variance(filled.assign(n=filled["n"].where(~filled["imputed"])))
    for one, v, v_steady in zip(used, filled["v"], steady["v"], strict=True):
        one.v, one.v_steady = v, v_steady
    return used


def _study_mean(own: list[One], name: str) -> tuple[float, float, float]:
    """Mean of one joint in one study, its variance, and specimens less series."""
    y, v = np.array([one.y for one in own]), np.array([getattr(one, name) for one in own])
    apart = y.var(ddof=1) / len(y) if len(y) > 1 else 0.0
    df = sum(max((1 if math.isnan(one.n) else one.n) - 1, 0) for one in own)
    return float((y / v).sum() / (1 / v).sum()), max(float(1 / (1 / v).sum()), apart), df


def _group(own: list[One], level: float) -> dict:
    by_study = defaultdict(list)
    for one in own:
        by_study[one.series.study_id].append(one)
    name = "v_steady" if len(by_study) > 1 else "v"
    means = [_study_mean(part, name) for part in by_study.values()]
    fit = pool.random_effects([y for y, _, _ in means], [v for _, v, _ in means], level=level)
    low, high = fit.interval.low, fit.interval.high
    if len(means) == 1 and means[0][2] >= 1:
        reach = scipy_stats.t.ppf(0.5 + level / 2, means[0][2]) * fit.se
        low, high = fit.estimate - reach, fit.estimate + reach
    ahead = fit.prediction if len(means) >= 3 else None
    spread = [one for one in own if one.n > 1 and not math.isnan(one.sd)]
    df = sum(one.n - 1 for one in spread)
    s2 = sum((one.n - 1) * one.sd**2 for one in spread) / df if df else math.nan
    return {
        "studies": len(by_study),
        "series": len(own),
        "specimens": sum(0 if math.isnan(one.n) else one.n for one in own) + sum(one.held for one in own),
        "held": sum(one.held for one in own),
        "geometric_mean": math.exp(fit.estimate),
        "low": math.exp(low),
        "high": math.exp(high),
        "prediction_low": math.exp(ahead.low) if ahead else math.nan,
        "prediction_high": math.exp(ahead.high) if ahead else math.nan,
        "between_sd": math.sqrt(fit.tau2) if fit.tau2 is not None else math.nan,
        "cv_pct": 100 * math.sqrt(math.expm1(s2)),
        "limit_5pct": _limit(own),
        "quantiles": np.quantile(_values(own) or [math.nan], [0, 0.1, 0.9, 1]).tolist(),
    }


def _values(own: list[One]) -> list[float]:
    return [value for one in own for value in one.values]


def _limit(own: list[One]) -> float:
    values = _values(own)
    studies = [one.series.study_id for one in own for _ in one.values]
    if len(values) < 3:
        return math.nan
    try:
        if len(set(studies)) > 1:
            return basis_between_batches(values, studies, 0.95, 0.75).value
        return tolerance.lower_limit(values, 0.95, 0.75, broke=[broke for one in own for broke in one.broke]).value
    except StatsError:
        return math.nan


def _failures(joint: str, own: list[One]) -> dict[tuple[str, str], tuple]:
    logs = defaultdict(list)
    for one in own:
        for value, broke, place in zip(one.values, one.broke, one.places, strict=True):
            if broke:
                logs[place].append(math.log(value))
    total = sum(map(len, logs.values()))
    return {
        (joint, place): (len(part), math.exp(sum(part) / len(part)), len(part) / total) for place, part in logs.items()
    }
