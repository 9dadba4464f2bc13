"""What a series like this one is expected to show, from the rest of the book or the rest of its study."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from results.models import Series, SeriesFooting

# Never take the book to know a joint better than this: shops, timbers and hands differ (sd of logs).
LEAST_SPREAD = 0.25
# Other joints of the same study say only roughly what one joint should take.
STUDY_SPREAD = 0.7
# An unjointed bar should take what the handbook says its timber takes, boards and rigs apart.
SOLID_SPREAD = 0.3
FEWEST_SERIES, FEWEST_STUDIES = 3, 2


@dataclass(frozen=True)
class Expected:
    """Mean and spread of the log of the ratio to solid wood, and where they come from."""

    mean_log: float
    sd_log: float
    source: str


def expectations(series: Iterable[Series], centres: dict[str, float | None]) -> dict[str, Expected]:
    """What each series is expected to take as a ratio to solid wood.

    Parameters
    ----------
    series : iterable of Series
        All series of one study.
    centres : dict
        The ratio each of them shows, by label; None where it has none.

    Returns
    -------
    dict
        By label; series about which nothing is known are absent.
    """
    series = list(series)
    book = _book(series)
    found: dict[str, Expected] = {}
    solid = {one.label for one in series if one.joint_id == "solid"}
    for one in series:
        if one.label in solid:
            found[one.label] = Expected(0.0, SOLID_SPREAD, "the handbook's value for its timber")
            continue
        like = book[(book["action"] == one.setup.loading.action) & (book["tests"] == one.tests)]
        for part, source in (
            (like[like["joint"] == one.joint_id], f"{one.joint.name} in other studies"),
            (like[like["family"] == one.joint.family_id], "joints of its family in other studies"),
        ):
            if len(part) >= FEWEST_SERIES and part["study"].nunique() >= FEWEST_STUDIES:
                # The median, since the book may hold slips of its own.
                spread = float(1.4826 * np.median(np.abs(part["mean_log"] - part["mean_log"].median())))
                found[one.label] = Expected(float(part["mean_log"].median()), max(spread, LEAST_SPREAD), source)
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


def _book(series: list[Series]) -> pd.DataFrame:
    """Ratios to solid wood of the accepted series of other studies, for the families concerned."""
    rows = SeriesFooting.objects.filter(
        code="ratio_solid",
        sum_log__isnull=False,
        series__study__status="accepted",
        series__joint__family__in={one.joint.family_id for one in series},
    )
    if series:
        rows = rows.exclude(series__study_id=series[0].study_id)
        if not series[0].study.invented:
            # Real joints are not judged against made-up ones.
            rows = rows.filter(series__study__invented=False)
    frame = pd.DataFrame.from_records(list(rows.values_list(*_BOOK.values())), columns=list(_BOOK))
    n = frame["n"].astype(float).fillna(1.0)
    frame["mean_log"] = frame["sum_log"].astype(float) / n.where(n > 0)
    return frame.dropna(subset=["mean_log"])
