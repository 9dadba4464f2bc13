"""The tables of a piece's page: what would raise its margin, the ways of carrying over, the joint's sizes."""

from __future__ import annotations

import pandas as pd

from results.practice import margin as margins
from results.practice.joint import JointAsked
from stats.footing.fields import DIM_FIELDS
from stats.practice.capacity import RULES
from stats.practice.margin import Improvement

from . import tables
from .piece_choice import DIGITS
from .wording import beside

# A margin that grows by less is as it was.
WORTH = 1.005


def of_answer(answer: margins.Answer, asked: JointAsked) -> dict[str, tables.Table]:
    capacity, tested = answer.bears.capacity, answer.bears.strength.tested
    as_tested = tested.sizes if tested else {}

    def said(value: float, unit: str, digits: int = 3) -> str:
        return beside(value, unit, asked.units_typed, digits)

    sizes = [
        (
            DIM_FIELDS[name].words.removeprefix("the "),
            said(value, DIM_FIELDS[name].unit, 4),
            said(as_tested[name], DIM_FIELDS[name].unit, 4) if name in as_tested else "",
            "as tested" if name in answer.bears.as_tested or not capacity.dims else "",
        )
        for name, value in (capacity.dims or as_tested).items()
    ]
    raising = sorted((one for one in answer.changes if raises(one)), key=lambda one: (-one.after, -one.after_upper))
    changes = [
        (
            *(one.words, *tables.in_digits((one.after, one.after_upper, one.after / one.before), DIGITS)),
            *(one.specimens, one.shops),
        )
        for one in raising
    ]
    found = {
        "changes": tables.of_frame(
            pd.DataFrame(
                changes,
                columns=[
                    *("Built so", "Margin, lower limit", "If only glue (or wood) decided", "Times the margin now"),
                    *("Specimens behind it", "Shops"),
                ],
            ),
            "What would raise the margin, the highest lower limit first",
        ),
        "ways": tables.of_frame(
            pd.DataFrame(
                [(RULES[one.rule], said(one.value, capacity.unit)) for one in capacity.scaled],
                columns=["Carried over", "Lower limit"],
            ),
            "The ways of carrying what was tested to the piece's sizes; the lower is taken",
        ),
    }
    if sizes:
        frame = pd.DataFrame(sizes, columns=["Size", "In the piece", "Tested", "Since none was given"])
        found["sizes"] = tables.of_frame(frame, "Sizes of the joint")
    return found


def raises(change: Improvement) -> bool:
    """Whether a change raises the lower limit; where wood decides, a longer tenon doesn't."""
    return not change.refused and change.after > WORTH * change.before
