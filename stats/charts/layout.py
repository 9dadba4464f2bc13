"""Layouts of a chart: rows with a label each, two axes of numbers, or none; with its title, legend and scales."""

from __future__ import annotations

from typing import Any

import numpy as np

from stats.charts.figure import Figure
from stats.charts.look import BROKE, FLAGGED, FONT, HELD, INK, LINE, SHEET, SOFT, escape, wrap
from stats.charts.ticks import linear_ticks, log_ticks, tick_text

TITLE_PX = 60
"""Room above the rows for the title: two lines, starting at the left edge so that a phone holds them."""
AXIS_PX = 52
"""Room below the rows for the axis' numbers and its symbol."""


def template() -> dict[str, Any]:
    """Plotly template of the look.

    Returns
    -------
    dict
        Paper, ink, grid, hover and colour order.
    """
    axis = {
        "gridcolor": LINE,
        "linecolor": LINE,
        "zeroline": False,
        "ticks": "outside",
        "tickcolor": LINE,
        "ticklen": 4,
        "automargin": True,
        "title": {"standoff": 10, "font": {"size": 13}},
    }
    return {
        "layout": {
            "paper_bgcolor": SHEET,
            "plot_bgcolor": SHEET,
            "font": {"family": FONT, "size": 12.5, "color": INK},
            "colorway": [BROKE, HELD, FLAGGED, INK],
            "hoverlabel": {"bgcolor": SHEET, "bordercolor": SOFT, "font": {"color": INK}, "align": "left"},
            "xaxis": axis,
            "yaxis": axis,
        }
    }


def rows_layout(
    fig: Figure, labels: list[str], title: str, meaning: str, axis: str, within: str = "", *, log: bool
) -> None:
    """Lay out a chart with one labelled row a joint and the legend below, readable at 390 px.

    Parameters
    ----------
    fig : Figure
        Changed in place. Row i lies at y = i, the first on top.
    labels : list of str
        Label of each row, from `row_label`.
    title, meaning : str
        What is measured, with its unit; what the marks or bars mean.
    axis, within : str
        Symbol and unit, for the axis itself; what all that is drawn has in common ("" for nothing).
    log : bool
        Whether x is logarithmic.

    Notes
    -----
    ``layout.meta`` holds the height of the rows and of the axis, so that whoever draws a wide chart can give less
    room to its legend. As it stands the figure has room for a legend of one entry a line.
    """
    count = max(len(labels), 1)
    lines = max((label.count("<br>") + 1 for label in labels), default=1)
    axis_lines = [escape(axis), *(wrap(within, 30).split("<br>") if within else [])]
    axis_px = AXIS_PX + 17 * (len(axis_lines) - 1)
    _frame(fig, title, meaning, "rows", count * max(72, 17 * lines + 10), axis_px)
    # In one go: adding lines one by one copies the list of all before each time.
    fig.layout["shapes"] += map(_rule, range(1, len(labels)))
    fig.update_yaxes(
        tickvals=list(range(len(labels))),
        ticktext=labels,
        range=[count - 0.5, -0.5],
        showgrid=False,
        ticks="",
        ticklabelstandoff=8,
        fixedrange=True,
    )
    fig.update_xaxes(title={"text": "<br>".join(axis_lines)}, fixedrange=True, tickangle=0, tickfont={"size": 11.5})
    # Whoever knows the width folds it anew.
    fig.layout["meta"]["axis"] = "<br>".join([escape(axis), escape(within)] if within else [escape(axis)])
    _scale(fig, "x", log)


