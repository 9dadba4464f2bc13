"""What a series like this one is expected to show, from the rest of the book or the rest of its study."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd
from django.db.models import Exists, OuterRef

from results.models import Joint, Series, SeriesFooting

# Never take the book to know a joint better than this: shops, timbers and hands differ (sd of logs).
LEAST_SPREAD = 0.25
# Other joints of the same study say only roughly what one joint should take.
STUDY_SPREAD = 0.7
# An unjointed bar should take what the handbook says its timber takes, boards and rigs apart.
SOLID_SPREAD = 0.3
FEWEST_SERIES, FEWEST_STUDIES = 3, 2
# Of a joint, how many of the newest series are looked at.
NEWEST = 400


@dataclass(frozen=True)
class Expected:
    """Mean and spread of the log of the ratio to solid wood, and where they come from."""

    mean_log: float
    sd_log: float
    source: str


@dataclass(frozen=True)
class Book:
    """What the accepted series of other studies take, as far as somebody looks.

    Parameters
    ----------
    series : DataFrame
        ``study``, ``joint``, ``family``, ``action``, ``tests`` and ``mean_log``, the mean of the logs of the ratio to
        solid wood.
    """

    series: pd.DataFrame

    @classmethod
    def of(cls, series: Sequence[Series]) -> Book:
        """Of each joint of the families concerned the newest series, at most `NEWEST`.

        Parameters
        ----------
        series : sequence of Series
            Of one study, or of several that are all invented or all real.

        Notes
        -----
        A median of so many is as good as that of all, and what is read doesn't grow with the book.
        """
        families = {one.joint.family_id for one in series}
        # Of many joints of a family there is nothing in a young book; asking for each would take the longest.
        tested = Exists(Series.objects.counting().filter(joint=OuterRef("pk")))
        joints = Joint.objects.filter(tested, family__in=families).order_by("code").values_list("pk", flat=True)
        # Real joints are not judged against made-up ones.
        invented = any(one.study.invented for one in series)
        own = {one.study_id for one in series if one.study_id is not None}
        frame = pd.DataFrame.from_records(_newest(list(joints), own, invented), columns=list(_BOOK))
        n = frame["n"].astype(float).fillna(1.0)
        frame["mean_log"] = frame["sum_log"].astype(float) / n.where(n > 0)
        return cls(frame.dropna(subset=["mean_log"]))

    @cached_property
    def joints(self) -> dict[tuple[str, ...], tuple[float, float]]:
        """Centre and spread of the logs, by action, kind of test and joint, where there are enough series."""
        return self._told_by("joint")

    @cached_property
    def families(self) -> dict[tuple[str, ...], tuple[float, float]]:
        """The same by family."""
        return self._told_by("family")

    def _told_by(self, kind: str) -> dict[tuple[str, ...], tuple[float, float]]:
        found = {}
        for key, part in self.series.groupby(["action", "tests", kind], sort=False):
            if len(part) >= FEWEST_SERIES and part["study"].nunique() >= FEWEST_STUDIES:
                logs = part["mean_log"].to_numpy(dtype=float)
                # The median, since the book may hold slips of its own.
                centre = float(np.median(logs))
                found[key] = centre, max(float(1.4826 * np.median(np.abs(logs - centre))), LEAST_SPREAD)
        return found


def expectations(
    series: Iterable[Series], centres: dict[str, float | None], book: Book | None = None
) -> dict[str, Expected]:
    """What each series is expected to take as a ratio to solid wood.

    Parameters
    ----------
    series : iterable of Series
        All series of one study.
    centres : dict
        The ratio each of them shows, by label; None where it has none.
    book : Book, optional
        What the book tells of their joints; it is read unless given.

    Returns
    -------
    dict
        By label; series about which nothing is known are absent.
    """
    series = list(series)
    book = book or Book.of(series)
    found: dict[str, Expected] = {}
    solid = {one.label for one in series if one.joint_id == "solid"}
    for one in series:
        if one.label in solid:
            found[one.label] = Expected(0.0, SOLID_SPREAD, "the handbook's value for its timber")
            continue
        about = (one.setup.loading.action, one.tests)
        for like, source in (
            (book.joints.get((*about, one.joint_id)), f"{one.joint.name} in other studies"),
            (book.families.get((*about, one.joint.family_id)), "joints of its family in other studies"),
        ):
            if like is not None:
                found[one.label] = Expected(*like, source)
                break
        else:
            others = [np.log(value) for label, value in centres.items() if value and label not in {one.label, *solid}]
            if len(others) >= FEWEST_SERIES:
                found[one.label] = Expected(float(np.median(others)), STUDY_SPREAD, "the other series of the study")
    return found


_BOOK = {
    "study": "series__study_id",
    "joint": "series__joint_id",
    "family": "series__joint__family_id",
    "action": "series__setup__loading__action",
    "tests": "series__tests",
    "sum_log": "sum_log",
    "n": "n",
}


def _newest(joints: Sequence[str], own: set[int], invented: bool) -> list[tuple[Any, ...]]:
    """Rows of `_BOOK` of each joint's newest series that are not of these studies: one query for all joints."""
    counting = Series.objects.counting() if invented else Series.objects.counting().filter(study__invented=False)
    rows = SeriesFooting.objects.filter(code="ratio_solid", sum_log__isnull=False).exclude(series__study_id__in=own)
    of_each = [
        rows.filter(series__in=counting.filter(joint=joint).order_by("-pk").values("pk")[:NEWEST])
        .order_by()
        .values_list("series_id", *_BOOK.values())
        for joint in joints
    ]
    if not of_each:
        return []
    first, *others = of_each
    found = first.union(*others, all=True) if others else first
    # By joint and then by age, as they were asked for one after another.
    place = {joint: at for at, joint in enumerate(joints)}
    at = 1 + list(_BOOK).index("joint")
    return [row[1:] for row in sorted(found, key=lambda row: (place[row[at]], row[0]))]
