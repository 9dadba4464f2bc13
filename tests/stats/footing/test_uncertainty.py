from __future__ import annotations

import dataclasses
import json
import math

import numpy as np
import pytest

from stats.errors import StatsError, StatsWarning
from stats.footing.fields import FIELDS
from stats.footing.ladder import FOOTINGS, LoadCase, climb
from stats.footing.loading import LOADINGS
from stats.footing.section import AREA_RULES, SECTION_RULES
from stats.footing.uncertainty import BadUncertainty, InputUncertainty, defaults, of_footings

from .cantilever import DRAWS, FOURTH_SD, OAK, SETUP, a_share, make_case


def test_the_reading_alone_gives_every_footing_its_own_share():
    found = of_footings(make_case(), {"reading": a_share(0.02, acts_on=("values",))})

    assert list(found) == list(FOOTINGS)
    for code, one in found.items():
        assert one.relative == pytest.approx(0.02, rel=1e-6)
        assert one.value == pytest.approx(climb(make_case())[code].values[0])
        assert (one.u, one.unit) == (pytest.approx(0.02 * one.value), climb(make_case())[code].unit)
        assert (one.interval.low, one.interval.high) == pytest.approx((0.96 * one.value, 1.04 * one.value))
        assert one.interval.level == pytest.approx(0.9545, abs=1e-4)


def test_instrument_and_arm_combine_in_quadrature_as_by_hand():
    inputs = {"accuracy": a_share(0.02, acts_on=("values",)), "arm_mm": InputUncertainty(1.0, source="tape")}

    moment = of_footings(make_case(), inputs, k=3)["at_joint"]

    assert moment.relative == pytest.approx(math.hypot(0.02, 1 / 300), rel=1e-6)
    assert moment.interval.high - moment.value == pytest.approx(3 * moment.u)
    gauge, arm = moment.budget
    assert (gauge.name, gauge.acts_on, gauge.unit) == ("accuracy", ("values",), "N")
    assert (gauge.value, gauge.u) == pytest.approx((1240, 24.8))
    assert (arm.name, arm.unit, arm.u, arm.value, arm.source) == ("arm_mm", "mm", 1, 300, "tape")
    assert arm.sensitivity == pytest.approx(1.24)
    assert arm.contribution == pytest.approx(1.24)
    assert arm.share == pytest.approx((1 / 300) ** 2 / moment.relative**2, rel=1e-6)
    assert sum(row.share for row in moment.budget) == pytest.approx(1)


def bending_ratio(x):
    """Over handbook MOR at a moisture content, cantilever to the far face at an angle, member's section."""
    to_face = x["arm_mm"] - x["other_depth_mm"]
    moment_nmm = x["values"] * to_face * np.cos(np.radians(x["angle_deg"]))
    stress = moment_nmm * 6 / (x["member_thickness_mm"] * x["member_depth_mm"] ** 2)
    return stress / (x["mor"] * (99 / 57.2) ** ((12 - x["moisture_pct"]) / 13))


def corner_moment(x):
    """Unequal legs pulled along their diagonal, at a face on the first [N·m]."""
    p, q = x["leg_mm"], x["leg_b_mm"]
    return x["values"] * (p - x["face_offset_mm"]) / 1000 * q / np.hypot(p, q)


def plate_stress(x):
    """Two faces of each of three plates, circular segments of a chord and a depth."""
    c, h = x["slot_length_mm"], x["slot_depth_mm"]
    r = h / 2 + c**2 / (8 * h)
    half_angle = np.arcsin(c / 2 / r)
    return x["values"] / (6 * (r**2 * half_angle - (r - h) * c / 2))


def torsion_stress(x):
    """Two cheeks of a tenon under a torque."""
    b, h = x["tenon_length_mm"], x["tenon_depth_mm"]
    polar = b * h * (b**2 + h**2) / 12
    return x["values"] * x["arm_mm"] * np.hypot(b, h) / 2 / (2 * polar)


def rollers_moment(x):
    """Equal legs on rollers with friction [N·m]."""
    return x["values"] * x["leg_mm"] / 1000 / (2 * math.sqrt(2)) * (1 - x["friction"])


