"""What pieces ask of their joints: equilibrium whatever the sizes, the working that gives the result, refusals."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import stats.practice
from stats.errors import StatsError
from stats.practice.caution import ALWAYS, USES, caution
from stats.practice.demand import PIECES, demand
from stats.practice.loads import KINDS, PRESETS, presets_for

from .evaluate import again

SAID = settings(max_examples=20, deadline=None)


def sizes(piece, **fixed):
    """Any values that a piece takes."""
    inputs = {
        one.name: st.integers(int(one.low), int(one.high)) if one.whole else st.floats(one.low, one.high)
        for one in PIECES[piece].inputs
        if one.name not in fixed
    }
    return st.fixed_dictionaries(inputs).map(lambda values: values | fixed)


@pytest.mark.parametrize("piece", PIECES)
def test_demand_of_every_piece_works_from_its_defaults(piece):
    found = demand(piece)

    assert found.value > 0 and math.isfinite(found.value)
    assert 0 <= found.least <= found.value
    assert found.least == found.value or not found.determinate
    assert found.value == (found.bending_nm if found.action == "bending" else found.axial_n)
    assert found.defaulted == tuple(one.name for one in PIECES[piece].inputs)
    assert found.assumption.endswith(".") and found.joint


@pytest.mark.parametrize("piece", PIECES)
@SAID
@given(data=st.data())
def test_every_line_of_a_demand_gives_what_it_says(piece, data):
    fixed = {"position_mm": 50.0} if piece == "bed_rail" else {"offset_mm": 20.0} if piece == "drawer_front" else {}
    values = data.draw(sizes(piece, **fixed))
    loads = [one.name for one in PIECES[piece].inputs if one.is_load]
    if not any(values[name] for name in loads):
        values[loads[0]] = 100.0

    found = demand(piece, values, dynamic=1.5, misuse=2.0)

    assert found.load_factor == 3.0
    for line in found.lines:
        assert again(line) == pytest.approx(line.value, rel=1e-9, abs=1e-9), line.worked
    assert found.lines[-1].value == found.value
    assert json.dumps([line.to_dict() for line in found.lines])


@pytest.mark.parametrize("piece", PIECES)
def test_demand_grows_with_its_factors_in_proportion(piece):
    plain, raised = demand(piece), demand(piece, dynamic=1.5, misuse=2.0)

    assert raised.value == pytest.approx(3 * plain.value)
    assert raised.inputs == plain.inputs
    assert [line.note for line in raised.lines].count("dynamic and misuse factors") >= 1


@SAID
@given(v=sizes("chair_leaned"))
def test_leaned_chair_is_in_equilibrium(v):
    """The post alone: the foot's force and the push, moments about the rail, each side for itself."""
    found = demand("chair_leaned", v)

    lean, n = math.radians(v["tilt_deg"]), v["sides"]
    foot = (v["leg_mm"] * math.sin(lean), -v["leg_mm"] * math.cos(lean))  # from the joint, forwards and up
    hand = (-v["back_height_mm"] * math.sin(lean), v["back_height_mm"] * math.cos(lean))
    up, push = v["sitter_n"] / n, v["back_push_n"] / n
    square = (-push * math.cos(lean), -push * math.sin(lean))  # backwards and down, square to the post
    about = foot[0] * up + hand[0] * square[1] - hand[1] * square[0]
    assert found.bending_nm == pytest.approx(about / 1000, rel=1e-9)
    along_post = up * math.cos(lean)
    assert found.shear_n == pytest.approx(along_post)


@SAID
@given(v=sizes("table_racking"))
def test_racked_table_is_in_equilibrium(v):
    """Legs share the push; joints and feet turn it, and the couple of a frame's legs holds it upright."""
    found = demand("table_racking", v)

    per_leg = v["push_n"] / v["legs"]
    ends = 2 if v["lower_rails"] else 1
    assert found.bending_nm * ends == pytest.approx(per_leg * v["height_mm"] / 1000)
    assert found.shear_n * v["apron_mm"] / 1000 == pytest.approx(2 * found.bending_nm)


