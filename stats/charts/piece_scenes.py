"""The scenes of a piece's free-body drawing, one a kind of piece: members, supports, forces with their values."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

from stats.charts.look import SHEET
from stats.charts.setup_pen import GRAIN, LOAD, Pen, Point
from stats.footing.units import show
from stats.practice.demand import Demand, find

FLOOR = 236.0
"""Height of the floor that pieces stand on."""


@dataclass
class PieceScene:
    """A drawing on its way: the pen and what is drawn."""

    demand: Demand
    pen: Pen = field(default_factory=Pen)

    def value(self, name: str) -> float:
        """An input, as given."""
        return self.demand.inputs[name]

    def load(self, name: str) -> float:
        """A load with its factors on."""
        return self.demand.inputs[name] * self.demand.load_factor

    def symbol(self, name: str) -> str:
        """The symbol of an input."""
        return next(one.symbol for one in find(self.demand.piece).inputs if one.name == name)

    def size(self, name: str) -> tuple[str, str]:
        """What a dimension line says."""
        return self.symbol(name), f"{self.value(name):,.6g} mm".replace(",", " ")

    def force(self, head: Point, direction: Point, name: str, *, side: float = 1.0, share: str = "") -> None:
        """A load of the piece, with its value; `share` where only a part of it is drawn."""
        unit = next(one.unit for one in find(self.demand.piece).inputs if one.name == name)
        self.arrow(head, direction, f"{self.symbol(name)}{share}", "" if share else show(self.load(name), unit), side)

    def arrow(self, head: Point, direction: Point, symbol: str, value: str = "", side: float = 1.0) -> None:
        """A force by its symbol and value."""
        self.pen.load(head, direction, f"{symbol} {value}".strip(), side=side)

    def joint(self, at: Point, r: float = 24.0) -> None:
        """The worst joint, and the moment it feels."""
        most = "" if self.demand.determinate else "≤ "
        if self.demand.action == "bending":
            self.pen.turn(at, f"M {most}{show(self.demand.value, self.demand.unit)}", r)
        self.pen.joint(at)

    def floor(self, left: float, right: float, y: float = FLOOR) -> None:
        """The ground, from left to right."""
        self.pen.held(left, y, right - left, 7)


def _chair(s: PieceScene) -> list[str]:
    lean = math.radians(min(max(s.value("tilt_deg"), 6.0), 30.0))
    up = (-math.sin(lean), -math.cos(lean))
    ahead = (math.cos(lean), -math.sin(lean))
    foot = (186.0, FLOOR)

    def from_foot(along: float, forward: float = 0.0) -> Point:
        return (foot[0] + up[0] * along + ahead[0] * forward, foot[1] + up[1] * along + ahead[1] * forward)

    rail, hand, front = from_foot(92), from_foot(166), from_foot(92, 96)
    s.floor(130, 300)
    s.pen.member(from_foot(4), from_foot(186), 13)
    s.pen.member(from_foot(92, 7), front, 13)
    s.pen.member((front[0] + up[0] * 6, front[1] + up[1] * 6), from_foot(8, 96), 13)
    middle = from_foot(98, 56)
    s.force(middle, (0, 1), "sitter_n")
    if s.value("back_push_n"):
        s.force((hand[0] + ahead[0] * 7, hand[1] + ahead[1] * 7), (-ahead[0], -ahead[1]), "back_push_n")
    s.arrow((foot[0], FLOOR + 8), (0, -1), "W / n", side=1.0)
    s.joint(rail, 21)
    away = (-ahead[0] * 40, -ahead[1] * 40)
    s.pen.dimension(rail, foot, away, s.size("leg_mm"), "end")
    s.pen.dimension(hand, rail, away, s.size("back_height_mm"), "end")
    return [
        "A chair tilted back stands on its rear legs alone; the sitter's weight is on the seat and pushes the back."
    ]


def _legs(s: PieceScene, left: float, right: float, top: float, depth: float = 20.0) -> None:
    """A rail between two legs on the floor."""
    for x in (left, right):
        s.pen.member((x, FLOOR), (x, top - depth / 2), 16)
    s.pen.member((left + 8, top), (right - 8, top), depth)
    s.floor(left - 24, right + 24)


def _seat(s: PieceScene) -> list[str]:
    left, right, top = 78.0, 262.0, 116.0
    _legs(s, left, right, top)
    s.force(((left + right) / 2, top - 10), (0, 1), "load_n", share=" / n")
    for x, side in ((left, -1.0), (right, 1.0)):
        s.arrow((x, FLOOR + 10), (0, -1), "V", side=side)
    s.joint((left + 8, top))
    s.pen.joint((right - 8, top))
    s.pen.dimension((left + 8, top + 10), (right - 8, top + 10), (0, 30), s.size("span_mm"))
    return ["A rail between two legs carries its share of the load in the middle; each end takes half of that."]


def _bed(s: PieceScene) -> list[str]:
    left, right, top = 70.0, 270.0, 128.0
    _legs(s, left, right, top, 24)
    span = right - left - 16
    at = left + 8 + span * min(max(s.value("position_mm") / s.value("span_mm"), 0.16), 0.5)
    s.force((at, top - 12), (0, 1), "load_n")
    s.arrow((left, FLOOR + 10), (0, -1), "V", show(s.demand.shear_n, "N"), 1.0)
    s.joint((left + 8, top), 22)
    s.pen.joint((right - 8, top))
    s.pen.dimension((left + 8, top + 12), (at, top + 12), (0, 24), s.size("position_mm"))
    s.pen.dimension((left + 8, top + 12), (right - 8, top + 12), (0, 52), s.size("span_mm"))
    return ["A long rail between two posts carries a weight that stands nearer to one of them."]


def _table(s: PieceScene) -> list[str]:
    left, right, top = 82.0, 212.0, 84.0
    _legs(s, left, right, top, 22)
    s.pen.member((left - 22, top - 17), (right + 22, top - 17), 10)
    if s.value("lower_rails"):
        s.pen.member((left + 8, FLOOR - 24), (right - 8, FLOOR - 24), 14)
    s.force((left - 22, top - 17), (1, 0), "push_n", side=-1.0)
    for x in (left, right):
        s.arrow((x - 8, FLOOR - 5), (-1, 0), "")
        s.pen.text((x + 12, FLOOR - 16), "H / n", "start", bold=True, color=LOAD)
    s.joint((right - 8, top), 22)
    s.pen.joint((left + 8, top))
    low = FLOOR - 24 if s.value("lower_rails") else FLOOR
    s.pen.dimension((right + 8, top), (right + 8, low), (50, 0), s.size("height_mm"), "start")
    s.pen.dimension((left, FLOOR + 8), (right, FLOOR + 8), (0, 20), s.size("apron_mm"))
    return ["A table is pushed sideways at its top; each leg holds back its share at the floor."]


def _bookcase(s: PieceScene) -> list[str]:
    left, right, top, bottom = 124.0, 240.0, 54.0, FLOOR - 10
    shelves = int(min(s.value("fixed_shelves"), 6))
    for x in (left, right):
        s.pen.member((x, FLOOR), (x, top - 8), 12)
    heights = [bottom + (top - bottom) * i / (shelves - 1) for i in range(shelves)]
    for y in heights:
        s.pen.member((left + 6, y), (right - 6, y), 11)
        for x in (left + 6, right - 6):
            s.pen.joint((x, y))
    s.floor(left - 30, right + 30)
    s.force((left - 6, top), (1, 0), "push_n", side=-1.0)
    s.arrow((left - 6, FLOOR - 4), (-1, 0), "H", side=1.0)
    worst = heights[1] if shelves > 2 else heights[-1]
    s.joint((right - 6, worst), 20)
    s.pen.dimension((left - 6, top), (left - 6, bottom), (-38, 0), s.size("height_mm"), "end")
    s.pen.dimension((left, FLOOR + 8), (right, FLOOR + 8), (0, 20), s.size("width_mm"))
    drawn = "" if shelves == s.value("fixed_shelves") else f" {shelves} of its fixed shelves are drawn."
    return [f"A bookcase without a back is pushed sideways at its top; its foot holds it back.{drawn}"]


def _door(s: PieceScene) -> list[str]:
    left, right, top, bottom = 78.0, 222.0, 56.0, 196.0
    rails = int(min(s.value("rails"), 5))
    for x in (left, right):
        s.pen.member((x, bottom + 14), (x, top - 14), 20)
    heights = [top + (bottom - top) * i / (rails - 1) for i in range(rails)]
    for y in heights:
        s.pen.member((left + 10, y), (right - 10, y), 20)
    s.pen.held(left - 34, top - 18, 12, bottom - top + 36)
    for y in (top + 10, bottom - 10):
        s.pen.line((left - 22, y), (left - 10, y), width=4)
        s.pen.circle((left - 16, y), 4, SHEET)
    middle = (left + right) / 2
    s.force((middle, (top + bottom) / 2 + 50), (0, 1), "weight_n")
    if s.value("load_n"):
        s.force((right, (top + bottom) / 2 - 4), (0, 1), "load_n", side=-1.0)
    s.joint((left + 10, bottom), 22)
    s.pen.joint((left + 10, top))
    s.arrow((left + 20, top - 24), (-1, 0), "")
    s.pen.text((left + 64, top - 24), f"N {show(s.demand.axial_n, 'N')}", "start", bold=True, color=LOAD)
    s.pen.dimension((left, bottom + 14), (right, bottom + 14), (0, 30), s.size("width_mm"))
    s.pen.dimension((right, top), (right, bottom), (30, 0), s.size("height_mm"), "start")
    return ["A frame hangs by its left stile; its own weight and what hangs on the far edge pull it down."]


def _frame(s: PieceScene) -> list[str]:
    left, right, top, bottom = 100.0, 220.0, 66.0, 196.0
    for y in (top, bottom):
        s.pen.member((left + 9, y), (right - 9, y), 18)
    for x in (left, right):
        s.pen.member((x, bottom + 9), (x, top - 9), 18)
    s.pen.held(left - 20, bottom + 9, right - left + 40, 8)
    s.force((left - 9, top), (1, 0), "push_n", side=-1.0)
    s.arrow((left - 9, bottom), (-1, 0), "H", side=1.0)
    for at in ((left, top), (left, bottom), (right, bottom)):
        s.pen.joint(at)
    s.joint((right, top), 22)
    s.pen.dimension((right, top), (right, bottom), (36, 0), s.size("height_mm"), "start")
    s.pen.dimension((left, bottom + 17), (right, bottom + 17), (0, 18), s.size("width_mm"))
    return ["A frame with nothing in it, its lower rail held, is pushed along its upper rail."]


def _shelf(s: PieceScene) -> list[str]:
    left, right, y = 72.0, 268.0, 130.0
    for x in (left, right):
        s.pen.member((x, 210), (x, 52), 16)
    s.pen.member((left + 8, y), (right - 8, y), 16)
    if s.value("line_load_n_m"):
        for i in range(7):
            x = left + 44 + (right - left - 74) * i / 6
            s.pen.line((x, y - 34), (x, y - 12), color=LOAD, width=1.6)
            s.pen.shape([(x, y - 8), (x - 3.5, y - 16), (x + 3.5, y - 16)], LOAD)
        s.pen.line((left + 44, y - 34), (right - 30, y - 34), color=LOAD, width=1.6)
        words = f"w {show(s.load('line_load_n_m'), 'N/m')}"
        s.pen.text(((left + right) / 2 + 14, y - 46), words, "start", bold=True, color=LOAD)
    if s.value("load_n"):
        # It stands on the spread load, where there is one, so that the two are told apart.
        resting = 36 if s.value("line_load_n_m") else 8
        s.force(((left + right) / 2, y - resting), (0, 1), "load_n", side=-1.0)
    s.joint((left + 8, y), 20)
    s.pen.joint((right - 8, y))
    s.arrow((right - 8, y + 12), (0, -1), "V", show(s.demand.shear_n, "N"), -1.0)
    s.pen.dimension((left + 8, y + 8), (right - 8, y + 8), (0, 62), s.size("span_mm"))
    return ["A loaded shelf is held by two uprights at its ends."]


def _drawer(s: PieceScene) -> list[str]:
    left, right, front = 48.0, 228.0, 150.0
    for x in (left, right):
        s.pen.member((x, 44), (x, front - 9), 13)
    s.pen.member((left - 12, front), (right + 12, front), 18)
    s.pen.line((left + 7, 58), (right - 7, 58), color=GRAIN, dash="4 3")
    middle = (left + right) / 2
    part = min(2 * s.value("offset_mm") / s.value("width_mm"), 0.8)
    at = middle + part * (right - left) / 2
    s.force((at, front + 52), (0, 1), "pull_n", side=-1.0)
    s.joint((right, front))
    s.pen.joint((left, front))
    s.arrow((right, front - 48), (0, -1), "N ≤", show(s.demand.value, "N"), 1.0)
    s.pen.dimension((left, front + 10), (right, front + 10), (0, 62), s.size("width_mm"))
    if s.value("offset_mm"):
        s.pen.dimension((middle, front - 10), (at, front - 10), (0, -16), s.size("offset_mm"))
    return ["A drawer seen from above: its front is pulled, and its two corners hold the sides to it."]


def _arm(s: PieceScene) -> list[str]:
    face, at, y = 96.0, 262.0, 92.0
    s.pen.member((face - 15, 176), (face - 15, 22), 30)
    s.pen.held(face - 52, 176, 74, 10)
    s.pen.member((face, y), (at + 12, y), 22)
    tilt = math.radians(min(max(s.value("angle_deg"), -60.0), 60.0))
    s.force((at, y - 11), (-math.sin(tilt), math.cos(tilt)), "load_n", side=-1.0)
    s.joint((face, y))
    s.pen.dimension((face, y + 11), (at, y + 11), (0, 40), s.size("arm_mm"))
    return ["An arm reaches out from what holds it and is loaded across at its end."]


SCENES: dict[str, Callable[[PieceScene], list[str]]] = {
    "chair_leaned": _chair,
    "seat": _seat,
    "table_racking": _table,
    "shelf_fixed": _shelf,
    "bookcase_racking": _bookcase,
    "door_hung": _door,
    "frame_racked": _frame,
    "drawer_front": _drawer,
    "bed_rail": _bed,
    "arm": _arm,
}
"""Scenes by kind of piece."""
