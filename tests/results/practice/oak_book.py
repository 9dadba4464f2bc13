"""Shops that broke blind mortise and tenon, dowels and butts in red oak, all of known sizes."""

from __future__ import annotations

import numpy as np

from results.evidence import restate
from results.models import Specimen
from tests.factories import make_series, make_setup, make_study

MEMBER = {"member_thickness_mm": 20.0, "member_depth_mm": 60.0}
SIZES = {
    "mt_blind": {**MEMBER, "tenon_length_mm": 30.0, "tenon_depth_mm": 40.0, "tenon_thickness_mm": 8.0},
    "dowel": {
        **MEMBER,
        "fastener_count": 2,
        "fastener_diameter_mm": 10.0,
        "fastener_depth_mm": 30.0,
        "fastener_spacing_mm": 30.0,
        "fastener_edge_mm": 15.0,
    },
    "butt": MEMBER,
    "mitre": MEMBER,
}
# Moment that a middling joint of a middling shop takes [N·m].
MOMENTS = {"mt_blind": 240.0, "dowel": 150.0, "butt": 60.0, "mitre": 80.0}
ARM_M = 0.3
JOINTS = ("mt_blind", "dowel", "butt")


def a_book(shops: int = 6, joints: tuple[str, ...] = JOINTS, *, seed: int = 3, specimens: int = 6, **fields) -> None:
    """Shops with a rig of their own and a study each; single joints scatter by about 12 %."""
    rng = np.random.default_rng(seed)
    for number in range(shops):
        study = make_study(f"Study {number}", workshop=f"Shop {number}", **fields)
        setup = make_setup(study, arm_mm=1000 * ARM_M)
        rig = rng.normal(0, 0.08)
        for joint in joints:
            series = make_series(study, setup=setup, joint=joint, label=joint, **SIZES[joint])
            centre = np.log(MOMENTS[joint] / ARM_M) + rig + rng.normal(0, 0.05)
            loads = np.exp(centre + rng.normal(0, 0.12, specimens))
            Specimen.objects.bulk_create(
                Specimen(series=series, label=f"S{at}", position=at, reading_typed=f"{load:g}", reading_unit="N",
                         peak_load_n=float(load))
                for at, load in enumerate(loads, 1)
            )  # fmt: skip
        restate(study)
