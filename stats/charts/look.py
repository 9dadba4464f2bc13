"""One look for every chart: palette, marks and labels."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
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

SEEN_THROUGH = 0.8
"""Opacity of marks that may lie on each other: a single one still stands out from the sheet."""

MOST_MARKS = 5_000
"""Beyond so many marks a chart draws each joint's spread instead of its specimens."""


@dataclass(frozen=True)
class Fill:
    """Colour and hatching of a share, the two together so that neither is needed alone."""

    colour: str
    pattern: str
    text: str = INK


# Light fills, so that ink on them reads; hatching tells apart what a reader's eyes or printer may merge.
PLACES: dict[str, Fill] = {
    "bond_line": Fill("#9ccbe2", ""),
    "wood_beside_bond": Fill("#eab879", "/"),
    "tenon_or_fastener": Fill("#9ccbb3", "."),
    "socket_wall": Fill("#e6bcd6", "x"),
    "member": Fill("#efe08e", "-"),
    "mixed": Fill("#c9c4ba", "+"),
}
UNKNOWN_PLACE = Fill("#ffffff", "\\")


@lru_cache(maxsize=4096)  # the same titles stand at many marks
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

    Parameters
    ----------
    n : int
        The count.
    word : str
        The word for one of them.

    Returns
    -------
    str

    Examples
    --------
    >>> counted(1, "study"), counted(2, "study"), counted(3, "series"), counted(4, "day")
    ('1 study', '2 studies', '3 series', '4 days')
    """
    if n != 1 and not word.endswith("s"):
        word = word[:-1] + "ies" if word.endswith("y") and word[-2:-1] not in "aeiou" else word + "s"
    return f"{n:,} {word}".replace(",", " ")


def low(name: str) -> str:
    """A name as it stands inside a sentence.

    Parameters
    ----------
    name : str
        As a heading has it.

    Returns
    -------
    str
        The same with a small letter first.
    """
    return name[:1].lower() + name[1:]


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
