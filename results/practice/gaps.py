"""What the book lacks: joints that nobody tested, and where one more study would tell most."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp
from typing import Any
from urllib.parse import urlencode

import numpy as np

from results.evidence import Choices, linked
from results.evidence.choices import ACTIONS
from results.evidence.extent import Counts, counts
from results.evidence.frames import ACTION_CODES
from results.evidence.linked_numbers import names_of
from results.kept import once
from results.models import Joint, Loading
from stats.errors import StatsError
from stats.practice.next_study import next_study

MOST_CELLS, MOST_PAIRS = 12, 8
"""Gaps that are told; the evidence map has them all."""
SPECIMENS, CV = 6, 0.15
"""Of each joint, and their spread, for the study that is thought of."""


@dataclass(frozen=True)
class Cell:
    """A joint that was tested under an action in no study, or in one.

    Parameters
    ----------
    joint, name, action : str
    studies : int
        0 or 1.
    elsewhere : int
        Studies of the joint under other actions: people use it.
    query : str
        The plan of a test that would fill the gap, as an address has it.
    """

    joint: str
    name: str
    action: str
    studies: int
    elsewhere: int
    query: str


@dataclass(frozen=True)
class Telling:
    """Two joints that one more study of both would tell much by.

    Parameters
    ----------
    joint, versus, name, versus_name : str
    studies : int
        That hold both now.
    before, after : float
        By what factor the next shop may be off, up or down, on average over all comparisons: now, and then [-].
    gain : float
        By what share the prediction intervals would narrow, on logs.
    unlocks : int
        Comparisons that can't be made now and could be then.
    query : str
        The plan, as an address has it.
    """

    joint: str
    versus: str
    name: str
    versus_name: str
    studies: int
    before: float
    after: float
    gain: float
    unlocks: int
    query: str


@dataclass(frozen=True)
class Gaps:
    """What the book lacks under one action.

    Parameters
    ----------
    action, tests : str
    cells : tuple of Cell
        Under any action; the joints that people use most first.
    untested, once_tested : int
        How many such cells there are in all.
    telling : tuple of Telling
        Under this action, the most telling first.
    refused : str
        Why there are none; empty where there are.
    taken : tuple of str
        What was taken for granted.
    """

    action: str
    tests: str
    cells: tuple[Cell, ...]
    untested: int
    once_tested: int
    telling: tuple[Telling, ...]
    refused: str
    taken: tuple[str, ...]


def gaps(action: str, tests: str = "joint", *, invented: bool) -> Gaps:
    """What the book lacks, worked out once for each state of the data.

    Parameters
    ----------
    action : str
        For the network; cells are of all actions.
    tests : {"joint", "bond"}
    invented : bool
        Whether invented studies count.
    """
    return once(f"gaps {action} {tests} {invented}", lambda: _gaps(action, tests, invented))


def usual_loading(action: str) -> str:
    """The code of the loading that tests an action most simply: the first of the vocabulary."""
    return Loading.objects.filter(action=action).order_by("position", "code").values_list("pk", flat=True).first() or ""


def _gaps(action: str, tests: str, invented: bool) -> Gaps:
    cells = _cells(tests, invented)
    telling, refused, taken = _telling(action, tests, invented)
    return Gaps(
        action=action,
        tests=tests,
        cells=tuple(cells[:MOST_CELLS]),
        untested=sum(not one.studies for one in cells),
        once_tested=sum(one.studies == 1 for one in cells),
        telling=telling,
        refused=refused,
        taken=taken,
    )


def _cells(tests: str, invented: bool) -> list[Cell]:
    """Cells of the evidence map with no study or one, controls left out; what people use most comes first."""
    found, _ = counts(tests, invented=invented)
    studies = _studies(found)
    loadings = {action: usual_loading(action) for action in ACTIONS}
    under = {action: sum(n for (_, of), n in studies.items() if of == action) for action in ACTIONS}
    rows = []
    for joint in Joint.objects.exclude(is_control_kind=True).order_by("family__position", "position", "code"):
        whole = sum(studies.get((joint.pk, action), 0) for action in ACTIONS)
        for action in ACTIONS:
            own = studies.get((joint.pk, action), 0)
            if own <= 1 and loadings[action]:
                pairs = [("joint", joint.pk), ("joint", "butt"), ("loading", loadings[action]), ("tests", tests)]
                rows.append(Cell(joint.pk, joint.name, action, own, whole - own, urlencode(pairs)))
    return sorted(rows, key=lambda one: (-one.elsewhere, -under[one.action], one.studies))


def _studies(found: Counts) -> dict[tuple[str, str], int]:
    """Studies by joint and action."""
    size = len(ACTION_CODES)
    codes = found.source.vocabulary.joints.codes
    tallies = found.tallies(found.joint * size + found.action, len(codes) * size)
    return {
        (codes[at // size], ACTION_CODES[at % size]): tallies[at].studies
        for at in np.unique(found.joint * size + found.action).tolist()
    }


def _telling(action: str, tests: str, invented: bool) -> tuple[tuple[Telling, ...], str, tuple[str, ...]]:
    footing = "ratio_solid" if action == "bending" else "at_joint"
    found = linked(Choices(action=action, tests=tests, footing=footing, invented=invented))
    if found.network is None:
        return (), found.refused, ()
    # A bond is told apart by its grain, a soaked joint from a dry one; a plan is of the joint itself.
    plain = {str(label).partition("+")[0]: label for label in found.network.joints if "+" not in str(label)}
    labels = list(plain.values())
    pairs = [(a, b) for at, a in enumerate(labels) for b in labels[at + 1 :]]
    if not pairs:
        return (), "Fewer than two joints here can be told apart by their own name.", ()
    try:
        ranked = next_study(found.network, n=SPECIMENS, cv=CV, pairs=pairs)
    except StatsError as error:
        return (), f"{str(error)[0].upper()}{str(error)[1:]}", ()
    names, loading = names_of(found.comparison.arms), usual_loading(action)
    table = ranked.table.head(MOST_PAIRS)
    return tuple(_one(row, names, loading, tests) for row in table.to_dict("records")), "", tuple(ranked.notes)


def _one(row: dict[str, Any], names: dict[str, str], loading: str, tests: str) -> Telling:
    joint, versus = str(row["joint"]), str(row["versus"])
    pairs = [("joint", joint), ("joint", versus), ("loading", loading), ("tests", tests)]
    return Telling(
        joint=joint,
        versus=versus,
        name=names[joint],
        versus_name=names[versus],
        studies=int(row["studies"]),
        before=exp(row["before"]),
        after=exp(row["after"]),
        gain=float(row["gain"]),
        unlocks=int(row["unlocks"]),
        query=urlencode(pairs),
    )
