"""A plan of a test as JSON: each number beside where it comes from."""

from __future__ import annotations

from typing import Any

from results.practice.plan import Group, PlannedTest
from stats.practice.rig import Expected, RigCheck

from .frames import plain
from .practised import lines


def plan(found: PlannedTest) -> dict[str, Any]:
    curve = found.curve
    return {
        "caution": {"use": "testing", "leads": True, "sentences": list(found.cautions)},
        "query": found.asked.query(),
        "title": found.title,
        "question": found.question,
        "loading": found.loading,
        "action": found.action,
        "n": found.n,
        "specimens": found.specimens,
        "ratio": curve.plan.ratio,
        "cv": found.cv,
        "cv_source": found.cv_source,
        "power_wanted": curve.plan.power,
        "n_for_power": curve.plan.n,
        "alpha": curve.plan.alpha,
        "told_by_n": None if curve.at_n is None else {"ratio": curve.at_n.ratio, "ratio_down": curve.at_n.ratio_down},
        "curve": plain(curve.table),
        "series": [_group(one) for one in found.groups],
        "arms_mm": None if found.arms is None else list(found.arms),
        "arms": found.arms_words,
        "order": [
            {"turn": run.position, "block": run.block, "series": run.series, "specimen": run.specimen}
            for run in found.order
        ],
        "invented": found.invented,
        "remarks": [{"parameter": name, "message": text} for name, text in found.remarks],
        "notes": list(found.notes),
    }


def _group(one: Group) -> dict[str, Any]:
    return {
        "series": one.label,
        "joint": one.joint,
        "joint_name": one.name,
        "n": one.n,
        "control": one.is_control,
        "why": one.why,
        "load": None if one.expected is None else _expected(one.expected),
        "load_from": one.basis,
        "rig": None if one.rig is None else _rig(one.rig),
    }


def _expected(found: Expected) -> dict[str, Any]:
    return {
        "typical_n": found.typical_n,
        "low_n": found.low_n,
        "high_n": found.high_n,
        "at_joint": found.at_joint,
        "unit": found.unit,
        "working": lines(found.lines),
    }


def _rig(found: RigCheck) -> dict[str, Any]:
    return {
        "verdict": found.verdict,
        "full_scale": found.full_scale,
        "unit": found.unit,
        "low_share": found.low_share,
        "high_share": found.high_share,
        "least_arm_mm": found.least_arm_mm,
        "most_arm_mm": found.most_arm_mm,
        "words": found.words,
        "working": lines(found.lines),
    }
