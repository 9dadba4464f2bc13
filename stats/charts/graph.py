"""Which joints were tested against which: a graph whose lines are studies."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from stats.charts import look
from stats.charts.chart import Chart, rows_of
from stats.charts.figure import Figure
from stats.errors import StatsError

EDGE, BEHIND = "#857c6d", "#948b7d"
"""Colours of the lines between joints, and of those without a number where many have one."""
MOST_NAMED = 9
"""Beyond so many joints in one part the marks hold numbers, and a key below names them."""
MOST_JOINTS, MOST_PARTS, MOST_ALONE = 24, 6, 12
"""Joints of a part, parts, and joints by themselves that are drawn: those that most studies hold."""
FEW_LINES, MOST_NUMBERED = 24, 40
"""Beyond so many lines those of one study go without a number; so many numbers a drawing holds."""
UNCOUNTED = "count not given"
WIDE_PX = 324
"""Width that the places are worked out for [px]: that of a phone. A wider drawing is stretched sideways."""
_HEAD_PX, _NAME_PX = 26, 66


@dataclass(frozen=True)
class _Node:
    """A joint's place [px, down from the top], the side its name stands on, and how large its mark is [px]."""

    x: float
    y: float
    side: str
    size: float


def graph(nodes: pd.DataFrame, edges: pd.DataFrame, *, reference: str, about: str) -> Chart:
    """Draw joints as circles, and a line between any two that one study tested side by side.

    Parameters
    ----------
    nodes : pandas.DataFrame
        A row a joint: joint (its code), joint_name, specimens (0 where no count is given), studies, part (1 for the
        reference's; joints of different parts have no line between them).
    edges : pandas.DataFrame
        A row a pair: joint, versus (codes), studies (that tested both, 1 or more).
    reference : str
        Code of the joint that is marked as the reference; it stands on top of its part.
    about : str
        On how much the whole rests, for the chart's face.

    Returns
    -------
    Chart
        With a table of the pairs; `joints_table` has the joints.

    Raises
    ------
    StatsError
        If there are no joints, or a pair names one that is not among them.

    Notes
    -----
    Each part is a ring of its own, so that no line runs through a third joint; neighbours on a ring are those
    that many studies tested together.
    """
    if nodes.empty:
        raise StatsError("nodes has no rows; give at least two joints that a study tested side by side.")
    strangers = (set(edges["joint"]) | set(edges["versus"])) - set(nodes["joint"])
    if strangers:
        raise StatsError(f"edges names {min(strangers)}, which is not among the joints.")
    joints, pairs = rows_of(nodes), _ranked(edges)
    names = {row.joint: row.joint_name for row in joints}
    shown = _drawn(joints, reference)
    numbered = max(Counter(row.part for row in shown).values()) > MOST_NAMED
    places, heads, height = _places(shown, pairs, reference, numbered)
    lines = [row for row in pairs if row.joint in places and row.versus in places]
    fig = Figure()
    counted = _counted(lines)
    _lines(fig, lines[len(counted) :], places, BEHIND if len(counted) == MOST_NUMBERED else EDGE, lines)
    _lines(fig, counted, places, EDGE, lines)
    _counts(fig, counted, places, names)
    _joints(fig, shown, places, reference, numbered)
    if numbered:
        height = _key(fig, shown, height)
    else:
        _names(fig, shown, places)
    if heads:
        words = [f"<b>{look.escape(word)}</b>" for _, word in heads]
        _write(fig, [2.0] * len(heads), [-at for at, _ in heads], words, "middle right", 12)
    title, ends = "Which joints were tested against which", (-height, 0.0)
    look.free_layout(fig, title, about, height=round(height), x=(0.0, float(WIDE_PX)), y=ends)
    return Chart(fig, pairs_table(nodes, edges), _summary(joints, pairs, shown, lines, numbered))


