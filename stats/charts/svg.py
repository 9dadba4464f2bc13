"""A figure drawn as SVG: what a page shows first, prints, embeds and offers for download."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any
from xml.sax.saxutils import escape

from stats.charts import svg_marks, svg_text
from stats.charts.figure import Figure
from stats.charts.svg_text import Run
from stats.errors import StatsError

NARROW, WIDE = 350, 760
"""Widths that hold on a phone and on a desk [px]."""
NARROWEST, WIDEST = 340, 1600
EDGE = 10
SWATCH = 26
TICK_SIZE, LABEL_SIZE, TITLE_SIZE, LEGEND_SIZE = 11.5, 12.5, 13.5, 12.0
LEGEND_LINE = 19
Place = tuple[float, float] | None


@dataclass(frozen=True)
class _Plan:
    """Where everything goes [px]."""

    width: int
    title: list[list[Run]]
    meaning: list[list[Run]]
    axis: list[list[Run]]
    legend: list[list[tuple[float, dict[str, Any], list[Run]]]]
    foot: list[list[Run]]
    left: float
    top: float
    plot_height: float

    @property
    def plot_width(self) -> float:
        return self.width - self.left - EDGE - 6

    @property
    def axis_top(self) -> float:
        return self.top + self.plot_height

    @property
    def legend_top(self) -> float:
        return self.axis_top + (28 + 16 * len(self.axis) if self.axis else 8)

    @property
    def foot_top(self) -> float:
        return self.legend_top + LEGEND_LINE * len(self.legend) + 4

    @property
    def height(self) -> int:
        return math.ceil(self.foot_top + 15 * len(self.foot) + 8)


def size(figure: Figure, width: int, foot: str = "") -> tuple[int, int]:
    """Width and height of the drawing [px].

    Parameters
    ----------
    figure : Figure
        Laid out by one of `stats.charts.layout`.
    width : int
        Width [px], 340 to 1600.
    foot : str, optional
        The last line.

    Returns
    -------
    (int, int)

    Raises
    ------
    StatsError
        If the width is out of range.
    """
    return width, _plan(figure, width, foot).height


def draw(figure: Figure, width: int, summary: str, foot: str = "") -> str:
    """The figure as one SVG element that needs nothing else.

    Parameters
    ----------
    figure : Figure
        Laid out by one of `stats.charts.layout`.
    width : int
        Width [px], 340 to 1600.
    summary : str
        What is drawn, for those who don't see it.
    foot : str, optional
        A last line.

    Returns
    -------
    str

    Raises
    ------
    StatsError
        If the width is out of range.
    """
    plan = _plan(figure, width, foot)
    layout = figure.layout
    along, down = _scales(figure, plan)
    name = escape("".join(run.text for line in plan.title for run in line), {"&amp;": "&"})
    faces = _font(layout).replace('"', "&apos;")
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{plan.width}" height="{plan.height}"'
        f' viewBox="0 0 {plan.width} {plan.height}" role="img" font-family="{faces}">',
        f"<title>{name}</title><desc>{escape(summary)}</desc>",
        f'<rect width="100%" height="100%" fill="{_look(layout)["paper_bgcolor"]}"/>',
        *_lines(plan.title, EDGE, 22, 17, _ink(layout)),
        *_lines(plan.meaning, EDGE, 22 + 17 * len(plan.title), 16, _ink(layout)),
        *_axes(layout, plan, along, down),
        *_shapes(layout["shapes"], plan, along, down, below=True),
    ]
    below: dict[float, float] = {}
    for i, trace in enumerate(figure.data):
        if trace["type"] == "bar":
            parts += _bars(trace, i, along, down, below)
        else:
            parts += _trace(trace, along, down, _colour(layout, i))
    parts += _shapes(layout["shapes"], plan, along, down, below=False)
    parts += _legend(plan, layout)
    parts += _lines(plan.foot, EDGE, plan.foot_top + 10, 15, _soft(layout))
    return "".join(parts) + "</svg>"


def _plan(figure: Figure, width: int, foot: str) -> _Plan:
    if not NARROWEST <= width <= WIDEST:
        raise StatsError(f"width ({width}) must be {NARROWEST} to {WIDEST} px.")
    layout, room = figure.layout, width - 2 * EDGE
    kind = layout["meta"]["kind"]
    title = svg_text.fold(layout["title"]["text"], TITLE_SIZE, room)
    meaning = svg_text.fold(layout["title"]["subtitle"]["text"], 12, room)
    labels = layout["yaxis"].get("ticktext", []) if kind != "free" else []
    label_size = LABEL_SIZE if kind == "rows" else TICK_SIZE
    widest = _widest(tuple(labels), label_size)
    return _Plan(
        width=width,
        title=title,
        meaning=meaning,
        axis=svg_text.fold(layout["meta"].get("axis", layout["xaxis"].get("title", {}).get("text", "")), 13, room)
        if kind != "free"
        else [],
        legend=_legend_lines(figure, room),
        foot=svg_text.fold(foot, 11, room) if foot else [],
        left=EDGE + (widest + 12 if widest else 0),
        top=26 + 17 * len(title) + 16 * (len(meaning) - 1) + (8 if kind == "rows" else 12),
        plot_height=float(layout["meta"]["rows_px"]),
    )


@lru_cache(maxsize=256)
def _widest(labels: tuple[str, ...], size: float) -> float:
    """Room that the longest line of any label takes [px]; asked for at each width of a drawing."""
    return max((svg_text.line_width(line) for text in labels for line in svg_text.lines(text, size)), default=0.0)


def _legend_lines(figure: Figure, room: float) -> list[list[tuple[float, dict[str, Any], list[Run]]]]:
    """The legend's entries, as many a line as fit: where each starts, its trace, its words."""
    lines: list[list[tuple[float, dict[str, Any], list[Run]]]] = []
    at = room + 1.0
    if not figure.layout.get("showlegend", True):
        return lines
    for trace in figure.data:
        if trace.get("showlegend") is False or not trace.get("name"):
            continue
        words = [run for line in svg_text.lines(trace["name"], LEGEND_SIZE) for run in line]
        needs = SWATCH + svg_text.line_width(words) + 14
        if at + needs - 14 > room:
            lines.append([])
            at = 0.0
        lines[-1].append((at, trace, words))
        at += needs
    return lines


