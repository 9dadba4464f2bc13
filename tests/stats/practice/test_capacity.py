"""From a lower limit to a piece's own sizes: by hand, by both ways, with factors; refusals."""

from __future__ import annotations

import math

import pytest

from stats.errors import MissingInputs, NotCovered, StatsError
from stats.footing.section import SECTION_RULES, bonded_area, torsion_face
from stats.footing.timber import Timber
from stats.practice.capacity import capacity
from stats.practice.factors import (
    DOWEL_SOURCE,
    LASTING_S,
    duration,
    moisture,
    own,
    repeated_chair,
    repeated_dowel,
    size_depth,
)
from stats.practice.limit import next_shop
from stats.practice.scaling import by_bond
from stats.practice.shops import ShopEvidence
from stats.practice.sizes import check_sizes

from .evaluate import again

STRESS = next_shop(ShopEvidence(math.log(20.0), 0.05, 0.10, 0.15, 7.0, 60.0, 8, 68))
RATIO = next_shop(ShopEvidence(math.log(0.24), 0.05, 0.10, 0.15, 7.0, 60.0, 8, 68))
RAIL = {"member_thickness_mm": 22.2, "member_depth_mm": 63.5, "tenon_length_mm": 32.0, "tenon_depth_mm": 38.0}
DOWELS = {"member_thickness_mm": 22.0, "member_depth_mm": 60.0, "fastener_count": 2, "fastener_diameter_mm": 10.0,
          "fastener_depth_mm": 30.0, "fastener_spacing_mm": 30.0, "fastener_edge_mm": 15.0}  # fmt: skip
RULES = {"area_rule": "tenon", "section_rule": "member"}
OAK = Timber("oak", "oak", "hardwood", mor_12_mpa=99, mor_green_mpa=57.2)
Z = 22.2 * 63.5**2 / 6


def test_stress_becomes_a_moment_by_the_section():
    found = capacity(STRESS, "stress", "bending", RAIL, **RULES)

    assert found.value == pytest.approx(STRESS.value * Z / 1000)
    assert found.typical == pytest.approx(20.0 * Z / 1000)
    assert (found.unit, found.rule, found.upper) == ("N·m", "section", found.value)
    assert found.single.low < found.typical < found.single.high
    assert found.value < found.typical
    assert found.lines[-1].worked.startswith("M = σ · Z = ")


def test_ratio_to_solid_wood_becomes_a_moment_by_the_wood():
    """353 N·m of red oak is 0.24 of the solid rail's 1477 N·m."""
    found = capacity(RATIO, "ratio_solid", "bending", RAIL, solid_mpa=99.0, **RULES)

    assert found.typical == pytest.approx(0.24 * 99 * Z / 1000)
    assert found.typical == pytest.approx(353, rel=0.01)
    assert found.value == pytest.approx(RATIO.value * 99 * Z / 1000)


@pytest.mark.parametrize("footing", ["stress", "ratio_solid", "at_joint"])
def test_both_ways_agree_where_the_joint_is_built_as_tested(footing):
    found = capacity(STRESS, footing, "bending", RAIL, tested_dims=RAIL, solid_mpa=99.0, **RULES)

    assert [one.rule for one in found.scaled] == ["section", "bond"]
    assert found.upper == pytest.approx(found.value)
    same = capacity(STRESS, "at_joint", "bending")
    if footing == "at_joint":
        assert found.value == pytest.approx(same.value)
        assert same.rule == "as tested"


