"""Whether a rig will do: loads to expect, scales, jacks, arms."""

from __future__ import annotations

import math
import re

import pytest
from scipy import stats

from stats.errors import MissingInputs, StatsError
from stats.practice.caution import TESTING
from stats.practice.rig import arm_down, arm_up, arms_words, check_rig, expected_load

from .evaluate import again

SCALE_N = 150 * 9.80665
RAIL = {"member_thickness_mm": 22.2, "member_depth_mm": 63.5}


def arm(arm_mm, at_joint=350.0, cv=0.15):
    return expected_load("cantilever_arm", {"arm_mm": arm_mm}, at_joint=at_joint, cv=cv)


def test_load_to_expect_from_solid_wood():
    """Red oak, 0.24 of the solid rail: 0.24 · 99 · 14 919 = 354 N·m, over a 300 mm arm 1 182 N."""
    found = expected_load("cantilever_arm", {"arm_mm": 300}, ratio=0.24, solid_mpa=99, dims=RAIL, cv=0.136)

    assert found.at_joint == pytest.approx(0.24 * 99 * 22.2 * 63.5**2 / 6 / 1000)
    assert found.typical_n == pytest.approx(found.at_joint / 0.3)
    assert found.high_n / found.typical_n == pytest.approx(found.typical_n / found.low_n)
    for line in found.lines:
        assert again(line) == pytest.approx(line.value), line.worked


def test_most_specimens_break_between_the_weakest_and_the_strongest_to_expect():
    found = arm(300, cv=0.2)
    sd = math.sqrt(math.log1p(0.2**2))

    inside = stats.norm.cdf(math.log(found.high_n / found.typical_n) / sd) * 2 - 1
    assert inside == pytest.approx(0.954, abs=1e-3)


def test_scale_that_stops_short_says_how_long_an_arm_would_do():
    found = check_rig(arm(200), "bathroom_scale", SCALE_N, arm_mm=200)

    assert found.verdict == "too small" and found.high_share > 1
    assert found.caution == TESTING
    assert "An arm of 330 mm or more would do." in found.words
    assert check_rig(arm(330), "bathroom_scale", SCALE_N, arm_mm=330).verdict == "reads them all"
    assert again(found.lines[0]) == pytest.approx(found.high_share)


@pytest.mark.parametrize(
    ("loading", "setup"),
    [
        ("cantilever_arm", {"arm_mm": 200, "arm_reference": "centre", "other_depth_mm": 60}),
        ("cantilever_arm", {"arm_mm": 200, "arm_reference": "far_face", "other_depth_mm": 60}),
        ("torsion", {"arm_mm": 200}),
        ("corner_closing", {"leg_mm": 200}),
    ],
)
def test_only_an_arm_to_the_face_is_in_proportion_to_the_load(loading, setup):
    """Measured to the centre, twice the arm is more than twice the moment."""
    load = expected_load(loading, setup, at_joint=350, cv=0.15)

    found = check_rig(load, "bathroom_scale", SCALE_N, arm_mm=200)

    assert (found.verdict, found.least_arm_mm, found.most_arm_mm) == ("too small", None, None)
    assert "arm" not in found.words


def test_an_arm_measured_to_the_face_may_say_so():
    said = expected_load("cantilever_arm", {"arm_mm": 200, "arm_reference": "face"}, at_joint=350, cv=0.15)

    assert said.arm_mm == 200
    assert check_rig(said, "bathroom_scale", SCALE_N, arm_mm=200) == check_rig(
        arm(200), "bathroom_scale", SCALE_N, arm_mm=200
    )


def test_large_jack_is_coarse_for_a_small_joint():
    """42.9 mm ram at 70 MPa: 101 kN for joints of 5 kN; its own frame may stop it earlier."""
    ram = {"ram_diameter_mm": 42.9}
    found = check_rig(arm(60, at_joint=300), "jack_gauge", 70.0, arm_mm=60, **ram)

    assert found.full_scale == pytest.approx(70 * math.pi * 42.9**2 / 4)
    assert found.verdict == "too coarse" and "An arm of 22 mm or less would do." in found.words
    rated = check_rig(arm(60, at_joint=300), "jack_gauge", 70.0, rated_n=20_000, **ram)
    assert (rated.verdict, rated.full_scale) == ("reads them all", 20_000)
    assert (rated.least_arm_mm, rated.most_arm_mm) == (None, None)


