from __future__ import annotations

import math

import numpy as np
import pytest

from stats.errors import MissingInputs, NotCovered, StatsError
from stats.footing.area_rules import AREAS
from stats.footing.fields import DIM_FIELDS
from stats.footing.section import (
    AREA_RULES,
    SECTION_RULES,
    bonded_area,
    needed_dims,
    section,
    torsion_face,
)

DIMS = {
    "member_thickness_mm": 20.0,
    "member_depth_mm": 40.0,
    "other_thickness_mm": 20.0,
    "other_depth_mm": 50.0,
    "bond_length_mm": 100.0,
    "bond_width_mm": 18.0,
    "tenon_length_mm": 32.0,
    "tenon_depth_mm": 38.0,
    "haunch_length_mm": 10.0,
    "haunch_depth_mm": 12.0,
    "fastener_count": 2,
    "fastener_diameter_mm": 8.0,
    "fastener_depth_mm": 25.0,
    "slot_length_mm": 60.0,
    "slot_depth_mm": 12.0,
    "finger_count": 7,
    "scarf_ratio": 8.0,
    "spline_depth_mm": 10.0,
    "groove_depth_mm": 6.0,
}


@pytest.mark.parametrize(
    ("rule", "dims", "expected_mm2"),
    [
        ("face", {}, 100 * 18),
        ("member_end", {}, 20 * 40),
        ("lap_face", {}, 100 * 18),
        ("overlap", {}, 40 * 50),
        ("bridle", {}, 2 * 40 * 50),
        ("tenon", {}, 2 * 32 * 38),
        ("tenon", {"tenon_count": 2}, 2 * 2 * 32 * 38),
        ("through_tenon", {}, 2 * 50 * 38),
        ("haunched_tenon", {}, 2 * 32 * 38 + 2 * 10 * 12),
        ("loose_tenon", {}, 2 * 32 * 38),
        ("dowels", {}, 2 * math.pi * 8 * 25),
        ("screws", {}, 2 * math.pi * 8 * 25),
        ("fingers", {"member_depth_mm": 18.0, "other_depth_mm": 18.0}, 1944),  # 7 fingers of 18 mm stock
        ("tails", {"member_depth_mm": 18.0, "other_depth_mm": 18.0, "slope_deg": 8.0}, 1944),
        ("blind_tails", {"member_depth_mm": 18.0, "tenon_length_mm": 12.0}, 6 * 18 * 12),
        ("groove_walls", {}, 2 * 100 * 6),
        ("housing", {}, 100 * (40 + 2 * 6)),
        ("tongue", {}, 100 * (18 + 2 * 6)),
        ("mitre", {}, 20 * 40 / math.cos(math.radians(45))),
        ("splined_mitre", {}, (20 * 40 + 2 * 10 * 40) / math.cos(math.radians(45))),
        ("scarf", {}, 20 * 40 / math.sin(math.atan(1 / 8))),
    ],
)
def test_bonded_area_follows_its_geometry(rule, dims, expected_mm2):
    found = bonded_area(rule, {**DIMS, **dims})

    assert found.value_mm2 == pytest.approx(expected_mm2)
    assert found.steps[0].factor == pytest.approx(1 / expected_mm2)


def test_plate_area_agrees_with_the_segment_integrated():
    # the lens as a circle of the blade cut off by the face of the board, integrated in slices
    chord, depth = 60.0, 12.0
    radius = (chord**2 / 4 + depth**2) / (2 * depth)
    x = (np.arange(100_000) + 0.5) / 100_000 * chord - chord / 2
    segment = (np.sqrt(radius**2 - x**2) - (radius - depth)).sum() * chord / 100_000

    found = bonded_area("plates", {"slot_length_mm": chord, "slot_depth_mm": depth, "fastener_count": 3})

    assert found.value_mm2 == pytest.approx(3 * 2 * segment, rel=1e-6)


def test_plate_of_half_a_circle_has_its_area():
    found = bonded_area("plates", {"slot_length_mm": 40, "slot_depth_mm": 20})

    assert found.value_mm2 == pytest.approx(math.pi * 20**2)


def test_shallow_plate_comes_to_two_thirds_of_chord_times_depth():
    # the parabola's share, which a segment has in the limit
    found = bonded_area("plates", {"slot_length_mm": 60, "slot_depth_mm": 0.5})

    assert found.value_mm2 == pytest.approx(2 * 2 / 3 * 60 * 0.5, rel=1e-3)


def test_scarf_of_one_in_eight_has_eight_times_the_section():
    assert round(bonded_area("scarf", DIMS).value_mm2 / (20 * 40), 2) == 8.06


def test_tenon_edges_are_told_apart_from_its_cheeks():
    with_edges = bonded_area("tenon", {**DIMS, "tenon_thickness_mm": 9.5})

    assert with_edges.value_mm2 == bonded_area("tenon", DIMS).value_mm2
    assert with_edges.beside_mm2 == {"edges": 2 * 32 * 9.5}
    assert bonded_area("tenon", DIMS).beside_mm2 == {}