def joints_table(nodes: pd.DataFrame) -> pd.DataFrame:
    """The joints of the graph, columns named as a reader would.

    Parameters
    ----------
    nodes : DataFrame
        As for `graph`.

    Returns
    -------
    DataFrame
    """
    specimens = pd.array([n or None for n in nodes["specimens"].tolist()], dtype="Int64")
    columns = {"Joint": nodes["joint_name"].array, "Studies": nodes["studies"].array, "Specimens": specimens}
    if nodes["part"].nunique() > 1:
        columns["Part"] = nodes["part"].array
    return pd.DataFrame(columns)


def pairs_table(nodes: pd.DataFrame, edges: pd.DataFrame) -> pd.DataFrame:
    """The lines of the graph, the best tested first."""
    names = dict(zip(nodes["joint"].tolist(), nodes["joint_name"].tolist(), strict=True))
    ranked = _ranked(edges)
    return pd.DataFrame(
        {
            "Joint": [names[row.joint] for row in ranked],
            "Tested against": [names[row.versus] for row in ranked],
            "Studies with both": [row.studies for row in ranked],
        }
    )


def _ranked(edges: pd.DataFrame) -> list[Any]:
    """The pairs, the best tested first."""
    return sorted(rows_of(edges), key=lambda row: -row.studies)