MODELS = [
    (
        bending_ratio,
        "ratio_solid",
        make_case(setup={"arm_mm": 300.0, "arm_reference": "far_face", "angle_deg": 12.0},
                  dims={"member_thickness_mm": 22.2, "member_depth_mm": 63.5, "other_depth_mm": 60.0}),
        {"values": 20.0, "arm_mm": 2.0, "other_depth_mm": 0.5, "angle_deg": 1.0, "member_thickness_mm": 0.3,
         "member_depth_mm": 0.4, "moisture_pct": 0.5, "mor": 3.0},
    ),
    (
        corner_moment,
        "at_joint",
        make_case(loading="corner_pulled_open", setup={"leg_mm": 200.0, "leg_b_mm": 150.0, "face_offset_mm": 30.0}),
        {"values": 25.0, "leg_mm": 2.0, "leg_b_mm": 3.0, "face_offset_mm": 1.0},
    ),
    (
        plate_stress,
        "stress",
        make_case(loading="withdrawal", setup={}, area_rule="plates", section_rule=None,
                  dims={"slot_length_mm": 60.0, "slot_depth_mm": 12.0, "fastener_count": 3}),
        {"values": 25.0, "slot_length_mm": 0.8, "slot_depth_mm": 0.3},
    ),
    (
        torsion_stress,
        "stress",
        make_case(loading="torsion", setup={"arm_mm": 250.0}, area_rule="tenon",
                  dims={"tenon_length_mm": 32.0, "tenon_depth_mm": 38.0}),
        {"values": 25.0, "arm_mm": 2.0, "tenon_length_mm": 0.4, "tenon_depth_mm": 0.5},
    ),
    (
        rollers_moment,
        "at_joint",
        make_case(loading="corner_opening", setup={"leg_mm": 200.0, "friction": 0.1}),
        {"values": 25.0, "leg_mm": 2.0, "friction": 0.02},
    ),
]  # fmt: skip


def at_centre(case):
    table = {prop: case.timber.value(prop) for prop in ("mor", "shear", "tension_perp")}
    own = {"values": case.values[0], "moisture_pct": case.moisture_pct}
    return {**table, **own, **case.dims, **case.setup}


@pytest.mark.parametrize(("model", "code", "case", "u"), MODELS, ids=lambda one: getattr(one, "__name__", ""))
def test_of_footings_agrees_with_drawing_the_inputs_many_times(model, code, case, u):
    rng = np.random.default_rng(100)
    centre = at_centre(case)
    drawn = {name: rng.normal(centre[name], sd, DRAWS) for name, sd in u.items()}

    found = of_footings(case, {name: InputUncertainty(sd) for name, sd in u.items()})[code]

    assert found.value == pytest.approx(model(centre), rel=1e-9)
    assert found.u == pytest.approx(model({**centre, **drawn}).std(), rel=FOURTH_SD)
    assert found.n == 1


def test_of_footings_agrees_with_drawing_correlated_inputs():
    rng = np.random.default_rng(101)
    centre = at_centre(make_case(setup={"arm_mm": 300.0, "arm_reference": "face"}))
    u = {"member_thickness_mm": 0.4, "member_depth_mm": 0.9}
    drawn = rng.multivariate_normal([22.2, 63.5], [[0.16, 0.27], [0.27, 0.81]], DRAWS).T
    x = {**centre, "other_depth_mm": 0.0, "angle_deg": 0.0, **dict(zip(u, drawn, strict=True))}

    inputs = {name: InputUncertainty(sd) for name, sd in u.items()}
    found = of_footings(make_case(), inputs, correlation={("member_depth_mm", "member_thickness_mm"): 0.75})

    assert found["ratio_solid"].u == pytest.approx(bending_ratio(x).std(), rel=FOURTH_SD)
    apart = of_footings(make_case(), inputs)["ratio_solid"]
    assert apart.u < 0.9 * found["ratio_solid"].u


