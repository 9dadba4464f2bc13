"""Joints set side by side, like for like, with what was left out and why."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from stats.footing.comparability import SeriesFacts, partition
from stats.footing.ladder import FOOTINGS, FootingKind
from stats.inference import sidebyside

from .choices import ACTIONS, ANY, TESTS, Choices
from .frames import series_frame, specimen_frame
from .sentence import sentences

LEFT_OUT = ["reason", "series", "specimens", "example", "remedy"]
# On these footings two shops may be set side by side without a study in common.
ACROSS_RIGS = ("stress", "ratio_solid", "ratio_solid_matched", "ratio_control")
USUAL_REFERENCES = ("butt", "solid")
OFF_AXIS = {
    "peak_load": "read on another rig, or of another size,",
    "at_joint": "of another size",
    "stress": "of another timber",
    "ratio_control": "measured against another control",
}
ACROSS_REMEDY = "choose the ratio to solid wood, which holds across rigs, sizes and timbers"


@dataclass(frozen=True)
class Comparison:
    """What `compare` found; frames are empty where nothing may be shown, and `refused` says why."""

    choices: Choices
    footing: FootingKind
    unit: str
    action: str
    points: pd.DataFrame
    series: pd.DataFrame
    groups: pd.DataFrame
    groups_other: pd.DataFrame
    ratios: pd.DataFrame
    ratios_other: pd.DataFrame
    failures: pd.DataFrame
    left_out: pd.DataFrame
    axis: str = ""
    reference: str = ""
    verdicts: tuple[str, ...] = ()
    refused: str = ""
    alternatives: tuple[tuple[str, str], ...] = ()
    invented: bool = False  # whether any study looked at is made up

    @property
    def empty(self) -> bool:
        return self.series.empty


@dataclass
class _LeftOut:
    """Collects what is dropped on the way, so that nothing goes without a word."""

    rows: list[dict]

    def drop(self, frame: pd.DataFrame, where: pd.Series, reason: str, remedy: str) -> pd.DataFrame:
        gone = frame[where]
        if len(gone):
            first = gone.iloc[0]
            self.rows.append(
                {
                    "reason": reason,
                    "series": len(gone),
                    "specimens": int(gone["all_n"].fillna(0).sum() + gone["held"].sum()),
                    "example": f"{first['series']} in {first['study']}",
                    "remedy": remedy,
                }
            )
        return frame[~where]


def compare(choices: Choices) -> Comparison:
    """Set the chosen joints side by side on one footing.

    Parameters
    ----------
    choices : Choices

    Returns
    -------
    Comparison
    """
    left = _LeftOut([])
    everything = _looked_at(choices, left)
    if refusal := _unlike(everything, choices):
        return _nothing(choices, left, everything, refused=refusal)
    found = _set_side_by_side(everything, choices, left)
    if found is None:
        return _nothing(choices, left, everything)
    other = None
    if everything["flagged"].any():
        turned = replace(choices, flagged=not choices.flagged)
        other = _set_side_by_side(_looked_at(turned, _LeftOut([])), turned, _LeftOut([]))
    ratios = found.ratios_to(_reference(found.series, choices))
    ratios_other = other.ratios_to(_reference(found.series, choices)) if other else pd.DataFrame()
    points = _points(found.series, found.specimens)
    return Comparison(
        choices=choices,
        footing=FOOTINGS[choices.footing],
        unit=unit_of(choices.footing, found.action),
        action=found.action,
        points=points,
        series=found.series,
        groups=found.groups(),
        groups_other=other.groups() if other else pd.DataFrame(),
        ratios=ratios,
        ratios_other=ratios_other,
        failures=_failures(points),
        left_out=pd.DataFrame(left.rows, columns=LEFT_OUT),
        axis=axis_of(found.series, choices.footing),
        reference=_reference(found.series, choices),
        verdicts=sentences(ratios, ratios_other, flagged=choices.flagged),
        invented=bool(found.series["invented"].any()),
    )


@dataclass(frozen=True)
class _SideBySide:
    """Series that share an axis, with what stands behind them."""

    choices: Choices
    action: str
    specimens: pd.DataFrame
    series: pd.DataFrame

    def groups(self) -> pd.DataFrame:
        return sidebyside.groups(self.series, self.specimens, level=self.choices.level)

    def ratios_to(self, reference: str) -> pd.DataFrame:
        if reference not in set(self.series["joint"]):
            return pd.DataFrame()
        across = self.choices.footing in ACROSS_RIGS
        return sidebyside.ratios(self.series, reference, level=self.choices.level, across=across)


def _looked_at(choices: Choices, left: _LeftOut) -> pd.DataFrame:
    """Every series that the choice of joints, timbers and glues reaches, without the invented unless asked for."""
    frame = series_frame(choices)
    if choices.with_invented:
        return frame
    return left.drop(frame, frame["invented"].astype(bool), "from invented studies", "choose to show invented studies")


def _set_side_by_side(everything: pd.DataFrame, choices: Choices, left: _LeftOut) -> _SideBySide | None:
    """The series that may share the axis, each with its centre and variance; None where none is left."""
    shown = _like_for_like(everything, choices, left)
    if shown.empty:
        return None
    action = str(shown["action"].iloc[0])
    specimens = specimen_frame(shown["series_id"].tolist(), choices.footing, action, flagged=choices.flagged)
    series = sidebyside.series_estimates(shown, specimens, level=choices.level)
    left.drop(
        shown,
        ~shown["series_id"].isin(series["series_id"]),
        "nearly all specimens held, so only a lower bound is known",
        "load such joints until they break, or read the specimens one by one",
    )
    return None if series.empty else _SideBySide(choices, action, specimens, series)


def unit_of(footing: str, action: str) -> str:
    """The unit of a footing under an action: a moment where the joint is bent or twisted, else a force."""
    if footing == "at_joint":
        return "N·m" if action in ("bending", "torsion") else "N"
    return FOOTINGS[footing].unit


def _unlike(frame: pd.DataFrame, choices: Choices) -> str:
    """Why the chosen things may not share an axis; empty where they may."""
    # What a fixed choice leaves out anyway is no reason to refuse.
    if choices.tests != ANY:
        frame = frame[frame["tests"] == choices.tests]
    if choices.action != ANY:
        frame = frame[frame["action"] == choices.action]
    if choices.tests == ANY and frame["tests"].nunique() > 1:
        return (
            "A bond test shows what a glue line takes by itself, a joint test what a joint takes as it is used; "
            "they answer different questions, so they are not drawn on one axis."
        )
    if choices.action == ANY and frame["action"].nunique() > 1:
        found = ", ".join(ACTIONS[code] for code in ACTIONS if code in set(frame["action"]))
        return (
            f"These tests load the joint in different ways ({found}); a figure for one says nothing about "
            "another, so they are not drawn on one axis."
        )
    return ""


def _alternatives(frame: pd.DataFrame, choices: Choices) -> tuple[tuple[str, str], ...]:
    """Views near the chosen one that have something in them, the fullest first."""
    usable = frame[frame["sum_log"].notna()]
    counts = usable.groupby(["action", "tests"]).size().sort_values(ascending=False)
    return tuple(
        (f"{ACTIONS[action]}, {TESTS[tests]} ({count} series)", choices.query(action=action, tests=tests))
        for (action, tests), count in counts.items()
    )


def _like_for_like(frame: pd.DataFrame, choices: Choices, left: _LeftOut) -> pd.DataFrame:
    """Keep what may share the axis; tell `left` what may not."""
    if choices.action != ANY:
        for action in [code for code in ACTIONS if code != choices.action]:
            frame = left.drop(
                frame,
                frame["action"] == action,
                f"tested under another action: {ACTIONS[action]}",
                f"choose {ACTIONS[action]} to see them by themselves",
            )
    if choices.tests != ANY:
        other = "bond" if choices.tests == "joint" else "joint"
        frame = left.drop(
            frame,
            frame["tests"] == other,
            f"{TESTS[other]}, which are never pooled with {TESTS[choices.tests]}",
            f"choose {TESTS[other]} to see them by themselves",
        )
    frame = _with_footing(frame, choices, left)
    if frame.empty:
        return frame
    parts = partition(facts(frame, choices.footing), choices.footing)
    for series, reason in parts.left_out:
        frame = left.drop(frame, frame["series_id"] == series.id, reason, ACROSS_REMEDY)
    shown = frame["series_id"].isin([series.id for series in parts.groups[0].members]) if parts.groups else []
    if parts.groups[1:]:
        axis = axis_of(frame[shown], choices.footing)
        frame = left.drop(frame, ~shown, f"{OFF_AXIS[choices.footing]} than what is shown: {axis}", ACROSS_REMEDY)
    return frame


def axis_of(shown: pd.DataFrame, footing: str) -> str:
    """What the series on one axis have in common, beyond what was chosen; empty where the footing holds across."""
    first = next(shown.itertuples(), None)
    if first is None or footing.startswith("ratio_solid"):
        return ""
    if footing == "stress":
        return str(first.timber_name)
    if footing == "ratio_control":
        return f"measured against a {first.control_joint_name.lower()}"
    size = " × ".join(f"{side:g}" for side in size_key(first) or ()) + " mm"
    return f"rig {first.setup} of {first.study}, {size}" if footing == "peak_load" else size


def _with_footing(frame: pd.DataFrame, choices: Choices, left: _LeftOut) -> pd.DataFrame:
    name = FOOTINGS[choices.footing].name
    lacks = frame["sum_log"].isna() & (frame["all_n"].fillna(1) + frame["held"] > 0)
    reasons = frame["missing"].map(lambda missing: "; ".join(missing) if missing else "no value on this footing")
    for reason in reasons[lacks].unique():
        now = frame["sum_log"].isna() & (reasons.reindex(frame.index) == reason)
        told = reason if "can't be had" in reason else f"no {name}; missing: {reason}"
        frame = left.drop(frame, now, told, "ask the contributor, or choose a lower footing")
    if not choices.flagged:
        gone = (frame["n"].fillna(1) + frame["held"]) == 0
        frame = left.drop(frame, gone, "every specimen is doubted by a check", "choose to show flagged specimens")
    return frame


def facts(frame: pd.DataFrame, footing: str) -> list[SeriesFacts]:
    """The frame's rows as the comparability rules want them."""
    return [
        SeriesFacts(
            id=row.series_id,
            study=row.study_id,
            setup=row.setup_id,
            joint=row.joint_code,
            action=row.action,
            bond_or_joint=row.tests,
            size=size_key(row),
            timber=row.timber,
            adhesive=row.adhesive,
            footings=frozenset({footing}),
            control=row.control_id if pd.notna(row.control_id) else None,
            control_joint=row.control_joint,
            summary_only=bool(row.summary_only),
            conditioning=row.conditioning,
            faces=row.faces,
        )
        for row in frame.itertuples()
    ]


