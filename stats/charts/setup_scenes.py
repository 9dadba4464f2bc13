"""The scenes of a setup's drawing, one a loading: what is held, where the joint is, where the load comes on."""

from __future__ import annotations

import math
from collections.abc import Callable

from stats.charts.look import SHEET
from stats.charts.setup_pen import GLUE, IRON, LOAD, WIDTH, Point
from stats.charts.setup_scale import NOT_GIVEN, Scene, rule

REFERENCES = {
    "face": "to the joint's face",
    "centre": "to the other member's centre line",
    "far_face": "to the other member's far face",
}


def _cantilever(s: Scene) -> list[str]:
    face, y = 84.0, 74.0
    said = s.given.get("arm_reference")
    reference = str(said or "face")
    s.scale(s.number("arm_mm"), 176.0)
    other = s.px("other_depth_mm", 34.0, 14.0, 60.0)
    depth = s.depth()
    if reference != "face" and s.number("other_depth_mm") is None:
        s.lengths_true = False
    start = face - {"face": 0.0, "centre": other / 2, "far_face": other}.get(reference, 0.0)
    at = start + 176.0
    s.pen.held(face - other - 14, 150, other + 28, 11)
    s.pen.member((face - other / 2, 150), (face - other / 2, 16), other)
    s.pen.member((face, y), (at + 14, y), depth)
    s.pen.joint((face, y), "joint", away=(16, depth / 2 + 18))
    if s.reads == "moment":
        s.pen.shape(((at - 6, y - 6), (at + 6, y - 6), (at + 6, y + 6), (at - 6, y + 6)), IRON)
        s.pen.turn((at, y), "M, as read", r=max(26.0, depth / 2 + 10))
        return ["An upright member is held fast; another, joined to it at a right angle, is turned by a torque wrench."]
    s.depth_line((at + 14, y - depth / 2), depth)
    angle = s.given.get("angle_deg") or 0.0
    tilt = math.radians(min(max(float(angle), -60.0), 60.0))
    s.load((at, y - depth / 2), (-math.sin(tilt), math.cos(tilt)), side=-1.0)
    s.pen.line((at, y), (at, 176), width=0.7, dash="3 3")
    s.pen.dimension((start, 162), (at, 162), (0, 24), s.label("arm_mm"))
    to = REFERENCES.get(reference, REFERENCES["face"])
    s.notes.append(f"The arm is measured {to}." if said else f"The arm is taken as measured {to}, since it isn't said.")
    if angle:
        s.notes.append(f"Load line {rule(abs(float(angle)))}° from square to the arm.")
    return ["An upright member is held fast; another, joined to it at a right angle, is loaded across at its free end."]


def _bar(s: Scene) -> tuple[float, float, float, float]:
    """A bar on two supports: its supports, the height of its middle, and its depth; the span sets the scale."""
    left, right, y = 36.0, 256.0, 74.0
    s.scale(s.number("span_mm"), right - left)
    depth = s.depth()
    s.pen.member((left - 14, y), (right + 14, y), depth)
    s.depth_line((right + 14, y - depth / 2), depth)
    for x in (left, right):
        s.pen.pin((x, y + depth / 2))
    return left, right, y, depth


def _spans(s: Scene, rows: list[tuple[float, float, str]], y: float) -> None:
    """Dimension lines below one another, each from one place to another along the bar."""
    for i, (a, b, name) in enumerate(rows):
        s.pen.dimension((a, y), (b, y), (0, 26.0 + 24.0 * i), s.label(name))


def _centre_point(s: Scene) -> list[str]:
    left, right, y, depth = _bar(s)
    middle = (left + right) / 2
    offset = s.number("joint_offset_mm")
    at = left + s.px("joint_offset_mm", 110.0, 14.0, 110.0) if offset is not None else middle
    s.load((middle, y - depth / 2), (0, 1))
    s.pen.joint((at, y), "joint", away=(16, depth / 2 + 14))
    rows = [(left, at, "joint_offset_mm")] if offset is not None else []
    _spans(s, [*rows, (left, right, "span_mm")], y + depth / 2 + 16)
    where = "to one side of it" if offset is not None and at != middle else "under it"
    return [f"A bar on two supports is loaded at the middle of its span; the joint is {where}."]