def test_torque_wrench_is_checked_against_the_moment():
    found = check_rig(arm(300), "torque_wrench", 300.0)

    assert (found.unit, found.verdict) == ("N·m", "too small")
    assert found.high_share == pytest.approx(arm(300).high_n * 0.3 / 300)


def test_lever_multiplies_what_a_scale_reads():
    plain, levered = (check_rig(arm(200), "lever_press", SCALE_N, lever_ratio=ratio) for ratio in (1.0, 3.0))

    assert levered.full_scale == pytest.approx(3 * plain.full_scale)


@pytest.mark.parametrize(
    ("make", "error", "message"),
    [
        (lambda: expected_load("cantilever_arm", {"arm_mm": 300}), StatsError, r"at_joint \(not given\) must be"),
        (lambda: expected_load("withdrawal", {}, ratio=0.2, solid_mpa=99, dims=RAIL), StatsError, "tests axial"),
        (lambda: expected_load("cantilever_arm", {}, at_joint=300), MissingInputs, "arm_mm"),
        (lambda: arm(300, at_joint=0), StatsError, r"at_joint \(0\) must be"),
        (lambda: arm(300, at_joint=math.nan), StatsError, r"at_joint \(nan\) must be"),
        (lambda: arm(300, cv=15), StatsError, r"cv \(15\) must be 0.01 or more and at most 1"),
        (lambda: arm(1, at_joint=1e5), StatsError, "the load to expect came to"),
        (lambda: check_rig(arm(300), "jack_gauge", 70), MissingInputs, "ram_diameter_mm"),
        (lambda: check_rig(arm(300), "thumb", 70), StatsError, r"instrument \('thumb'\) must be one of"),
        (lambda: check_rig(arm(300), "bathroom_scale", SCALE_N, arm_mm=200), StatsError,
         r"arm_mm \(200\) must be the arm that the loads are for, 300 mm"),
        (lambda: check_rig(arm(300), "bathroom_scale", 0), StatsError, r"full_scale \(0\) must be"),
        (lambda: check_rig(expected_load("withdrawal", {}, at_joint=4000), "torque_wrench", 70), StatsError,
         "must read a force: the joint is tested in axial"),
    ],
)  # fmt: skip
def test_rig_refuses_what_cannot_be(make, error, message):
    with pytest.raises(error, match=message):
        make()


# A hand calculation: the load falls as the arm grows, so the least arm is rounded up and the longest down.
@pytest.mark.parametrize(
    ("exact", "up", "down"),
    [(1061.3, 1070, 1060), (1060.0, 1060, 1060), (99.2, 100, 99), (41.5, 42, 41), (2104.0, 2110, 2100)],
)
def test_arms_are_rounded_to_the_side_that_keeps_the_rig_within_its_means(exact, up, down):
    assert (arm_up(exact), arm_down(exact)) == (up, down)


def test_one_arm_is_the_same_figure_for_a_series_and_for_all():
    """A strongest specimen of 5.2 kN at 300 mm on a scale of 1 471 N: 1 061 mm, which 1 060 mm would fall short of."""
    found = check_rig(arm(300, at_joint=1155.0), "bathroom_scale", SCALE_N, arm_mm=300)
    least, most = found.least_arm_mm, found.most_arm_mm

    (said,) = re.findall(r"An arm of (.+?) or more", found.words)
    assert said in arms_words(least, most)
    shown = float(said.replace(" ", "").removesuffix("mm"))
    assert shown >= least
    assert check_rig(arm(shown, at_joint=1155.0), "bathroom_scale", SCALE_N, arm_mm=shown).high_share <= 1


@pytest.mark.parametrize(
    ("least", "most", "words"),
    [
        (321.0, 1408.0, "An arm of 330 mm to 1 400 mm lets it read every series"),
        (2104.0, 371.0, "the strongest need 2 110 mm or more, the weakest 370 mm or less"),
        (371.0, 374.0, "An arm of 371.0 mm lets it read every series, and hardly any other does."),
    ],
)
def test_arms_of_all_series_in_words(least, most, words):
    assert words in arms_words(least, most).replace("\u202f", " ")
