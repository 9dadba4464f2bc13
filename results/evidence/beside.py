"""A study beside all others: each of its series against the same joint as other studies found it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from results.models import Series, Study
from stats.errors import StatsError
from stats.footing.comparability import SeriesFacts, place
from stats.inference import describe, sidebyside
from stats.inference.estimates import estimate
from stats.inference.told import Readings

from .behind import Specimens
from .book import Array
from .choices import Choices
from .compare import size_key, unit_of
from .frames import ACTION_CODES, HARD_LIVES, Looked, looked_at
from .sides import axis_keys, axis_of_first
from .study import LEVEL, OnFooting, SeriesView, StudyView

# The footing that holds across most comes first; a peak load never leaves its own rig.
FOOTINGS = ("ratio_solid", "stress", "at_joint", "ratio_control")
COLUMNS = [
    "series_id", "series", "joint", "joint_name", "action", "tests", "timber", "footing", "unit", "axis",
    "mean", "low", "high", "studies", "series_n", "specimens", "others_mean", "others_low", "others_high",
    "others_prediction_low", "others_prediction_high", "ratio", "ratio_low", "ratio_high", "invented",
]  # fmt: skip
NO_READINGS = Readings(np.zeros(0), np.zeros(0, dtype=bool), np.zeros(0, dtype=np.intp))


@dataclass(frozen=True)
class Beside:
    """What `beside` found.

    Parameters
    ----------
    rows : DataFrame
        A series a row, with `COLUMNS`: its own geometric mean and interval; the others' mean over studies, its
        interval, and what a further shop should expect (NaN below three studies); the ratio of the two.
    alone : tuple of (str, str)
        Series without a row: label, and why nothing stands beside it.
    """

    rows: pd.DataFrame
    alone: tuple[tuple[str, str], ...]

    @property
    def invented(self) -> bool:
        """Whether invented studies are among the others."""
        return bool(self.rows["invented"].any())


def beside(view: StudyView, *, invented: bool) -> Beside:
    """Set each series of a study beside all other studies of the same joint, under the same action.

    Parameters
    ----------
    view : StudyView
        The study; it need not be accepted, the others are.
    invented : bool
        Whether invented studies are among the others.

    Returns
    -------
    Beside

    Notes
    -----
    A series is set beside the others on the first of `FOOTINGS` on which `comparability.place` gives both one axis.
    The others' mean is the random-effects mean over studies, without this study. The ratio's interval joins the two
    intervals as independent; it doesn't hold how far shops differ, which is what the prediction interval is for.
    """
    waiting = {one.series.pk: one for one in view.series}
    rows: dict[int, dict] = {}
    everybody: Looked | None = None
    for footing in FOOTINGS:
        first = footing == FOOTINGS[0]
        left = {key: one for key, one in waiting.items() if key not in rows and _centre(one, footing)}
        # Whether anybody tested the joint at all is asked of the first footing, whatever stands in the way there.
        asked = waiting if first else left
        if not asked:
            continue
        joints = tuple(sorted({one.series.joint_id for one in asked.values()}))
        looked = looked_at(Choices(joints=joints, footing=footing))
        looked = looked.take((looked.study_id != view.study.pk) & (invented | ~looked.invented))
        if first:
            everybody = looked
        rows |= _on(view.study, left, looked, footing)
    found = [rows[key] for key in waiting if key in rows]
    alone = tuple((one.series.label, _why(one, everybody)) for key, one in waiting.items() if key not in rows)
    return Beside(pd.DataFrame(found, columns=COLUMNS), alone)


def _on(study: Study, views: dict[int, SeriesView], looked: Looked, footing: str) -> dict[int, dict]:
    """The rows of those series that have others to stand beside on this footing."""
    looked = looked.take(looked.has_value & (np.nan_to_num(looked.n, nan=1.0) + looked.held > 0))
    own = {
        key: (_kind(one.series), axis)
        for key, one in views.items()
        if (axis := place(_facts(study, one.series, footing), footing)[0]) is not None
    }
    # What is averaged as one: a kind of joint, on one axis.
    wanted = {together: number for number, together in enumerate(dict.fromkeys(own.values()))}
    alike, axes = axis_keys(looked, footing)
    pair, pairs = pd.factorize(looked.kind * max(len(axes), 1) + alike)
    kinds = ((looked.kinds.code[at // len(axes)], axes[at % len(axes)]) for at in pairs.tolist())
    number = np.array([wanted.get(together, -1) for together in kinds], dtype=np.intp)[pair]
    others = _others(looked.take(number >= 0), number[number >= 0], footing)
    return {
        key: {**_row(views[key], footing), **_against(_centre(views[key], footing), others[wanted[together]])}
        for key, together in own.items()
        if wanted[together] in others
    }


def _others(looked: Looked, number: Array, footing: str) -> dict[int, dict]:
    """The other studies' means, by the number of what is averaged as one; without those of which none is left."""
    if not len(looked):
        return {}
    # Each by itself, however it is called.
    joint, numbers = pd.factorize(number)
    first = np.unique(joint, return_index=True)[1]
    names = tuple(looked.kinds.name[at] for at in looked.kind[first].tolist())
    told = replace(looked.told(), joint=joint, joints=tuple(map(str, numbers)), names=names)
    estimates = estimate(told, Specimens(looked), level=LEVEL)
    if not len(estimates):
        return {}
    # The limit that groups would give needs every specimen, and isn't shown here.
    means = sidebyside.groups_of(estimates, NO_READINGS, level=LEVEL)
    used, number = looked.take(estimates.kept), number[estimates.kept]
    return {
        int(mean["joint"]): _mean(mean, used.take(number == int(mean["joint"])), footing)
        for mean in means.to_dict("records")
    }


