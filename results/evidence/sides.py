"""The series that may stand side by side on one axis, and what is left out on the way to them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import repeat
from typing import Any

import numpy as np
import pandas as pd

from stats.footing.comparability import AXIS, Key, SeriesFacts, place
from stats.footing.ladder import FOOTINGS
from stats.inference import network, sidebyside
from stats.inference.comparisons import Network
from stats.inference.estimates import Estimates, estimate

from .behind import Specimens
from .book import Array
from .choices import ACTIONS, ANY, TESTS, Choices
from .frames import ACTION_CODES, SIZES, Looked, setup_name, size_of

# On these footings two shops may be set side by side without a study in common.
ACROSS_RIGS = ("stress", "ratio_solid", "ratio_solid_matched", "ratio_control")
USUAL_REFERENCES = ("butt", "solid")
OFF_AXIS = {
    "peak_load": "read on another rig, or of another size,",
    "at_joint": "of another size",
    "stress": "of another timber",
    "ratio_control": "measured against another control",
}
BY_BOND = ("joint", "bond")
NO_VALUE = "no value on this footing"
ACROSS_REMEDY = "choose the ratio to solid wood, which holds across rigs, sizes and timbers"


@dataclass(frozen=True, eq=False)
class Side:
    """Series that share an axis, with what was found of them and the specimens behind them."""

    choices: Choices
    series: Looked
    estimates: Estimates
    specimens: Specimens

    @property
    def action(self) -> str:
        return ACTION_CODES[self.series.action[0]]

    def specimens_of(self) -> dict[str, int]:
        """Specimens of each joint, as `groups` counts them."""
        return dict(zip(self.estimates.told.joints, self.estimates.cells.specimens.tolist(), strict=True))

    def groups(self) -> pd.DataFrame:
        return sidebyside.groups_of(self.estimates, self.specimens, level=self.choices.level)

    def network(self, reference: str) -> network.Network | None:
        """All studies together; None for a joint that isn't there, or where no two of them compare."""
        if reference not in self._networks:
            there = reference in self.estimates.told.joints
            fitted = sidebyside.linked(self.estimates, reference, level=self.choices.level) if there else None
            self._networks[reference] = fitted
        return self._networks[reference]

    @cached_property
    def _networks(self) -> dict[str, Network | None]:
        return {}

    def ratios_to(self, reference: str) -> pd.DataFrame:
        if reference not in self.estimates.told.joints:
            return pd.DataFrame()
        across, fitted = self.choices.footing in ACROSS_RIGS, self.network(reference)
        return sidebyside.ratios_of(self.estimates, reference, fitted, level=self.choices.level, across=across)

    def codes(self) -> dict[str, str]:
        """The vocabulary's code of each kind of joint."""
        kinds, joints = self.series.kinds, self.series.source.vocabulary.joints.codes
        return {code: joints[joint] for code, joint in zip(kinds.code, kinds.joint.tolist(), strict=True)}

    def reference(self) -> str:
        """The joint that ratios are against: the chosen one, a usual control, or the one most studies hold."""
        code_of = self.codes()
        studies = dict(zip(self.estimates.told.joints, self.estimates.cells.studies_of.tolist(), strict=True))
        ranked = sorted(studies, key=lambda kind: (-studies[kind], code_of[kind], kind))
        for code in (self.choices.reference, *USUAL_REFERENCES):
            for kind in ranked:
                if code_of[kind] == code:
                    return kind
        return ranked[0]


@dataclass
class LeftOut:
    """Collects what is dropped on the way, so that nothing goes without a word."""

    rows: list[dict]
    told: bool = True

    def drop(self, series: Looked, where: Array, reason: str, remedy: str) -> Looked:
        gone = np.flatnonzero(where)
        if not len(gone):
            return series
        if self.told:
            self.rows.append(
                {
                    "reason": reason,
                    "series": len(gone),
                    "specimens": int(series.take(gone).specimens.sum()),
                    "example": f"{series.label(gone[0])} in {series.title(gone[0])}",
                    "remedy": remedy,
                }
            )
        return series.take(~where)


def reached(series: Looked, choices: Choices, left: LeftOut) -> Looked:
    """Every series that the choice reaches, without the invented unless asked for."""
    if choices.with_invented:
        return series
    return left.drop(series, series.invented, "from invented studies", "choose to show invented studies")


def set_side_by_side(everything: Looked, choices: Choices, left: LeftOut) -> Side | None:
    """The series that may share the axis, each with its centre and variance; None where none is left."""
    shown = _like_for_like(everything, choices, left)
    if not len(shown):
        return None
    specimens = Specimens(shown)
    estimates = estimate(shown.told(), specimens, level=choices.level)
    left.drop(
        shown,
        ~estimates.kept,
        "nearly all specimens held, so only a lower bound is known",
        "load such joints until they break, or read the specimens one by one",
    )
    if not len(estimates):
        return None
    if estimates.kept.all():
        return Side(choices, shown, estimates, specimens)
    used = shown.take(estimates.kept)
    return Side(choices, used, replace(estimates, kept=np.ones(len(used), dtype=bool)), Specimens(used))