def _scales(figure: Figure, plan: _Plan) -> tuple[Callable[[Any], float], Callable[[Any], float]]:
    """From a value to its place [px], along and down."""
    x, y = figure.layout["xaxis"], figure.layout["yaxis"]
    return (
        _scale(x, plan.left, plan.left + plan.plot_width),
        _scale(y, plan.top + plan.plot_height, plan.top),
    )


def _scale(axis: dict[str, Any], start: float, end: float) -> Callable[[Any], float]:
    low, high = axis["range"]
    log = axis.get("type") == "log"

    def place(value: Any) -> float:
        at = math.log10(value) if log else float(value)
        return float(start + (at - low) / (high - low) * (end - start))

    return place


_Place = Callable[[Any], float]  # where along or down an axis a value of it stands [px]


def _axes(layout: dict[str, Any], plan: _Plan, along: _Place, down: _Place) -> list[str]:
    """Grid, ticks and labels."""
    kind, ink = layout["meta"]["kind"], _ink(layout)
    if kind == "free":
        return []
    grid, foot = _look(layout)["xaxis"]["gridcolor"], plan.axis_top
    right = plan.left + plan.plot_width
    parts = []
    for value, text in zip(layout["xaxis"]["tickvals"], layout["xaxis"]["ticktext"], strict=True):
        x = along(value)
        if plan.left - 1 <= x <= right + 1:
            parts.append(f'<path d="M{x:.1f} {plan.top:.1f}V{foot + 4:.1f}" stroke="{grid}"/>')
            parts.append(svg_text.element([Run(text, False, TICK_SIZE)], x, foot + 17, ink, "middle"))
    parts.append(f'<path d="M{plan.left:.1f} {foot:.1f}H{right:.1f}" stroke="{grid}"/>')
    middle = plan.left + plan.plot_width / 2
    widest = max((svg_text.line_width(line) for line in plan.axis), default=0)
    middle = min(max(middle, EDGE + widest / 2), plan.width - EDGE - widest / 2)
    parts += _lines(plan.axis, middle, foot + 36, 16, ink, "middle")
    for value, text in zip(layout["yaxis"]["tickvals"], layout["yaxis"]["ticktext"], strict=True):
        y = down(value)
        if kind == "xy":
            if plan.top - 1 <= y <= foot + 1:
                parts.append(f'<path d="M{plan.left:.1f} {y:.1f}H{right:.1f}" stroke="{grid}"/>')
                parts.append(svg_text.element([Run(text, False, TICK_SIZE)], plan.left - 6, y + 4, ink, "end"))
            continue
        lines = svg_text.lines(text, LABEL_SIZE)
        parts += _lines(lines, plan.left - 10, y + 4.5 - 7.5 * (len(lines) - 1), 15, ink, "end")
    return parts


def _shapes(shapes: list[dict[str, Any]], plan: _Plan, along: _Place, down: _Place, *, below: bool) -> list[str]:
    """Lines over the whole chart, those behind the marks or those before them."""
    parts = []
    for shape in shapes:
        if (shape.get("layer") == "below") != below:
            continue
        if shape["xref"] == "paper":
            # A rule between rows runs under their labels too.
            y = down(shape["y0"])
            ends = [(EDGE if below else plan.left, y), (plan.left + plan.plot_width, y)]
        else:
            x = along(shape["x0"])
            ends = [(x, plan.top), (x, plan.axis_top)]
        parts.append(svg_marks.line({"line": shape["line"]}, list(ends), "#000"))
    return parts


