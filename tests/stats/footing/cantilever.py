"""A case of a cantilever on red oak, and shares of error, for the tests of uncertainties."""

from __future__ import annotations

import math

from stats.footing.input_uncertainty import InputUncertainty
from stats.footing.ladder import LoadCase
from stats.footing.timber import Timber

OAK = Timber("red_oak", "red oak", "hardwood", sg_12=0.63, mor_12_mpa=99.0, mor_green_mpa=57.2,
             shear_12_mpa=12.3, shear_green_mpa=8.3, tension_perp_12_mpa=5.5, tension_perp_green_mpa=5.2)  # fmt: skip
SETUP = {"arm_mm": 300.0, "arm_reference": "face", "span_mm": 400.0, "load_offset_mm": 120.0,
         "leg_mm": 200.0, "rail_height_mm": 600.0}  # fmt: skip
DRAWS = 200_000
FOURTH_SD = 4 / math.sqrt(2 * DRAWS)


def make_case(**changes):
    fields = {
        "reads": "force",
        "loading": "cantilever_arm",
        "values": [1240.0],
        "setup": {"arm_mm": 300.0, "arm_reference": "face"},
        "dims": {"member_thickness_mm": 22.2, "member_depth_mm": 63.5},
        "section_rule": "member",
        "timber": OAK,
        "moisture_pct": 9.5,
        "solid_stress_mpa": 90.0,
        "control_value": 500.0,
    }
    return LoadCase(**(fields | changes))


def a_share(u, **more):
    return InputUncertainty(u, relative=True, **more)
