from __future__ import annotations

import math

import numpy as np
import pytest

from stats.errors import MissingInputs, StatsError
from stats.footing.reading import INSTRUMENTS, to_force
from stats.footing.step import total_factor


def test_jack_force_is_pressure_times_ram_area():
    # 42.9 mm ram: 1445 mm²; 10 MPa is 14.5 kN
    found = to_force(10.0, "jack_gauge", ram_diameter_mm=42.9)

    assert found.factor == pytest.approx(math.pi * 42.9**2 / 4)
    assert (round(found.factor), round(found.value / 1000, 1), found.unit) == (1445, 14.5, "N")


def test_jack_without_a_ram_names_it():
    with pytest.raises(MissingInputs, match="ram_diameter_mm"):
        to_force(10.0, "jack_gauge")


def test_jack_refuses_a_ram_that_can_not_be():
    with pytest.raises(StatsError, match=r"ram_diameter_mm \(-1\) must be above 0"):
        to_force(10.0, "jack_gauge", ram_diameter_mm=-1)


def test_lever_multiplies_any_force():
    found = to_force(np.array([100.0, 200.0]), "luggage_scale", lever_ratio=5)

    np.testing.assert_allclose(found.value, [500.0, 1000.0])
    assert [step.name for step in found.steps] == ["lever"]


def test_jack_under_a_lever_multiplies_both_factors():
    found = to_force(1.0, "jack_gauge", ram_diameter_mm=20, lever_ratio=3)

    assert found.value == pytest.approx(3 * math.pi * 100)
    assert total_factor(found.steps) == pytest.approx(found.factor)


def test_lever_press_needs_its_ratio():
    with pytest.raises(MissingInputs, match="lever_ratio"):
        to_force(100.0, "lever_press")


def test_torque_wrench_reads_the_moment():
    found = to_force(120.0, "torque_wrench")

    assert (found.value, found.unit, found.reads, found.steps) == (120.0, "N·m", "moment", ())


def test_torque_wrench_refuses_a_lever():
    with pytest.raises(StatsError, match=r"lever_ratio \(2\) must be left out"):
        to_force(120.0, "torque_wrench", lever_ratio=2)


def test_unknown_instrument_is_refused_with_the_known():
    with pytest.raises(StatsError, match="instrument \\('eye'\\) must be one of force_gauge"):
        to_force(1.0, "eye")


@pytest.mark.parametrize("code", [c for c, i in INSTRUMENTS.items() if not i.needs])
def test_plain_instrument_leaves_its_reading_alone(code):
    assert to_force(42.0, code).value == 42.0