def unlike(series: Looked, choices: Choices) -> str:
    """Why the chosen things may not share an axis; empty where they may."""
    # What a fixed choice leaves out anyway is no reason to refuse.
    asked = np.ones(len(series), dtype=bool)
    if choices.tests != ANY:
        asked &= series.bond == (choices.tests == "bond")
    if choices.action != ANY:
        asked &= series.action == ACTION_CODES.index(choices.action)
    if choices.tests == ANY and len(np.unique(series.bond[asked])) > 1:
        return (
            "A bond test shows what a glue line takes by itself, a joint test what a joint takes as it is used; "
            "they answer different questions, so they are not drawn on one axis."
        )
    there = set(np.unique(series.action[asked]).tolist())
    if choices.action == ANY and len(there) > 1:
        found = ", ".join(name for at, name in enumerate(ACTIONS.values()) if at in there)
        return (
            f"These tests load the joint in different ways ({found}); a figure for one says nothing about "
            "another, so they are not drawn on one axis."
        )
    return ""


def _like_for_like(series: Looked, choices: Choices, left: LeftOut) -> Looked:
    """Keep what may share the axis; tell `left` what may not."""
    if choices.action != ANY:
        for at, action in enumerate(ACTION_CODES):
            if action != choices.action:
                series = left.drop(
                    series,
                    series.action == at,
                    f"tested under another action: {ACTIONS[action]}",
                    f"choose {ACTIONS[action]} to see them by themselves",
                )
    if choices.tests != ANY:
        other = "bond" if choices.tests == "joint" else "joint"
        series = left.drop(
            series,
            series.bond == (other == "bond"),
            f"{TESTS[other]}, which are never pooled with {TESTS[choices.tests]}",
            f"choose {TESTS[other]} to see them by themselves",
        )
    series = _with_footing(series, choices, left)
    if not len(series):
        return series
    number, reasons = axes(series, choices.footing)
    for at, reason in enumerate(reasons):
        without = number == -1 - at
        series, number = left.drop(series, without, reason, ACROSS_REMEDY), number[~without]
    if not len(series):
        return series
    # The fullest axis; of two as full the one that comes first.
    members = np.bincount(number)
    shown = number == np.argmax(members)
    if not shown.all():
        axis = axis_of_first(series.take(shown), choices.footing) if left.told else ""
        series = left.drop(series, ~shown, f"{OFF_AXIS[choices.footing]} than what is shown: {axis}", ACROSS_REMEDY)
    return series


def axis_keys(series: Looked, footing: str) -> tuple[Array, list[Key | None]]:
    """The kind of each series, of which all share an axis, and the key that `place` gives each kind."""
    kind, first = _alike(series, footing)
    return kind, [place(one, footing)[0] for one in _facts_of(series.take(first), footing)]


def axes(series: Looked, footing: str) -> tuple[Array, list[str]]:
    """The axis that each series belongs on, numbered in the order in which they first come.

    Returns
    -------
    number : ndarray of int
        Below zero where a series has none: -1 for the first of the reasons, -2 for the second and so on.
    reasons : list of str
    """
    # Series that differ in nothing the rules ask about share an axis, so that one of them can be asked for all.
    kind, first = _alike(series, footing)
    reasons: list[str] = []
    axis: dict[object, int] = {}
    number = []
    for one in _facts_of(series.take(first), footing):
        key, words = place(one, footing)
        if key is None and words not in reasons:
            reasons.append(words)
        number.append(-1 - reasons.index(words) if key is None else axis.setdefault(key, len(axis)))
    return np.array(number, dtype=np.intp)[kind], reasons


def _alike(series: Looked, footing: str) -> tuple[Array, Array]:
    """Number the series by what the rules of a footing ask about, and give the first of each number."""
    kind = series.action * 2 + series.bond
    for name in AXIS[footing]:
        columns = np.nan_to_num(series.size, nan=-1.0).T if name == "size" else [_asked(series, name)]
        for column in columns:
            own, words = pd.factorize(column)
            kind = pd.factorize(kind * max(len(words), 1) + own)[0]
    kind, kinds = pd.factorize(kind)
    first = np.zeros(len(kinds), dtype=np.intp)
    first[kind[::-1]] = np.arange(len(kind))[::-1]
    return kind, first


def _asked(series: Looked, name: str) -> Array:
    return series.study_id if name == "study" else series.column(name)