def _trace(trace: dict[str, Any], along: _Place, down: _Place, colour: str) -> list[str]:
    """Lines, marks and texts of a trace."""
    mode = trace.get("mode", "markers")
    places: list[Place] = [
        (along(x), down(y)) if svg_marks.finite(x) and svg_marks.finite(y) else None
        for x, y in zip(trace["x"], trace["y"], strict=True)
    ]
    parts = []
    if "lines" in mode:
        parts.append(svg_marks.line(trace, places, colour))
    if "markers" in mode:
        parts += svg_marks.marks(trace, places, colour)
    if "text" in mode:
        parts += _texts(trace, places)
    return parts


def _texts(trace: dict[str, Any], places: Iterable[Place]) -> list[str]:
    font = trace.get("textfont", {})
    anchor, rise = {
        "top center": ("middle", -9.0),
        "bottom center": ("middle", 18.0),
        "middle right": ("start", 4.0),
        "middle left": ("end", 4.0),
    }.get(trace.get("textposition", "middle center"), ("middle", 4.0))
    aside = {"start": 9.0, "end": -9.0}.get(anchor, 0.0)
    parts = []
    for i, place in enumerate(places):
        text = str(svg_marks.one_of(trace["text"], i, ""))
        if place is None or not text:
            continue
        hue = str(svg_marks.one_of(font.get("color"), i, "#23201b"))
        lines = svg_text.lines(text, font.get("size", 12))
        up = 15 * (len(lines) - 1) * (1 if rise < 0 else 0.5 if rise == 4 else 0)
        parts += _lines(lines, place[0] + aside, place[1] + rise - up, 15, hue, anchor)
    return parts


def _bars(trace: dict[str, Any], i: int, along: _Place, down: _Place, below: dict[float, float]) -> list[str]:
    """Bars lying on their side, each after what already lies in its row."""
    pattern, paint = svg_marks.fill(trace["marker"], f"hatch-{i}")
    edge = trace["marker"].get("line", {})
    parts = [f"<defs>{pattern}</defs>"] if pattern else []
    for x, y in zip(trace["x"], trace["y"], strict=True):
        if not svg_marks.finite(x):
            continue
        row = round(y, 6)
        start = below.get(row, 0.0)
        below[row] = start + x
        left, right = along(start), along(start + x)
        top, foot = sorted((down(y - trace["width"] / 2), down(y + trace["width"] / 2)))
        parts.append(
            f'<rect x="{left:.1f}" y="{top:.1f}" width="{right - left:.1f}" height="{foot - top:.1f}" fill="{paint}"'
            f' stroke="{edge.get("color", "none")}" stroke-width="{edge.get("width", 0):g}"/>'
        )
    return parts


def _legend(plan: _Plan, layout: dict[str, Any]) -> list[str]:
    parts = []
    for i, entries in enumerate(plan.legend):
        y = plan.legend_top + LEGEND_LINE * i + 8
        for at, trace, words in entries:
            x = EDGE + at
            parts += _swatch(trace, x, y)
            parts.append(svg_text.element(words, x + SWATCH, y + 4.2, _ink(layout)))
    return parts


def _swatch(trace: dict[str, Any], x: float, y: float) -> list[str]:
    """A sample of a trace's look."""
    middle = x + SWATCH / 2 - 4
    if trace["type"] == "bar":
        pattern, paint = svg_marks.fill(trace["marker"], f"sample-{x:.0f}-{y:.0f}")
        box = f'<rect x="{middle - 8:.1f}" y="{y - 6:.1f}" width="16" height="12" fill="{paint}" stroke="#5f584c"/>'
        return [f"<defs>{pattern}</defs>{box}" if pattern else box]
    mode, parts = trace.get("mode", "markers"), []
    if "lines" in mode:
        parts.append(svg_marks.line(trace, [(middle - 9, y), (middle + 9, y)], "#1f6f8b"))
    if "markers" in mode:
        marker = trace.get("marker", {})
        symbol, hue = svg_marks.one_of(marker.get("symbol"), 0, "circle"), svg_marks.one_of(marker.get("color"), 0, "")
        most = min(float(svg_marks.one_of(marker.get("size"), 0, 8)), 13)
        parts.append(svg_marks.mark(symbol, (middle, y), most, hue or "#1f6f8b", marker))
    return parts


def _lines(lines: list[list[Run]], x: float, y: float, step: float, colour: str, anchor: str = "start") -> list[str]:
    return [svg_text.element(line, x, y + step * i, colour, anchor) for i, line in enumerate(lines) if line]


def _look(layout: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = layout["template"]["layout"]
    return found


def _font(layout: dict[str, Any]) -> str:
    return str(_look(layout)["font"]["family"])


def _ink(layout: dict[str, Any]) -> str:
    return str(_look(layout)["font"]["color"])


def _soft(layout: dict[str, Any]) -> str:
    return str(_look(layout)["hoverlabel"]["bordercolor"])


def _colour(layout: dict[str, Any], i: int) -> str:
    order = _look(layout)["colorway"]
    return str(order[i % len(order)])