def _two_point(s: Scene) -> list[str]:
    left, right, y, depth = _bar(s)
    if s.per_mm is None and s.number("load_offset_mm"):
        s.notes.append("The span was not needed: between the loads the moment doesn't depend on it.")
    load = s.px("load_offset_mm", 70.0, 20.0, 104.0)
    offset = s.number("joint_offset_mm")
    at = left + s.px("joint_offset_mm", 110.0, 14.0, 110.0) if offset is not None else (left + right) / 2
    for x, side in ((left + load, -1.0), (right - load, 1.0)):
        s.load((x, y - depth / 2), (0, 1), "F/2", side)
    s.pen.joint((at, y), "joint", away=(16, depth / 2 + 14))
    rows = [(left, left + load, "load_offset_mm")]
    rows += [(left, at, "joint_offset_mm")] if offset is not None else []
    _spans(s, [*rows, (left, right, "span_mm")], y + depth / 2 + 16)
    return ["A bar on two supports is loaded at two points alike, F in all; the joint is between them."]


def _legs(s: Scene, slant: float) -> tuple[float, float, float | None]:
    """How far the corner is along and off the line between the legs' ends, and how far the face is from it."""
    p = s.number("leg_mm") or None
    q = s.number("leg_b_mm") or p
    if p and q and s.number("leg_mm"):
        if not 0.4 <= q / p <= 2.5:
            s.lengths_true = False
            q = p * min(max(q / p, 0.4), 2.5)
        s.scale(math.hypot(p, q), slant)
    else:
        s.scale(None, slant)
        p = q = 1.0
    long = math.hypot(p, q)
    a, b = slant * p / long, slant * q / long
    offset = s.px("face_offset_mm", 0.0, 0.0, 0.6 * a) if s.number("face_offset_mm") else None
    if offset is not None and offset < 16:
        s.lengths_true, offset = False, 16.0
    return a * a / slant, a * b / slant, offset


def _corner(s: Scene, apex: Point, one: Point, two: Point, offset: float | None) -> float:
    """Two legs that meet at a right angle, the loaded one butting the other, with their lines; gives their depth."""
    depth = s.depth(usual=24.0, high=40.0)
    u, v = (_towards(apex, end) for end in (one, two))
    s.pen.member((apex[0] - v[0] * depth / 2, apex[1] - v[1] * depth / 2), two, depth)
    begin = max(offset or 0.0, depth / 2)
    s.pen.member((apex[0] + u[0] * begin, apex[1] + u[1] * begin), one, depth)
    at = (apex[0] + u[0] * (offset or 0.0), apex[1] + u[1] * (offset or 0.0))
    # A leg's line stands outside, on the far side of the other leg.
    out = depth / 2 + 14
    s.pen.dimension(apex, one, (-v[0] * out, -v[1] * out), s.label("leg_mm"), "end" if v[0] >= 0 else "start")
    if s.number("leg_b_mm"):
        s.pen.dimension(apex, two, (-u[0] * out, -u[1] * out), s.label("leg_b_mm"), "end" if u[0] >= 0 else "start")
    if offset is not None:
        beyond = out + 20
        s.pen.dimension(apex, at, (-v[0] * beyond, -v[1] * beyond), s.label("face_offset_mm"), "end")
    s.pen.joint(at, "joint", "start", away=(depth / 2 + 22, 10))
    return depth


def _towards(a: Point, b: Point) -> Point:
    long = math.dist(a, b)
    return ((b[0] - a[0]) / long, (b[1] - a[1]) / long)


def _diagonal(s: Scene, pulled: bool) -> list[str]:
    slant, x, top = 176.0, 222.0, 64.0
    along, off, offset = _legs(s, slant)
    apex, one, two = (x - off, top + along), (x, top), (x, top + slant)
    s.pen.line(one, two, width=0.8, dash="4 3")
    depth = _corner(s, apex, one, two, offset)
    if pulled:
        for end, down in ((one, -1.0), (two, 1.0)):
            s.pen.circle(end, 4, SHEET)
            s.pen.line((x, end[1] + 4 * down), (x, end[1] + 12 * down), width=2.8, color=LOAD)
            s.load((x, end[1] + 46 * down), (0, down), pulls=True)
        return ["Two legs meet at a right-angled corner and are pulled apart along the line between their ends."]
    # The lowest corner of a leg's end, and the highest of the other's, are half its depth off its centre-line.
    upper, lower = (abs(_towards(apex, end)[0]) * depth / 2 for end in (one, two))
    s.load((x, top - upper), (0, 1))
    s.pen.held(x - 34, top + slant + lower, 68, 9)
    return ["Two legs meet at a right-angled corner and are squeezed along the line between their ends."]


