"""What a piece asks and a joint bears, as JSON: each number beside its unit, its working and what it rests on."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from results.practice.joint import Bears
from results.practice.margin import Answer
from results.practice.movement import Season
from results.practice.strength import ROUTES, Strength
from stats.interval import Interval
from stats.practice.assembly import Sharing
from stats.practice.caution import Caution
from stats.practice.demand import Demand
from stats.practice.leverage import Leverage
from stats.practice.limit import Limit
from stats.practice.movement import Movement
from stats.practice.shops import ShopEvidence
from stats.practice.working import Line

from .frames import plain


def lines(found: Iterable[Line]) -> list[dict[str, Any]]:
    """A working, a line a step."""
    return [line.to_dict() for line in found]


def interval(found: Interval | None) -> dict[str, float] | None:
    return None if found is None else {"low": found.low, "high": found.high, "level": found.level}


def cautions(found: Caution) -> dict[str, Any]:
    return {"use": found.use, "leads": found.leads, "sentences": list(found.sentences)}


def demand(found: Demand) -> dict[str, Any]:
    return {
        "caution": cautions(found.caution),
        "piece": found.piece,
        "joint_in_piece": found.joint,
        "action": found.action,
        "value": found.value,
        "unit": found.unit,
        "least": found.least,
        "determinate": found.determinate,
        "bending_nm": found.bending_nm,
        "axial_n": found.axial_n,
        "shear_n": found.shear_n,
        "inputs": dict(found.inputs),
        "defaulted": list(found.defaulted),
        "factors": dict(found.factors),
        "working": lines(found.lines),
        "assumption": found.assumption,
        "notes": list(found.notes),
    }


def capacity(found: Bears, caution: Caution) -> dict[str, Any]:
    it = found.capacity
    return {
        "caution": cautions(caution),
        "action": it.action,
        "value": it.value,
        "unit": it.unit,
        "upper": it.upper,
        "typical": it.typical,
        "single": interval(it.single),
        "ways": [{"rule": one.rule, "value": one.value, "working": lines(one.lines)} for one in it.scaled],
        "factors": [asdict(one) for one in it.factors],
        "sizes": dict(it.dims),
        "as_tested": list(found.as_tested),
        "limit": _limit(found.limit),
        "other_limit": None if found.other_limit is None else _limit(found.other_limit),
        "evidence": _strength(found.strength),
        "working": lines(it.lines),
        "notes": list(it.notes),
    }


def margin(found: Answer, asks: Demand) -> dict[str, Any]:
    it = found.margin
    return {
        "caution": cautions(asks.caution),
        "value": it.value,
        "upper": it.upper,
        "typical": it.typical,
        "single": interval(it.single),
        "chance_short": it.chance_short,
        "words": it.words,
        "working": lines([it.line]),
        "changes": [_change(asdict(one)) for one in found.changes],
        "place": found.place,
        "left_out": [one.pk for one in found.left_out],
        "over": {one.name: plain(one.frame) for one in found.over},
        "demand": demand(asks),
        "capacity": capacity(found.bears, asks.caution),
    }


def _change(told: dict[str, Any]) -> dict[str, Any]:
    """A change without a figure has null, not a number that is none."""
    return {name: None if value != value else value for name, value in told.items()}


def _limit(found: Limit) -> dict[str, Any]:
    return {
        "value": found.value,
        "typical": found.typical,
        "coverage": found.coverage,
        "confidence": found.confidence,
        "scope": found.scope,
        "model": found.model,
        "single": interval(found.single),
        "shops": found.shops,
        "specimens": found.specimens,
        "words": found.words,
        "notes": list(found.notes),
    }


def _strength(found: Strength) -> dict[str, Any]:
    tested = found.tested
    return {
        "route": found.route,
        "route_words": ROUTES[found.route],
        "footing": found.footing,
        "unit": found.unit,
        "solid_mpa": found.solid_mpa,
        "own": _shops(found.own),
        "network": None if found.network is None else {**_shops(found.network), "beside": found.beside},
        "sizes_tested": None
        if tested is None
        else {"sizes": tested.sizes, "series": tested.series_id, "study": tested.study_id, "of_series": tested.of},
        "query": found.query,
        "invented": any(found.inventions),
    }


def _shops(found: ShopEvidence) -> dict[str, Any]:
    names = ("mean_log", "mean_se", "between_sd", "within_sd", "between_df", "within_df", "shops", "specimens")
    told = {name: getattr(found, name) for name in names}
    return {name: None if value != value else value for name, value in told.items()}


def share(found: Sharing, caution: Caution) -> dict[str, Any]:
    return {
        "caution": cautions(caution),
        "n": found.n,
        "unit": found.unit,
        "mean": found.law.mean,
        "cv": found.law.cv,
        "model": found.law.model,
        "shares": list(found.shares),
        "bounds": [asdict(one) for one in found.bounds],
        "words": found.words,
    }


def leverage(found: Leverage, caution: Caution) -> dict[str, Any]:
    return {
        "caution": cautions(caution),
        "moment_nm": found.moment_nm,
        "typical_nm": found.typical_nm,
        "push_n": found.push_n,
        "push_source": found.push_source,
        "reach_mm": found.reach_mm,
        "curve": plain(found.table),
    }


def movement(found: Season, caution: Caution) -> dict[str, Any]:
    held = found.cross_grain
    return {
        "caution": cautions(caution),
        "timber": found.timber.pk,
        "coefficient_per_pct": found.coefficient_per_pct,
        "winter_pct": found.winter_pct,
        "summer_pct": found.summer_pct,
        "glued_pct": found.glued_pct,
        "to_winter": _moved(found.to_winter),
        "to_summer": _moved(found.to_summer),
        "cross_grain": {
            "strain": held.strain,
            "free_mm": held.free_mm,
            "stress_mpa": interval(held.stress_mpa),
            "tension_perp_mpa": held.tension_perp_mpa,
            "working": lines(held.lines),
            "notes": list(held.notes),
        },
        "year": plain(found.year),
        "evidence": asdict(found.fresh),
    }


def _moved(found: Movement) -> dict[str, Any]:
    return {
        "change_mm": found.change_mm,
        "strain": found.strain,
        "working": lines(found.lines),
        "notes": list(found.notes),
    }
