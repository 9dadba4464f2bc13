"""What must be said beside every demand, capacity, margin and plan."""

from __future__ import annotations

from dataclasses import dataclass

from stats.errors import StatsError

USES: dict[str, str] = {
    "own": "for my own use",
    "others": "for others to sit or lie on",
    "children": "for children",
    "overhead": "hung overhead, or something to climb on",
    "structural": "part of a building or another structure",
}
"""What a piece is meant for, by code."""

ALWAYS = (
    "Nothing here certifies a piece. The figures come from small samples that other people broke in their own shops.",
    "Take a lower limit, not a mean, and a generous factor over it.",
)
"""What goes with every margin and capacity."""

_LEADING = {
    "others": "Others will trust their weight to this piece. Follow the standards and codes that hold where it is "
    "used, and ask a licensed professional.",
    "children": "This is for children. Follow the standards for children's furniture that hold where it is used, and "
    "ask a licensed professional; a calculation from test results is no substitute.",
    "overhead": "If this fails, something or somebody falls. Follow the local codes for ladders, bunks and overhead "
    "fixings, and ask a licensed professional.",
    "structural": "This is part of a structure. It must be designed to the local building code by a licensed "
    "professional; these figures are not design values.",
}
TESTING = (
    "Breaking joints throws splinters and releases stored energy: wear eye protection and put a guard between you and "
    "the joint.",
    "Stand to the side of the line of the load, never behind a jack, a taut strap or a chain.",
    "Hold the specimen so that both halves are caught when it breaks; load it from a distance where you can.",
    "Take the load off before touching anything that has cracked or slipped.",
)
"""What goes with every plan of a test."""


@dataclass(frozen=True)
class Caution:
    """What to say, and whether it comes before everything else.

    Parameters
    ----------
    use : str
        A key of `USES`.
    leads : bool
        Whether the page or answer opens with it.
    sentences : tuple of str
        What to say, in this order.
    """

    use: str
    leads: bool
    sentences: tuple[str, ...]


def caution(use: str = "own") -> Caution:
    """What must be said beside a margin for a piece of this use.

    Parameters
    ----------
    use : str, optional
        A key of `USES`.

    Returns
    -------
    Caution
        It leads where others, children, an overhead place or a structure is concerned.

    Raises
    ------
    StatsError
        For an unknown use.

    Examples
    --------
    >>> caution("children").leads, caution("own").leads
    (True, False)
    """
    if use not in USES:
        raise StatsError(f"use ({use!r}) must be one of {', '.join(USES)}.")
    leading = (_LEADING[use],) if use in _LEADING else ()
    return Caution(use, bool(leading), leading + ALWAYS)
