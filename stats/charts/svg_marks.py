"""Marks, lines and fills of a drawing as SVG."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

# A symbol as the moves of a path around its middle, for a size of 2: from -1 to 1 both ways.
SYMBOLS: dict[str, str] = {
    "triangle-up-open": "M0-1L.87.5L-.87.5Z",
    "diamond": "M0-1L1 0L0 1L-1 0Z",
    "diamond-open": "M0-1L1 0L0 1L-1 0Z",
    "cross-open": "M-.33-1H.33V-.33H1V.33H.33V1H-.33V.33H-1V-.33H-.33Z",
    "x": "M-.8-.8L.8.8M.8-.8L-.8.8",
    "square": "M-.8-.8H.8V.8H-.8Z",
    "square-open": "M-.8-.8H.8V.8H-.8Z",
    "line-ns-open": "M0-1V1",
    "circle-cross-open": "M-1 0A1 1 0 1 0 1 0A1 1 0 1 0-1 0ZM-1 0H1M0-1V1",
}
_ROUND = ("circle", "circle-open")
# Hatching over a fill, in a tile of 7 px.
HATCHES: dict[str, str] = {
    "/": "M-1 1L1-1M0 7L7 0M6 8L8 6",
    "\\": "M-1 6L1 8M0 0L7 7M6-1L8 1",
    "x": "M0 7L7 0M0 0L7 7",
    "-": "M0 3.5H7",
    "+": "M0 3.5H7M3.5 0V7",
    ".": "M3.5 3.5h0",
}
DASHES = {"dash": "6 4", "dot": "1.5 3"}


def one_of(value: Any, i: int, default: Any) -> Any:
    """What holds for mark `i`, where a trace gives one value for all or a list."""
    if value is None:
        return default
    return value[i] if isinstance(value, Sequence) and not isinstance(value, str) else value


def marks(trace: dict[str, Any], places: list[tuple[float, float] | None], colour: str) -> list[str]:
    """The marks of a trace at their places [px]; plain dots of one look become a single path."""
    marker = trace.get("marker", {})
    size, hue = marker.get("size", 8), marker.get("color", colour)
    if marker.get("symbol", "circle") == "circle" and "line" not in marker and not _varies(size) and not _varies(hue):
        # A line of no length with round ends is a dot: a tenth of the letters that an element each would take.
        dots = "".join(f"M{x:.1f} {y:.1f}h0" for x, y in filter(None, places))
        seen = _opacity(marker)
        return [f'<path d="{dots}" stroke="{hue}" stroke-width="{size:g}" stroke-linecap="round" fill="none"{seen}/>']
    return [
        mark(
            str(one_of(marker.get("symbol"), i, "circle")),
            place,
            float(one_of(size, i, 8)),
            str(one_of(hue, i, colour)),
            marker,
        )
        for i, place in enumerate(places)
        if place
    ]


def mark(symbol: str, place: tuple[float, float], size: float, colour: str, marker: dict[str, Any]) -> str:
    """One mark."""
    x, y = place
    edge = marker.get("line", {})
    hollow = symbol.endswith("-open") or symbol in ("x",)
    stroke = colour if hollow else edge.get("color", "none")
    wide = float(edge.get("width", 1.6 if hollow else 0))
    fill = "none" if hollow else colour
    look = f'fill="{fill}" stroke="{stroke}"' + _opacity(marker)
    r = size / 2
    if symbol in _ROUND:
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{r:g}" {look} stroke-width="{wide:g}"/>'
    path = SYMBOLS[symbol]
    at = f'transform="translate({x:.1f} {y:.1f}) scale({r:g})"'
    return f'<path d="{path}" {at} {look} stroke-width="{wide / r:.3g}"/>'


def line(trace: dict[str, Any], places: list[tuple[float, float] | None], colour: str) -> str:
    """The line of a trace through its places, broken where one is not known."""
    path, pen_down = [], False
    for place in places:
        if place is None:
            pen_down = False
            continue
        path.append(f"{'L' if pen_down else 'M'}{place[0]:.1f} {place[1]:.1f}")
        pen_down = True
    look = trace.get("line", {})
    dash = DASHES.get(look.get("dash", ""))
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    seen = f' opacity="{trace["opacity"]:g}"' if "opacity" in trace else ""
    return (
        f'<path d="{"".join(path)}" fill="none" stroke="{look.get("color", colour)}"'
        f' stroke-width="{look.get("width", 2):g}"{dashed}{seen}/>'
    )


def fill(marker: dict[str, Any], name: str) -> tuple[str, str]:
    """A pattern's definition and the paint that uses it: a colour, hatched where the marker says so."""
    shape = marker.get("pattern", {}).get("shape", "")
    if not shape:
        return "", str(marker["color"])
    ink = marker["pattern"].get("fgcolor", "#000")
    pen = 'stroke-width="1.6" stroke-linecap="round"' if shape == "." else 'stroke-width=".9"'
    return (
        f'<pattern id="{name}" width="7" height="7" patternUnits="userSpaceOnUse">'
        f'<rect width="7" height="7" fill="{marker["color"]}"/>'
        f'<path d="{HATCHES[shape]}" stroke="{ink}" {pen} fill="none"/></pattern>',
        f"url(#{name})",
    )


def _varies(value: Any) -> bool:
    return isinstance(value, Sequence) and not isinstance(value, str)


def _opacity(marker: dict[str, Any]) -> str:
    return f' opacity="{marker["opacity"]:g}"' if "opacity" in marker else ""


def finite(value: Any) -> bool:
    """Whether there is a number to place."""
    return value is not None and math.isfinite(value)
