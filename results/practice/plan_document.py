"""A plan written down whole: what its sheet, its spreadsheet and the book keep of it."""

from __future__ import annotations

from typing import Any

from results.models import Joint
from stats.charts.look import low
from stats.footing.units import SI
from stats.practice.plan import Run

from .asked import QuantityField
from .plan import PlannedTest
from .plan_asked import MEMBER

FORM = 2
"""Raised whenever plans are written otherwise; the first says nothing of the rig, nor what loads are from."""
Document = dict[str, Any]


def document(planned: PlannedTest) -> Document:
    """Write a plan down.

    Parameters
    ----------
    planned : PlannedTest

    Returns
    -------
    dict
        Of plain texts, numbers, lists and dicts; words by code, lengths as typed and in SI.
    """
    given = planned.asked.cleaned_data
    return {
        "form": FORM,
        "asked": [list(pair) for pair in planned.asked.pairs()],
        "title": planned.title,
        "question": planned.question,
        "workshop": given["workshop"],
        "tests": given["tests"] or "joint",
        "loading": planned.loading,
        "action": planned.action,
        "lengths": {name: _said(planned, name) for name in planned.asked.setup} | _of_reading(planned),
        "sizes": {name: _said(planned, name) for name in MEMBER if given[name] is not None},
        "timber": given["timber"],
        "adhesive": given["adhesive"],
        "instrument": given["instrument"],
        "full_scale": given["full_scale"],
        "ratio": given["ratio"],
        "power": given["power_pct"] / 100,
        "cv": planned.cv,
        "cv_source": planned.cv_source,
        "n": planned.n,
        "blocks": given["blocks"],
        "seed": given["seed"],
        "series": [
            {
                "label": one.label,
                "joint": one.joint,
                "n": one.n,
                "control": one.is_control,
                "load_n": [one.expected.low_n, one.expected.typical_n, one.expected.high_n] if one.expected else [],
                "load_from": one.basis,
                "rig": one.rig.words if one.rig else "",
                "rig_verdict": one.rig.verdict if one.rig else "",
            }
            for one in planned.groups
        ],
        "arms_mm": list(planned.arms or ()),
        "arms": planned.arms_words,
        "order": [[run.block, run.series, run.specimen] for run in planned.order],
    }


def _of_reading(planned: PlannedTest) -> Document:
    """The sizes that a reading becomes a force by."""
    names = ("ram_diameter_mm", "lever_ratio")
    return {name: _said(planned, name) for name in names if planned.asked.cleaned_data[name] is not None}


def _said(planned: PlannedTest, name: str) -> Document:
    """A value in SI, and as typed with its unit where it has one."""
    asked = planned.asked
    value, typed = asked.cleaned_data[name], str(asked.data.get(name, "")).strip()
    field = asked.fields[name]
    unit = SI[field.kind] if isinstance(field, QuantityField) else ""
    bare = unit and not any(sign.isalpha() or sign in "\"'°%″′" for sign in typed)
    return {"typed": f"{typed} {unit}" if bare else typed, "si": value}


# What a plan says beside its promise: how it was typed, and what the book told on that day.
_BESIDE = ("form", "asked", "cv", "cv_source", "arms", "arms_mm")
_OF_SERIES = ("label", "joint", "n", "control")


def promise(written: Document) -> Document:
    """What a plan promises, so that two can be told to be the same: lengths in SI, nothing of what the book told."""
    kept = {name: value for name, value in written.items() if name not in _BESIDE}
    for name in ("lengths", "sizes"):
        kept[name] = {length: said["si"] for length, said in written[name].items()}
    kept["series"] = [{name: one[name] for name in _OF_SERIES} for one in written["series"]]
    return kept


def named_series(written: Document) -> dict[str, str]:
    """Each series of a plan by its label, with its joint's name: ``A, dowel``."""
    joints = dict(Joint.objects.filter(pk__in=[one["joint"] for one in written["series"]]).values_list("pk", "name"))
    names = {one["label"]: joints.get(one["joint"], one["joint"]) for one in written["series"]}
    return {label: f"{label}, {low(name)}" for label, name in names.items()}


def runs(written: Document) -> tuple[Run, ...]:
    """Which specimen is tested when."""
    return tuple(Run(at, block, series, specimen) for at, (block, series, specimen) in enumerate(written["order"], 1))
