"""Where joints broke, and apart from it how much those that broke there had taken."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import pandas as pd

from stats.charts import look
from stats.charts.chart import Chart
from stats.charts.figure import Figure
from stats.charts.layout import rows_layout
from stats.errors import StatsError
from stats.footing.units import show

# A share below this has no room for its number on a phone; the table and the hover text have it.
ROOM_FOR_TEXT = 0.08
# Lanes of a row, measured downwards from its middle. Neighbours' numbers stand in turn in two lanes.
BAR_LANE = 0.2
TEXT_LANES = (-0.14, -0.33)


def failures(failures: pd.DataFrame, *, footing: str = "", unit: str = "", outline: bool = False) -> Chart:
    """Draw the shares of the failure places of each joint, and beside each the strength of those specimens.

    Parameters
    ----------
    failures : pandas.DataFrame
        A row a joint and place: joint, joint_name, place, place_name, n, share (0 to 1), geometric_mean.
    footing, unit : str, optional
        What the geometric means measure, and in which unit.
    outline : bool, optional
        Draw no more than gives the chart its size and legend, for a page that only makes room for it.

    Returns
    -------
    Chart
        A bar a joint, as wide as all its broken specimens together.

    Raises
    ------
    StatsError
        If there are no rows.

    Notes
    -----
    A clean break along the glue may have taken more than one with torn wood: the share says where, the number
    how much, and neither stands for the other.
    """
    if failures.empty:
        raise StatsError("failures (0 rows) must have at least one joint with a known failure place.")
    joints = _joints(failures)
    rows = _rows(failures, joints)
    if outline:
        rows = list({row.place: row for row in reversed(rows)}.values())
    order = [*look.PLACES, *dict.fromkeys(row.place for row in rows if row.place not in look.PLACES)]
    fig = Figure()
    for place in order:
        part = [row for row in rows if row.place == place]
        if part:
            _add_place(fig, place, part, unit)
    if not outline:
        _add_strengths(fig, [row for row in rows if row.share >= ROOM_FOR_TEXT and math.isfinite(row.mean)])
    labels = [look.row_label(one.name, look.counted(one.n, "specimen")) for one in joints.values()]
    measured = f"{footing}{f' [{unit}]' if unit else ''}" if footing else "strength"
    rows_layout(
        fig,
        labels,
        "Where the broken specimens failed",
        f"numbers: geometric mean, {measured}",
        "share of the broken specimens [%]",
        log=False,
    )
    fig.update_layout(barmode="stack", legend={"traceorder": "normal"})
    fig.update_xaxes(range=[0, 101], tickvals=[0, 25, 50, 75, 100], ticktext=["0", "25", "50", "75", "100"])
    return Chart(fig, failure_table(failures, unit), _summary(joints, measured))


@dataclass
class _Joint:
    """A row of the chart: where it stands, and how many of its specimens broke."""

    at: int
    name: str
    n: int = 0


class _Row(NamedTuple):
    """A part of a bar."""

    joint: _Joint
    place: str
    place_name: str
    n: int
    share: float
    mean: float
    middle: float
    turn: int


def _joints(failures: pd.DataFrame) -> dict[str, _Joint]:
    joints: dict[str, _Joint] = {}
    told = (failures[column].tolist() for column in ("joint", "joint_name", "n"))
    for joint, name, n in zip(*told, strict=True):
        joints.setdefault(joint, _Joint(len(joints), name)).n += int(n)
    return joints


def _rows(failures: pd.DataFrame, joints: dict[str, _Joint]) -> list[_Row]:
    """Row by row and place by place, each with the middle of its part of the bar."""
    known = {place: at for at, place in enumerate(look.PLACES)}
    columns = ("joint", "place", "place_name", "n", "share", "geometric_mean")
    told = sorted(
        zip(*(failures[name].tolist() for name in columns), strict=True),
        key=lambda one: (joints[one[0]].at, known.get(one[1], len(known))),
    )
    rows: list[_Row] = []
    for joint, place, name, n, share, mean in told:
        before = rows[-1] if rows and rows[-1].joint is joints[joint] else None
        start = before.middle + before.share / 2 if before else 0.0
        turn = (before.turn + 1) % len(TEXT_LANES) if before else 0
        rows.append(_Row(joints[joint], place, name, n, share, mean, start + share / 2, turn))
    return rows


def _add_place(fig: Figure, place: str, part: list[_Row], unit: str) -> None:
    fill = look.PLACES.get(place, look.UNKNOWN_PLACE)
    fig.bar(
        orientation="h",
        x=[100 * row.share for row in part],
        y=[row.joint.at + BAR_LANE for row in part],
        width=0.4,
        name=look.escape(part[0].place_name),
        marker={
            "color": fill.colour,
            "line": {"color": look.SOFT, "width": 1},
            "pattern": {
                "shape": fill.pattern,
                "fillmode": "overlay",
                "fgcolor": look.SOFT,
                "size": 7,
                "solidity": 0.15,
            },
        },
        hovertext=[
            f"{look.escape(row.joint.name)}<br>{look.escape(row.place_name)}: {row.n} of {row.joint.n}"
            f"<br>geometric mean <b>{show(row.mean, unit)}</b>"
            for row in part
        ],
        hovertemplate="%{hovertext}<extra></extra>",
    )


def _add_strengths(fig: Figure, rows: list[_Row]) -> None:
    fig.scatter(
        x=[100 * row.middle for row in rows],
        y=[row.joint.at + TEXT_LANES[row.turn] for row in rows],
        mode="text",
        text=[show(row.mean, digits=2) for row in rows],
        textfont={"size": 11.5},
        hoverinfo="skip",
        showlegend=False,
        cliponaxis=False,
    )


def failure_table(failures: pd.DataFrame, unit: str) -> pd.DataFrame:
    """The failure places as the chart's table twin has them.

    Parameters
    ----------
    failures : pandas.DataFrame
        A row a joint and place, as `failures` takes them.
    unit : str
        Unit of the geometric means, "" for a ratio.

    Returns
    -------
    pandas.DataFrame
        Columns named as a reader would.
    """
    return pd.DataFrame(
        {
            "Joint": failures["joint_name"].array,
            "Where it broke": failures["place_name"].array,
            "Specimens": failures["n"].array,
            "Share, %": 100 * failures["share"].to_numpy(float),
            f"Geometric mean{f', {unit}' if unit else ''}": failures["geometric_mean"].array,
        }
    )


def _summary(joints: dict[str, _Joint], measured: str) -> str:
    return (
        f"Where {look.counted(sum(one.n for one in joints.values()), 'broken specimen')} of"
        f" {look.counted(len(joints), 'joint')} failed. The number above each part is the geometric mean"
        f" ({measured}) of the specimens that failed there: where a joint broke says nothing of how much"
        " it took."
    )