def xy_layout(
    fig: Figure,
    title: str,
    meaning: str,
    x_title: str,
    y_title: str,
    *,
    log_x: bool = False,
    log_y: bool = False,
    height: int = 320,
) -> None:
    """Lay out a chart with two axes of numbers and the legend below.

    Parameters
    ----------
    fig : Figure
        Changed in place.
    title, meaning : str
        What is shown; what the marks or lines mean.
    x_title, y_title : str
        Quantity and unit of each axis; that of y stands above the axis, where it needs no turned letters.
    log_x, log_y : bool, optional
        Whether an axis is logarithmic.
    height : int, optional
        Height of the plot alone [px].
    """
    _frame(fig, title, f"{meaning}; upwards: {y_title}" if meaning else f"upwards: {y_title}", "xy", height, AXIS_PX)
    fig.update_xaxes(title={"text": escape(x_title)}, fixedrange=True, tickangle=0, tickfont={"size": 11.5})
    fig.update_yaxes(fixedrange=True, tickfont={"size": 11.5})
    _scale(fig, "x", log_x)
    _scale(fig, "y", log_y)


def free_layout(
    fig: Figure, title: str, meaning: str, *, height: int, x: tuple[float, float], y: tuple[float, float]
) -> None:
    """Lay out a drawing without axes, such as a graph of nodes and edges.

    Parameters
    ----------
    fig : Figure
        Changed in place.
    title, meaning : str
        What is shown; what the marks or lines mean.
    height : int
        Height of the drawing alone [px].
    x, y : (float, float)
        Ends of what is shown, left to right and bottom to top.
    """
    _frame(fig, title, meaning, "free", height, 0)
    for update, ends in ((fig.update_xaxes, x), (fig.update_yaxes, y)):
        update(range=list(ends), visible=False, fixedrange=True)


def _frame(fig: Figure, title: str, meaning: str, kind: str, rows_px: int, axis_px: int) -> None:
    """Title above, legend below, and between them the plot of that height and its axis."""
    entries = sum(trace.get("showlegend") is not False for trace in fig.data)
    bottom = axis_px + 20 * entries + 8
    fig.update_layout(
        template=template(),
        height=rows_px + bottom + TITLE_PX,
        margin={"l": 8, "r": 14, "t": TITLE_PX, "b": bottom},
        title={
            "text": f"<b>{escape(title)}</b>",
            "font": {"size": 13.5},
            "subtitle": {"text": escape(meaning), "font": {"size": 12, "color": INK}},
            "x": 0.0,
            "xref": "container",
            "xanchor": "left",
            "pad": {"l": 10, "t": 12},
            "y": 1.0,
            "yref": "container",
            "yanchor": "top",
        },
        showlegend=entries > 0,
        dragmode=False,
        hovermode="closest",
        legend={
            "orientation": "h",
            "yref": "container",
            "y": 0.0,
            "yanchor": "bottom",
            "x": 0.0,
            "xref": "container",
            "font": {"size": 12},
            "itemclick": False,
            "itemdoubleclick": False,
        },
        meta={"kind": kind, "rows_px": rows_px, "axis_px": axis_px},
    )


def _scale(fig: Figure, letter: str, log: bool) -> None:
    """Range and ticks of an axis, from all that is drawn along it."""
    drawn = [value for trace in fig.data for value in trace.get(letter) or () if value is not None]
    drawn += [shape[f"{letter}0"] for shape in fig.layout["shapes"] if shape[f"{letter}ref"] == letter]
    if log:
        shown = [value for value in drawn if value > 0] or [1.0]
        low, high = min(shown), max(shown)
        # A line that ends at the very edge would look cut off.
        room = max(0.06 * np.log10(high / low), 0.03)
        ends = [float(np.log10(low) - room), float(np.log10(high) + room)]
        ticks, kind = log_ticks(low, high), "log"
    else:
        low, high = min(drawn, default=0.0), max(drawn, default=1.0)
        room = 0.06 * (high - low) or 0.5
        ends, ticks, kind = [low - room, high + room], linear_ticks(low - room, high + room), "linear"
    axis = {"type": kind, "range": ends, "tickvals": ticks, "ticktext": [tick_text(tick) for tick in ticks]}
    fig.update_layout(**{f"{letter}axis": axis})


def _rule(i: int) -> dict[str, Any]:
    """The thin line above row i."""
    return {
        "type": "line",
        "xref": "paper",
        "x0": 0,
        "x1": 1,
        "y0": i - 0.5,
        "y1": i - 0.5,
        "line": {"color": LINE, "width": 1},
        "layer": "below",
    }
