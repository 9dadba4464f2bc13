from __future__ import annotations

import math

import numpy as np
import pytest

from stats.errors import StatsError
from stats.footing import calibration
from stats.footing.input_uncertainty import InputUncertainty, defaults
from stats.footing.reading import INSTRUMENTS, to_force
from stats.footing.uncertainty import of_footings

from .cantilever import DRAWS, FOURTH_SD, make_case


def test_defaults_follow_their_rules():
    setup = {"arm_mm": 300.0, "arm_reference": "face", "angle_deg": 10.0, "face_offset_mm": 0.0, "frame_count": 2}
    case = make_case(setup=setup)
    third = 1 / math.sqrt(3)

    by_tape, by_caliper = (defaults(case, "bathroom_scale", resolution=5.0, sizes=s) for s in ("tape", "caliper"))

    assert {name: one.u for name, one in by_tape.items()} == pytest.approx(
        {
            "accuracy": 0.02 * third,
            "resolution": 5 / math.sqrt(12),
            "arm_mm": third,
            "angle_deg": third,
            "member_thickness_mm": 0.5 * third,
            "member_depth_mm": 0.5 * third,
            "moisture_pct": 2 * third,
            "mor": 0.16,
            "shear": 0.14,
            "tension_perp": 0.25,
        }
    )
    assert by_tape["accuracy"].relative and by_tape["accuracy"].acts_on == ("values", "control_value")
    assert by_tape["resolution"].each
    assert by_caliper["member_depth_mm"].u == pytest.approx(0.1 * third)
    assert all(one.source for one in by_tape.values())


@pytest.mark.parametrize("instrument", INSTRUMENTS)
def test_defaults_take_the_wider_accuracy_of_every_instrument(instrument):
    found = defaults(make_case(), instrument)

    limits = INSTRUMENTS[instrument].accuracy_pct
    if limits is None:
        assert "accuracy" not in found
    else:
        assert found["accuracy"].u == pytest.approx(limits[1] / 100 / math.sqrt(3))
    assert ("seals" in found) == (instrument == "jack_gauge")
    assert defaults(make_case(), instrument, accuracy_pct=0.3)["accuracy"].u == pytest.approx(0.003 / math.sqrt(3))


def test_defaults_find_the_ram_in_the_readings_steps():
    load = to_force([10.0], "jack_gauge", ram_diameter_mm=42.9)
    case = make_case(values=load.value, reading_steps=load.steps)

    found = of_footings(case, defaults(case, "jack_gauge", sizes="caliper"))["peak_load"]

    parts = {row.name: row.contribution / found.value for row in found.budget}
    wider = to_force([10.0], "jack_gauge", ram_diameter_mm=42.9 + 0.1 / math.sqrt(3)).value[0] / load.value[0] - 1
    assert parts["ram"] == pytest.approx(wider, rel=2e-3)
    assert list(parts) == ["seals", "accuracy", "ram"]
    assert found.relative == pytest.approx(math.hypot(0.05, 0.025, 0.2 / 42.9) / math.sqrt(3), rel=1e-5)


def test_a_calibration_takes_the_place_of_the_accuracy():
    scale = calibration.fit([0, 500, 1000, 1500], [3, 492, 986, 1470])
    shown = 1200.0
    value, u = scale.correct(shown)
    case = make_case(values=[value])

    inputs = defaults(case, "jack_gauge", calibration=scale)
    found = of_footings(case, inputs)["peak_load"]

    assert not {"accuracy", "seals", "ram", "resolution"} & set(inputs)
    assert found.u == pytest.approx(u * scale.widening, rel=1e-5)
    assert [row.name for row in found.budget] == ["scatter", "calibration"]
    coarse = defaults(case, calibration=scale, resolution=100.0)["scatter"]
    assert coarse.u == pytest.approx(100 / math.sqrt(12))


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: InputUncertainty(-1.0), r"u \(-1.0\) must be a number of 0 or more"),
        (lambda: InputUncertainty(math.nan), r"u \(nan\)"),
        (lambda: InputUncertainty(2.0, relative=True), "u \\(2\\) must be a share below 1 .* 0.02 for 2 %"),
        (lambda: InputUncertainty.expanded(1.0, k=0), r"k \(0\) must be a positive number, 2 if"),
        (lambda: defaults(make_case(), "spring"), r"instrument \('spring'\) must be one of force_gauge"),
        (lambda: defaults(make_case(), sizes="eye"), r"sizes \('eye'\) must be one of caliper, tape"),
        (lambda: defaults(make_case(), resolution=0), r"resolution \(0\) must be a positive number"),
        (lambda: defaults(make_case(setup={"arm_mm": "long"})), r"arm_mm \('long'\) must be a number"),
        (lambda: defaults(make_case(values=[-3.0])), r"values\[0\] \(-3\) must be a positive number"),
    ],
)
def test_inputs_refuse_numbers_that_can_not_be(make, message):
    with pytest.raises(StatsError, match=message):
        make()


def test_standard_uncertainties_from_limits_agree_with_drawing():
    drawn = np.random.default_rng(9).uniform(-1, 1, DRAWS)

    assert InputUncertainty.rectangular(1.0).u == pytest.approx(drawn.std(), rel=FOURTH_SD)
    assert InputUncertainty.resolution(2.0).u == pytest.approx(drawn.std(), rel=FOURTH_SD)
    assert InputUncertainty.expanded(0.3).u == 0.15
