from __future__ import annotations

import json
import math
import re
import time

import numpy as np
import pytest

from stats.errors import StatsError
from stats.footing.fields import FIELDS
from stats.footing.ladder import FOOTINGS, LoadCase, climb
from stats.footing.loading import LOADINGS
from stats.footing.reading import to_force
from stats.footing.step import Step, total_factor
from stats.footing.timber import Timber

OAK = Timber(
    "red_oak",
    "red oak",
    "hardwood",
    sg_12=0.63,
    mor_12_mpa=99.0,
    mor_green_mpa=57.2,
    shear_12_mpa=12.3,
    shear_green_mpa=8.3,
    tension_perp_12_mpa=5.5,
    tension_perp_green_mpa=5.2,
)
SETUP = {"arm_mm": 300.0, "arm_reference": "face", "span_mm": 400.0, "load_offset_mm": 120.0,
         "leg_mm": 200.0, "rail_height_mm": 600.0}  # fmt: skip
DIMS = {"member_thickness_mm": 22.2, "member_depth_mm": 63.5, "tenon_length_mm": 32.0, "tenon_depth_mm": 38.0,
        "bond_length_mm": 50.0, "bond_width_mm": 20.0}  # fmt: skip


def make_case(**changes):
    fields = {
        "reads": "force",
        "loading": "cantilever_arm",
        "values": [1240.0, 1000.0],
        "setup": SETUP,
        "dims": DIMS,
        "area_rule": "tenon",
        "section_rule": "member",
        "timber": OAK,
        "moisture_pct": 8.0,
        "solid_stress_mpa": 90.0,
        "control_value": 500.0,
    }
    return LoadCase(**(fields | changes))


def test_climb_agrees_with_the_same_series_worked_by_hand():
    ladder = climb(make_case())

    moment_nm = np.array([1240.0, 1000.0]) * 0.3
    stress_mpa = moment_nm * 1000 / (22.2 * 63.5**2 / 6)
    by_hand = {
        "peak_load": np.array([1240.0, 1000.0]),
        "at_joint": moment_nm,
        "stress": stress_mpa,
        "ratio_solid": stress_mpa / (99 * (99 / 57.2) ** (4 / 13)),
        "ratio_solid_matched": stress_mpa / 90,
        "ratio_control": np.array([1240.0, 1000.0]) / 500,
    }
    assert list(ladder.footings) == list(FOOTINGS) == list(by_hand)
    for code, expected in by_hand.items():
        np.testing.assert_allclose(ladder[code].values, expected, rtol=1e-12)
    assert ladder.available == frozenset(FOOTINGS)
    assert (ladder.n, ladder.action) == (2, "bending")


@pytest.mark.parametrize("moisture_pct", [8.0, [8.0, 10.0], None])
def test_every_footing_is_the_reading_times_its_steps(moisture_pct):
    ladder = climb(make_case(moisture_pct=moisture_pct))

    for footing in ladder.footings.values():
        factor = total_factor(footing.steps)
        np.testing.assert_allclose(footing.values, np.array([1240.0, 1000.0]) * factor)
        if np.ndim(factor):
            assert footing.factor is None
        else:
            assert footing.factor == factor


def test_factor_is_none_only_where_specimens_differ():
    ladder = climb(make_case(moisture_pct=[8.0, 10.0]))

    assert [code for code, f in ladder.footings.items() if f.factor is None] == ["ratio_solid"]
    assert climb(make_case(moisture_pct=[8.0, 8.0]))["ratio_solid"].factor is not None


def test_moisture_by_specimen_agrees_with_one_at_a_time():
    together = climb(make_case(moisture_pct=[8.0, 10.0]))["ratio_solid"].values

    for i, moisture in enumerate([8.0, 10.0]):
        alone = climb(make_case(values=[[1240.0, 1000.0][i]], moisture_pct=moisture))
        assert together[i] == pytest.approx(alone["ratio_solid"].values[0])


def test_worked_lines_show_the_numbers():
    worked = {code: f.worked for code, f in climb(make_case(moisture_pct=12.0)).footings.items()}

    assert worked == {
        "peak_load": "1 240 N",
        "at_joint": "1 240 N × 0.300 m = 372 N·m",
        "stress": "372 N·m ÷ 14 920 mm³ = 24.9 MPa",
        "ratio_solid": "24.93 MPa ÷ 99.0 MPa = 0.252",
        "ratio_solid_matched": "24.93 MPa ÷ 90.0 MPa = 0.277",
        "ratio_control": "1 240 N ÷ 500 N = 2.48",
    }


def test_worked_line_gives_its_result_to_whoever_types_it_in():
    numbers = r"\d[\d ]*(?:\.\d+)?"
    for load in np.linspace(1001.0, 1999.0, 97):
        worked = climb(make_case(values=[load]))["at_joint"].worked
        force, arm, moment = (float(found.replace(" ", "")) for found in re.findall(numbers, worked))
        assert force * arm == pytest.approx(moment, abs=0.5 + 0.3 * 0.5)  # both are rounded to whole numbers
        assert abs(force - load) <= 0.5