def _mean(mean: dict[str, Any], part: Looked, footing: str) -> dict:
    return {
        "joint_name": mean["joint_name"],
        "axis": "" if footing.startswith("ratio_solid") else axis_of_first(part, footing),
        "studies": int(mean["studies"]),
        "series_n": int(mean["series"]),
        "specimens": int(mean["specimens"]),
        "others_mean": float(mean["geometric_mean"]),
        "others_low": float(mean["low"]),
        "others_high": float(mean["high"]),
        "others_prediction_low": float(mean["prediction_low"]),
        "others_prediction_high": float(mean["prediction_high"]),
        "invented": bool(part.invented.any()),
    }


def _against(own: tuple[float, float, float] | None, others: dict) -> dict:
    """This series over the others, their intervals joined."""
    mean, low, high = own or (math.nan,) * 3
    ratio = mean / others["others_mean"]
    half, other = (math.log(b / a) / 2 for a, b in ((low, high), (others["others_low"], others["others_high"])))
    reach = float(np.hypot(half, other))
    return {
        **others,
        "mean": mean,
        "low": low,
        "high": high,
        "ratio": ratio,
        "ratio_low": ratio * math.exp(-reach),
        "ratio_high": ratio * math.exp(reach),
    }


def _row(view: SeriesView, footing: str) -> dict:
    series = view.series
    action = series.setup.loading.action
    return {
        "series_id": series.pk,
        "series": series.label,
        "joint": series.joint_id,
        "action": action,
        "tests": series.tests,
        "timber": series.timber_id or "",
        "footing": footing,
        "unit": unit_of(footing, action),
    }


def _centre(view: SeriesView, footing: str) -> tuple[float, float, float] | None:
    """Geometric mean and interval of a series (NaN without a spread); None where only a lower bound is known."""
    on = view.footings[footing]
    if view.series.is_summary:
        return _published(on) if on.available else None
    if on.numbers is None or on.numbers.at_least:
        return None
    interval = on.numbers.interval
    low, high = (interval.low, interval.high) if interval else (math.nan, math.nan)
    return on.numbers.geometric_mean, low, high


def _published(on: OnFooting) -> tuple[float, float, float]:
    n = on.stored.n or 1
    sum_log = on.stored.sum_log or 0.0  # a footing that is there has a sum
    mean = math.exp(sum_log / n)
    if n > 1 and on.stored.sum_sq_log is not None:
        try:
            interval = describe.from_sums(n, sum_log, on.stored.sum_sq_log).interval
        except StatsError:
            interval = None
        if interval:
            return mean, interval.low, interval.high
    return mean, math.nan, math.nan


def _facts(study: Study, series: Series, footing: str) -> SeriesFacts:
    return SeriesFacts(
        id=series.pk,
        study=study.pk,
        setup=series.setup_id,
        joint=series.joint_id,
        action=series.setup.loading.action,
        bond_or_joint=series.tests,
        size=size_key(series),
        timber=series.timber_id,
        adhesive=series.adhesive_id,
        footings=frozenset({footing}),
        control=series.control_id,
        control_joint=series.control.joint_id if series.control else None,
        summary_only=series.is_summary,
        conditioning=series.conditioning,
        faces=series.faces,
    )


def _kind(series: Series) -> str:
    """What the series' joint is averaged as, by the name that frames have for it."""
    kind = series.joint_id
    if series.tests == Series.Tests.BOND and series.faces:
        kind += f"+{series.faces}"
    return f"{kind}+{series.conditioning}" if series.conditioning in HARD_LIVES else kind


def _why(view: SeriesView, everybody: Looked | None) -> str:
    """Why no other study stands beside a series, should none."""
    series, studies = view.series, 0
    if everybody is not None and _kind(series) in everybody.kinds.code:
        alike = everybody.kind == everybody.kinds.code.index(_kind(series))
        alike &= everybody.action == ACTION_CODES.index(series.setup.loading.action)
        alike &= everybody.bond == (series.tests == Series.Tests.BOND)
        studies = len(np.unique(everybody.study_id[alike]))
    if not studies:
        return f"No other study has tested this joint under {series.setup.loading.get_action_display()} yet."
    if all(_centre(view, footing) is None for footing in FOOTINGS):
        return "Too little is known of this series itself to set it beside others."
    count = "One other study has" if studies == 1 else f"{studies} other studies have"
    return (
        f"{count} tested this joint under {series.setup.loading.get_action_display()}, but not so that the figures may"
        " be compared: sizes, timbers or lengths differ or aren't recorded."
    )