def _drawn(nodes: list[Any], reference: str) -> list[Any]:
    """The joints that are drawn: of each part those that most studies hold.

    They come as given where some stand by themselves, else part by part, those that most studies hold first.
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


def _places(
    nodes: list[Any], edges: list[Any], reference: str, numbered: bool
) -> tuple[dict[str, _Node], list[tuple[float, str]], float]:
    """Where each joint stands, the headings over parts, and the height of it all [px]."""
    most = max(float(max(row.specimens for row in nodes)), 1.0)
    size = {row.joint: _size(row.specimens / most, numbered) for row in nodes}
    together = _together(edges)
    by_part: dict[int, list[str]] = {}
    for row in nodes:
        by_part.setdefault(row.part, []).append(row.joint)
    parts = [part for _, part in sorted(by_part.items())]
    rings, alone = [p for p in parts if len(p) > 1], [p[0] for p in parts if len(p) == 1]
    places: dict[str, _Node] = {}
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
            places[joint] = _Node(26.0, top + 18, "right", size[joint])
            top += 36
    return places, heads, top


def _size(share: float, numbered: bool) -> float:
    """Across a mark [px], its area by the share of the most specimens; a number needs some room."""
    least, more = (17.0, 9.0) if numbered else (13.0, 15.0)
    return least + more * float(np.sqrt(share))


def _ring(order: list[str], top: float, size: dict[str, float], numbered: bool, places: dict[str, _Node]) -> float:
    """Put the joints of a part round a ring, the first on top; gives where the part ends [px]."""
    if numbered:
        across, down = 0.43 * WIDE_PX, 0.5 * WIDE_PX
        for i, joint in enumerate(order):
            turn = 2 * np.pi * i / len(order)
            x, y = WIDE_PX / 2 + across * np.sin(turn), top + 20 + down * (1 - np.cos(turn))
            places[joint] = _Node(float(x), float(y), "in", size[joint])
        return top + 40 + 2 * down
    rest = len(order) - 1
    bottom = rest % 2  # an odd one out stands below
    each = (rest - bottom) // 2
    first, step = top + _NAME_PX, 62.0
    height = (each + 1) * (step if each else 1.7 * step)
    places[order[0]] = _Node(WIDE_PX / 2, first, "top", size[order[0]])
    for i in range(1, each + 1):
        off = 0.2 * WIDE_PX * float(np.sqrt(1 - (1 - 2 * i / (each + 1)) ** 2))
        for joint, side, x in ((order[i], "right", off), (order[-i], "left", -off)):
            places[joint] = _Node(WIDE_PX / 2 + x, first + height * i / (each + 1), side, size[joint])
    if bottom:
        places[order[each + 1]] = _Node(WIDE_PX / 2, first + height, "bottom", size[order[each + 1]])
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


def _counted(lines: list[Any]) -> list[Any]:
    """The lines that a number stands on, which are the first."""
    return lines if len(lines) <= FEW_LINES else [row for row in lines if row.studies > 1][:MOST_NUMBERED]


def _lines(fig: Figure, drawn: list[Any], places: dict[str, _Node], colour: str, lines: list[Any]) -> None:
    """Lines between joints, the wider the more studies; one trace for each width."""
    most = lines[0].studies if lines else 1
    by_width: dict[float, tuple[list[float | None], list[float | None]]] = {}
    for row in drawn:
        a, b = places[row.joint], places[row.versus]
        width = 1.4 * row.studies if most <= 5 else 1.0 + 6.0 * (row.studies - 1) / (most - 1)
        x, y = by_width.setdefault(round(2 * width) / 2, ([], []))
        x += [a.x, b.x, None]
        y += [-a.y, -b.y, None]
    for width, (x, y) in sorted(by_width.items()):
        fig.scatter(
            x=x,
            y=y,
            mode="lines",
            line={"width": width, "color": colour},
            name="tested side by side (number: in how many studies)",
            showlegend=not any(trace.get("showlegend") for trace in fig.data),
            hoverinfo="skip",
        )


# Where on its line a number may stand, the middle first.
_ALONG = np.array([[0.5], [0.4], [0.6], [0.32], [0.68], [0.25], [0.75]])


def _counts(fig: Figure, counted: list[Any], places: dict[str, _Node], names: dict[str, str]) -> None:
    """The number of studies on each line, moved along it to where it hides nothing."""
    taken = np.array([(node.x, node.y) for node in places.values()])
    x, y, text, hover = [], [], [], []
    for row in counted:
        a, b = places[row.joint], places[row.versus]
        spots = np.array([a.x, a.y]) + _ALONG * np.array([b.x - a.x, b.y - a.y])
        room = np.hypot(*(spots[:, None, :] - taken).transpose(2, 0, 1)).min(axis=1)
        # The middle unless something is near it: 17 px hold a number apart from the next.
        free = np.flatnonzero(room > 17)
        best = spots[free[0] if len(free) else np.argmax(room)]
        taken = np.vstack([taken, best])
        x.append(float(best[0]))
        y.append(-float(best[1]))
        text.append(str(row.studies))
        pair = f"{look.escape(names[row.joint])} and {look.escape(names[row.versus])}"
        hover.append(f"{pair}: {look.counted(int(row.studies), 'study')} with both")
    if x:
        fig.scatter(
            x=x,
            y=y,
            mode="markers+text",
            marker={"symbol": "circle", "size": 15, "color": look.SHEET, "line": {"width": 0.8, "color": EDGE}},
            text=text,
            textposition="middle center",
            textfont={"size": 11, "color": look.INK},
            hovertext=hover,
            hovertemplate="%{hovertext}<extra></extra>",
            showlegend=False,
        )


_INSIDE = {"textposition": "middle center", "textfont": {"size": 11, "color": look.SHEET}}


def _joints(fig: Figure, nodes: list[Any], places: dict[str, _Node], reference: str, numbered: bool) -> None:
    """Marks with their names beside them, or with numbers in them."""
    numbers = {row.joint: str(i) for i, row in enumerate(nodes, 1)}
    for rows, symbol, colour, name in (
        (
            [row for row in nodes if row.joint != reference],
            "circle",
            look.BROKE,
            f"joint (larger: more specimens{', in brackets' if numbered else ''})",
        ),
        ([row for row in nodes if row.joint == reference], "square", look.HELD, "the reference"),
    ):
        if not rows:
            continue
        at = [places[row.joint] for row in rows]
        grow = 1.2 if symbol == "square" else 1.0  # a square of one size fills less of it
        fig.scatter(
            x=[node.x for node in at],
            y=[-node.y for node in at],
            mode="markers+text" if numbered else "markers",
            marker={"symbol": symbol, "size": [round(grow * node.size, 1) for node in at], "color": colour},
            **({"text": [numbers[row.joint] for row in rows], **_INSIDE} if numbered else {}),
            name=name,
            cliponaxis=False,
            hovertext=[
                f"<b>{look.escape(row.joint_name)}</b><br>{look.counted(int(row.studies), 'study')}, {_amount(row)}"
                for row in rows
            ],
            hovertemplate="%{hovertext}<extra></extra>",
        )


# Where a name stands: its place from the mark, and which way from the mark's middle [right, up].
_SIDES = {
    "right": ("middle right", 1, 0),
    "left": ("middle left", -1, 0),
    "top": ("top center", 0, 1),
    "bottom": ("bottom center", 0, -1),
}


def _names(fig: Figure, nodes: list[Any], places: dict[str, _Node]) -> None:
    """Names and counts beside the marks, clear of them whatever their size."""
    for side, (position, right, up) in _SIDES.items():
        rows = [row for row in nodes if places[row.joint].side == side]
        if not rows:
            continue
        at = [places[row.joint] for row in rows]
        _write(
            fig,
            [node.x + right * (node.size / 2 - 4) for node in at],
            [-node.y + up * (node.size / 2 - 4) for node in at],
            [f"<b>{look.wrap(row.joint_name, 13 if right else 34)}</b><br>{_specimens(row)}" for row in rows],
            position,
        )


def _key(fig: Figure, nodes: list[Any], top: float) -> float:
    """Number, name and count of each joint in two columns below the ring; gives where they end [px]."""
    lines = [
        f"<b>{i}</b> {look.wrap(f'{row.joint_name} ({row.specimens or UNCOUNTED})', 23)}"
        for i, row in enumerate(nodes, 1)
    ]
    half = (len(lines) + 1) // 2
    at = top + 8
    x, y, text = [], [], []
    for i in range(half):
        row = [line for line in (lines[i], lines[i + half] if i + half < len(lines) else "") if line]
        height = 15 * max(line.count("<br>") + 1 for line in row) + 4
        for column, line in enumerate(row):
            x.append(column * WIDE_PX / 2 - 2)
            y.append(-(at + height / 2))
            text.append(line)
        at += height
    _write(fig, x, y, text, "middle right")
    return at + 6


def _specimens(row: Any) -> str:
    return f'<span style="font-size:10.5px">{_amount(row)}</span>'


def _amount(row: Any) -> str:
    """How many specimens, where a published mean gives its count."""
    return look.counted(int(row.specimens), "specimen") if row.specimens else UNCOUNTED


def _write(fig: Figure, x: list[float], y: list[float], text: list[str], position: str, size: float = 11.5) -> None:
    fig.scatter(
        x=x,
        y=y,
        mode="text",
        text=text,
        textposition=position,
        textfont={"size": size, "color": look.INK},
        cliponaxis=False,
        showlegend=False,
        hoverinfo="skip",
    )


def _summary(nodes: list[Any], edges: list[Any], shown: list[Any], lines: list[Any], numbered: bool) -> str:
    """In words; the pairs `edges` and `lines`, the best tested first."""
    name = {row.joint: row.joint_name for row in nodes}
    said = [f"{look.counted(len(nodes), 'joint')}, {look.counted(len(edges), 'pair')} of them tested side by side."]
    if edges:
        best = edges[0]
        said.append(
            f"Most often {name[best.joint]} with {name[best.versus]}"
            f" ({look.counted(int(best.studies), 'study')}). A line joins two joints that one study tested side by"
            " side, the wider the more studies; a mark is the larger the more specimens."
        )
    if len({row.part for row in nodes}) > 1:
        said.append("No line runs from one part to another: joints of different parts can't be compared.")
    if len(_counted(lines)) == MOST_NUMBERED:
        said.append(f"Numbers stand on the {MOST_NUMBERED} lines of most studies.")
    elif len(lines) > FEW_LINES:
        said.append("A line without a number is of one study.")
    if len(shown) < len(nodes):
        said.append(f"Only the {len(shown)} joints that most studies hold are drawn; the tables have them all.")
    if numbered:
        said.append("The key below names the numbers in the marks.")
    return " ".join(said)