@pytest.mark.parametrize(("r", "combine"), [(1, lambda b, d: b + 2 * d), (-1, lambda b, d: abs(b - 2 * d))])
def test_fully_correlated_sizes_add_or_cancel(r, combine):
    inputs = {"member_thickness_mm": a_share(0.02), "member_depth_mm": a_share(0.03)}

    found = of_footings(make_case(), inputs, correlation={("member_thickness_mm", "member_depth_mm"): r})["stress"]

    assert found.relative == pytest.approx(combine(0.02, 0.03), rel=1e-5)
    assert sum(row.share for row in found.budget) == pytest.approx(1)


def test_a_source_that_moves_two_inputs_equals_full_correlation():
    both = ("member_thickness_mm", "member_depth_mm")

    one_tape = of_footings(make_case(), {"tape": a_share(0.01, acts_on=both)})["stress"]

    assert one_tape.relative == pytest.approx(0.03, rel=1e-4)
    assert one_tape.budget[0].acts_on == both


def test_a_size_that_enters_twice_counts_once():
    # Stress goes with 1 / D², and the size adjustment of the solid wood with D^(-1/9) under it.
    case = make_case()
    inputs = {"member_depth_mm": a_share(0.01)}

    plain = of_footings(case, inputs)["ratio_solid"]
    by_depth = dataclasses.replace(case, adjustments=frozenset({"moisture", "size_depth"}))
    twice = of_footings(by_depth, inputs)["ratio_solid"]

    assert plain.relative == pytest.approx(0.02, rel=1e-6)
    assert twice.relative == pytest.approx(0.02 - 0.01 / 9, rel=1e-6)


EVERY_DIM = {name: (3 if one.unit == "" else 8.0 if one.unit == "°" else 20.0)
             for name, one in FIELDS.items() if name not in SETUP} | {
    "slot_length_mm": 60.0, "slot_depth_mm": 12.0, "scarf_ratio": 8.0, "other_depth_mm": 45.0}  # fmt: skip


def lengths_elasticity(one):
    return sum(row.sensitivity * row.value for row in one.budget if row.unit == "mm") / one.value


@pytest.mark.parametrize("loading", LOADINGS)
def test_lengths_scale_a_moment_by_one_and_a_force_not_at_all(loading):
    # Euler on homogeneous functions: the sum of sensitivity times length is the power of length in the result.
    case = make_case(loading=loading, setup=SETUP | {"leg_b_mm": 170.0, "face_offset_mm": 25.0, "diagonal_deg": 30.0})

    found = of_footings(case, defaults(case, "bathroom_scale", resolution=1.0))

    power = 1 if found["at_joint"].unit == "N·m" else 0
    assert lengths_elasticity(found["at_joint"]) == pytest.approx(power, abs=1e-5)
    assert found["at_joint"].relative >= found["peak_load"].relative > 0.01


@pytest.mark.parametrize("rule", AREA_RULES)
@pytest.mark.parametrize("loading", ["withdrawal", "torsion"])
def test_lengths_scale_a_stress_on_a_bond_by_their_square(rule, loading):
    case = make_case(loading=loading, area_rule=rule, dims=EVERY_DIM, setup={"arm_mm": 300.0}, timber=None)

    found = of_footings(case)

    if "stress" not in found:
        assert loading == "torsion"
        assert not AREA_RULES[rule].torsion_needs
        return
    assert lengths_elasticity(found["stress"]) == pytest.approx(-2, abs=1e-4)
    counted = [row.name for row in found["stress"].budget]
    needed = AREA_RULES[rule].torsion_needs if loading == "torsion" else AREA_RULES[rule].area_needs
    assert {name for name in needed if FIELDS[name].unit == "mm"} <= set(counted)


@pytest.mark.parametrize("rule", SECTION_RULES)
def test_lengths_scale_a_bending_stress_by_their_square(rule):
    case = make_case(section_rule=rule, dims=EVERY_DIM, timber=None)

    assert lengths_elasticity(of_footings(case)["stress"]) == pytest.approx(-2, abs=1e-4)


def test_an_instruments_lasting_error_leaves_the_ratio_to_its_control():
    case = make_case()
    found = of_footings(case, defaults(case, "torque_wrench", resolution=10.0))

    assert found["peak_load"].relative > 0.03
    assert found["ratio_control"].relative == pytest.approx(10 / math.sqrt(12) / 1240, rel=1e-6)
    assert [row.name for row in found["ratio_control"].budget] == ["resolution"]
    assert found["ratio_control"].exact == ("control_value",)


