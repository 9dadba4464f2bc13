from __future__ import annotations

import math

import pytest

from stats.errors import MissingInputs, NotCovered, StatsError
from stats.footing.fields import SETUP_FIELDS
from stats.footing.loading import ACTION_UNITS, ACTIONS, LOADINGS, action_at_joint, sense_of
from stats.footing.step import total_factor

MINIMAL = {
    "arm_mm": 300.0,
    "span_mm": 400.0,
    "load_offset_mm": 120.0,
    "leg_mm": 200.0,
    "rail_height_mm": 600.0,
}


def minimal(code):
    return {name: MINIMAL[name] for name in LOADINGS[code].needs}


@pytest.mark.parametrize("code", LOADINGS)
def test_every_loading_works_with_its_needs_alone(code):
    found = action_at_joint(code, minimal(code))

    assert found.factor > 0
    assert found.kind in ACTIONS
    assert found.unit == ACTION_UNITS[found.kind]
    assert total_factor(found.steps) == pytest.approx(found.factor)
    assert all(step.source == "derived from statics" for step in found.steps)


@pytest.mark.parametrize("code", [c for c, loading in LOADINGS.items() if loading.needs])
def test_every_loading_names_what_it_lacks(code):
    with pytest.raises(MissingInputs) as caught:
        action_at_joint(code, {})

    assert caught.value.missing == LOADINGS[code].needs


@pytest.mark.parametrize("code", [c for c, loading in LOADINGS.items() if loading.needs])
@pytest.mark.parametrize("value", [0, -5])
def test_every_loading_refuses_lengths_that_can_not_be(code, value):
    name = LOADINGS[code].needs[0]

    with pytest.raises(StatsError, match=rf"{name} \({value}\) must be above 0"):
        action_at_joint(code, {**minimal(code), name: value})


def test_needs_and_options_are_known_setup_fields():
    named = {name for loading in LOADINGS.values() for name in (*loading.needs, *loading.optional)}

    assert named <= set(SETUP_FIELDS)


def test_unknown_loading_is_refused_with_the_known():
    with pytest.raises(StatsError, match="loading \\('drop'\\) must be one of cantilever_arm"):
        action_at_joint("drop", {})


def test_arm_to_the_centre_needs_the_post():
    with pytest.raises(MissingInputs, match="other_depth_mm"):
        action_at_joint("cantilever_arm", {"arm_mm": 300, "arm_reference": "centre"})


def test_arm_inside_the_post_is_refused():
    setup = {"arm_mm": 20, "arm_reference": "far_face", "other_depth_mm": 50}
    with pytest.raises(StatsError, match=r"arm_mm \(20\) must reach beyond the joint face"):
        action_at_joint("cantilever_arm", setup)


def test_arm_that_ends_at_the_joint_face_is_refused():
    with pytest.raises(StatsError, match=r"arm_mm \(30\) must reach beyond the joint face"):
        action_at_joint("cantilever_arm", {"arm_mm": 30, "arm_reference": "centre", "other_depth_mm": 60})


def test_arm_reference_is_refused_if_unknown():
    with pytest.raises(StatsError, match="arm_reference \\('elbow'\\) must be face"):
        action_at_joint("cantilever_arm", {"arm_mm": 300, "arm_reference": "elbow"})


def test_arm_without_reference_is_taken_to_the_face_and_says_so():
    step = action_at_joint("cantilever_arm", {"arm_mm": 300}).steps[0]

    assert step.note == "arm taken to the joint face (not said)"


def test_inclined_load_from_either_side_is_alike():
    one, other = (action_at_joint("cantilever_arm", {"arm_mm": 300, "angle_deg": angle}) for angle in (10, -10))

    assert (one.factor, one.shear_factor, one.normal_factor) == (
        other.factor,
        other.shear_factor,
        other.normal_factor,
    )


