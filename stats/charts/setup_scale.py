"""What a setup's drawing knows of its lengths: what was given, how long that is drawn, and whether it is to scale."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from stats.charts.setup_pen import Pen, Point

NOT_GIVEN = "not given"
# What a dimension line calls a length.
NAMES = {
    "arm_mm": "arm",
    "span_mm": "span",
    "load_offset_mm": "to load",
    "joint_offset_mm": "to joint",
    "leg_mm": "leg",
    "leg_b_mm": "other leg",
    "face_offset_mm": "to face",
    "rail_height_mm": "height",
    "bond_length_mm": "overlap",
    "ram_diameter_mm": "ram diameter",
}


def rule(value: float) -> str:
    """All the digits a rule can tell: 300, 298.45, 1 301.75."""
    return f"{float(f'{value:.6g}'):,.10g}".replace(",", " ")


@dataclass
class Scene:
    """A drawing on its way: the pen, the lengths, and whether they could be drawn to scale."""

    given: Mapping[str, Any]
    reads: str
    instrument: str
    pen: Pen = field(default_factory=Pen)
    notes: list[str] = field(default_factory=list)
    lengths_true: bool = True
    members_true: bool = True
    per_mm: float | None = None

    def number(self, name: str) -> float | None:
        """A length or number that was given and can be drawn."""
        value = self.given.get(name)
        if isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value) and value >= 0:
            return float(value)
        return None

    def scale(self, value_mm: float | None, px: float) -> None:
        """Draw this length so long; all others follow."""
        self.per_mm = px / value_mm if value_mm else None
        self.lengths_true &= self.per_mm is not None

    def px(self, name: str, usual: float, low: float, high: float) -> float:
        """A length as drawn: to scale where that can be read, else at the nearest that can."""
        value = self.number(name)
        known = value is not None and self.per_mm is not None
        wanted = value * self.per_mm if value is not None and self.per_mm is not None else usual
        true = known and low <= wanted <= high
        if name.startswith(("member_", "other_")):
            self.members_true &= true
        else:
            self.lengths_true &= true
        return min(max(wanted, low), high)

    def label(self, name: str) -> tuple[str, str]:
        """What a dimension line says: the length's name and what it measures."""
        value = self.number(name)
        return (NAMES[name], f"{rule(value)} mm") if value is not None else (f"{NAMES[name]}:", NOT_GIVEN)

    def load(self, head: Point, direction: Point, label: str = "F", side: float = 1.0, *, pulls: bool = False) -> None:
        """The load; a jack stands behind one that pushes."""
        self.pen.load(head, direction, label, jack=self.instrument == "jack_gauge" and not pulls, side=side)

    def depth(self, usual: float = 26.0, high: float = 46.0) -> float:
        """How deep the loaded member is drawn."""
        return self.px("member_depth_mm", usual, 8.0, high)

    def depth_line(self, top: Point, depth: float) -> None:
        """The member's depth beside its end, where it is known."""
        value = self.number("member_depth_mm")
        if value is not None:
            self.pen.dimension(top, (top[0], top[1] + depth), (9, 0), ("", f"{rule(value)} mm"), "start")