def test_longer_tenon_raises_one_way_and_deeper_rail_the_other():
    longer = capacity(STRESS, "stress", "bending", RAIL | {"tenon_length_mm": 40.0}, tested_dims=RAIL, **RULES)
    deeper = capacity(STRESS, "stress", "bending", RAIL | {"member_depth_mm": 80.0}, tested_dims=RAIL,
                      size_effect=False, **RULES)  # fmt: skip
    plain = capacity(STRESS, "stress", "bending", RAIL, tested_dims=RAIL, **RULES)

    assert (longer.rule, deeper.rule) == ("section", "bond")
    assert longer.value == pytest.approx(plain.value)
    grown = torsion_face("tenon", RAIL | {"tenon_length_mm": 40.0}).modulus_mm3
    assert longer.upper / plain.value == pytest.approx(grown / torsion_face("tenon", RAIL).modulus_mm3)
    assert deeper.value == pytest.approx(plain.value)
    assert deeper.upper / plain.value == pytest.approx((80 / 63.5) ** 2)


@pytest.mark.parametrize("footing", ["stress", "ratio_solid", "at_joint"])
def test_every_line_of_a_capacity_gives_what_it_says(footing):
    built = RAIL | {"tenon_length_mm": 40.0, "member_depth_mm": 80.0}
    taken = (own(0.8, "for luck"), repeated_chair())

    found = capacity(
        RATIO if footing == "ratio_solid" else STRESS, footing, "bending", built, tested_dims=RAIL, solid_mpa=99.0,
        factors=taken, **RULES,
    )  # fmt: skip

    for way in found.scaled:
        for line in way.lines:
            assert again(line) == pytest.approx(line.value), line.worked
        assert way.lines[-1].value == pytest.approx(way.value)
    assert found.factors[-2:] == taken


@pytest.mark.parametrize(("action", "unit"), [("axial", "N"), ("shear", "N")])
def test_stress_becomes_a_force_by_the_bonded_area(action, unit):
    found = capacity(STRESS, "stress", action, DOWELS, area_rule="dowels")

    area = 2 * math.pi * 10 * 30
    assert (found.unit, found.rule) == (unit, "area")
    assert found.value == pytest.approx(STRESS.value * area)
    assert again(found.lines[-1]) == pytest.approx(found.value)
    assert any("no sourced rule is known" in note for note in found.notes)


def test_stress_becomes_a_torque_by_the_face_that_turns():
    face = {"bond_length_mm": 32.0, "bond_width_mm": 38.0}

    found = capacity(STRESS, "stress", "torsion", face, area_rule="face")

    assert found.value == pytest.approx(STRESS.value * torsion_face("face", face).modulus_mm3 / 1000)
    assert again(found.lines[-1]) == pytest.approx(found.value)


def test_force_at_the_joint_grows_with_the_bonded_area():
    found = capacity(STRESS, "at_joint", "axial", DOWELS | {"fastener_count": 3, "fastener_spacing_mm": 20.0},
                     tested_dims=DOWELS, area_rule="dowels")  # fmt: skip

    assert found.value == pytest.approx(1.5 * STRESS.value)


def test_two_dowels_make_a_couple():
    found = by_bond("dowels", check_sizes(DOWELS))

    assert found.value == pytest.approx(math.pi * 10 * 30 * (30 + 15 / 2))
    assert "from memory" in found.source


@pytest.mark.parametrize(
    ("piece", "tested", "error", "message"),
    [
        ({"fastener_count": 1}, {}, NotCovered, "a single dowel or screw bears in the piece .* two to make a couple"),
        ({}, {"fastener_count": 1}, NotCovered, "a single dowel or screw bears in the tests .* two to make a couple"),
        ({"fastener_spacing_mm": None}, {}, MissingInputs, "in the piece needs fastener_spacing_mm"),
        ({}, {"fastener_edge_mm": ""}, MissingInputs, "in the tests needs fastener_edge_mm"),
    ],
)
@pytest.mark.parametrize("footing", ["stress", "at_joint"])
def test_faces_that_cannot_be_carried_over_refuse_and_leave_no_way_out_by_the_section(
    footing, piece, tested, error, message
):
    """By the section alone one dowel would bear what two did."""
    with pytest.raises(error, match=message):
        capacity(STRESS, footing, "bending", DOWELS | piece, tested_dims=DOWELS | tested, area_rule="dowels",
                 section_rule="member")  # fmt: skip


