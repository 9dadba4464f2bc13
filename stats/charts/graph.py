"""Which joints were tested against which: a graph whose lines are studies."""

from __future__ import annotations

from collections import Counter
from typing import Any

import numpy as np
import pandas as pd

from stats.charts import look
from stats.charts.chart import Chart, rows_of
from stats.charts.figure import Figure
from stats.charts.graph_places import WIDE_PX, Node, joints_drawn, places_of
from stats.charts.layout import free_layout
from stats.errors import StatsError

EDGE, BEHIND = "#857c6d", "#948b7d"
"""Colours of the lines between joints, and of those without a number where many have one."""
MOST_NAMED = 9
"""Beyond so many joints in one part the marks hold numbers, and a key below names them."""
FEW_LINES, MOST_NUMBERED = 24, 40
"""Beyond so many lines those of one study go without a number; so many numbers a drawing holds."""
UNCOUNTED = "count not given"


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
    shown = joints_drawn(joints, reference)
    numbered = max(Counter(row.part for row in shown).values()) > MOST_NAMED
    places, heads, height = places_of(shown, pairs, reference, numbered)
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
    free_layout(fig, title, about, height=round(height), x=(0.0, float(WIDE_PX)), y=ends)
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


def _counted(lines: list[Any]) -> list[Any]:
    """The lines that a number stands on, which are the first."""
    return lines if len(lines) <= FEW_LINES else [row for row in lines if row.studies > 1][:MOST_NUMBERED]


def _lines(fig: Figure, drawn: list[Any], places: dict[str, Node], colour: str, lines: list[Any]) -> None:
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


def _counts(fig: Figure, counted: list[Any], places: dict[str, Node], names: dict[str, str]) -> None:
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


def _joints(fig: Figure, nodes: list[Any], places: dict[str, Node], reference: str, numbered: bool) -> None:
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


def _names(fig: Figure, nodes: list[Any], places: dict[str, Node]) -> None:
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