@pytest.mark.parametrize("rule", AREA_RULES)
def test_bonded_area_names_all_it_lacks(rule):
    with pytest.raises(MissingInputs) as caught:
        bonded_area(rule, {})

    assert caught.value.missing == AREA_RULES[rule].area_needs


@pytest.mark.parametrize("rule", AREA_RULES)
def test_bonded_area_refuses_sizes_that_can_not_be(rule):
    name = AREA_RULES[rule].area_needs[-1]

    with pytest.raises(StatsError, match=rf"{name} \(-1\) must be"):
        bonded_area(rule, {**DIMS, name: -1})


def test_slot_deeper_than_half_its_length_is_refused():
    with pytest.raises(StatsError, match=r"slot_depth_mm \(40\) must be at most half"):
        bonded_area("plates", {"slot_length_mm": 60, "slot_depth_mm": 40})


def test_one_finger_is_no_joint():
    with pytest.raises(StatsError, match=r"finger_count \(1\) must be 2 or more"):
        bonded_area("fingers", {**DIMS, "finger_count": 1})


def test_section_of_a_member():
    found = section("member", {"member_thickness_mm": 22.2, "member_depth_mm": 63.5})

    assert found.modulus_mm3 == pytest.approx(14_919, rel=1e-4)
    assert (found.width_mm, found.depth_mm, found.solid_property) == (22.2, 63.5, "mor")
    # 1 N·m is 1000 N·mm
    assert found.steps[0].factor * found.modulus_mm3 == pytest.approx(1000)


def test_section_of_a_glued_edge_is_set_against_tension_across():
    found = section("glued_edge", {"bond_length_mm": 100, "bond_width_mm": 18})

    assert (found.modulus_mm3, found.solid_property) == (100 * 18**2 / 6, "tension_perp")


@pytest.mark.parametrize("rule", SECTION_RULES)
def test_section_names_all_it_lacks(rule):
    with pytest.raises(MissingInputs) as caught:
        section(rule, {})

    assert caught.value.missing == SECTION_RULES[rule].section_needs


def test_unknown_rules_are_refused_with_the_known():
    with pytest.raises(StatsError, match="area_rule \\('nails'\\) must be one of face"):
        bonded_area("nails", {})
    with pytest.raises(StatsError, match="section_rule \\('nails'\\) must be one of member"):
        section("nails", {})


def test_two_cheeks_bear_twice_the_torque_of_one():
    one = torsion_face("face", {"bond_length_mm": 32, "bond_width_mm": 38})
    two = torsion_face("tenon", {"tenon_length_mm": 32, "tenon_depth_mm": 38})
    twin = torsion_face("tenon", {"tenon_length_mm": 32, "tenon_depth_mm": 38, "tenon_count": 2})

    assert [f.face.count for f in (one, two, twin)] == [1, 2, 4]
    assert two.modulus_mm3 == pytest.approx(2 * one.modulus_mm3)
    assert twin.modulus_mm3 == pytest.approx(4 * one.modulus_mm3)


def test_torsion_face_agrees_with_the_polar_moment_integrated():
    # Stress at radius r is T·r/J with J the integral of r² over the face; the greatest is at the corner.
    steps = 2000
    b, h = ((np.arange(steps) + 0.5) / steps - 0.5) * 32, ((np.arange(steps) + 0.5) / steps - 0.5) * 38
    polar = ((b[:, None] ** 2 + h[None, :] ** 2) * (32 / steps) * (38 / steps)).sum()

    found = torsion_face("face", {"bond_length_mm": 32, "bond_width_mm": 38})

    assert found.modulus_mm3 == pytest.approx(polar / math.hypot(16, 19), rel=1e-6)
    assert found.steps[0].factor == pytest.approx(1000 * math.hypot(16, 19) / polar, rel=1e-6)


@pytest.mark.parametrize("rule", [code for code, rule in AREAS.items() if rule.face is None])
def test_joints_without_a_plane_face_have_no_torsion(rule):
    with pytest.raises(NotCovered, match="no plane glued face"):
        torsion_face(rule, DIMS)


def test_needed_dims_follow_the_action():
    assert needed_dims("bending", "dowels", "member") == ("member_thickness_mm", "member_depth_mm")
    assert needed_dims("axial", "dowels", "member") == AREA_RULES["dowels"].area_needs
    assert needed_dims("torsion", "haunched_tenon", "member") == ("tenon_length_mm", "tenon_depth_mm")
    assert needed_dims("shear", None, "member") == ()
    assert needed_dims("bending", "dowels", None) == ()


def test_rules_name_known_sizes_and_a_source():
    for rule in [*AREA_RULES.values(), *SECTION_RULES.values()]:
        named = {*rule.area_needs, *rule.section_needs, *rule.torsion_needs, *rule.optional}

        assert named <= set(DIM_FIELDS), rule.code
        assert rule.source.startswith("derived from"), rule.code