def test_tenon_without_its_length_refuses_by_name():
    with pytest.raises(MissingInputs, match="cheeks of a tenon bear in the tests needs tenon_length_mm"):
        capacity(STRESS, "stress", "bending", RAIL, tested_dims=RAIL | {"tenon_length_mm": None}, **RULES)


def test_moment_of_one_dowel_built_as_tested_needs_no_couple():
    one = DOWELS | {"fastener_count": 1}

    found = capacity(STRESS, "at_joint", "bending", one, tested_dims=one, area_rule="dowels", section_rule="member")

    assert found.value == pytest.approx(STRESS.value)
    assert [way.rule for way in found.scaled] == ["section"]
    assert found.notes[-1] == "Carried over by the section alone: built as tested, every way gives the same."
    with pytest.raises(MissingInputs, match="needs fastener_diameter_mm, fastener_depth_mm, fastener_spacing_mm"):
        by_bond("dowels", {"fastener_count": 2.0})


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"area_rule": "plates", "tested_dims": RAIL}, "no rule is known for a moment on these glued faces"),
        ({"area_rule": "tenon"}, "without the sizes tested, what the glued faces bear can't be had"),
    ],
)
def test_one_way_is_left_with_its_reason(given, said):
    found = capacity(STRESS, "stress", "bending", RAIL, section_rule="member", **given)

    assert [way.rule for way in found.scaled] == ["section"]
    assert said in found.notes[-1]


@pytest.mark.parametrize("rule", ["dowels", "screws"])
@pytest.mark.parametrize("footing", ["stress", "at_joint"])
def test_torque_on_dowels_is_not_covered(rule, footing):
    with pytest.raises(NotCovered, match="their couple is of bending, not of a twist"):
        capacity(STRESS, footing, "torsion", DOWELS, tested_dims=DOWELS, area_rule=rule)


def test_glued_edge_shows_its_own_formula():
    edge = {"bond_length_mm": 600.0, "bond_width_mm": 20.0}

    found = capacity(STRESS, "stress", "bending", edge, section_rule="glued_edge")

    assert found.value == pytest.approx(STRESS.value * 600 * 20**2 / 6 / 1000)
    assert found.lines[-1].note == SECTION_RULES["glued_edge"].formula


def test_size_is_taken_off_a_deeper_member_and_can_be_turned_off():
    deep = RAIL | {"member_depth_mm": 127.0}
    given = {"tested_dims": RAIL, "section_rule": "member"}

    on = capacity(STRESS, "stress", "bending", deep, **given)
    off = capacity(STRESS, "stress", "bending", deep, size_effect=False, **given)

    assert on.value / off.value == pytest.approx(2 ** (-1 / 9))
    assert [one.name for one in on.factors] == ["size"] and off.factors == ()
    assert "The effect of size is turned off." in off.notes
    unknown = capacity(STRESS, "stress", "bending", deep, section_rule="member")
    assert any("sizes tested are not given" in note for note in unknown.notes)
    assert size_depth(30, 63.5).value == 1.0


def test_size_is_taken_off_once_and_by_the_section_only():
    deep = RAIL | {"member_depth_mm": 127.0}
    given = {"tested_dims": RAIL, **RULES}
    size = size_depth(127.0, 63.5)

    found = capacity(STRESS, "stress", "bending", deep, **given)
    by_hand = capacity(STRESS, "stress", "bending", deep, size_effect=False, factors=[size], **given)

    ways = {one.rule: one for one in found.scaled}
    assert ways["section"].factors == (size,) and ways["bond"].factors == ()
    assert found.factors == ways[found.rule].factors
    assert by_hand.factors == (size,) and not any("effect of size" in note for note in by_hand.notes)
    with pytest.raises(StatsError, match=r"factors \(size\) must not hold the effect of size, which is taken off"):
        capacity(STRESS, "stress", "bending", deep, factors=[size], **given)
    with pytest.raises(StatsError, match=r"factors \(repeated, given twice\) must hold one factor for loading again"):
        capacity(STRESS, "stress", "bending", deep, factors=[repeated_chair(), repeated_dowel(1000)], **given)
    assert len(capacity(STRESS, "stress", "bending", RAIL, factors=[own(0.9), own(0.8)], **RULES).factors) == 2


