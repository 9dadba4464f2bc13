"""A capacity over a demand, and what would raise it: by hand, ranked, refused."""

from __future__ import annotations

import math

import numpy as np
import pytest

from stats.errors import StatsError
from stats.practice.capacity import capacity
from stats.practice.demand import demand
from stats.practice.limit import next_shop, shop_tested
from stats.practice.margin import Change, margin, over_size, raise_most, slope, usual_changes
from stats.practice.shops import ShopEvidence

from .evaluate import again

STRESS = next_shop(ShopEvidence(math.log(20.0), 0.05, 0.10, 0.15, 7.0, 60.0, 8, 68))
TESTED = {"member_thickness_mm": 22.2, "member_depth_mm": 63.5, "tenon_length_mm": 32.0, "tenon_depth_mm": 38.0}
CHAIR = demand("chair_leaned", {"sitter_n": 981, "back_push_n": 560})


def of(dims, limit=STRESS, **options):
    given = {"area_rule": "tenon", "section_rule": "member", "tested_dims": TESTED} | options
    return margin(capacity(limit, "stress", "bending", dims, **given), CHAIR)


def test_margin_is_the_lower_limit_over_the_demand():
    found = of(TESTED)

    assert found.value == pytest.approx(STRESS.value * 22.2 * 63.5**2 / 6 / 1000 / CHAIR.value)
    assert found.upper == pytest.approx(found.value)
    assert found.typical == pytest.approx(found.value * STRESS.typical / STRESS.value)
    assert found.single.low < found.typical < found.single.high
    assert found.single.level == 0.9
    assert again(found.line) == pytest.approx(found.value)


def test_margin_says_what_it_is_in_words_and_never_more():
    assert of(TESTED).words == "The lower limit (207 N·m) is 1.4 times what the piece asks (151 N·m)."
    weak = margin(capacity(STRESS, "stress", "bending", {"member_thickness_mm": 20, "member_depth_mm": 40},
                           section_rule="member"), CHAIR)  # fmt: skip
    assert weak.words.startswith("The lower limit (74.1 N·m) is below what the piece asks (151 N·m): 0.49 times it.")
    seat = margin(weak.capacity, demand("seat"))
    assert seat.words.endswith("which is the most that the joint feels.")


def test_chance_of_falling_short_is_that_of_a_further_joint():
    found = of(TESTED)

    assert 0 < found.chance_short < 0.05
    half = margin(found.capacity, demand("chair_leaned", {"sitter_n": 981, "back_push_n": 560}, dynamic=2.0))
    assert half.value == pytest.approx(found.value / 2)
    assert half.chance_short > 0.5 > found.chance_short
    # where the demand is what a middling joint bears, it is even odds
    middle = demand("arm", {"load_n": 1000 * found.capacity.typical / 300, "arm_mm": 300})
    assert margin(found.capacity, middle).chance_short == pytest.approx(0.5)


def test_margin_refuses_different_actions():
    with pytest.raises(StatsError, match=r"capacity \(bending\) must be of the demand's action, axial"):
        margin(of(TESTED).capacity, demand("drawer_front"))


def test_changes_are_ranked_by_what_they_bring():
    found = raise_most(of, TESTED, others={"other joint": lambda: of(TESTED, limit=shop_tested(40, 4, 20))})

    assert [one.code for one in found][0] == "joint:other joint"
    assert [one.gain for one in found] == sorted((one.gain for one in found), reverse=True)
    by = {one.code: one for one in found}
    # Each says what it rests on: the other joint its own shops, a change of sizes those of the joint itself.
    other, own = shop_tested(40, 4, 20), of(TESTED).capacity.limit
    assert (by["joint:other joint"].shops, by["joint:other joint"].specimens) == (other.shops, other.specimens)
    assert (by["deeper"].shops, by["deeper"].specimens) == (own.shops, own.specimens)
    assert set(by) == {
        "joint:other joint",
        "deeper",
        "thicker",
        "deeper_and_larger_tenon",
        "longer_tenon",
        "higher_tenon",
    }
    assert by["deeper"].words == "member 76.2 mm deep, not 63.5"
    assert by["deeper"].after_upper / by["deeper"].before == pytest.approx(1.2 ** (2 - 1 / 9))
    # the section governs a longer tenon and the glued faces a deeper rail, so neither raises the lower of the two
    assert by["longer_tenon"].after == pytest.approx(by["longer_tenon"].before)
    assert by["longer_tenon"].after_upper > by["longer_tenon"].after


def test_second_dowel_is_tried_and_what_cannot_be_built_is_said():
    dims = {"member_thickness_mm": 22.0, "member_depth_mm": 60.0, "fastener_count": 2, "fastener_diameter_mm": 10.0,
            "fastener_depth_mm": 30.0, "fastener_spacing_mm": 30.0, "fastener_edge_mm": 15.0}  # fmt: skip

    def dowelled(sizes):
        return of(sizes, area_rule="dowels", tested_dims=dims)

    found = raise_most(dowelled, dims)

    last = found[-1]
    assert last.code == "one_more" and math.isnan(last.after)
    assert (last.shops, last.specimens) == (None, None)
    assert "fastener_count (3) of 10 mm must fit in member_depth_mm (60); they need 70 mm" in last.refused
    assert all(one.refused == "" for one in found[:-1])


def test_changes_of_ones_own_are_tried_instead():
    found = raise_most(of, TESTED, [Change("thick", "a 30 mm rail", {"member_thickness_mm": 30.0})])

    assert [(one.code, one.words) for one in found] == [("thick", "a 30 mm rail")]


def test_usual_changes_are_those_of_the_sizes_given():
    assert [one.code for one in usual_changes({"member_depth_mm": 50, "tenon_count": 1, "slot_depth_mm": 10})] == [
        "deeper",
        "second_tenon",
    ]
    assert usual_changes({}) == ()


def test_slope_of_a_section_is_two_in_depth_and_one_in_thickness():
    def by_section(sizes):
        return of(sizes, area_rule=None, tested_dims=None)

    assert slope(by_section, TESTED, "member_depth_mm") == pytest.approx(2.0, abs=1e-6)
    assert slope(by_section, TESTED, "member_thickness_mm") == pytest.approx(1.0, abs=1e-6)
    assert slope(by_section, TESTED, "tenon_length_mm") == pytest.approx(0.0, abs=1e-9)
    with pytest.raises(StatsError, match=r"name \('spline_depth_mm'\) must be one of the sizes given"):
        slope(by_section, TESTED, "spline_depth_mm")


def test_margin_over_a_size_keeps_what_cannot_be_built_as_a_gap():
    frame = over_size(of, TESTED, "tenon_depth_mm", [20, 38, 60, 70])

    assert frame["size_mm"].tolist() == [20, 38, 60, 70]
    assert frame["margin"].isna().tolist() == [False, False, False, True]
    assert "tenon_depth_mm (70) must be at most member_depth_mm" in frame["reason"].iloc[3]
    assert (frame["upper"] >= frame["margin"]).iloc[:3].all()
    assert frame["margin"].iloc[1] == pytest.approx(of(TESTED).value)
    assert np.diff(frame["margin"].iloc[:3]).tolist() == [pytest.approx(frame["margin"][1] - frame["margin"][0]), 0]
    assert frame["margin"][0] < frame["margin"][1] and frame["upper"][2] > frame["upper"][1]


def test_margin_over_sizes_that_none_can_be_built_is_refused():
    with pytest.raises(StatsError, match="tenon_depth_mm gives no margin at any of 2 values: tenon_depth_mm"):
        over_size(of, TESTED, "tenon_depth_mm", [80, 90])