def _closing(s: Scene) -> list[str]:
    return _diagonal(s, pulled=False)


def _pulled_open(s: Scene) -> list[str]:
    return _diagonal(s, pulled=True)


def _on_rollers(s: Scene) -> list[str]:
    slant, left, ground = 196.0, 82.0, 176.0
    along, off, offset = _legs(s, slant)
    apex, one, two = (left + along, ground - off), (left, ground), (left + slant, ground)
    depth = _corner(s, apex, one, two, offset)
    sides = [_towards(apex, end) for end in (one, two)]
    s.load((apex[0], apex[1] - (abs(sides[0][0]) + abs(sides[1][0])) * depth / 2), (0, 1))
    lowest = max(end[1] + abs(u[0]) * depth / 2 for end, u in zip((one, two), sides, strict=True))
    for end, u in zip((one, two), sides, strict=True):
        inwards = math.copysign(u[1] * depth / 2, -u[0])
        s.pen.roller((end[0] + inwards, lowest))
    friction = s.number("friction")
    s.notes.append(f"Friction at the rollers {friction:g}." if friction else "The rollers are taken as free.")
    return ["A right-angled corner stands on the ends of its legs, on rollers, and is pressed down at the corner."]


def _withdrawal(s: Scene) -> list[str]:
    x, y = WIDTH / 2, 150.0
    s.lengths_true = False
    s.pen.member((x - 96, y), (x + 96, y), 34)
    s.pen.member((x, y - 17), (x, 62), 30)
    for left in (x - 96, x + 66):
        s.pen.held(left, y - 29, 30, 12)
    s.pen.held(x - 108, y + 17, 216, 9)
    s.load((x, 22), (0, -1), pulls=True)
    s.pen.joint((x, y - 17), "joint", away=(34, -18))
    return ["One member is held down; the other, let into it, is pulled straight out by F."]


def _lap(s: Scene) -> list[str]:
    faces = s.number("shear_faces")
    y, thick = 82.0, 17.0
    s.lengths_true = False
    left, right = 139.0, 201.0
    double = faces == 2
    s.pen.member((56, y), (right, y), thick)
    rows = (y - thick, y + thick) if double else (y + thick,)
    for row in rows:
        s.pen.member((left, row), (262 if double else 284, row), thick)
    if double:
        s.pen.member((240, y), (284, y), thick)
    s.load((14, y), (-1, 0), pulls=True)
    pull = y if double else y + thick
    s.load((326, pull), (1, 0), pulls=True)
    for row in rows:
        face = (y + row) / 2
        s.pen.line((left, face), (right, face), color=GLUE, width=3.2)
    s.pen.joint((WIDTH / 2, (y + rows[-1]) / 2), "joint", away=(18, 30))
    if s.number("bond_length_mm") is not None:
        top = min(rows[0], y) - thick / 2
        s.pen.dimension((left, top), (right, top), (0, -18), s.label("bond_length_mm"))
    s.notes.append(
        "Two bonded faces share the load." if double else "One bonded face carries the load."
        if faces else f"Bonded faces: {NOT_GIVEN}; taken as one."
    )  # fmt: skip
    return ["Overlapping members are pulled apart lengthwise, so that their bond slides."]


def _block(s: Scene) -> list[str]:
    s.lengths_true = False
    top, bond = 66.0, WIDTH / 2
    s.pen.member((bond - 31, top + 112), (bond - 31, top + 14), 62)
    s.pen.member((bond + 31, top + 92), (bond + 31, top), 62)
    s.pen.held(bond - 78, top + 112, 78, 10)
    s.pen.held(bond - 76, top + 10, 14, 102)
    s.load((bond + 18, top), (0, 1))
    s.pen.line((bond, top + 14), (bond, top + 92), color=GLUE, width=3.2)
    s.pen.joint((bond, top + 52), "joint", away=(78, -14))
    return ["Two blocks are glued face to face; one is held, the other is pushed off along the plane of the bond."]