def test_an_error_of_full_scale_leaves_part_of_the_ratio_to_its_control():
    case = make_case()
    found = of_footings(case, defaults(case, accuracy_pct=1.0, full_scale=5000.0))

    u = 50 / math.sqrt(3)
    assert found["peak_load"].u == pytest.approx(u)
    # d ln(F / c) where both move by the same newtons
    assert found["ratio_control"].relative == pytest.approx(u * (1 / 500 - 1 / 1240), rel=1e-4)


def test_an_error_of_each_specimen_is_averaged_and_a_shared_one_is_not():
    four = make_case(values=[1240.0] * 4)
    own, shared = (InputUncertainty(12.4, acts_on=("values",), each=each) for each in (True, False))

    found = of_footings(four, {"own": own, "shared": shared})["peak_load"]

    assert {row.name: row.contribution for row in found.budget} == pytest.approx({"shared": 12.4, "own": 6.2})
    assert found.n == 4


def test_an_error_of_each_of_unlike_specimens_agrees_with_drawing():
    values = np.array([600.0, 1000.0, 1900.0])
    drawn = values + np.random.default_rng(5).normal(0, 10, (DRAWS, 3))

    found = of_footings(make_case(values=values), {"own": InputUncertainty(10, acts_on=("values",), each=True)})

    means = np.exp(np.log(drawn).mean(axis=1))
    assert found["peak_load"].value == pytest.approx(1140000000 ** (1 / 3))
    assert found["peak_load"].u == pytest.approx(means.std(), rel=FOURTH_SD)


def test_inputs_without_uncertainty_that_matter_are_named():
    found = of_footings(make_case(), {"arm_mm": InputUncertainty(1.0)})

    assert found["peak_load"].exact == ("values",)
    assert (found["peak_load"].u, found["peak_load"].budget) == (0, ())
    sizes = {"values", "member_thickness_mm", "member_depth_mm"}
    assert set(found["stress"].exact) == sizes
    assert set(found["ratio_solid"].exact) == sizes | {"moisture_pct", "mor"}
    assert set(found["ratio_solid_matched"].exact) == sizes | {"solid_stress_mpa"}


def test_moisture_not_given_is_named_and_may_be_given_an_uncertainty():
    case = make_case(moisture_pct=None)

    assert "moisture_pct" in of_footings(case, {})["ratio_solid"].exact
    found = of_footings(case, {"moisture_pct": InputUncertainty(2.0)})["ratio_solid"]
    assert found.value == pytest.approx(climb(case)["ratio_solid"].values[0])
    assert found.relative == pytest.approx(2 * math.log(99 / 57.2) / 13, rel=1e-5)
    assert (found.budget[0].value, found.budget[0].unit) == (12, "%")


def test_a_source_may_have_the_name_of_an_input_it_does_not_move():
    found = of_footings(make_case(), {"values": InputUncertainty(3.0, acts_on=("arm_mm",))})["at_joint"]

    assert (found.relative, found.exact) == (pytest.approx(0.01, rel=1e-4), ("values",))


def test_boards_that_spread_lognormally_spread_the_ratio_by_their_share():
    sd_log = math.sqrt(math.log(1 + 0.16**2))
    drawn = 1 / np.random.default_rng(6).lognormal(0, sd_log, DRAWS)

    found = of_footings(make_case(), {"mor": defaults(make_case())["mor"]})["ratio_solid"]

    assert found.relative == pytest.approx(drawn.std() / drawn.mean(), rel=0.01)


def test_an_input_declared_exact_is_neither_counted_nor_named():
    found = of_footings(make_case(), {"values": InputUncertainty(0.0), "arm_mm": InputUncertainty(1.0)})["at_joint"]

    assert (found.exact, [row.name for row in found.budget]) == ((), ["arm_mm"])


