"""Where joints broke, and apart from it how much those that broke there had taken."""

from __future__ import annotations

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from stats.charts import look
from stats.charts.chart import Chart, plain
from stats.errors import StatsError
from stats.footing.units import show

# A share below this has no room for its number on a phone; the table and the hover text have it.
ROOM_FOR_TEXT = 0.08
# Lanes of a row, measured downwards from its middle. Neighbours' numbers stand in turn in two lanes.
BAR_LANE = 0.2
TEXT_LANES = (-0.14, -0.33)


def failures(failures: pd.DataFrame, *, footing: str = "", unit: str = "") -> Chart:
    """Draw the shares of the failure places of each joint, and beside each the strength of those specimens.

    Parameters
    ----------
    failures : pandas.DataFrame
        A row a joint and place: joint, joint_name, place, place_name, n, share (0 to 1), geometric_mean.
    footing, unit : str, optional
        What the geometric means measure, and in which unit.

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
    joints = failures.groupby("joint", sort=False).agg(joint_name=("joint_name", "first"), n=("n", "sum"))
    row_of = {joint: float(i) for i, joint in enumerate(joints.index)}
    order = {place: i for i, place in enumerate(look.PLACES)}
    rows = failures.assign(row=failures["joint"].map(row_of), order=failures["place"].map(order).fillna(99))
    rows = rows.sort_values(["row", "order"], kind="stable")
    rows["of"] = rows.groupby("joint")["n"].transform("sum")
    rows["middle"] = rows.groupby("joint")["share"].cumsum() - rows["share"] / 2
    rows["turn"] = rows.groupby("joint").cumcount() % len(TEXT_LANES)

    fig = go.Figure()
    for place, part in rows.sort_values("order", kind="stable").groupby("place", sort=False):
        _add_place(fig, str(place), part, unit)
    _add_strengths(fig, rows[(rows["share"] >= ROOM_FOR_TEXT) & np.isfinite(rows["geometric_mean"])])
    labels = [look.row_label(j.joint_name, look.counted(int(j.n), "specimen")) for j in joints.itertuples()]
    measured = f"{footing}{f' [{unit}]' if unit else ''}" if footing else "strength"
    look.rows_layout(
        fig,
        labels,
        "Where the broken specimens failed",
        f"numbers: geometric mean, {measured}",
        "share of the broken specimens [%]",
        log=False,
    )
    fig.update_layout(barmode="stack", legend={"traceorder": "normal"})
    fig.update_xaxes(range=[0, 101], tickvals=[0, 25, 50, 75, 100])
    return Chart(fig, failure_table(failures, unit), _summary(joints, measured))


def _add_place(fig: go.Figure, place: str, part: pd.DataFrame, unit: str) -> None:
    fill = look.PLACES.get(place, look.UNKNOWN_PLACE)
    fig.add_bar(
        orientation="h",
        x=[100 * share for share in plain(part["share"])],
        y=[row + BAR_LANE for row in part["row"]],
        width=0.4,
        name=look.escape(part["place_name"].iloc[0]),
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
            f"{look.escape(r.joint_name)}<br>{look.escape(r.place_name)}: {int(r.n)} of {int(r.of)}"
            f"<br>geometric mean <b>{show(r.geometric_mean, unit)}</b>"
            for r in part.itertuples()
        ],
        hovertemplate="%{hovertext}<extra></extra>",
    )


def _add_strengths(fig: go.Figure, rows: pd.DataFrame) -> None:
    fig.add_scatter(
        x=[100 * middle for middle in plain(rows["middle"])],
        y=[r.row + TEXT_LANES[r.turn] for r in rows.itertuples()],
        mode="text",
        text=[show(value, digits=2) for value in rows["geometric_mean"]],
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
    table = failures.assign(share=100 * failures["share"])
    columns = {
        "joint_name": "Joint",
        "place_name": "Where it broke",
        "n": "Specimens",
        "share": "Share, %",
        "geometric_mean": f"Geometric mean{f', {unit}' if unit else ''}",
    }
    return table[list(columns)].rename(columns=columns).reset_index(drop=True)


def _summary(joints: pd.DataFrame, measured: str) -> str:
    return (
        f"Where {look.counted(int(joints['n'].sum()), 'broken specimen')} of"
        f" {look.counted(len(joints), 'joint')} failed. The number above each part is the geometric mean"
        f" ({measured}) of the specimens that failed there: where a joint broke says nothing of how much"
        " it took."
    )