def test_bare_load_says_what_each_footing_lacks():
    ladder = climb(LoadCase("force", "cantilever_arm", [100.0]))

    lacks = {code: f.missing_fields for code, f in ladder.footings.items()}
    assert lacks == {
        "peak_load": (),
        "at_joint": ("arm_mm",),
        "stress": ("arm_mm", "section_rule"),
        "ratio_solid": ("arm_mm", "section_rule", "timber"),
        "ratio_solid_matched": ("arm_mm", "section_rule", "solid_stress_mpa"),
        "ratio_control": ("control_value",),
    }
    assert ladder["at_joint"].missing == ("the distance from the joint to the line of the load (arm_mm)",)
    assert ladder.available == {"peak_load"}


def test_all_that_is_missing_is_told_at_once():
    ladder = climb(make_case(loading="withdrawal", area_rule="face", dims={}, timber=None))

    lacks = ("bond_length_mm", "bond_width_mm", "timber", "faces")
    assert ladder["ratio_solid"].missing_fields == lacks


@pytest.mark.parametrize("loading", LOADINGS)
def test_every_missing_field_is_known_by_words(loading):
    for reads in ("force", "stress"):
        for footing in climb(LoadCase(reads, loading, [100.0])).footings.values():
            assert set(footing.missing_fields) <= set(FIELDS)
            assert (footing.values is None) == bool(footing.missing)


def test_moisture_not_given_is_an_assumption_and_no_adjustment():
    footing = climb(make_case(moisture_pct=None))["ratio_solid"]

    assert footing.values[0] == pytest.approx(climb(make_case(moisture_pct=12.0))["ratio_solid"].values[0])
    assert "moisture not given: taken at 12 %, an assumption" in footing.flags
    assert footing.basis == "over the handbook modulus of rupture of red oak, as tabled at 12 %"


def test_adjustments_can_be_turned_off():
    off = climb(make_case(adjustments=frozenset()))["ratio_solid"]

    assert [step.name for step in off.steps][-1] == "over solid wood"
    assert off.values[0] == pytest.approx(climb(make_case(moisture_pct=12.0))["ratio_solid"].values[0])


def test_adjustments_leave_loads_and_stresses_alone():
    wet, dry = climb(make_case(moisture_pct=20.0)), climb(make_case(moisture_pct=8.0))

    for code in ("peak_load", "at_joint", "stress", "ratio_solid_matched", "ratio_control"):
        np.testing.assert_array_equal(wet[code].values, dry[code].values)
    # the same load is a larger share of wetter, weaker wood
    assert wet["ratio_solid"].values[0] > dry["ratio_solid"].values[0]


def test_moment_read_directly_needs_no_arm():
    ladder = climb(make_case(reads="moment", values=[372.0], setup={}))

    assert ladder["at_joint"].values.tolist() == [372.0]
    assert ladder["stress"].values[0] == pytest.approx(climb(make_case())["stress"].values[0])
    assert ladder["peak_load"].missing == ("the peak load can't be had: the readings are a moment, not a force.",)


def test_published_stress_climbs_from_there():
    ladder = climb(make_case(reads="stress", loading="withdrawal", values=[4.9], setup={}, dims={}))

    assert ladder.available == {"stress", "ratio_solid", "ratio_solid_matched", "ratio_control"}
    assert ladder["ratio_solid"].steps[1].inputs["S"] == (12.3, "MPa")


def test_withdrawal_of_a_tenon_is_set_against_shear():
    ladder = climb(make_case(loading="withdrawal", moisture_pct=12.0))

    assert ladder["at_joint"].unit == "N"
    np.testing.assert_allclose(ladder["stress"].values[0], 1240 / (2 * 32 * 38))
    np.testing.assert_allclose(ladder["ratio_solid"].values[0], 1240 / (2 * 32 * 38) / 12.3)


def test_double_lap_shares_the_load():
    single = climb(make_case(loading="lap_shear", area_rule="lap_face"))
    double = climb(make_case(loading="lap_shear", area_rule="lap_face", setup={"shear_faces": 2}))

    assert double["at_joint"].values.tolist() == single["at_joint"].values.tolist()
    np.testing.assert_allclose(double["stress"].values * 2, single["stress"].values)
    assert double["stress"].worked == "1 240 N ÷ (2 × 1 000 mm²) = 0.620 MPa"


def test_torsion_is_set_against_shear():
    ladder = climb(make_case(loading="torsion", area_rule="face", moisture_pct=12.0))

    polar_mm4 = 50 * 20 * (50**2 + 20**2) / 12
    stress_mpa = 1240 * 300 * math.hypot(50, 20) / 2 / polar_mm4
    np.testing.assert_allclose(ladder["stress"].values[0], stress_mpa)
    np.testing.assert_allclose(ladder["ratio_solid"].values[0], stress_mpa / 12.3)


