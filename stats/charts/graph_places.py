"""Where the joints of a graph stand: which are drawn, in which order round which ring, how large their marks are."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

import numpy as np

from stats.charts import look

MOST_JOINTS, MOST_PARTS, MOST_ALONE = 24, 6, 12
"""Joints of a part, parts, and joints by themselves that are drawn: those that most studies hold."""
WIDE_PX = 324
"""Width that the places are worked out for [px]: that of a phone. A wider drawing is stretched sideways."""
_HEAD_PX, _NAME_PX = 26, 66


@dataclass(frozen=True)
class Node:
    """Where a joint stands.

    Parameters
    ----------
    x, y : float
        Its place from the left and down from the top [px].
    side : str
        On which side of it its name stands.
    size : float
        Across its mark [px].
    """

    x: float
    y: float
    side: str
    size: float


def joints_drawn(nodes: list[Any], reference: str) -> list[Any]:
    """The joints that are drawn: of each part those that most studies hold.

    Parameters
    ----------
    nodes : list of rows
        As for `graph.graph`, a row a joint.
    reference : str
        Code of the joint that is marked as the reference.

    Returns
    -------
    list of rows
        As given where some stand by themselves, else part by part, those that most studies hold first.
    """
    of_part = Counter(row.part for row in nodes)
    ranked = sorted(nodes, key=lambda row: (row.part, row.joint != reference, -row.studies))
    rings: dict[int, list[Any]] = {}
    for row in ranked:
        if of_part[row.part] > 1:
            rings.setdefault(row.part, []).append(row)
    alone = sorted((row for row in ranked if of_part[row.part] == 1), key=lambda row: -row.studies)[:MOST_ALONE]
    kept = [row for part in list(rings.values())[:MOST_PARTS] for row in part[:MOST_JOINTS]]
    if not alone:
        return kept
    named = {row.joint for row in (*kept, *alone)}
    return [row for row in nodes if row.joint in named]


def places_of(
    nodes: list[Any], edges: list[Any], reference: str, numbered: bool
) -> tuple[dict[str, Node], list[tuple[float, str]], float]:
    """Where each joint stands, the headings over parts, and the height of it all [px].

    Parameters
    ----------
    nodes, edges : list of rows
        As for `graph.graph`: the joints that are drawn, and the pairs.
    reference : str
        Code of the joint that is marked as the reference.
    numbered : bool
        Whether marks hold numbers in place of names beside them.

    Returns
    -------
    places : dict
        A `Node` for each joint's code.
    heads : list of (float, str)
        How far down each heading stands [px], and its words.
    height : float
        Of all of it [px].
    """
    most = max(float(max(row.specimens for row in nodes)), 1.0)
    size = {row.joint: _size(row.specimens / most, numbered) for row in nodes}
    together = _together(edges)
    by_part: dict[int, list[str]] = {}
    for row in nodes:
        by_part.setdefault(row.part, []).append(row.joint)
    parts = [part for _, part in sorted(by_part.items())]
    rings, alone = [p for p in parts if len(p) > 1], [p[0] for p in parts if len(p) == 1]
    places: dict[str, Node] = {}
    heads: list[tuple[float, str]] = []
    top = 0.0
    for number, part in enumerate(rings, 1):
        if len(rings) > 1 or alone:
            heads.append((top + 12, f"Part {number}: {look.counted(len(part), 'joint')}"))
            top += _HEAD_PX
        top = _ring(_around(part, together, reference), top, size, numbered, places)
    if alone:
        heads.append((top + 12, "Tested with no other joint"))
        top += _HEAD_PX
        for joint in alone:
            places[joint] = Node(26.0, top + 18, "right", size[joint])
            top += 36
    return places, heads, top


def _size(share: float, numbered: bool) -> float:
    """Across a mark [px], its area by the share of the most specimens; a number needs some room."""
    least, more = (17.0, 9.0) if numbered else (13.0, 15.0)
    return least + more * float(np.sqrt(share))


def _ring(order: list[str], top: float, size: dict[str, float], numbered: bool, places: dict[str, Node]) -> float:
    """Put the joints of a part round a ring, the first on top; gives where the part ends [px]."""
    if numbered:
        across, down = 0.43 * WIDE_PX, 0.5 * WIDE_PX
        for i, joint in enumerate(order):
            turn = 2 * np.pi * i / len(order)
            x, y = WIDE_PX / 2 + across * np.sin(turn), top + 20 + down * (1 - np.cos(turn))
            places[joint] = Node(float(x), float(y), "in", size[joint])
        return top + 40 + 2 * down
    rest = len(order) - 1
    bottom = rest % 2  # an odd one out stands below
    each = (rest - bottom) // 2
    first, step = top + _NAME_PX, 62.0
    height = (each + 1) * (step if each else 1.7 * step)
    places[order[0]] = Node(WIDE_PX / 2, first, "top", size[order[0]])
    for i in range(1, each + 1):
        off = 0.2 * WIDE_PX * float(np.sqrt(1 - (1 - 2 * i / (each + 1)) ** 2))
        for joint, side, x in ((order[i], "right", off), (order[-i], "left", -off)):
            places[joint] = Node(WIDE_PX / 2 + x, first + height * i / (each + 1), side, size[joint])
    if bottom:
        places[order[each + 1]] = Node(WIDE_PX / 2, first + height, "bottom", size[order[each + 1]])
    return first + height + (_NAME_PX if bottom else -0.3 * step)


def _together(edges: list[Any]) -> dict[tuple[str, str], int]:
    """Studies of each pair, both ways round."""
    found = {}
    for row in edges:
        found[row.joint, row.versus] = found[row.versus, row.joint] = int(row.studies)
    return found


def _around(part: list[str], together: dict[tuple[str, str], int], reference: str) -> list[str]:
    """The joints of a part in the order of the ring: the reference, then always the one best tested with the last."""
    total = {a: sum(together.get((a, b), 0) for b in part) for a in part}
    first = reference if reference in part else max(part, key=lambda joint: total[joint])
    order, left = [first], [joint for joint in part if joint != first]
    while left:
        order.append(max(left, key=lambda joint: (together.get((order[-1], joint), 0), total[joint])))
        left.remove(order[-1])
    return order