def size_key(row: object) -> tuple[float, ...] | None:
    """What two specimens of one size share: the member's section, or the bonded face where there is none."""
    sides = (row.member_thickness_mm, row.member_depth_mm)
    if any(pd.isna(side) for side in sides):
        sides = (row.bond_length_mm, row.bond_width_mm)
    return None if any(pd.isna(side) for side in sides) else tuple(round(float(side), 1) for side in sides)


def _reference(series: pd.DataFrame, choices: Choices) -> str:
    """The joint that ratios are against: the chosen one, a usual control, or the one most studies hold."""
    studies = series.groupby(["joint_code", "joint"])["study_id"].nunique()
    for code in (choices.reference, *USUAL_REFERENCES):
        if code in studies.index.get_level_values(0):
            return str(studies.loc[code].idxmax())
    return str(studies.idxmax()[1])


def _points(series: pd.DataFrame, specimens: pd.DataFrame) -> pd.DataFrame:
    about = series[["series_id", "series", "study_id", "study", "invented", "joint", "joint_name"]]
    return specimens.merge(about, on="series_id", how="inner")


def _failures(points: pd.DataFrame) -> pd.DataFrame:
    """Where each joint broke, and apart from that how much it took there."""
    broke = points[(points["outcome"] == "broke")].copy()
    broke["failure_place"] = broke["failure_place"].fillna("")
    broke["failure_place_name"] = broke["failure_place_name"].fillna("not recorded")
    keys = ["joint", "joint_name", "failure_place", "failure_place_name"]
    frame = (
        broke.assign(log=np.log(broke["value"].astype(float)))
        .groupby(keys, sort=False)
        .agg(n=("log", "size"), geometric_mean=("log", "mean"))
        .reset_index()
        .rename(columns={"failure_place": "place", "failure_place_name": "place_name"})
    )
    frame["geometric_mean"] = np.exp(frame["geometric_mean"])
    frame["share"] = frame["n"] / frame.groupby("joint")["n"].transform("sum")
    return frame.sort_values(["joint_name", "n"], ascending=[True, False], ignore_index=True)


def _nothing(choices: Choices, left: _LeftOut, everything: pd.DataFrame, *, refused: str = "") -> Comparison:
    empty = pd.DataFrame()
    return Comparison(
        choices=choices,
        footing=FOOTINGS[choices.footing],
        unit=unit_of(choices.footing, choices.action),
        action=choices.action,
        points=empty,
        series=empty,
        groups=empty,
        groups_other=empty,
        ratios=empty,
        ratios_other=empty,
        failures=empty,
        left_out=pd.DataFrame(left.rows, columns=LEFT_OUT),
        refused=refused,
        alternatives=_alternatives(everything, choices),
        invented=bool(everything["invented"].any()),
    )
