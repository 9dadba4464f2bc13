"""Two published oak series put through capacity and margin.

Source: Eckelman, Uysal and Haviarova (2016), "Statistical lower tolerance limits for rectangular mortise and tenon
joints", BioResources 11(3), 7162-7171: T-joints, rail 22.2 x 63.5 mm, tenon 32 mm long, 38 mm high, 9.5 mm thick, PVA;
moment at failure in N·m, means and standard deviations rounded to whole N·m, so that the limits are met within 2 N·m.
The modulus of rupture of red oak is the Wood Handbook's (FPL-GTR-190, table 5-3a, 12 %: 99 MPa).
"""

from __future__ import annotations

import pytest

from stats.practice.capacity import capacity
from stats.practice.demand import demand
from stats.practice.factors import own
from stats.practice.limit import shop_tested
from stats.practice.margin import margin

RED, WHITE = (353.0, 48.0, 215), (358.0, 62.0, 140)
# confidence, share above, limit red oak, limit white oak, as printed
PRINTED = [(0.75, 0.75, 318, 314), (0.90, 0.75, 316, 308), (0.75, 0.90, 289, 273), (0.90, 0.90, 286, 268),
           (0.95, 0.95, 266, 240)]  # fmt: skip
RAIL = {"member_thickness_mm": 22.2, "member_depth_mm": 63.5, "tenon_length_mm": 32.0, "tenon_depth_mm": 38.0,
        "tenon_thickness_mm": 9.5}  # fmt: skip
RULES = {"area_rule": "tenon", "section_rule": "member"}
Z_MM3 = 22.2 * 63.5**2 / 6


@pytest.mark.parametrize(("confidence", "share", "red", "white"), PRINTED)
def test_capacity_as_tested_is_the_limit_its_authors_print(confidence, share, red, white):
    for series, printed in ((RED, red), (WHITE, white)):
        limit = shop_tested(*series, share, confidence)
        for dims in (None, RAIL):
            found = capacity(limit, "at_joint", "bending", dims, tested_dims=dims, **RULES)
            assert found.value == pytest.approx(printed, abs=2.0)
            assert found.upper == pytest.approx(found.value)


@pytest.mark.parametrize(("confidence", "share", "red", "white"), PRINTED)
def test_capacity_through_the_stress_and_the_ratio_to_solid_wood_is_the_same(confidence, share, red, white):
    """As a stress 353 N·m over 14 919 mm³ is 23.7 MPa; over 99 MPa of red oak it is 0.24."""
    mean, sd, n = RED
    stress = shop_tested(mean * 1000 / Z_MM3, sd * 1000 / Z_MM3, n, share, confidence)
    ratio = shop_tested(mean * 1000 / Z_MM3 / 99, sd * 1000 / Z_MM3 / 99, n, share, confidence)

    by_stress = capacity(stress, "stress", "bending", RAIL, tested_dims=RAIL, **RULES)
    by_ratio = capacity(ratio, "ratio_solid", "bending", RAIL, tested_dims=RAIL, solid_mpa=99, **RULES)

    assert by_stress.value == pytest.approx(red, abs=2.0)
    assert by_ratio.value == pytest.approx(by_stress.value)
    assert ratio.typical == pytest.approx(0.24, abs=0.005)


def test_margin_of_the_worked_chair():
    """A limit of 286 N·m, taken times about 0.6 for repeated loading, is 170 N·m; the chair asks 151 N·m."""
    limit = shop_tested(*RED, 0.90, 0.90)
    chair = demand("chair_leaned", {"sitter_n": 981, "back_push_n": 560})

    found = margin(capacity(limit, "at_joint", "bending", factors=[own(0.6, "repeated loading")]), chair)

    assert found.capacity.value == pytest.approx(170, abs=2.0)
    assert chair.value == pytest.approx(151, abs=0.5)
    assert found.value == pytest.approx(1.13, abs=0.02)
