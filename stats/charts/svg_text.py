"""Text of a drawing: lines with a little markup, and how much room they take where no browser measures them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from html import unescape

_NARROW = frozenset("iljtfrI.,:;'|!()[] ")
_WIDE = frozenset("mwMW%@—")
# Widths of the usual sans-serif faces, in parts of the size; a little generous, so that nothing is cut off.
_PARTS = ((_NARROW, 0.36), (_WIDE, 0.95))
_SPLIT = re.compile(r"(<br>|</?b>|<span[^>]*>|</span>)")
_SIZE = re.compile(r"font-size:\s*([\d.]+)px")


@dataclass(frozen=True)
class Run:
    """Letters of one weight and size [px]; `text` still has its entities."""

    text: str
    bold: bool
    size: float

    @property
    def width(self) -> float:
        """Room it takes [px], estimated."""
        return width(unescape(self.text), self.size, bold=self.bold)


@lru_cache(maxsize=4096)
def width(text: str, size: float, *, bold: bool = False) -> float:
    """Room that a text takes [px], estimated from its letters.

    Examples
    --------
    >>> width("ill", 10) < width("mmm", 10)
    True
    """
    parts = 0.0
    for letter in text:
        known = next((part for letters, part in _PARTS if letter in letters), None)
        parts += known if known is not None else 0.72 if letter.isupper() else 0.61
    return parts * size * (1.1 if bold else 1.0)


def lines(markup: str, size: float) -> list[list[Run]]:
    """Lines of runs from text with ``<b>``, ``<br>`` and ``<span style="font-size:..px">``.

    Examples
    --------
    >>> [[run.text for run in line] for line in lines("<b>blind<br>mortise</b> A", 12)]
    [['blind'], ['mortise', ' A']]
    """
    found: list[list[Run]] = [[]]
    bold, sizes = False, [size]
    for piece in _SPLIT.split(markup):
        if piece == "<br>":
            found.append([])
        elif piece in ("<b>", "</b>"):
            bold = piece == "<b>"
        elif piece.startswith("<span"):
            told = _SIZE.search(piece)
            sizes.append(float(told[1]) if told else sizes[-1])
        elif piece == "</span>":
            sizes.pop()
        elif piece:
            found[-1].append(Run(piece, bold, sizes[-1]))
    return found


def line_width(line: list[Run]) -> float:
    """Room that a line takes [px]."""
    return sum(run.width for run in line)


def fold(markup: str, size: float, room: float) -> list[list[Run]]:
    """Lines as `lines` gives them, folded between words where they would be wider than `room` [px]."""
    folded: list[list[Run]] = []
    for line in lines(markup, size):
        current: list[Run] = []
        used = 0.0
        for run in line:
            for word in re.findall(r"\s*\S+\s*", run.text) or [run.text]:
                piece = Run(word, run.bold, run.size)
                if current and used + Run(word.rstrip(), run.bold, run.size).width > room:
                    folded.append(current)
                    current, used = [], 0.0
                    piece = Run(word.lstrip(), run.bold, run.size)
                current.append(piece)
                used += piece.width
        folded.append(current)
    return folded


def element(line: list[Run], x: float, y: float, colour: str, anchor: str = "start") -> str:
    """A line as an SVG text whose letters stand on `y`."""
    spans = []
    for text, bold, size in _joined(line):
        weight = ' font-weight="600"' if bold else ""
        spans.append(f'<tspan font-size="{size:g}"{weight}>{text}</tspan>')
    turned = "" if anchor == "start" else f' text-anchor="{anchor}"'
    return f'<text x="{x:.1f}" y="{y:.1f}" fill="{colour}"{turned} xml:space="preserve">{"".join(spans)}</text>'


def _joined(line: list[Run]) -> list[tuple[str, bool, float]]:
    """Neighbouring runs of one look as one."""
    joined: list[tuple[str, bool, float]] = []
    for run in line:
        if joined and joined[-1][1:] == (run.bold, run.size):
            joined[-1] = (joined[-1][0] + run.text, run.bold, run.size)
        else:
            joined.append((run.text, run.bold, run.size))
    return joined
