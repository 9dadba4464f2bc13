"""The map of the evidence: how much there is of which joint under which action, and what nothing links."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from django.db.models import Count, F, QuerySet
from scipy import sparse
from scipy.sparse.csgraph import connected_components

from results.models import Specimen

BY = {"timber": "timber_id", "adhesive": "adhesive_id"}
CELL = ["joint", "action", "tests"]


@dataclass(frozen=True)
class Extent:
    """How much evidence there is.

    Parameters
    ----------
    cells : DataFrame
        ``joint``, ``action``, ``tests`` (and what it is split by), ``studies``, ``series``, ``specimens``, ``part``;
        combinations that nobody tested are absent.
    parts : DataFrame
        ``action``, ``tests``, ``part``, ``joints`` (list of codes), ``studies``: joints that studies link, the largest
        part of each action and kind of test first. Joints of different parts can be compared through no study.
    """

    cells: pd.DataFrame
    parts: pd.DataFrame


def extent(series: QuerySet, by: str = "") -> Extent:
    """Count studies, series and specimens in each cell, and find the parts.

    Parameters
    ----------
    series : QuerySet of Series
        Those that count and were chosen.
    by : str
        A key of `BY` to split cells further; nothing for none.
    """
    split = {by: BY[by]} if by else {}
    fields = {"series_id": "pk", "study": "study_id", "joint": "joint_id", "action": "setup__loading__action"}
    columns = {**fields, "tests": "tests", "published": "summary__n", **split}
    rows = series.order_by().values_list(*(F(path) for path in columns.values()))
    frame = pd.DataFrame.from_records(list(rows), columns=list(columns))
    told = Specimen.objects.told().filter(series__in=series.order_by().values("pk"))
    counted = dict(told.order_by().values_list("series_id").annotate(Count("pk")))
    own = frame["series_id"].map(counted).fillna(frame["published"].astype(float)).fillna(0)
    frame["specimens"] = own.astype(int)
    number = _numbers(frame)
    keys = [*CELL, *split]
    cells = (
        frame.assign(part=number)
        .groupby(keys, dropna=False, sort=True)
        .agg(
            studies=("study", "nunique"),
            series=("series_id", "size"),
            specimens=("specimens", "sum"),
            part=("part", "first"),
        )
        .reset_index()
    )
    parts = (
        frame.assign(part=number)
        .groupby(["action", "tests", "part"])
        .agg(joints=("joint", lambda codes: sorted(set(codes))), studies=("study", "nunique"))
        .reset_index()
    )
    return Extent(cells, parts)


def _numbers(frame: pd.DataFrame) -> pd.Series:
    """The part each series belongs to, within its action and kind of test: 1 has most joints."""
    number = pd.Series(0, index=frame.index, dtype=int)
    for _, group in frame.groupby(["action", "tests"]):
        joint, _ = pd.factorize(group["joint"], sort=True)
        study, _ = pd.factorize(group["study"])
        joints, size = joint.max() + 1, joint.max() + study.max() + 2
        links = sparse.coo_matrix((np.ones(len(group)), (joint, joints + study)), shape=(size, size))
        _, label = connected_components(links, directed=False)
        held = np.bincount(label[:joints], minlength=label.max() + 1)
        rank = np.empty(len(held), dtype=int)
        rank[np.argsort(-held, kind="stable")] = np.arange(1, len(held) + 1)
        number[group.index] = rank[label[joint]]
    return number
