from __future__ import annotations

import numpy as np
import pytest

from stats.errors import NotCovered, StatsError
from stats.footing.step import total_factor
from stats.footing.timber import PROPERTIES, SG_LAWS, Timber, law
from stats.footing.wood import strength

OAK = Timber(
    "red_oak",
    "red oak",
    "hardwood",
    sg_12=0.63,
    mor_12_mpa=99.0,
    mor_green_mpa=57.2,
    shear_12_mpa=12.3,
)


def test_strength_as_tabled_when_nothing_is_adjusted():
    found = strength(OAK, "mor", moisture_pct=8, adjust=())

    assert (found.value, found.adjustments, found.flags) == (99.0, (), ())


def test_strength_without_moisture_is_taken_at_12_pct_and_says_so():
    found = strength(OAK, "mor")

    assert found.value == 99.0
    assert found.flags == ("moisture not given: taken at 12 %, an assumption",)


def test_strength_without_a_green_value_is_not_adjusted_and_says_so():
    found = strength(OAK, "shear", moisture_pct=8)

    assert found.value == 12.3
    assert "no green value for red oak" in found.flags[0]


def test_strength_by_specimen_agrees_with_one_at_a_time():
    moistures = np.array([8.0, 10.0, 14.0])

    together = strength(OAK, "mor", moistures).value

    assert together.tolist() == [strength(OAK, "mor", m).value for m in moistures]


def test_strength_steps_multiply_to_its_value():
    found = strength(OAK, "mor", 9.0, 720.0, {"moisture", "density", "rate"}, time_to_failure_s=60)

    assert total_factor(found.steps) == pytest.approx(found.value)
    assert [a.name for a in found.adjustments] == ["moisture", "density", "rate"]


def test_density_at_the_table_value_changes_nothing():
    assert OAK.density_12_kgm3 == pytest.approx(0.63 * 1120)
    assert strength(OAK, "mor", 12, OAK.density_12_kgm3, {"density"}).value == pytest.approx(99.0)


def test_density_not_given_keeps_the_table_and_says_so():
    found = strength(OAK, "mor", adjust={"density"})

    assert (found.value, found.flags) == (99.0, ("density not given: the table's is used",))


def test_density_without_a_tabled_gravity_is_flagged():
    found = strength(Timber("x", "x wood", "hardwood", mor_12_mpa=90.0), "mor", 12, 700, {"density"})

    assert (found.value, found.adjustments[0].flagged) == (90.0, True)


def test_quick_break_is_set_against_stronger_wood():
    # handbook values are at 300 s; wood broken in 30 s is stronger by 1 / 0.92
    found = strength(OAK, "mor", adjust={"rate"}, time_to_failure_s=30)

    assert found.value == pytest.approx(99 / 0.92)


def test_long_load_is_set_against_weaker_wood():
    assert strength(OAK, "mor", adjust={"duration"}, time_to_failure_s=3600).value < 99


def test_size_depth_is_for_bending_alone():
    assert strength(OAK, "mor", adjust={"size_depth"}, depth_mm=25).value == pytest.approx(99 * 2 ** (1 / 9))
    assert strength(OAK, "shear", adjust={"size_depth"}, depth_mm=25).value == 12.3


def test_all_adjustments_together_are_capped_and_flagged():
    soft = strength(OAK, "mor", 30.0)

    assert soft.value == pytest.approx(99 * 0.75)
    assert [a.name for a in soft.adjustments] == ["moisture", "cap"]
    assert any("0.75-1.33" in flag for flag in soft.flags)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: strength(OAK, "glue"), "prop \\('glue'\\) must be one of mor"),
        (lambda: strength(OAK, "mor", adjust={"luck"}), "adjust \\(luck\\) must be among moisture"),
        (lambda: strength(OAK, "mor", adjust={"rate", "duration"}), "must hold one of the two"),
        (lambda: strength(OAK, "mor", moisture_pct=400), r"moisture_pct \(400\)"),
        (lambda: strength(OAK, "mor", density_kgm3=-1), r"density_kgm3 \(-1\) must be above 0"),
        (lambda: law("palm", "mor", 0.5), "have no law"),
    ],
)
def test_strength_refuses_what_can_not_be(call, message):
    with pytest.raises(StatsError, match=message):
        call()


def test_strength_that_no_table_has_is_not_covered():
    with pytest.raises(NotCovered, match="tension across the grain of red oak"):
        strength(OAK, "tension_perp")


def test_properties_name_fields_of_a_timber():
    for prop in PROPERTIES.values():
        assert hasattr(OAK, prop.dry)
        assert hasattr(OAK, prop.green)


def test_every_group_and_condition_has_a_law_for_every_property():
    assert len(SG_LAWS) == 2 * 2 * len(PROPERTIES)


def test_law_agrees_with_its_formula():
    assert law("hardwood", "mor", 0.63) == pytest.approx(171.3 * 0.63**1.13)
    np.testing.assert_allclose(law("softwood", "moe", [0.4, 0.5]), 20.5 * np.array([0.4, 0.5]) ** 0.84)
