"""Before a joint is chosen: what each that fits at the place would give over what the piece asks."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from results.practice.joint import JointAsked
from results.practice.margin import AtPlace
from results.practice.piece import PieceAsked

from . import tables
from .wording import tidy

DIGITS = 2
"""Significant digits of a margin: more would say more than anybody knows of a load."""


def table(fitting: Sequence[AtPlace], of_piece: PieceAsked, of_joint: JointAsked) -> tables.Table:
    """Joints that have a margin, each with a link to its own."""
    piece = of_piece.query()
    told = [(one, one.margin) for one in fitting if one.margin]
    frame = pd.DataFrame(
        [
            (
                *(one.joint.name, *tables.in_digits((margin.value, margin.typical), DIGITS)),
                *(_members(one), one.specimens, one.shops),
            )
            for one, margin in told
        ],
        columns=["Joint", "Margin, lower limit", "A middling one", "Members, mm", "Specimens behind it", "Shops"],
    )
    links = [f"?{piece}{'&' if piece else ''}{of_joint.query(joint=one.joint.pk)}#result" for one, _ in told]
    return tables.of_frame(frame, "Joints that fit there, the highest lower limit first", links=links)


def without(fitting: Sequence[AtPlace]) -> list[tuple[str, str]]:
    """Joints that have none, and why."""
    return [(one.joint.name, one.why.removeprefix("No figure is given: ")) for one in fitting if not one.margin]


def _members(one: AtPlace) -> str:
    return " × ".join("not told" if size is None else tidy(size) for size in one.members)