@SAID
@given(v=sizes("bookcase_racking"))
def test_racked_bookcase_is_in_equilibrium(v):
    """All shelf ends together turn what the push does over the whole height."""
    found = demand("bookcase_racking", v)

    shelves = v["fixed_shelves"]
    inner = found.bending_nm if shelves > 2 else 0.0
    outer = found.bending_nm / 2 if shelves > 2 else found.bending_nm
    total = 2 * (2 * outer) + 2 * (shelves - 2) * inner
    assert total == pytest.approx(v["push_n"] * v["height_mm"] / 1000)


@SAID
@given(v=sizes("door_hung"))
def test_hung_door_is_in_equilibrium(v):
    if not v["load_n"] + v["weight_n"]:
        v["load_n"] = 1.0
    found = demand("door_hung", v)

    width, height = v["width_mm"] / 1000, v["height_mm"] / 1000
    turned = v["load_n"] * width + v["weight_n"] * width / 2
    assert v["rails"] * found.bending_nm + found.axial_n * height == pytest.approx(turned)
    assert v["rails"] * found.shear_n == pytest.approx(v["load_n"] + v["weight_n"])


@SAID
@given(v=sizes("frame_racked"))
def test_racked_frame_is_in_equilibrium(v):
    found = demand("frame_racked", v)

    assert 4 * found.bending_nm == pytest.approx(v["push_n"] * v["height_mm"] / 1000)
    assert found.shear_n * v["width_mm"] / 1000 == pytest.approx(2 * found.bending_nm)


@SAID
@given(width=st.floats(50, 2000), part=st.floats(0, 0.49), pull=st.floats(1, 20_000))
def test_drawer_corners_hold_the_pull_between_them(width, part, pull):
    found = demand("drawer_front", {"pull_n": pull, "width_mm": width, "offset_mm": part * width})

    near = found.axial_n
    assert pull / 2 - 1e-9 <= found.least <= near + 1e-9 <= pull + 1e-6
    # moments about the farther corner, with both ends' own: R_near b = F c + M_near - M_far
    a, c, b = (0.5 - part) * width, (0.5 + part) * width, width
    m_near, m_far = (pull * a * (c / b) ** 2, pull * c * (a / b) ** 2)
    assert near * b == pytest.approx(pull * c + m_near - m_far)


@SAID
@given(span=st.floats(200, 4000), part=st.floats(0.02, 0.5), weight=st.floats(1, 20_000))
def test_bed_rail_is_in_equilibrium_and_worst_a_third_along(span, part, weight):
    span_mm, a = span, max(1.0, part * span)
    found = demand("bed_rail", {"load_n": weight, "span_mm": span_mm, "position_mm": a})

    b = span_mm - a
    m_near, m_far = weight * a * (b / span_mm) ** 2, weight * b * (a / span_mm) ** 2
    assert found.bending_nm == pytest.approx(m_near / 1000)
    assert found.shear_n * span_mm == pytest.approx(weight * b + m_near - m_far)
    third = demand("bed_rail", {"load_n": weight, "span_mm": span_mm, "position_mm": span_mm / 3})
    assert found.bending_nm <= third.bending_nm * (1 + 1e-12)
    assert third.bending_nm == pytest.approx(4 / 27 * weight * span_mm / 1000)


@SAID
@given(v=sizes("arm"))
def test_arm_resolves_its_load(v):
    found = demand("arm", v)

    assert math.hypot(found.shear_n, found.axial_n) == pytest.approx(v["load_n"])
    assert found.bending_nm == pytest.approx(found.shear_n * v["arm_mm"] / 1000)