def test_factors_are_taken_off_in_turn_and_what_is_not_is_said():
    plain = capacity(STRESS, "stress", "bending", RAIL, **RULES)
    taken = (duration(LASTING_S["decade"]), repeated_chair(), own(0.9))

    found = capacity(STRESS, "stress", "bending", RAIL, factors=taken, **RULES)

    product = math.prod(one.value for one in taken)
    assert found.value == pytest.approx(plain.value * product)
    assert found.typical == pytest.approx(plain.typical * product)
    assert any("moisture in use, a load that stays, loading again and again" in note for note in plain.notes)
    assert any("Not taken off: moisture in use." in note for note in found.notes)


def test_factors_of_use():
    """Madison curve 62.1 over 101.5 %; chairs and dowels as their abstracts print them."""
    assert duration(LASTING_S["decade"]).value == pytest.approx(62.1 / 101.5, abs=2e-3)
    assert duration(1.0).value == 1.0
    assert [repeated_chair(shape).value for shape in ("rectangular", "round", "diamond")] == [0.565, 0.668, 0.692]
    assert [round(repeated_dowel(cycles).value, 6) for cycles in (131_253, 31_617, 329)] == [0.4, 0.6, 0.9]
    assert 0.6 < repeated_dowel(20_000).value < 0.7
    assert repeated_dowel(20_000).source == DOWEL_SOURCE
    damp = moisture(OAK, "mor", 12, 16)
    assert damp.value == pytest.approx((99 / 57.2) ** (-4 / 13))
    dry = moisture(OAK, "mor", 12, 8)
    assert (dry.value, dry.note) == (1.0, "use is drier than the test: not credited")
    beyond = moisture(OAK, "mor", 6, 16)
    assert beyond.note.startswith("clear wood; ") and beyond.note.endswith("below 4 % its value there")


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (30.0, "30 seconds"),
        (LASTING_S["minutes"], "10 minutes"),
        (7200.0, "2 hours"),
        (LASTING_S["day"], "1 day"),
        (LASTING_S["month"], "30 days"),
        (LASTING_S["year"], "1 year"),
        (LASTING_S["decade"], "10 years"),
    ],
)
def test_time_under_load_is_told_as_people_say_it(seconds, words):
    assert duration(seconds).words == f"load stays {words} in all"


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: own(0), r"own factor \(0\) must be above 0"),
        (lambda: own(math.nan), r"own factor \(nan\)"),
        (lambda: repeated_chair("square"), r"tenon \('square'\) must be one of rectangular, round, diamond"),
        (lambda: repeated_dowel(10), r"cycles \(10\) must be 329 to 131253, the range that was tested"),
        (lambda: duration(0), r"lasting_s \(0\) must be above 0"),
        (lambda: duration(60, math.nan), r"tested_s \(nan\) must be above 0"),
        (lambda: moisture(OAK, "mor", math.nan, 12), r"tested_pct \(nan\) must be 0 or more and at most 300"),
        (lambda: moisture(OAK, "mor", 12, math.nan), r"service_pct \(nan\) must be 0 or more and at most 300"),
        (lambda: moisture(OAK, "mor", 12, -1), r"service_pct \(-1\) must be 0 or more and at most 300"),
        (lambda: moisture(OAK, "mor", 301, 12), r"tested_pct \(301\) must be 0 or more and at most 300"),
        (lambda: size_depth(0, 50), r"piece_mm \(0\) must be above 0"),
        (lambda: moisture(Timber("x", "x", "hardwood"), "mor", 12, 8), r"timber \(x\) must have a modulus of rupture"),
    ],
)
def test_factor_refuses_what_it_is_not_known_for(make, message):
    with pytest.raises(StatsError, match=message):
        make()


