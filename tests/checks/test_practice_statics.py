"""What pieces ask of their joints against textbook results and against frames solved by other means.

Sources: tables of beam and frame formulas as any textbook of statics has them (cantilever F·a; fixed ends F·L/8,
w·L²/12, F·a·b²/L²; one end guided w·L²/3 and F·L/2; portal on pinned feet H·h/4 in all for four legs). Beside each the
piece is solved as a plane frame by the direct stiffness method, which knows none of these formulas.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from stats.practice.demand import demand
from tests.checks.test_statics import frame_end_moments

PARTS = 64


def beam(span_mm, loads_n, held):
    """Largest moment at each node of a straight beam with loads at distances from its left end [N·m]."""
    at = sorted({0.0, span_mm, *loads_n})
    names = {x: f"n{i}" for i, x in enumerate(at)}
    nodes = {names[x]: (x, 0.0) for x in at}
    members = [(names[a], names[b]) for a, b in zip(at, at[1:], strict=False)]
    fixed = [(names[0.0 if end == "left" else span_mm], axis) for end, axis in held]
    found = frame_end_moments(nodes, members, fixed, {names[x]: (0.0, -f) for x, f in loads_n.items()})
    return found[names[0.0]], found[names[span_mm]]


FIXED = [(end, axis) for end in ("left", "right") for axis in (0, 1, 2)]
GUIDED = [("left", 0), ("left", 1), ("left", 2), ("right", 2)]


def spread(total_n, span_mm):
    """A spread load as many small ones."""
    at = (np.arange(PARTS) + 0.5) / PARTS * span_mm
    return dict.fromkeys(at.tolist(), total_n / PARTS)


def test_leaned_chair_agrees_with_the_worked_example():
    """560 N at 0.300 m on two sides: 84 N·m; 981 N leaned back 20° on legs 0.400 m long: 67 N·m; together 151 N·m."""
    found = demand("chair_leaned", {"sitter_n": 981, "tilt_deg": 20, "leg_mm": 400, "back_push_n": 560,
                                    "back_height_mm": 300, "sides": 2})  # fmt: skip

    assert [round(line.value) for line in found.lines] == [67, 84, 151]


@pytest.mark.parametrize(
    ("piece", "given", "expected"),
    [
        ("arm", {"load_n": 450, "arm_mm": 300}, 135.0),  # F·a
        ("arm", {"load_n": 450, "arm_mm": 300, "angle_deg": 10}, 133.0),  # F·a·cos φ
        ("seat", {"load_n": 1000, "span_mm": 400, "rails": 2}, 25.0),  # F·L/8 for each rail
        ("shelf_fixed", {"line_load_n_m": 300, "load_n": 0, "span_mm": 1000}, 25.0),  # w·L²/12
        ("shelf_fixed", {"line_load_n_m": 0, "load_n": 200, "span_mm": 1000}, 25.0),  # F·L/8
        ("bed_rail", {"load_n": 1000, "span_mm": 2000, "position_mm": 500}, 281.25),  # F·a·b²/L²
        ("frame_racked", {"push_n": 1000, "height_mm": 600, "width_mm": 400}, 150.0),  # H·h/4
        ("table_racking", {"push_n": 1000, "height_mm": 600, "legs": 2}, 300.0),  # portal, pinned feet: H·h/2
        ("table_racking", {"push_n": 1000, "height_mm": 600, "legs": 4}, 150.0),
        ("table_racking", {"push_n": 1000, "height_mm": 600, "legs": 2, "lower_rails": 1}, 150.0),  # closed frame
        ("bookcase_racking", {"push_n": 1000, "height_mm": 600, "fixed_shelves": 2}, 150.0),
        ("door_hung", {"weight_n": 0, "load_n": 100, "width_mm": 800, "rails": 2}, 20.0),  # F·L/2, one end guided
        ("door_hung", {"weight_n": 300, "load_n": 0, "width_mm": 800, "rails": 2}, 40.0),  # W·L/3, one end guided
        ("drawer_front", {"pull_n": 200, "width_mm": 500, "offset_mm": 0}, 100.0),  # F/2
    ],
)
def test_demand_agrees_with_textbook_results(piece, given, expected):
    assert demand(piece, given).value == pytest.approx(expected, rel=2e-3)


def test_seat_rail_agrees_with_a_solved_beam():
    found = demand("seat", {"load_n": 1000, "span_mm": 400, "rails": 2})

    assert beam(400.0, {200.0: 500.0}, FIXED)[0] == pytest.approx(found.value)


def test_shelf_agrees_with_a_solved_beam():
    found = demand("shelf_fixed", {"line_load_n_m": 400, "load_n": 150, "span_mm": 900})

    loads = spread(400 * 0.9, 900.0)
    loads[450.0] = loads.get(450.0, 0.0) + 150.0
    assert beam(900.0, loads, FIXED)[0] == pytest.approx(found.value, rel=1e-3)


@pytest.mark.parametrize("position_mm", [200.0, 633.0, 950.0])
def test_bed_rail_agrees_with_a_solved_beam(position_mm):
    found = demand("bed_rail", {"load_n": 1079, "span_mm": 1900, "position_mm": position_mm})

    assert beam(1900.0, {position_mm: 1079.0}, FIXED)[0] == pytest.approx(found.value)


@pytest.mark.parametrize(("weight_n", "load_n"), [(0, 200), (300, 0), (250, 200)])
def test_hung_door_agrees_with_a_solved_beam(weight_n, load_n):
    """A rail fixed at the hinge stile and guided at the far one, with half of all loads."""
    found = demand("door_hung", {"weight_n": weight_n, "load_n": load_n, "width_mm": 800, "rails": 2})

    loads = spread(weight_n / 2, 800.0) if weight_n else {}
    loads[800.0] = load_n / 2
    assert beam(800.0, loads, GUIDED)[0] == pytest.approx(found.value, rel=1e-3)


@pytest.mark.parametrize("offset_mm", [0.0, 60.0, 200.0])
def test_drawer_front_agrees_with_a_solved_beam(offset_mm):
    found = demand("drawer_front", {"pull_n": 200, "width_mm": 500, "offset_mm": offset_mm})

    near, far = 250.0 - offset_mm, 250.0 + offset_mm
    m_near, m_far = beam(500.0, {near: 200.0}, FIXED)
    assert found.bending_nm == pytest.approx(m_near)
    assert found.axial_n == pytest.approx(200 * far / 500 + (m_near - m_far) * 1000 / 500)


@pytest.mark.parametrize("lower_rails", [0, 1])
def test_racked_table_agrees_with_a_solved_frame(lower_rails):
    """One side of a table: two legs take half of the push; a lower rail at the feet closes the frame."""
    found = demand("table_racking", {"push_n": 800, "height_mm": 700, "apron_mm": 900, "legs": 4,
                                     "lower_rails": lower_rails})  # fmt: skip

    nodes = {"a": (0.0, 0.0), "b": (0.0, 700.0), "c": (900.0, 700.0), "d": (900.0, 0.0)}
    members = [("a", "b"), ("b", "c"), ("c", "d")] + ([("a", "d")] if lower_rails else [])
    fixed = [("a", 0), ("a", 1), ("d", 1)] + ([] if lower_rails else [("d", 0)])
    moments = frame_end_moments(nodes, members, fixed, {"b": (400.0, 0.0)})
    # with both feet held the push divides a little unevenly, by how the apron shortens
    assert (moments["b"] + moments["c"]) / 2 == pytest.approx(found.value, rel=1e-3)


@pytest.mark.parametrize("shelves", [2, 3, 4, 6])
@pytest.mark.parametrize("width_mm", [400.0, 800.0, 1600.0])
def test_racked_bookcase_bounds_a_solved_frame(shelves, width_mm):
    """The portal method lies at or up to a fifth above the frame itself: a bound on the kind side of nothing."""
    found = demand(
        "bookcase_racking", {"push_n": 100, "height_mm": 1800, "width_mm": width_mm, "fixed_shelves": shelves}
    )

    nodes, members = {}, []
    for i in range(shelves):
        y = 1800.0 * i / (shelves - 1)
        nodes |= {f"l{i}": (0.0, y), f"r{i}": (width_mm, y)}
        members.append((f"l{i}", f"r{i}"))
        if i:
            members += [(f"l{i - 1}", f"l{i}"), (f"r{i - 1}", f"r{i}")]
    worst = max(frame_end_moments(nodes, members, [("l0", 0), ("l0", 1), ("r0", 1)],
                                  {f"l{shelves - 1}": (100.0, 0.0)}).values())  # fmt: skip
    assert 0.83 * found.value <= worst <= found.value * (1 + 1e-6)


def test_racked_frame_agrees_with_a_solved_frame():
    found = demand("frame_racked", {"push_n": 386, "height_mm": 600, "width_mm": 400})

    nodes = {"a": (0.0, 0.0), "b": (0.0, 600.0), "c": (400.0, 600.0), "d": (400.0, 0.0)}
    members = [("a", "b"), ("b", "c"), ("c", "d"), ("d", "a")]
    moments = frame_end_moments(nodes, members, [("a", 0), ("a", 1), ("d", 1)], {"b": (386.0, 0.0)})
    for corner in nodes:
        assert moments[corner] == pytest.approx(found.value, rel=1e-3)


def test_pinned_ends_bring_no_moment_and_lie_below_every_bound():
    """The other end of what is not decided by statics: a rail that turns freely."""
    pinned = [("left", 0), ("left", 1), ("right", 1)]
    for piece in ("seat", "shelf_fixed", "bed_rail"):
        found = demand(piece)
        assert (found.determinate, found.least) == (False, 0.0)
        assert beam(1000.0, {400.0: 500.0}, pinned) == pytest.approx((0.0, 0.0), abs=1e-6)
    assert math.isclose(demand("arm").least, demand("arm").value)