def test_torsion_of_dowels_has_no_stress_and_says_why():
    footing = climb(make_case(loading="torsion", area_rule="dowels"))["stress"]

    assert "no plane glued face" in footing.missing[0]


@pytest.mark.parametrize(
    ("faces", "expected"),
    [("side-side", None), (None, "(faces)"), ("end-end", "no tension along"), ("end-side", "no tension along")],
)
def test_bond_pulled_apart_is_set_against_tension_across_the_grain(faces, expected):
    found = climb(make_case(loading="withdrawal", area_rule="face", faces=faces, moisture_pct=12.0))

    if expected is None:
        np.testing.assert_allclose(found["ratio_solid"].values[0], 1240 / 1000 / 5.5)
    else:
        assert expected in found["ratio_solid"].missing[0]


def test_panel_bent_across_its_glue_line_is_set_against_tension_across():
    ladder = climb(make_case(section_rule="glued_edge", moisture_pct=12.0))

    np.testing.assert_allclose(ladder["ratio_solid"].values, ladder["stress"].values / 5.5, rtol=1e-12)


def test_arm_to_the_centre_takes_the_post_from_the_joint():
    setup = {"arm_mm": 325.0, "arm_reference": "centre"}
    ladder = climb(make_case(setup=setup, dims=DIMS | {"other_depth_mm": 50.0}))

    assert ladder["at_joint"].values[0] == pytest.approx(372.0)


def test_run_outs_are_kept_as_lower_bounds():
    ladder = climb(make_case(broke=[True, False]))

    assert ladder.broke.tolist() == [True, False]
    assert all(f.values.size == 2 for f in ladder.footings.values())


def test_reading_steps_are_shown_and_not_counted():
    load = to_force([0.5, 0.6], "jack_gauge", ram_diameter_mm=40)
    ladder = climb(make_case(values=load.value, reading_steps=load.steps))

    assert ladder.reading_steps == load.steps
    np.testing.assert_array_equal(ladder["peak_load"].values, load.value)


def test_footings_survive_json():
    for footing in climb(make_case(moisture_pct=[8.0, 10.0])).footings.values():
        stored = json.loads(json.dumps(footing.to_dict()))

        assert stored["values"] == footing.values.tolist()
        assert tuple(map(Step.from_dict, stored["steps"])) == footing.steps


def test_weak_controls_and_weak_wood_are_taken():
    # In N·m or MPa a weak joint may well lie below one.
    found = climb(make_case(values=[0.25, 0.5], control_value=0.5, solid_stress_mpa=0.8))

    assert found["ratio_control"].values.tolist() == [0.5, 1.0]
    np.testing.assert_allclose(found["ratio_solid_matched"].values, found["stress"].values / 0.8)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"reads": "weight"}, "reads \\('weight'\\) must be one of force, moment, stress"),
        ({"loading": "drop"}, "loading \\('drop'\\) must be one of"),
        ({"area_rule": "nails"}, "area_rule \\('nails'\\) must be one of"),
        ({"section_rule": "nails"}, "section_rule \\('nails'\\) must be one of"),
        ({"faces": "end"}, "faces \\('end'\\) must be one of end-end"),
        ({"values": []}, "values \\(shape \\(0,\\)\\)"),
        ({"values": [[1.0]]}, "must be a row"),
        ({"values": [100.0, 0.0]}, r"values\[1\] \(0\) must be a positive number"),
        ({"values": [float("nan")]}, r"values\[0\] \(nan\)"),
        ({"moisture_pct": [8.0, 9.0, 10.0]}, r"moisture_pct \(shape \(3,\)\) must be one value or 2"),
        ({"broke": [True]}, r"broke \(shape \(1,\)\)"),
        ({"control_value": 0.0}, r"control_value \(0\.0\) must be a positive number"),
        ({"solid_stress_mpa": -1.0}, "solid_stress_mpa"),
        ({"adjustments": frozenset({"luck"})}, "adjust \\(luck\\)"),
        ({"setup": {"arm_mm": -3}}, r"arm_mm \(-3\) must be above 0"),
        ({"dims": DIMS | {"member_depth_mm": 0}}, r"member_depth_mm \(0\) must be above 0"),
        ({"reads": "moment", "loading": "withdrawal"}, "withdrawal tests axial"),
    ],
)
def test_climb_refuses_what_can_not_be(changes, message):
    with pytest.raises(StatsError, match=message):
        climb(make_case(**changes))


def test_climb_is_quick_enough_for_thousands_of_series():
    case = make_case(values=np.linspace(900, 1300, 10), moisture_pct=np.linspace(8, 11, 10))
    climb(case)

    start = time.perf_counter()
    for _ in range(100):
        climb(case)

    assert (time.perf_counter() - start) / 100 < 0.01  # about one millisecond when nothing else runs