@pytest.mark.parametrize(
    ("piece", "given_", "message"),
    [
        ("sofa", {}, r"piece \('sofa'\) must be one of chair_leaned, seat"),
        ("arm", {"arm_mm": 0}, r"arm_mm \(0\) must be 5 to 4000 mm: from the joint's face to the load"),
        ("arm", {"arm_mm": -300}, r"arm_mm \(-300\) must be 5 to 4000 mm"),
        ("arm", {"arm_mm": float("nan")}, r"arm_mm \(nan\) must be"),
        ("arm", {"load_n": 1e9}, r"load_n \(1e\+09\) must be 1 to 20000 N: the load at the arm's end"),
        ("arm", {"load_n": float("inf")}, r"load_n \(inf\) must be"),
        ("arm", {"arm_mm": "long"}, r"arm_mm \('long'\) must be a number"),
        ("arm", {"leg_mm": 3}, r"leg_mm \(3\) is not asked of this piece; it takes load_n, arm_mm, angle_deg"),
        ("chair_leaned", {"tilt_deg": 90}, r"tilt_deg \(90\) must be 0 to 45 °"),
        ("table_racking", {"legs": 2.5}, r"legs \(2.5\) must be a whole number"),
        ("table_racking", {"lower_rails": 2}, r"lower_rails \(2\) must be 0 to 1"),
        ("bed_rail", {"span_mm": 1000, "position_mm": 700}, r"position_mm \(700\) must be at most half of span_mm"),
        ("drawer_front", {"width_mm": 300, "offset_mm": 150}, r"offset_mm \(150\) must be less than half of width_mm"),
        ("door_hung", {"weight_n": 0, "load_n": 0}, r"weight_n \(0\) must be above zero, or another load"),
        ("shelf_fixed", {"line_load_n_m": 0}, r"line_load_n_m \(0\) must be above zero"),
    ],
)  # fmt: skip
def test_demand_refuses_what_cannot_be(piece, given_, message):
    with pytest.raises(StatsError, match=message):
        demand(piece, given_)


@pytest.mark.parametrize("bad", [0.0, 0.99, 11.0, float("nan")])
@pytest.mark.parametrize("name", ["dynamic", "misuse"])
def test_demand_refuses_a_factor_out_of_range(name, bad):
    with pytest.raises(StatsError, match=rf"{name} \(.*\) must be 1 to 10: a factor for"):
        demand("arm", **{name: bad})


def test_nothing_given_counts_as_default():
    assert demand("seat", {"load_n": None, "span_mm": ""}).value == demand("seat").value


@pytest.mark.parametrize(("use", "leads"), [("own", False), *((use, True) for use in USES if use != "own")])
def test_caution_leads_where_others_are_concerned(use, leads):
    found = demand("seat", use=use).caution

    assert (found.use, found.leads) == (use, leads)
    assert found.sentences[-len(ALWAYS) :] == ALWAYS
    assert len(found.sentences) == len(ALWAYS) + leads
    if leads:
        assert "licensed professional" in found.sentences[0]


def test_caution_refuses_an_unknown_use():
    with pytest.raises(StatsError, match=r"use \('shop'\) must be one of own, others, children, overhead, structural"):
        caution("shop")


def test_presets_set_inputs_in_range_and_say_where_they_come_from():
    assert len(PRESETS) == 8
    for preset in PRESETS.values():
        assert preset.kind in KINDS and len(preset.source) > 20 and preset.note
        for piece, values in preset.sets.items():
            assert demand(piece, values).value > 0
            assert set(values) <= {one.name for one in PIECES[piece].inputs if one.is_load}


def test_presets_name_their_loads():
    assert PRESETS["adult_110"].sets["seat"] == {"load_n": pytest.approx(1078.7, abs=0.05)}
    assert PRESETS["bifma_arm"].sets["arm"]["load_n"] == pytest.approx(890, abs=0.5)
    assert [one.code for one in presets_for("drawer_front")] == ["hand_push"]
    assert presets_for("door_hung") == ()


def test_nothing_in_these_rooms_calls_a_piece_fit_or_unfit():
    """No verdict: the word never stands in code, docs or answers."""
    rooms = [*Path(stats.practice.__file__).parent.glob("*.py")]
    rooms += [*(Path(stats.practice.__file__).parents[1] / "charts").glob("piece_*.py")]
    assert len(rooms) > 20
    for file in rooms:
        assert not re.search(r"\b(un)?safe(ly|ty)?\b", file.read_text(encoding="utf-8"), re.IGNORECASE), file.name
