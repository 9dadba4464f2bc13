"""Studies that share joints, for pages that show all of them together."""

from __future__ import annotations

from typing import Any

import numpy as np

from results.evidence import restate
from tests.factories import make_series, make_setup, make_specimen, make_study

from .shops import table

MOMENTS = {
    "butt": 45.0,
    "mt_blind": 140.0,
    "lap_half": 190.0,
    "dowel": 100.0,
    "mitre": 60.0,
    "bridle": 280.0,
    "screw": 70.0,
}
NAMES = {"mt_blind": "Blind mortise and tenon", "lap_half": "Half-lap", "dowel": "Dowel", "butt": "Glued butt"}
STUDIES = (
    ("Rails into posts", ("butt", "mt_blind", "lap_half")),
    ("Short arm", ("butt", "mt_blind")),
    ("Bench frames", ("butt", "lap_half")),
    ("Chair rails", ("mt_blind", "lap_half")),
    ("Dowels once", ("butt", "dowel")),
)
APART = ("Corners", ("mitre", "bridle"))
ALONE = ("Screws", ("screw",))


def a_book(*studies, seed: int = 7, **fields: Any) -> None:
    """Studies with the joints each tested: five specimens a series, a rig of its own, shops that differ."""
    rng = np.random.default_rng(seed)
    for title, joints in studies:
        study = make_study(title, **fields)
        setup = make_setup(study)
        rig = rng.normal(0, 0.1)
        for joint in joints:
            series = make_series(study, setup=setup, joint=joint, label=f"{joint} of {title}"[:60])
            centre = np.log(MOMENTS[joint] / 0.3) + rig + rng.normal(0, 0.12)
            for load in np.exp(centre + rng.normal(0, 0.15, 5)):
                make_specimen(series, peak_load_n=float(load))
        restate(study)


def rows(response: Any, caption: str) -> dict[str, dict[str, str]]:
    """A table of a page by the first cell of each row."""
    heading, *found = table(response, caption)
    return {row[0]: dict(zip(heading, row, strict=True)) for row in found}