def _torsion(s: Scene) -> list[str]:
    x, y = 96.0, 82.0
    s.scale(s.number("arm_mm"), 170.0)
    depth = s.depth(usual=36.0)
    other = s.px("other_depth_mm", 36.0, 14.0, 60.0)
    for top in (4.0, 152.0):
        s.pen.held(x - other / 2 - 14, top, other + 28, 10)
    s.pen.member((x, 152), (x, 14), other)
    s.pen.member((x - 40, y), (x + (190 if s.reads != "moment" else 70), y), depth)
    square = [(x + i * other / 2, y + j * depth / 2) for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    s.pen.line(*square, square[0], color=GLUE, width=2.4, dash="5 3")
    s.pen.joint((x, y), "joint: the glued face", away=(other / 2 + 12, depth / 2 + 22))
    if s.reads == "moment":
        s.pen.turn((x, y), "T, as read", r=max(depth, other) / 2 + 18)
        return ["Two members cross and are glued face to face; one is held, the other twisted by a torque wrench."]
    s.load((x + 170, y - depth / 2), (0, 1))
    s.pen.dimension((x, 162), (x + 170, 162), (0, 24), s.label("arm_mm"))
    s.pen.line((x + 170, y), (x + 170, 176), width=0.7, dash="3 3")
    return ["Two members cross and are glued face to face; one is held, the other pushed at the end of an arm."]


def _push(s: Scene, at: Point) -> None:
    """The push on the top corner of a frame, along the rail or along a diagonal."""
    angle = s.number("diagonal_deg") or 0.0
    tilt = math.radians(min(angle, 75.0))
    s.load(at, (math.cos(tilt), math.sin(tilt)), side=-1.0)
    if angle:
        s.notes.append(f"The push is {rule(angle)}° from the rail.")
    frames = s.number("frame_count")
    if frames and frames > 1:
        s.notes.append(f"{frames:g} frames share the push.")


def _frame(s: Scene) -> list[str]:
    left, right, top = 78.0, 208.0, 52.0
    s.scale(s.number("rail_height_mm"), 120.0)
    depth = s.depth(usual=22.0, high=34.0)
    bottom = top + 120.0
    for y in (top, bottom):
        s.pen.member((left + depth / 2, y), (right - depth / 2, y), depth)
    for x in (left, right):
        s.pen.member((x, bottom + depth / 2), (x, top - depth / 2), depth)
    s.pen.held(left - 24, bottom + depth / 2, right - left + 48, 9)
    s.pen.held(right + depth / 2, bottom - depth / 2, 10, depth)
    _push(s, (left - depth / 2, top))
    for at in ((left, top), (right, top), (left, bottom), (right, bottom)):
        s.pen.joint(at)
    s.pen.joint((left, top), "4 joints", away=(28, 34))
    s.pen.dimension((right, top), (right, bottom), (depth / 2 + 22, 0), s.label("rail_height_mm"), "start")
    s.notes.append("How wide the frame is makes no difference and isn't recorded.")
    return ["A closed frame of four joints, its lower rail held, is pushed out of square along its upper rail."]


def _portal(s: Scene) -> list[str]:
    left, right, top = 78.0, 208.0, 52.0
    s.scale(s.number("rail_height_mm"), 130.0)
    depth = s.depth(usual=22.0, high=34.0)
    feet = top + 130.0
    s.pen.member((left + depth / 2, top), (right - depth / 2, top), depth)
    for x in (left, right):
        s.pen.member((x, feet), (x, top - depth / 2), depth)
        s.pen.pin((x, feet))
    _push(s, (left - depth / 2, top))
    s.pen.joint((right, top))
    s.pen.joint((left, top), "2 joints", away=(28, 34))
    s.pen.dimension((right, top), (right, feet), (depth / 2 + 22, 0), s.label("rail_height_mm"), "start")
    s.notes.append("How wide the portal is makes no difference and isn't recorded.")
    return ["Two legs on feet that are free to turn, and a rail between them, are pushed sideways at the rail."]


SCENES: dict[str, Callable[[Scene], list[str]]] = {
    "cantilever_arm": _cantilever,
    "centre_point_bending": _centre_point,
    "two_point_bending": _two_point,
    "corner_closing": _closing,
    "corner_opening": _on_rollers,
    "corner_pulled_open": _pulled_open,
    "withdrawal": _withdrawal,
    "lap_shear": _lap,
    "block_shear": _block,
    "torsion": _torsion,
    "frame_racking": _frame,
    "portal_racking": _portal,
}
