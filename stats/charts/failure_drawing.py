"""Where a joint can break, drawn: a mortise and tenon in section with each place numbered and named."""

from __future__ import annotations

from dataclasses import dataclass

from stats.charts.look import BROKE, INK, SHEET
from stats.charts.setup_pen import GRAIN, WOOD, Pen, Point


@dataclass(frozen=True)
class Place:
    """A place on the drawing.

    Parameters
    ----------
    code : str
        The failure place that it stands for.
    words : tuple of str
        Its name, a line each.
    at : (float, float)
        Where its number stands.
    side : {"start", "end"}
        To which side of the number the words begin or end.
    cracks : tuple of tuple of (float, float)
        Where it broke there, each from one point to another.
    """

    code: str
    words: tuple[str, ...]
    at: Point
    side: str
    cracks: tuple[tuple[Point, Point], ...]


# The post stands between x = 122 and 212; the tenon reaches into it from x = 212 to 144, from y = 96 to 138.
_POST, _RAIL = (122.0, 212.0), (72.0, 162.0)
_TENON = (144.0, 212.0, 96.0, 138.0)

PLACES = (
    Place("bond_line", ("bond line",), (106.0, 138.0), "end", (((146.0, 138.0), (210.0, 138.0)),)),
    Place("wood_beside_bond", ("wood beside", "the bond"), (106.0, 84.0), "end", (((146.0, 88.0), (210.0, 88.0)),)),
    Place("tenon_or_fastener", ("tenon or", "fastener"), (232.0, 38.0), "start", (((204.0, 98.0), (204.0, 136.0)),)),
    Place("socket_wall", ("mortise or", "socket wall"), (106.0, 196.0), "end", (((142.0, 142.0), (142.0, 222.0)),)),
    Place("member", ("member away", "from the joint"), (228.0, 202.0), "start", (((294.0, 74.0), (294.0, 160.0)),)),
    Place("mixed", ("mixed: two or more of these at once",), (28.0, 256.0), "start", ()),
)
"""The places in the order of their numbers, from 1."""
_RADIUS = 10.5


def failure_drawing(name: str = "where-it-broke") -> str:
    """Draw the places where a joint can break.

    Parameters
    ----------
    name : str, optional
        Word that sets the drawing's ids apart from others on one page.

    Returns
    -------
    str
        An ``<svg>`` element, 340 units wide, with title and description. What belongs to a place is in a group with
        its code as ``data-place``.

    Examples
    --------
    >>> svg = failure_drawing()
    >>> [place.code for place in PLACES if f'data-place="{place.code}"' not in svg]
    []
    """
    pen = Pen()
    _joint(pen)
    for number, place in enumerate(PLACES, 1):
        pen.parts.append(f'<g data-place="{place.code}">')
        _mark(pen, number, place)
        pen.parts.append("</g>")
    told = [f"{number}, {' '.join(place.words)}" for number, place in enumerate(PLACES, 1)]
    return pen.to_svg(
        name,
        "Where it broke: a mortise and tenon in section",
        f"A rail's tenon is glued into an upright post's mortise. Numbered are: {'; '.join(told)}.",
    )


def _joint(pen: Pen) -> None:
    middle = (_RAIL[0] + _RAIL[1]) / 2
    left, right, top, bottom = _TENON
    pen.member(((_POST[0] + _POST[1]) / 2, 16), ((_POST[0] + _POST[1]) / 2, 232), _POST[1] - _POST[0])
    pen.member((_POST[1], middle), (334, middle), _RAIL[1] - _RAIL[0])
    # The end of the tenon doesn't reach the ground of its mortise.
    pen.shape(((left - 5, top), (right, top), (right, bottom), (left - 5, bottom)), SHEET, width=1.0)
    pen.shape(((left, top), (right + 1, top), (right + 1, bottom), (left, bottom)), WOOD, width=0.0)
    pen.line((left, top), (left, bottom))
    for share in (0.3, 0.68):
        y = top + (bottom - top) * share
        pen.line((left + 6, y), (right + 20, y), color=GRAIN, width=0.8)
    for y in (top, bottom):
        pen.line((left, y), (right, y), width=3.2)


def _mark(pen: Pen, number: int, place: Place) -> None:
    """The break, a thin line from it to its number, and the name beside that."""
    x, y = place.at
    for start, end in place.cracks:
        pen.line(*_zigzag(start, end), color=SHEET, width=4.6)
        pen.line(*_zigzag(start, end), color=BROKE, width=2.4)
        pen.line(_nearest(place.at, start, end), place.at, width=1.0)
    away = _RADIUS + 6
    for line, words in enumerate(place.words):
        at = (x + (away if place.side == "start" else -away), y + 14 * (line - (len(place.words) - 1) / 2))
        pen.text(at, words, place.side)
    pen.circle(place.at, _RADIUS, SHEET, stroke=INK, width=1.6)
    pen.text(place.at, str(number), bold=True)


def _zigzag(start: Point, end: Point, teeth: int = 9, high: float = 2.6) -> list[Point]:
    along = (end[0] - start[0], end[1] - start[1])
    long = (along[0] ** 2 + along[1] ** 2) ** 0.5
    across = (-along[1] / long * high, along[0] / long * high)
    inner = [
        (start[0] + along[0] * i / teeth + across[0] * side, start[1] + along[1] * i / teeth + across[1] * side)
        for i, side in ((i, 1 if i % 2 else -1) for i in range(1, teeth))
    ]
    return [start, *inner, end]


def _nearest(to: Point, start: Point, end: Point) -> Point:
    """The end of a crack, or its middle, that is nearest to a number."""
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    return min((start, middle, end), key=lambda p: (p[0] - to[0]) ** 2 + (p[1] - to[1]) ** 2)
