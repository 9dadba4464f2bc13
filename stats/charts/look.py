"""One look for every chart: palette, marks, labels and layout."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import Any

import numpy as np
import plotly.graph_objects as go
from numpy.typing import NDArray

# The page's own colours, see the tokens in the style sheet.
SHEET = "#ffffff"
INK = "#23201b"
SOFT = "#5f584c"
LINE = "#d9d0bf"
FONT = 'system-ui, -apple-system, "Segoe UI", Roboto, "DejaVu Sans", sans-serif'

# Marks. The hues follow the blue / vermillion / purple order that colour-blind readers tell apart (Okabe and
# Ito, "Color universal design", 2002), darkened to stand on white; each has a shape of its own besides.
BROKE = "#1f6f8b"
HELD = "#b8500f"
FLAGGED = "#8c3a75"

MOST_MARKS = 5_000
"""Beyond so many marks a chart draws each joint's spread instead of its specimens."""

TITLE_PX = 60
"""Room above the rows for the title: two lines, starting at the left edge so that a phone holds them."""
AXIS_PX = 52
"""Room below the rows for the axis' numbers and its symbol."""


@dataclass(frozen=True)
class Fill:
    """Colour and hatching of a share, the two together so that neither is needed alone."""

    colour: str
    pattern: str
    text: str = INK


# Light fills, so that ink on them reads; hatching tells apart what a reader's eyes or printer may merge.
PLACES: dict[str, Fill] = {
    "bond_line": Fill("#7fb7d4", ""),
    "wood_beside_bond": Fill("#eab879", "/"),
    "tenon_or_fastener": Fill("#9ccbb3", "."),
    "socket_wall": Fill("#d9a0c3", "x"),
    "member": Fill("#efe08e", "-"),
    "mixed": Fill("#c9c4ba", "+"),
}
UNKNOWN_PLACE = Fill("#ffffff", "\\")


