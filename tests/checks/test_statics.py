"""Moments and stresses of each loading arrangement against statics worked by other means.

Source: derived from statics. Every arrangement has a number worked by hand from its free body, and beside it
the same specimen solved as a plane frame by the direct stiffness method, which knows none of our formulas.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from stats.footing.loading import LOADINGS, action_at_joint
from stats.footing.section import bonded_area, torsion_face

EI_NMM2, EA_N = 1e9, 1e12  # very stiff along the members, so that bending alone decides


def frame_end_moments(nodes, members, fixed, loads):
    """Largest moment [N·m] at each node of a plane frame, by the direct stiffness method.

    nodes: name -> (x, y) [mm]; members: (name, name); fixed: (name, axis) with axis 0, 1, 2 for x, y, turn;
    loads: name -> (Fx, Fy) [N].
    """
    index = {name: 3 * i for i, name in enumerate(nodes)}
    size = 3 * len(nodes)
    stiffness = np.zeros((size, size))
    parts = []
    for a, b in members:
        dx, dy = np.subtract(nodes[b], nodes[a])
        length = math.hypot(dx, dy)
        c, s = dx / length, dy / length
        turn = np.kron(np.eye(2), np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]]))
        ax, b1, b2, b3, b4 = (
            EA_N / length,
            12 * EI_NMM2 / length**3,
            6 * EI_NMM2 / length**2,
            4 * EI_NMM2 / length,
            2 * EI_NMM2 / length,
        )
        local = np.array(
            [
                [ax, 0, 0, -ax, 0, 0],
                [0, b1, b2, 0, -b1, b2],
                [0, b2, b3, 0, -b2, b4],
                [-ax, 0, 0, ax, 0, 0],
                [0, -b1, -b2, 0, b1, -b2],
                [0, b2, b4, 0, -b2, b3],
            ]
        )
        at = [index[a] + i for i in range(3)] + [index[b] + i for i in range(3)]
        stiffness[np.ix_(at, at)] += turn.T @ local @ turn
        parts.append((a, b, at, local @ turn))
    force = np.zeros(size)
    for name, (fx, fy) in loads.items():
        force[index[name]] += fx
        force[index[name] + 1] += fy
    held = [index[name] + axis for name, axis in fixed]
    free = [i for i in range(size) if i not in held]
    moved = np.zeros(size)
    moved[free] = np.linalg.solve(stiffness[np.ix_(free, free)], force[free])
    moments = dict.fromkeys(nodes, 0.0)
    for a, b, at, recover in parts:
        ends = recover @ moved[at]
        moments[a] = max(moments[a], abs(ends[2]) / 1000)
        moments[b] = max(moments[b], abs(ends[5]) / 1000)
    return moments


def beam(span, points, loads):
    """A bar on two supports with nodes at the points named; loads are downward."""
    nodes = {"left": (0.0, 0.0), **{n: (x, 0.0) for n, x in points.items()}, "right": (span, 0.0)}
    order = sorted(nodes, key=lambda n: nodes[n][0])
    members = list(zip(order, order[1:], strict=False))
    fixed = [("left", 0), ("left", 1), ("right", 1)]
    return frame_end_moments(nodes, members, fixed, {n: (0.0, -f) for n, f in loads.items()})


def corner(leg, other, face, loads):
    """A corner with its leg ends on the ground line; the face is a node on the first leg."""
    slant = math.hypot(leg, other)
    top = np.array([leg**2 / slant, leg * other / slant])
    nodes = {
        "a": (0.0, 0.0),
        "face": tuple(top * (1 - face / leg)),
        "corner": tuple(top),
        "b": (slant, 0.0),
    }
    members = [("a", "face"), ("face", "corner"), ("corner", "b")]
    return frame_end_moments(nodes, members, [("a", 0), ("a", 1), ("b", 1)], loads)


def moment(loading, setup, force_n):
    return force_n * action_at_joint(loading, setup).factor


@pytest.mark.parametrize(
    ("loading", "setup", "force_n", "expected_nm"),
    [
        ("cantilever_arm", {"arm_mm": 300, "arm_reference": "face"}, 450, 135),
        ("cantilever_arm", {"arm_mm": 300, "arm_reference": "face", "angle_deg": 10}, 450, 133),
        # a rail on a post 50 deep: the arm to the post's centre-line is 275, the moment at the face the same
        ("cantilever_arm", {"arm_mm": 250, "arm_reference": "face"}, 600, 150),
        ("cantilever_arm", {"arm_mm": 275, "arm_reference": "centre", "other_depth_mm": 50}, 600, 150),
        ("cantilever_arm", {"arm_mm": 300, "arm_reference": "far_face", "other_depth_mm": 50}, 600, 150),
        ("centre_point_bending", {"span_mm": 400}, 2000, 200),
        ("centre_point_bending", {"span_mm": 400, "joint_offset_mm": 150}, 2000, 150),
        ("two_point_bending", {"load_offset_mm": 120}, 3000, 180),
        ("corner_closing", {"leg_mm": 200}, 800, 113),
        ("corner_closing", {"leg_mm": 200, "face_offset_mm": 30}, 800, 96),
        ("corner_opening", {"leg_mm": 200}, 1600, 113),
        ("corner_opening", {"leg_mm": 200, "friction": 0.1}, 1600, 102),
        ("corner_pulled_open", {"leg_mm": 200}, 800, 113),
        ("frame_racking", {"rail_height_mm": 600}, 1000, 150),
        ("frame_racking", {"rail_height_mm": 600, "diagonal_deg": 45}, 1414, 150),
        ("frame_racking", {"rail_height_mm": 600, "frame_count": 2}, 2000, 150),
        ("portal_racking", {"rail_height_mm": 600}, 500, 150),
        ("torsion", {"arm_mm": 250}, 400, 100),
    ],
)
def test_action_agrees_with_the_number_worked_by_hand(loading, setup, force_n, expected_nm):
    assert round(moment(loading, setup, force_n)) == expected_nm


def test_moment_to_the_post_centre_line_is_larger_by_half_its_depth():
    # 600 N at 250 from the face of a 50 post: 150 N·m at the face, 165 N·m about its centre-line
    at_face = moment("cantilever_arm", {"arm_mm": 250, "arm_reference": "face"}, 600)

    assert (at_face, at_face + 600 * 0.025) == pytest.approx((150, 165))


def test_inclined_load_leaves_an_axial_part():
    found = action_at_joint("cantilever_arm", {"arm_mm": 300, "angle_deg": 10})

    assert round(450 * found.normal_factor) == 78


def test_cantilever_agrees_with_the_frame_solution():
    nodes = {"joint": (0.0, 0.0), "end": (300.0, 0.0)}
    fixed = [("joint", 0), ("joint", 1), ("joint", 2)]
    angle = math.radians(10)
    loads = {"end": (450 * math.sin(angle), -450 * math.cos(angle))}

    solved = frame_end_moments(nodes, [("joint", "end")], fixed, loads)["joint"]

    assert moment("cantilever_arm", {"arm_mm": 300, "angle_deg": 10}, 450) == pytest.approx(solved, rel=1e-6)


@pytest.mark.parametrize("offset", [200, 150, 60])
def test_centre_point_agrees_with_the_frame_solution(offset):
    points = {"load": 200.0} | ({"joint": float(offset)} if offset != 200 else {})
    solved = beam(400.0, points, {"load": 2000})["joint" if offset != 200 else "load"]

    found = moment("centre_point_bending", {"span_mm": 400, "joint_offset_mm": offset}, 2000)

    assert found == pytest.approx(solved, rel=1e-6)


@pytest.mark.parametrize("offset", [60, 120, 180])
def test_two_point_agrees_with_the_frame_solution(offset):
    points = {"one": 120.0, "two": 280.0} | ({"joint": float(offset)} if offset != 120 else {})
    solved = beam(400.0, points, {"one": 1500, "two": 1500})["joint" if offset != 120 else "one"]

    setup = {"load_offset_mm": 120, "span_mm": 400, "joint_offset_mm": offset}

    assert moment("two_point_bending", setup, 3000) == pytest.approx(solved, rel=1e-6)


@pytest.mark.parametrize(("leg", "other", "face"), [(200, 200, 1), (200, 200, 30), (250, 180, 40)])
@pytest.mark.parametrize(("loading", "sign"), [("corner_closing", 1), ("corner_pulled_open", -1)])
def test_corner_along_its_diagonal_agrees_with_the_frame_solution(loading, sign, leg, other, face):
    loads = {"a": (sign * 800.0, 0.0), "b": (-sign * 800.0, 0.0)}
    solved = corner(leg, other, face, loads)["face"]

    found = moment(loading, {"leg_mm": leg, "leg_b_mm": other, "face_offset_mm": face}, 800)

    assert found == pytest.approx(solved, rel=1e-6)


@pytest.mark.parametrize(("leg", "other", "face"), [(200, 200, 1), (200, 200, 30), (250, 180, 40)])
def test_corner_on_rollers_agrees_with_the_frame_solution(leg, other, face):
    solved = corner(leg, other, face, {"corner": (0.0, -1600.0)})["face"]

    found = moment("corner_opening", {"leg_mm": leg, "leg_b_mm": other, "face_offset_mm": face}, 1600)

    assert found == pytest.approx(solved, rel=1e-6)


def test_corner_on_rollers_with_friction_agrees_with_the_frame_solution():
    friction = 0.1 * 1600 / 2
    loads = {"corner": (0.0, -1600.0), "a": (friction, 0.0), "b": (-friction, 0.0)}
    solved = corner(200, 200, 30, loads)["face"]

    found = moment("corner_opening", {"leg_mm": 200, "face_offset_mm": 30, "friction": 0.1}, 1600)

    assert found == pytest.approx(solved, rel=1e-6)


def test_frame_of_four_joints_agrees_with_the_frame_solution():
    nodes = {"a": (0.0, 0.0), "b": (0.0, 600.0), "c": (450.0, 600.0), "d": (450.0, 0.0)}
    members = [("a", "b"), ("b", "c"), ("c", "d"), ("d", "a")]
    fixed = [("a", 0), ("a", 1), ("d", 1)]
    solved = frame_end_moments(nodes, members, fixed, {"b": (1000.0, 0.0)})

    # equal rails, so that all four corners share alike
    assert list(solved.values()) == pytest.approx([150.0] * 4, rel=1e-3)
    assert moment("frame_racking", {"rail_height_mm": 600}, 1000) == pytest.approx(solved["b"], rel=1e-3)


def test_portal_on_pinned_feet_agrees_with_the_frame_solution():
    nodes = {"a": (0.0, 0.0), "b": (0.0, 600.0), "c": (450.0, 600.0), "d": (450.0, 0.0)}
    fixed = [("a", 0), ("a", 1), ("d", 0), ("d", 1)]
    members = [("a", "b"), ("b", "c"), ("c", "d")]
    solved = frame_end_moments(nodes, members, fixed, {"b": (500.0, 0.0)})

    assert moment("portal_racking", {"rail_height_mm": 600}, 500) == pytest.approx(solved["b"], rel=1e-3)
    assert solved["b"] == pytest.approx(solved["c"], rel=1e-3)


def test_corner_legs_carry_shear_and_thrust_alike():
    closing, opening = (action_at_joint(code, {"leg_mm": 200}) for code in ("corner_closing", "corner_opening"))

    assert (closing.shear_factor, closing.normal_factor) == pytest.approx((1 / math.sqrt(2),) * 2)
    assert (opening.shear_factor, opening.normal_factor) == pytest.approx((1 / (2 * math.sqrt(2)),) * 2)


def test_opening_on_rollers_is_half_of_closing_along_the_diagonal():
    setup = {"leg_mm": 170, "face_offset_mm": 20}

    halved = action_at_joint("corner_opening", setup).factor * 2

    assert halved == pytest.approx(action_at_joint("corner_closing", setup).factor)


def test_withdrawal_of_a_dowel_has_its_mean_bond_stress():
    # a 10 mm dowel 25 deep: π·10·25 = 785 mm², and 4000 N on it 5.1 MPa
    dowel = {"fastener_count": 1, "fastener_diameter_mm": 10, "fastener_depth_mm": 25}
    area_mm2 = bonded_area("dowels", dowel).value_mm2

    assert (round(area_mm2), round(4000 * action_at_joint("withdrawal", {}).factor / area_mm2, 1)) == (
        785,
        5.1,
    )


def test_lap_and_block_shear_have_their_mean_stress():
    lap = bonded_area("lap_face", {"bond_length_mm": 10, "bond_width_mm": 20}).value_mm2
    block = bonded_area("face", {"bond_length_mm": 50.8, "bond_width_mm": 38.1}).value_mm2

    assert moment("lap_shear", {}, 2000) / lap == pytest.approx(10.0)
    assert (round(block), round(moment("block_shear", {}, 25_000) / block, 1)) == (1935, 12.9)
    assert action_at_joint("lap_shear", {"shear_faces": 2}).faces == 2


def test_torsion_of_a_glued_face_agrees_with_integration_over_it():
    # rigid members on a thin bond: shear grows with the distance from the centre; T = ∫ τ r dA on a fine grid
    b, h = 32.0, 38.0
    x = (np.arange(2000) + 0.5) / 2000 * b - b / 2
    y = (np.arange(2000) + 0.5) / 2000 * h - h / 2
    polar = (np.add.outer(x**2, y**2)).sum() * (b / 2000) * (h / 2000)
    greatest = 100_000 * math.hypot(b / 2, h / 2) / polar

    face = torsion_face("face", {"bond_length_mm": b, "bond_width_mm": h})

    assert polar == pytest.approx(250_100, rel=1e-3)
    assert 100_000 / face.modulus_mm3 == pytest.approx(greatest, rel=1e-6)
    assert round(100_000 / face.modulus_mm3, 1) == 9.9


def test_tenon_moment_as_torsion_of_two_cheeks():
    # 353 N·m on two cheeks of 32 × 38: 17.5 MPa, above what red oak bears in shear, so the shoulder bears too
    face = torsion_face("tenon", {"tenon_length_mm": 32, "tenon_depth_mm": 38})

    assert round(353_000 / face.modulus_mm3, 1) == 17.5


def test_every_arrangement_has_a_check_here():
    with open(__file__, encoding="utf-8") as source:
        text = source.read()

    assert [code for code in LOADINGS if f'"{code}"' not in text] == []
