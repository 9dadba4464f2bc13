"""A published series through the whole ladder.

Source: Eckelman, Uysal & Haviarova (2016), BioResources 11(3) 7162-7171: rectangular mortise and tenon
T-joints, rail 22.2 × 63.5 mm, tenon 32 long × 38 high × 9.5 thick; moments at the joint, red oak n 215, mean
353 N·m; white oak n 140, mean 358 N·m. Red oak's modulus of rupture, 99 MPa, is the Wood Handbook's
(FPL-GTR-190 Table 5-3a).
"""

from __future__ import annotations

import pytest

from stats.footing.ladder import LoadCase, climb
from stats.footing.timber import Timber

RED_OAK = Timber("red_oak", "red oak", "hardwood", mor_12_mpa=99.0, mor_green_mpa=57.2)
DIMS = {
    "member_thickness_mm": 22.2,
    "member_depth_mm": 63.5,
    "tenon_length_mm": 32,
    "tenon_depth_mm": 38,
    "tenon_thickness_mm": 9.5,
}


def _climbed():
    return climb(
        LoadCase(
            "moment",
            "cantilever_arm",
            [353.0],
            dims=DIMS,
            area_rule="tenon",
            section_rule="member",
            timber=RED_OAK,
        )
    )


def test_red_oak_series_bears_a_quarter_of_its_solid_rail():
    ladder = _climbed()

    assert ladder["at_joint"].values.tolist() == [353.0]
    # Z = 14 919 mm³ and 1477 N·m for the solid rail, so 353 / 1477
    assert ladder["stress"].values[0] == pytest.approx(353e3 / 14_919, rel=1e-4)
    assert ladder["ratio_solid"].values[0] == pytest.approx(353 / 1477, rel=1e-3)
    assert round(ladder["ratio_solid"].values[0], 2) == 0.24
    assert ladder["peak_load"].values is None


def test_red_oak_series_is_set_against_the_rail_and_not_its_tenon():
    # on the tenon's own 9.5 × 38 section the solid would bear 226 N·m and the ratio pass 1
    tenon_ratio = 353e3 / (9.5 * 38**2 / 6) / 99

    assert round(tenon_ratio, 2) == 1.56
    assert _climbed()["ratio_solid"].values[0] < 0.25


def test_red_oak_series_is_taken_at_12_pct_and_says_so():
    assert any("taken at 12 %" in flag for flag in _climbed()["ratio_solid"].flags)