@pytest.mark.parametrize(
    ("given", "error", "message"),
    [
        ({"footing": "peak_load"}, NotCovered, "a load means nothing without the rig"),
        ({"footing": "ratio_control"}, NotCovered, "a ratio to a control is no strength"),
        ({"footing": "volts"}, NotCovered, "must be one of stress, ratio_solid"),
        ({"action": "pull"}, StatsError, r"action \('pull'\) must be one of bending"),
        ({"footing": "ratio_solid"}, MissingInputs, "solid_mpa"),
        ({"footing": "ratio_solid", "solid_mpa": 1e9}, StatsError, r"solid_mpa \(1e\+09\) must be 0.1 to 400 MPa"),
        ({"dims": {}}, MissingInputs, "a capacity from a stress"),
        ({"section_rule": None}, MissingInputs, "section_rule"),
        ({"action": "axial", "area_rule": None}, MissingInputs, "area_rule"),
        ({"footing": "at_joint"}, MissingInputs, "tested_dims"),
    ],
)
def test_capacity_refuses_what_it_cannot_carry(given, error, message):
    asked = {"footing": "stress", "action": "bending", "dims": RAIL, **RULES} | given

    with pytest.raises(error, match=message):
        capacity(STRESS, asked.pop("footing"), asked.pop("action"), asked.pop("dims"), **asked)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"tenon_length_mm": 100.0}, r"tenon_length_mm \(100\) must be at most member_depth_mm \(63.5\): the tenon is"),
        ({"tenon_length_mm": 60.0, "other_depth_mm": 45.0}, r"tenon_length_mm \(60\) must be at most other_depth_mm"),
        ({"tenon_depth_mm": 70.0}, r"tenon_depth_mm \(70\) must be at most member_depth_mm \(63.5\): a tenon"),
        ({"tenon_thickness_mm": 30.0}, r"tenon_thickness_mm \(30\) must be at most member_thickness_mm"),
        ({"tenon_thickness_mm": 10.0, "tenon_count": 3}, r"tenon_count \(3\) times tenon_thickness_mm \(10\)"),
        ({"fastener_count": 9, "fastener_diameter_mm": 10.0}, r"fastener_count \(9\) of 10 mm must fit in"),
        ({"member_depth_mm": 0}, r"member_depth_mm \(0\) must be 0.5 to 3000 mm"),
        ({"member_depth_mm": 1e9}, r"member_depth_mm \(1e\+09\) must be"),
        ({"member_depth_mm": math.nan}, r"member_depth_mm \(nan\) must be"),
        ({"member_depth_mm": "wide"}, r"member_depth_mm \('wide'\) must be a number"),
        ({"tenon_count": 1.5}, r"tenon_count \(1.5\) must be a whole number"),
        ({"slope_deg": -8}, r"slope_deg \(-8\) must be above zero"),
        ({"colour": 3}, r"colour \(3\) is no size of a joint"),
    ],
)  # fmt: skip
def test_sizes_that_cannot_be_are_named(change, message):
    with pytest.raises(StatsError, match=message):
        capacity(STRESS, "stress", "bending", RAIL | change, **RULES)


def test_long_tenon_in_a_narrow_slat_is_taken_where_the_other_member_has_room():
    assert check_sizes({"member_depth_mm": 20, "tenon_length_mm": 30, "other_depth_mm": 45})["tenon_length_mm"] == 30


def test_bonded_area_is_that_of_the_footing():
    assert bonded_area("dowels", DOWELS).value_mm2 == pytest.approx(2 * math.pi * 10 * 30)
