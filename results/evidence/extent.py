"""The map of the evidence: how much there is of which joint under which action, and what nothing links."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd
from django.db.models import Count, QuerySet
from scipy import sparse
from scipy.sparse.csgraph import connected_components

from results.models import Specimen
from stats.inference.counting import numbered

from . import book
from .book import Array, Book, Words
from .frames import ACTION_CODES
from .packing import CODES

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


@dataclass(frozen=True)
class Tally:
    """What was counted: studies (each once, however many of its series are in), series and specimens.

    ``doubted`` are specimens that a check doubts or that are known from a published mean alone.
    """

    studies: int = 0
    series: int = 0
    specimens: int = 0
    doubted: int = 0


class Counts:
    """The series of the book as they are counted, an array each; what is asked of them is looked up then.

    Parameters
    ----------
    source : Book
    at : ndarray of int
        Which of its series, by their places in its packs.
    """

    def __init__(self, source: Book, at: Array) -> None:
        self.source, self.at = source, at

    def __len__(self) -> int:
        return len(self.at)

    def take(self, which: Array) -> Counts:
        """Some of the series."""
        return Counts(self.source, self.at[which])

    @cached_property
    def study(self) -> Array:
        """Place of each series' study among the accepted ones."""
        return np.repeat(np.arange(len(self.source.packs.count)), self.source.packs.count)[self.at]

    @cached_property
    def joint(self) -> Array:
        return self.places("joint")

    @cached_property
    def bond(self) -> Array:
        return self.column("bond").astype(np.intp)

    @cached_property
    def action(self) -> Array:
        """Place of each series' action among `ACTION_CODES`."""
        of_loading = [ACTION_CODES.index(action) for action in self.source.vocabulary.loadings.more]
        return np.array(of_loading, dtype=np.intp)[self.places("loading")]

    @cached_property
    def specimens(self) -> Array:
        """Those told one by one; a published mean is told by its count, where it gives one."""
        told = self.column("told").astype(np.int64)
        return np.where(self._published & (told == 0), self._stored(""), told).astype(np.int64)

    @cached_property
    def doubted(self) -> Array:
        """Specimens that a check doubts, or that are known from a published mean alone."""
        flagged = np.minimum(self._stored("") - self._stored("kept_"), self.specimens)
        return np.where(self._published, self.specimens, flagged).astype(np.int64)

    @property
    def on_ratio(self) -> Array:
        """Which have a ratio to solid wood."""
        return (self.column("footings") >> CODES.index("ratio_solid") & 1).astype(bool)

    @property
    def _published(self) -> Array:
        return self.column("published") > 0

    def _stored(self, prefix: str) -> Array:
        """Specimens as a footing's sums count them, with flagged ones or (``kept_``) without."""
        return np.nan_to_num(self.column(f"{prefix}n")) + np.nan_to_num(self.column(f"{prefix}held"))

    def places(self, name: str) -> Array:
        """A word of each series as its place in the vocabulary; -1 for none."""
        return self.source.read.places(name)[self.at]

    def column(self, name: str) -> Array:
        """What is packed of the series under that name."""
        return self.source.read.column(name)[self.at]

    def of(self, name: str, code: str) -> Array:
        """Which series a word of the vocabulary is told of; none for one that isn't there."""
        codes = words_of(self.source, name).codes
        return self.places(name) == (codes.index(code) if code in codes else len(codes))

    def tallies(self, key: Array, size: int) -> list[Tally]:
        """What there is under each of the keys from 0 on."""
        studies = len(self.source.studies.key)
        pairs = numbered(key * studies + self.study)[0]
        columns = [np.bincount(pairs // max(studies, 1), minlength=size), np.bincount(key, minlength=size)]
        columns += [np.bincount(key, number, size).astype(np.int64) for number in (self.specimens, self.doubted)]
        return [Tally(*row) for row in zip(*(column.tolist() for column in columns), strict=True)]


def words_of(source: Book, name: str) -> Words:
    """The vocabulary of a word that series are told by, such as ``timber``."""
    words: Words = getattr(source.vocabulary, f"{name}s")
    return words


def every(*, invented: bool) -> Counts:
    """All series of accepted studies, without the invented ones unless those are asked for."""
    # Any footing knows what a series is; this one is read for the comparison of all joints anyway.
    source = book.read("ratio_solid")
    found = Counts(source, np.arange(len(source.packs.series)))
    return found if invented else found.take(~source.studies.invented[found.study])


def counts(tests: str, *, invented: bool) -> tuple[Counts, tuple[bool, ...]]:
    """What was counted of joint tests or of bond tests in accepted studies.

    Parameters
    ----------
    tests : {"joint", "bond"}
    invented : bool
        Whether invented studies are in.

    Returns
    -------
    Counts
    tuple of bool
        Whether invented studies are among all that count, of either kind of test, and real ones.
    """
    found = every(invented=invented)
    made_up = found.source.studies.invented[found.study]
    flags = tuple(flag for flag in (False, True) if (made_up == flag).any())
    return found.take(found.bond == (tests == "bond")), flags


def extent(series: QuerySet, by: str = "") -> Extent:
    """Count studies, series and specimens in each cell, and find the parts.

    Parameters
    ----------
    series : QuerySet of Series
        Those that count and were chosen.
    by : str
        A key of `BY` to split cells further; nothing for none.
    """
    cells: dict[tuple[Any, ...], list[tuple[int, int]]] = {}
    links: dict[tuple[str, str], set[tuple[str, int]]] = {}
    for study, joint, action, tests, split, specimens in _counted(series, by):
        cells.setdefault((joint, action, tests, *split), []).append((study, specimens))
        links.setdefault((action, tests), set()).add((joint, study))
    parts = {sort: _parts(pairs) for sort, pairs in links.items()}
    rows = [
        (*key, len({study for study, _ in found}), len(found), sum(n for _, n in found), parts[key[1:3]][key[0]])
        for key, found in sorted(cells.items(), key=lambda item: [(word is None, word or "") for word in item[0]])
    ]
    names = [*CELL, *([by] if by else [])]
    frame = pd.DataFrame(rows, columns=[*names, *COUNTS]).astype(dict.fromkeys(COUNTS, int))
    return Extent(frame, _of_parts(links, parts))


def _counted(series: QuerySet, by: str) -> Iterator[tuple[int, str, str, str, tuple[str | None, ...], int]]:
    """Study, joint, action, kind of test, what it is split by, and specimens behind each series."""
    series = series.order_by()
    paths = ["pk", "study_id", "joint_id", "setup__loading__action", "tests", "summary__n"]
    rows = list(series.values_list(*paths, *([BY[by]] if by else [])))
    told = Specimen.objects.told().filter(series__in=series.values("pk")).order_by()
    own = dict(told.values_list("series_id").annotate(Count("pk")))
    for key, study, joint, action, tests, published, *split in rows:
        yield study, joint, action, tests, tuple(split), own.get(key) or published or 0


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