def template() -> go.layout.Template:
    """Plotly template of the look.

    Returns
    -------
    plotly.graph_objects.layout.Template
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
    return go.layout.Template(
        layout={
            "paper_bgcolor": SHEET,
            "plot_bgcolor": SHEET,
            "font": {"family": FONT, "size": 12.5, "color": INK},
            "colorway": [BROKE, HELD, FLAGGED, INK],
            "hoverlabel": {"bgcolor": SHEET, "bordercolor": SOFT, "font": {"color": INK}, "align": "left"},
            "xaxis": axis,
            "yaxis": axis,
        }
    )


def log_ticks(low: float, high: float) -> list[float]:
    """Round numbers to label a logarithmic axis with, four or so whatever its range.

    Parameters
    ----------
    low, high : float
        Smallest and largest value shown, above zero.

    Returns
    -------
    list of float
        Ticks inside the range, rising; one step of them beyond where there would be fewer than two.

    Notes
    -----
    Powers of ten alone leave most charts with one label or none.

    Examples
    --------
    >>> log_ticks(0.03, 1.1)
    [0.05, 0.1, 0.2, 0.5, 1.0]
    >>> log_ticks(95, 180)
    [100.0, 120.0, 140.0, 160.0, 180.0]
    """
    if high / low < 3:
        rough = (high - low) / 4 or low / 4
        power = 10.0 ** np.floor(np.log10(rough))
        step = power * min((m for m in (1, 2, 5, 10)), key=lambda m: abs(np.log(m * power / rough)))
        ticks = step * np.arange(np.floor(low / step), np.ceil(high / step) + 1)
    else:
        span = high / low
        steps = (1,) if span > 1e4 else (1, 3) if span > 100 else (1, 2, 5) if span > 12 else (1, 2, 3, 5)
        powers = 10.0 ** np.arange(np.floor(np.log10(low)), np.ceil(np.log10(high)) + 1)
        ticks = np.outer(powers, steps).ravel()
    inside = ticks[(ticks >= low * 0.999) & (ticks <= high * 1.001)]
    chosen = inside if len(inside) > 1 else ticks[ticks > 0]
    return [float(f"{tick:.6g}") for tick in chosen]


def rows_layout(
    fig: go.Figure, labels: list[str], title: str, meaning: str, axis: str, within: str = "", *, log: bool
) -> None:
    """Lay out a chart with one labelled row a joint and the legend below, readable at 390 px.

    Parameters
    ----------
    fig : plotly.graph_objects.Figure
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
    ``layout.meta`` holds the height of the rows and of the axis, so that the drawing script can give a wide
    chart less room for its legend. As it stands the figure has room for a legend of one entry a line.
    """
    count = max(len(labels), 1)
    lines = max((label.count("<br>") + 1 for label in labels), default=1)
    rows_px = count * max(72, 17 * lines + 10)
    axis_lines = [escape(axis), *(wrap(within, 30).split("<br>") if within else [])]
    axis_px = AXIS_PX + 17 * (len(axis_lines) - 1)
    entries = sum(trace.showlegend is not False for trace in fig.data)
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
        showlegend=True,
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
        # In one go: adding lines one by one copies the list of all before each time.
        shapes=[*fig.layout.shapes, *map(_rule, range(1, len(labels)))],
        meta={"rows_px": rows_px, "axis_px": axis_px},
    )
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
    if log:
        shown = [x for trace in fig.data for x in trace.x or () if x is not None and x > 0] or [1.0]
        low, high = min(shown), max(shown)
        ticks = log_ticks(low, high)
        # A line that ends at the very edge would look cut off.
        room = max(0.06 * np.log10(high / low), 0.03)
        fig.update_xaxes(
            type="log",
            range=[float(np.log10(low) - room), float(np.log10(high) + room)],
            tickvals=ticks,
            ticktext=[f"{tick:,g}".replace(",", " ") for tick in ticks],
        )


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


def wrap(text: str, width: int = 17) -> str:
    """A name broken into short lines for a chart's label.

    Parameters
    ----------
    text : str
        The name.
    width : int, optional
        Most characters a line.

    Returns
    -------
    str
        Lines joined by ``<br>``, with what would read as markup escaped.

    Examples
    --------
    >>> wrap("blind mortise and tenon")
    'blind mortise and<br>tenon'
    """
    lines = textwrap.wrap(text, width, break_long_words=False) or [""]
    return "<br>".join(escape(line) for line in lines)


def escape(text: object) -> str:
    """Text with markup made harmless: names in a chart were typed by somebody.

    Examples
    --------
    >>> escape("<b>butt</b>")
    '&lt;b&gt;butt&lt;/b&gt;'
    """
    return str(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def row_label(name: str, *lines: str) -> str:
    """Label of a row: the joint, and below it how much stands behind the row.

    Parameters
    ----------
    name : str
        Name of the joint.
    *lines : str
        Such as ``"3 studies"``, each on a line of its own.

    Returns
    -------
    str
        Markup for an axis label.

    Examples
    --------
    >>> row_label("butt", "1 study", "4 specimens")
    '<b>butt</b><br><span style="font-size:10.5px">1 study<br>4 specimens</span>'
    """
    return f'<b>{wrap(name)}</b><br><span style="font-size:10.5px">{"<br>".join(lines)}</span>'


def counted(n: int, word: str) -> str:
    """A count with its word in the right number.

    Examples
    --------
    >>> counted(1, "study"), counted(2, "study"), counted(3, "series")
    ('1 study', '2 studies', '3 series')
    """
    if n != 1 and not word.endswith("s"):
        word = word[:-1] + "ies" if word.endswith("y") else word + "s"
    return f"{n:,} {word}".replace(",", " ")


def spread(n: int, half_width: float = 0.17) -> NDArray[np.float64]:
    """Sideways places for marks that would lie on each other, the same every time.

    Parameters
    ----------
    n : int
        How many marks.
    half_width : float, optional
        Furthest from the middle.

    Returns
    -------
    ndarray, shape (n,)
        Offsets.

    Notes
    -----
    Multiples of the golden ratio's fraction fill an interval evenly for any `n`, without a random seed.

    Examples
    --------
    >>> spread(3).round(3).tolist()
    [-0.17, 0.04, -0.09]
    """
    fractions = np.modf(np.arange(n) * ((5**0.5 - 1) / 2))[0]
    return np.asarray((2 * fractions - 1) * half_width, dtype=float)


def bar_segments(low: list[Any], high: list[Any], at: list[float]) -> tuple[list[Any], list[Any]]:
    """Many horizontal bars as the points of one line, with a gap between each.

    Parameters
    ----------
    low, high : list of float or None
        Ends; a bar with an end that is None is left out.
    at : list of float
        Height of each.

    Returns
    -------
    (list, list)
        x and y.

    Examples
    --------
    >>> bar_segments([1.0, None], [2.0, 3.0], [0.0, 1.0])
    ([1.0, 2.0, None], [0.0, 0.0, None])
    """
    x: list[Any] = []
    y: list[Any] = []
    for a, b, height in zip(low, high, at, strict=True):
        if a is not None and b is not None:
            x += [a, b, None]
            y += [height, height, None]
    return x, y
