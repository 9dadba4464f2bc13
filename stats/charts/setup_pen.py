"""Strokes that setups are drawn with: members of wood, supports, loads, dimension lines; as SVG, and nothing else."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable

from stats.charts.look import BROKE, FONT, INK, LINE, SHEET, SOFT, escape
from stats.charts.svg_text import width

Point = tuple[float, float]

WOOD, GRAIN, IRON, GLUE, LOAD = "#ecd9b4", "#a5834c", "#c9c4ba", BROKE, "#8a2f0a"
TEXT_PX, SMALL_PX = 12.5, 11.5
WIDTH = 340.0
"""Units across, so that at 340 px one unit is one pixel."""


class Pen:
    """Collects strokes, and how far they reach."""

    def __init__(self) -> None:
        self.parts: list[str] = []
        self.low: Point = (0.0, math.inf)
        self.high: Point = (WIDTH, -math.inf)

    def reach(self, *points: Point) -> None:
        """Keep these points within the drawing."""
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        self.low = (min(self.low[0], *xs), min(self.low[1], *ys))
        self.high = (max(self.high[0], *xs), max(self.high[1], *ys))

    def line(self, *points: Point, color: str = INK, width: float = 1.2, dash: str = "") -> None:
        """A line through points."""
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        self._add(
            f'<polyline points="{_at(points)}" fill="none" stroke="{color}" stroke-width="{width:g}"{dashed}/>', points
        )

    def shape(self, points: Iterable[Point], fill: str, *, stroke: str = INK, width: float = 1.4) -> None:
        """A filled shape with these corners."""
        corners = list(points)
        self._add(
            f'<polygon points="{_at(corners)}" fill="{fill}" stroke="{stroke}" stroke-width="{width:g}" '
            'stroke-linejoin="round"/>',
            corners,
        )

    def circle(self, at: Point, r: float, fill: str = "none", *, stroke: str = INK, width: float = 1.4) -> None:
        """A circle about a point."""
        x, y = at
        self._add(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{r:g}" fill="{fill}" stroke="{stroke}" stroke-width="{width:g}"/>',
            [(x - r, y - r), (x + r, y + r)],
        )

    def text(
        self,
        at: Point,
        words: str,
        anchor: str = "middle",
        *,
        size: float = TEXT_PX,
        bold: bool = False,
        color: str = INK,
    ) -> None:
        """Words on one line, their middle at this height, with a halo that keeps lines behind them away."""
        x, y = at
        room = width(words, size, bold=bold)
        left = x - {"start": 0.0, "middle": room / 2, "end": room}[anchor]
        # What would leave the drawing is pushed back in.
        pushed = max(2.0 - left, 0.0) + min(WIDTH - 2.0 - left - room, 0.0)
        weight = ' font-weight="600"' if bold else ""
        self._add(
            f'<text x="{x + pushed:.1f}" y="{y + size * 0.35:.1f}" text-anchor="{anchor}" font-size="{size:g}"{weight} '
            f'fill="{color}" stroke="{SHEET}" stroke-width="3" paint-order="stroke">{escape(words)}</text>',
            [(left + pushed, y - size * 0.7), (left + pushed + room, y + size * 0.7)],
        )

    def member(self, start: Point, end: Point, depth: float) -> None:
        """A bar of wood between two points of its centre-line, its grain running along."""
        along, across = _unit(start, end)
        half = (across[0] * depth / 2, across[1] * depth / 2)
        a, b, c, d = (
            (p[0] + sign * half[0], p[1] + sign * half[1]) for p, sign in ((start, 1), (end, 1), (end, -1), (start, -1))
        )
        self.shape((a, b, c, d), WOOD)
        long = math.dist(start, end)
        grain = ((-0.24, 0.06, 0.72), (0.05, 0.24, 0.94), (0.3, 0.1, 0.6))
        for shift, begin, stop in grain if depth >= 14 else grain[1:2]:
            x, y = start[0] + across[0] * depth * shift, start[1] + across[1] * depth * shift
            self.line(
                *((x + along[0] * long * part, y + along[1] * long * part) for part in (begin, stop)),
                color=GRAIN,
                width=0.8,
            )

    def held(self, left: float, top: float, wide: float, high: float) -> None:
        """What does not move: a hatched block."""
        self.shape(((left, top), (left + wide, top), (left + wide, top + high), (left, top + high)), SHEET, stroke=SOFT)
        step = 7.0
        for i in range(1, math.ceil((wide + high) / step)):
            reach = i * step
            a = (left + min(reach, wide), top + max(reach - wide, 0.0))
            b = (left + max(reach - high, 0.0), top + min(reach, high))
            self.line(a, b, color=SOFT, width=0.9)

    def pin(self, tip: Point) -> None:
        """A support that lets the member turn: a triangle below its tip, on the ground."""
        x, y = tip
        self.shape(((x, y), (x - 9, y + 15), (x + 9, y + 15)), SHEET)
        self.held(x - 14, y + 15, 28, 6)

    def roller(self, tip: Point) -> None:
        """A support that lets the member turn and slide."""
        x, y = tip
        self.circle((x, y + 7), 7, SHEET)
        self.held(x - 24, y + 14, 48, 6)

    def joint(self, at: Point, label: str = "", side: str = "start", *, away: Point = (14.0, -16.0)) -> None:
        """The joint under test: a ring with a dot, which reads without its colour."""
        if label:
            to = (at[0] + away[0], at[1] + away[1])
            self.line(at, to, color=GLUE, width=1)
            self.text((to[0] + (2 if side == "start" else -2), to[1] - 2), label, side, bold=True, color=GLUE)
        self.circle(at, 8.5, "none", stroke=GLUE, width=2.4)
        self.circle(at, 1.8, GLUE, stroke=GLUE, width=0.5)

    def load(self, head: Point, direction: Point, label: str = "F", *, jack: bool = False, side: float = 1.0) -> None:
        """A force that ends at `head`; from a jack, its cylinder and ram stand behind it."""
        long = math.hypot(*direction)
        ux, uy = direction[0] / long, direction[1] / long
        nx, ny = -uy, ux
        tail = (head[0] - 38 * ux, head[1] - 38 * uy)
        self.line(tail, (head[0] - 8 * ux, head[1] - 8 * uy), color=LOAD, width=2.8)
        base = (head[0] - 12 * ux, head[1] - 12 * uy)
        self.shape(((head), (base[0] + 5.5 * nx, base[1] + 5.5 * ny), (base[0] - 5.5 * nx, base[1] - 5.5 * ny)), LOAD)
        if jack:
            self._block(tail, (-ux, -uy), 10, 7)
            self._block((tail[0] - 10 * ux, tail[1] - 10 * uy), (-ux, -uy), 20, 20)
        anchor = "start" if side > 0 else "end"
        across = 9 if abs(uy) >= abs(ux) else 0
        above = 0 if abs(uy) >= abs(ux) else -13
        middle = (head[0] - 26 * ux + side * across, head[1] - 26 * uy + above)
        self.text(middle, label, anchor if across else "middle", bold=True, color=LOAD)

    def turn(self, at: Point, label: str, r: float = 26.0) -> None:
        """A turning moment about a point: three quarters of a circle with a head."""
        x, y = at
        a, b = math.radians(-200), math.radians(40)
        start, end = ((x + r * math.cos(t), y + r * math.sin(t)) for t in (a, b))
        self._add(
            f'<path d="M{start[0]:.1f} {start[1]:.1f}A{r:g} {r:g} 0 1 1 {end[0]:.1f} {end[1]:.1f}" fill="none" '
            f'stroke="{LOAD}" stroke-width="2.8"/>',
            [(x - r, y - r), (x + r, y + r)],
        )
        tx, ty = -math.sin(b), math.cos(b)
        tip = (end[0] + 11 * tx, end[1] + 11 * ty)
        out = (math.cos(b) * 5.5, math.sin(b) * 5.5)
        self.shape((tip, (end[0] + out[0], end[1] + out[1]), (end[0] - out[0], end[1] - out[1])), LOAD)
        self.text((x, y - r - 11), label, bold=True, color=LOAD)

    def dimension(self, a: Point, b: Point, away: Point, label: tuple[str, str], side: str = "middle") -> None:
        """A dimension line between two points, moved `away` from them, with thin lines that lead there.

        The label's name and figure stand above a level line, or after it where it is too short for them; else to one
        side, under each other where one line of text would leave the drawing.
        """
        p, q = ((at[0] + away[0], at[1] + away[1]) for at in (a, b))
        far = math.hypot(*away)
        past = (away[0] / far * 4, away[1] / far * 4)
        for at, end in ((a, p), (b, q)):
            self.line(at, (end[0] + past[0], end[1] + past[1]), color=SOFT, width=0.8)
        self.line(p, q, width=1.1)
        along, across = _unit(p, q)
        slant = ((along[0] + across[0]) * 4, (along[1] + across[1]) * 4)
        for end in (p, q):
            self.line((end[0] - slant[0], end[1] - slant[1]), (end[0] + slant[0], end[1] + slant[1]), width=1.6)
        x, y = (p[0] + q[0]) / 2, (p[1] + q[1]) / 2
        whole = " ".join(part for part in label if part)
        if side == "middle":
            short = math.dist(p, q) < width(whole, TEXT_PX) + 8
            self.text(*(((max(p[0], q[0]) + 8, y), whole, "start") if short else ((x, y - 9), whole)))
            return
        x += 8 if side == "start" else -8
        room = WIDTH - x if side == "start" else x
        lines = [whole] if width(whole, TEXT_PX) <= room - 2 else [part for part in label if part]
        for i, line in enumerate(lines):
            self.text((x, y + 14 * (i - (len(lines) - 1) / 2)), line, side)

    def below(self, lines: Iterable[str]) -> None:
        """Notes under the drawing, folded to its width."""
        y = self.high[1] + 16
        for line in lines:
            for piece in textwrap.wrap(line, 52, break_long_words=True) or [""]:
                self.text((4, y), piece, "start", size=SMALL_PX, color=SOFT)
                y += 15

    def to_svg(self, name: str, title: str, words: str) -> str:
        """The drawing by itself; `name` sets its ids apart from others on a page."""
        x, y = self.low[0], self.low[1] - 4
        wide, high = self.high[0] - x, self.high[1] + 6 - y
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{x:.1f} {y:.1f} {wide:.1f} {high:.1f}" role="img" '
            f'aria-labelledby="{name}-title {name}-desc" font-family="{escape(FONT).replace(chr(34), "&quot;")}">'
            f'<title id="{name}-title">{escape(title)}</title><desc id="{name}-desc">{escape(words)}</desc>'
            f'<rect x="{x:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{high:.1f}" fill="{SHEET}" stroke="{LINE}" '
            f'stroke-width="0"/>{"".join(self.parts)}</svg>'
        )

    def _block(self, at: Point, back: Point, long: float, wide: float) -> None:
        """A part of a jack, from a point backwards."""
        nx, ny = -back[1] * wide / 2, back[0] * wide / 2
        end = (at[0] + back[0] * long, at[1] + back[1] * long)
        self.shape(
            (
                (at[0] + nx, at[1] + ny),
                (end[0] + nx, end[1] + ny),
                (end[0] - nx, end[1] - ny),
                (at[0] - nx, at[1] - ny),
            ),
            IRON,
        )

    def _add(self, part: str, points: Iterable[Point]) -> None:
        self.parts.append(part)
        self.reach(*points)


def _at(points: Iterable[Point]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in points)


def _unit(start: Point, end: Point) -> tuple[Point, Point]:
    """Directions along and across."""
    long = math.dist(start, end) or 1.0
    along = ((end[0] - start[0]) / long, (end[1] - start[1]) / long)
    return along, (-along[1], along[0])
