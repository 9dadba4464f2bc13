"""The map of the evidence: how much there is of which joint under which action, and what nothing links."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from django.db.models import Count, F, QuerySet
from scipy import sparse
from scipy.sparse.csgraph import connected_components

from results.models import Series, SeriesFooting, Specimen

BY = {"timber": "timber_id", "adhesive": "adhesive_id"}
CELL = ["joint", "action", "tests"]
COUNTS = ["studies", "series", "specimens", "part"]


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


@dataclass
class Tally:
    """What was counted: studies (each once, however many of its series are in), series and specimens.

    ``doubted`` are specimens that a check doubts or that are known from a published mean alone.
    """

    studies: set[int] = field(default_factory=set)
    series: int = 0
    specimens: int = 0
    doubted: int = 0

    def add(self, one: Counted) -> None:
        self.studies.add(one.study)
        self.series += 1
        self.specimens += one.specimens
        self.doubted += one.doubted


@dataclass(frozen=True)
class Counted:
    """One series as it is counted."""

    study: int
    joint: str
    action: str
    tests: str
    split: str | None
    specimens: int
    doubted: int = 0
    on_ratio: bool = False

    @property
    def key(self) -> tuple[str, str, str]:
        return self.joint, self.action, self.tests


def counted(series: QuerySet, by: str = "", *, doubts: bool = False) -> Iterator[Counted]:
    """Each series with how many specimens stand behind it.

    Parameters
    ----------
    series : QuerySet of Series
        Those that count and were chosen.
    by : str
        A key of `BY`, for ``split``; nothing for none.
    doubts : bool
        Whether to find out how many are doubted, and whether it has a ratio to solid wood.
    """
    series = series.order_by()
    paths = ["pk", "study_id", "joint_id", "setup__loading__action", "tests", "summary__n", "summary__pk"]
    rows = list(series.values_list(*paths, F(BY[by]) if by else F("pk")))
    told = Specimen.objects.told().filter(series__in=series.values("pk")).order_by()
    own = dict(told.values_list("series_id").annotate(Count("pk")))
    ratios = _ratios(series) if doubts else {}
    for key, study, joint, action, tests, published, summary, split in rows:
        specimens = own.get(key) or published or 0
        flagged, on_ratio = ratios.get(key, (0, False))
        doubted = specimens if summary is not None else min(flagged, specimens)
        yield Counted(study, joint, action, tests, split if by else None, specimens, doubted, on_ratio)


def _ratios(series: QuerySet) -> dict[int, tuple[int, bool]]:
    """Of each series: specimens that a check doubts, and whether it stands on the ratio to solid wood."""
    rows = SeriesFooting.objects.filter(code="ratio_solid", series__in=series.values("pk")).order_by()
    found = rows.values_list("series_id", "n", "held", "kept_n", "kept_held", "sum_log")
    return {
        key: ((n or 0) + held - (kept or 0) - kept_held, log is not None)
        for key, n, held, kept, kept_held, log in found
    }


def extent(series: QuerySet, by: str = "") -> Extent:
    """Count studies, series and specimens in each cell, and find the parts.

    Parameters
    ----------
    series : QuerySet of Series
        Those that count and were chosen.
    by : str
        A key of `BY` to split cells further; nothing for none.
    """
    tallies: dict[tuple[Any, ...], Tally] = {}
    links: dict[tuple[str, str], set[tuple[str, int]]] = {}
    for one in counted(series, by):
        tallies.setdefault((*one.key, one.split) if by else one.key, Tally()).add(one)
        links.setdefault((one.action, one.tests), set()).add((one.joint, one.study))
    parts = {sort: _parts(pairs) for sort, pairs in links.items()}
    cells = [
        (*key, len(tally.studies), tally.series, tally.specimens, parts[key[1:3]][key[0]])
        for key, tally in sorted(tallies.items(), key=lambda item: [(word is None, word or "") for word in item[0]])
    ]
    names = [*CELL, *([by] if by else [])]
    frame = pd.DataFrame(cells, columns=[*names, *COUNTS]).astype(dict.fromkeys(COUNTS, int))
    return Extent(frame, _of_parts(links, parts))


def _parts(pairs: set[tuple[str, int]]) -> dict[str, int]:
    """The part that each joint belongs to through joints of the same studies: 1 has most joints."""
    joints = sorted({joint for joint, _ in pairs})
    studies = sorted({study for _, study in pairs})
    row, column = {code: i for i, code in enumerate(joints)}, {code: i for i, code in enumerate(studies)}
    ends = [(row[joint], len(joints) + column[study]) for joint, study in sorted(pairs)]
    size = len(joints) + len(studies)
    graph = sparse.coo_matrix((np.ones(len(ends)), tuple(zip(*ends, strict=True))), shape=(size, size))
    _, label = connected_components(graph, directed=False)
    held = np.bincount(label[: len(joints)], minlength=label.max() + 1)
    rank = np.empty(len(held), dtype=int)
    rank[np.argsort(-held, kind="stable")] = np.arange(1, len(held) + 1)
    return {joint: int(rank[label[i]]) for i, joint in enumerate(joints)}


def _of_parts(
    links: dict[tuple[str, str], set[tuple[str, int]]], parts: dict[tuple[str, str], dict[str, int]]
) -> pd.DataFrame:
    rows = []
    for (action, tests), pairs in sorted(links.items()):
        part_of = parts[action, tests]
        for part in sorted(set(part_of.values())):
            joints = sorted(joint for joint, number in part_of.items() if number == part)
            studies = {study for joint, study in pairs if part_of[joint] == part}
            rows.append((action, tests, part, joints, len(studies)))
    return pd.DataFrame(rows, columns=["action", "tests", "part", "joints", "studies"])


def counting(*, invented: bool) -> QuerySet:
    """Series of accepted studies, without the invented ones unless those are asked for."""
    rows = Series.objects.counting()
    return rows if invented else rows.filter(study__invented=False)