@pytest.mark.parametrize(
    ("loading", "setup", "field"),
    [
        ("centre_point_bending", {"span_mm": 400, "joint_offset_mm": 250}, "joint_offset_mm"),
        ("two_point_bending", {"load_offset_mm": 250, "span_mm": 400}, "load_offset_mm"),
        ("corner_closing", {"leg_mm": 200, "face_offset_mm": 200}, "face_offset_mm"),
        ("corner_opening", {"leg_mm": 200, "friction": 1.5}, "friction"),
        ("frame_racking", {"rail_height_mm": 600, "frame_count": 1.5}, "frame_count"),
        ("frame_racking", {"rail_height_mm": 600, "diagonal_deg": 90}, "diagonal_deg"),
        ("lap_shear", {"shear_faces": 0}, "shear_faces"),
    ],
)
def test_impossible_geometry_is_refused_by_name(loading, setup, field):
    with pytest.raises(StatsError, match=rf"^{field} \("):
        action_at_joint(loading, setup)


def test_rollers_with_friction_and_unequal_legs_are_not_covered():
    with pytest.raises(NotCovered, match="unequal legs"):
        action_at_joint("corner_opening", {"leg_mm": 200, "leg_b_mm": 150, "friction": 0.1})


@pytest.mark.parametrize("code", ["corner_closing", "corner_opening", "corner_pulled_open"])
def test_unequal_legs_come_to_the_equal_ones(code):
    equal = action_at_joint(code, {"leg_mm": 200, "face_offset_mm": 25})
    nearly = action_at_joint(code, {"leg_mm": 200, "leg_b_mm": 200 + 1e-9, "face_offset_mm": 25})

    assert nearly.factor == pytest.approx(equal.factor)


def test_two_point_at_mid_span_comes_to_centre_point():
    two = action_at_joint("two_point_bending", {"load_offset_mm": 199.9999999, "span_mm": 400})

    assert two.factor == pytest.approx(action_at_joint("centre_point_bending", {"span_mm": 400}).factor)


def test_corner_face_gets_less_than_its_centre():
    centre = action_at_joint("corner_closing", {"leg_mm": 200})
    face = action_at_joint("corner_closing", {"leg_mm": 200, "face_offset_mm": 30})

    assert face.factor / centre.factor == pytest.approx(170 / 200)
    assert (centre.place, face.place) == ("at the corner centre", "at the joint face")


def test_senses_of_corners():
    assert [sense_of(c) for c in ("corner_closing", "corner_opening", "corner_pulled_open")] == [
        "closing",
        "opening",
        "opening",
    ]
    assert sense_of("cantilever_arm") == ""


def test_single_lap_says_that_it_peels_and_a_double_one_does_not():
    single, double = (action_at_joint("lap_shear", {"shear_faces": faces}) for faces in (1, 2))

    assert "peels" in single.steps[0].note
    assert double.steps[0].note == ""
    assert (single.faces, double.faces) == (1, 2)


@pytest.mark.parametrize("code", ["centre_point_bending", "two_point_bending", "lap_shear", "block_shear"])
def test_loads_square_to_the_member_pull_at_no_joint(code):
    # Equilibrium along the member: no load and no support has a part in that direction.
    assert action_at_joint(code, minimal(code)).normal_factor == 0.0


@pytest.mark.parametrize("offset", [50.0, 119.0, 120.0, 200.0])
def test_two_point_shear_is_what_the_loads_have_left_of_the_support(offset):
    # From the support on: half of the load up, and half down again where the nearer load stands.
    left_over = 0.5 if offset < 120 else 0.5 - 0.5
    found = action_at_joint("two_point_bending", {"span_mm": 400, "load_offset_mm": 120, "joint_offset_mm": offset})

    assert found.shear_factor == left_over
    assert found.factor == pytest.approx((0.5 * offset - 0.5 * max(offset - 120, 0.0)) / 1000)


@pytest.mark.parametrize("offset", [50.0, 200.0])
def test_centre_point_shear_is_half_of_the_load(offset):
    found = action_at_joint("centre_point_bending", {"span_mm": 400, "joint_offset_mm": offset})

    assert found.shear_factor == 0.5


def test_frames_share_their_load():
    one = action_at_joint("portal_racking", {"rail_height_mm": 600})
    two = action_at_joint("portal_racking", {"rail_height_mm": 600, "frame_count": 2, "diagonal_deg": 60})

    assert two.factor == pytest.approx(one.factor / 2 * math.cos(math.radians(60)))
    assert two.shear_factor == pytest.approx(one.shear_factor / 4)