def test_inputs_at_the_end_of_their_range_are_differenced_on_one_side():
    setup = {"span_mm": 400.0, "joint_offset_mm": 200.0, "leg_mm": 200.0, "friction": 0.0}

    middle = of_footings(make_case(loading="centre_point_bending", setup=setup), {"joint_offset_mm": a_share(0.01)})
    assert middle["at_joint"].relative == pytest.approx(0.01, rel=1e-4)
    rollers = of_footings(make_case(loading="corner_opening", setup=setup), {"friction": InputUncertainty(0.03)})
    assert rollers["at_joint"].relative == pytest.approx(0.03, rel=1e-4)
    assert rollers["at_joint"].budget[0].contribution < 0


def test_equal_legs_on_rollers_with_friction_move_together():
    setup = {"leg_mm": 200.0, "leg_b_mm": 200.0, "friction": 0.1}
    case = make_case(loading="corner_opening", setup=setup)

    found = of_footings(case)["at_joint"]
    assert found.relative == pytest.approx(1 / math.sqrt(3) / 200, rel=1e-6)
    assert set(found.exact) == {"values", "friction"}
    with pytest.raises(BadUncertainty, match=r"u of leg_mm .* must be 0"):
        of_footings(case, {"leg_mm": InputUncertainty(1.0)})


def test_published_stresses_have_the_uncertainty_they_are_given():
    case = LoadCase("stress", "withdrawal", [4.2, 5.0], faces="side-side", timber=OAK, moisture_pct=12.0)

    found = of_footings(case, {"values": a_share(0.05)})

    assert set(found) == {"stress"}  # without an area rule there is nothing to say what a pull does to the bond
    assert found["stress"].relative == pytest.approx(0.05, rel=1e-5)


def test_budget_is_a_table_and_goes_to_json():
    case = make_case()
    found = of_footings(case, defaults(case, "luggage_scale"))

    table = found["stress"].frame()
    assert list(table["name"])[0] == "member_thickness_mm"
    assert table["share"].sum() == pytest.approx(1)
    assert np.sqrt((table["contribution"] ** 2).sum()) == pytest.approx(found["stress"].u)
    assert list(of_footings(case, {})["stress"].frame().columns) == list(table.columns)
    again = json.loads(json.dumps(found["stress"].to_dict()))
    assert again["interval"]["level"] == found["stress"].interval.level
    assert [row["name"] for row in again["budget"]] == list(table["name"])


def test_a_footing_too_uncertain_for_first_order_warns():
    with pytest.warns(StatsWarning, match="at_joint is known to 40% only: first order is too rough"):
        of_footings(make_case(section_rule=None), {"arm_mm": InputUncertainty(120.0)})


@pytest.mark.parametrize(
    ("inputs", "more", "message"),
    [
        ({"span_mm": InputUncertainty(1)}, {}, "span_mm acts on span_mm, which must have a value in the case"),
        ({"reach": InputUncertainty(1)}, {}, "reach acts on 'reach', which must be an input's name"),
        ({"arm_reference": InputUncertainty(1)}, {}, "acts on 'arm_reference', which must be an input's name"),
        ({"tenon_count": InputUncertainty(1)}, {}, "tenon_count, which is counted"),
        ({"density_kgm3": InputUncertainty(9)}, {}, "density_kgm3, which must have a value"),
        ({"arm_mm": InputUncertainty(1)}, {"k": 0}, r"k \(0\) must be a positive number"),
        ({"arm_mm": InputUncertainty(1)}, {"correlation": {("arm_mm", "leg"): 1}}, "two different inputs among arm_mm"),
        ({"arm_mm": InputUncertainty(1)}, {"correlation": {("arm_mm", "arm_mm"): 1}}, "two different inputs"),
        (
            {"arm_mm": InputUncertainty(1), "values": InputUncertainty(1)},
            {"correlation": {("arm_mm", "values"): 1.2}},
            r"\(1.2\) must lie between -1 and 1",
        ),
        (
            {"arm_mm": InputUncertainty(1), "values": InputUncertainty(1, each=True)},
            {"correlation": {("arm_mm", "values"): 1}},
            "errors that the specimens share",
        ),
    ],
)
def test_of_footings_refuses_uncertainties_that_do_not_fit_the_case(inputs, more, message):
    with pytest.raises(BadUncertainty, match=message) as caught:
        of_footings(make_case(), inputs, **more)
    assert isinstance(caught.value, StatsError)