def _facts_of(series: Looked, footing: str) -> Iterator[SeriesFacts]:
    """What the rules of a footing ask about each series, and no more."""
    asked: dict[str, Iterable[Any]] = {"study": repeat(0), "setup": repeat(0)}
    asked |= {name: _values(series, name) for name in AXIS[footing]}
    rows = zip(
        series.column("id").tolist(), series.action.tolist(), series.bond.tolist(), *asked.values(), strict=False
    )
    there = frozenset({footing})
    for key, action, bond, *values in rows:
        known = dict(zip(asked, values, strict=True))
        yield SeriesFacts(
            id=key, joint="", action=ACTION_CODES[action], bond_or_joint=BY_BOND[bond], footings=there, **known
        )


def _values(series: Looked, name: str) -> list[Any]:
    """What `SeriesFacts` has under that name, of every series."""
    words = series.source.vocabulary
    if name == "size":
        return [None if np.isnan(sides[0]) else sides for sides in map(tuple, series.size.tolist())]
    if name in ("timber", "control_joint"):
        known = words.timbers if name == "timber" else words.joints
        return [known.code(at) for at in series.places(name).tolist()]
    return _asked(series, name).tolist()


def axis_of_first(series: Looked, footing: str) -> str:
    if not AXIS[footing]:
        return ""
    words, one = series.source.vocabulary, series.take(np.array([0]))
    timber, control = (int(one.places(name)[0]) for name in ("timber", "control_joint"))
    return _axis(
        footing,
        timber=words.timbers.names[timber] if timber >= 0 else "",
        control=words.joints.names[control] if control >= 0 else "",
        size=None if np.isnan(one.size[0]).any() else tuple(one.size[0].tolist()),
        setup=int(one.column("setup")[0]),
        study=one.title(0),
    )


def axis_of(shown: pd.DataFrame, footing: str) -> str:
    """What the series on one axis have in common, beyond what was chosen; empty where the footing holds across."""
    if not len(shown) or not AXIS[footing]:
        return ""
    first = next(shown.head(1).itertuples())
    return _axis(
        footing,
        timber=str(first.timber_name),
        control=str(first.control_joint_name),
        size=size_key(first),
        setup=int(first.setup_id),
        study=first.study,
    )


def _axis(footing: str, *, timber: str, control: str, size: tuple[float, ...] | None, setup: int, study: str) -> str:
    if footing == "stress":
        return timber
    if footing == "ratio_control":
        return f"measured against a {control.lower()}"
    told = " × ".join(f"{side:g}" for side in size or ()) + " mm"
    return f"rig {setup_name(setup)} of {study}, {told}" if footing == "peak_load" else told


def _with_footing(series: Looked, choices: Choices, left: LeftOut) -> Looked:
    name = FOOTINGS[choices.footing].name
    # A published mean without a count stands for one specimen here.
    lacks = ~series.has_value & (np.nan_to_num(series.column("n"), nan=1.0) + series.held > 0)
    told = ["; ".join(reasons) or NO_VALUE for reasons in series.source.on.reasons]
    for at in pd.unique(series.column("missing")[lacks]).tolist():
        reason = told[at] if at >= 0 else NO_VALUE
        now = ~series.has_value & (series.column("missing") == at)
        said = reason if "can't be had" in reason else f"no {name}; missing: {reason}"
        series = left.drop(series, now, said, "ask the contributor, or choose a lower footing")
    if not choices.flagged:
        gone = (np.nan_to_num(series.n, nan=1.0) + series.held) == 0
        series = left.drop(series, gone, "every specimen is doubted by a check", "choose to show flagged specimens")
    return series


def facts(frame: pd.DataFrame, footing: str) -> list[SeriesFacts]:
    """The frame's rows as the comparability rules want them."""
    known = {name: _told(frame[name]) for name in ("timber", "adhesive", "control_id", "control_joint", "faces")}
    sizes = (frame[name].to_numpy(float) for name in SIZES)
    there = frozenset({footing})
    rows = zip(
        *(frame[name].tolist() for name in ("series_id", "study_id", "setup_id", "joint_code", "action", "tests")),
        size_of(*sizes).tolist(),
        *known.values(),
        *(frame[name].tolist() for name in ("summary_only", "conditioning")),
        strict=True,
    )
    return [
        SeriesFacts(
            *(series, study, setup, joint, action, tests, None if sides[0] != sides[0] else tuple(sides), timber),
            *(adhesive, there, control, control_joint, published, conditioning, faces),
        )
        for series, study, setup, joint, action, tests, sides, timber, adhesive, control, control_joint, faces,
        published, conditioning in rows
    ]  # fmt: skip


def _told(column: pd.Series) -> list[Any]:
    return column.astype(object).where(column.notna(), None).tolist()


def size_key(row: Any) -> tuple[float, ...] | None:
    """What two specimens of one size share: the member's section, or the bonded face where there is none."""
    sides = (row.member_thickness_mm, row.member_depth_mm)
    if any(pd.isna(side) for side in sides):
        sides = (row.bond_length_mm, row.bond_width_mm)
    return None if any(pd.isna(side) for side in sides) else tuple(round(float(side), 1) for side in sides)
