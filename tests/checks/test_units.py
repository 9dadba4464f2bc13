"""Unit factors against scipy.constants, which takes them from CODATA and the definitions of the units."""

from __future__ import annotations

import math

import pytest
from scipy import constants

from stats.footing import units

FACTORS = [
    ("lbf", "force", constants.lbf),
    ("lb", "force", constants.lb * constants.g),
    ("kgf", "force", constants.kgf),
    ("kg", "force", constants.g),
    ("kN", "force", constants.kilo),
    ("ozf", "force", constants.lbf / 16),
    ("kip", "force", 1000 * constants.lbf),
    ("in", "length", constants.inch / constants.milli),
    ("ft", "length", constants.foot / constants.milli),
    ("yd", "length", constants.yard / constants.milli),
    ("thou", "length", constants.mil / constants.milli),
    ("ft·lbf", "moment", constants.foot * constants.lbf),
    ("in·lbf", "moment", constants.inch * constants.lbf),
    ("kgf·cm", "moment", constants.kgf * constants.centi),
    ("psi", "pressure", constants.psi / constants.mega),
    ("bar", "pressure", constants.bar / constants.mega),
    ("atm", "pressure", constants.atm / constants.mega),
    ("kgf/cm²", "pressure", constants.kgf / constants.centi**2 / constants.mega),
    ("ksi", "stress", 1000 * constants.psi / constants.mega),
    ("in²", "area", constants.inch**2 / constants.milli**2),
    ("lb", "mass", constants.lb),
    ("oz", "mass", constants.oz),
    ("lb/ft³", "density", constants.lb / constants.foot**3),
    ("d", "hours", constants.day / constants.hour),
    ("wk", "hours", constants.week / constants.hour),
    ("in/min", "rate", constants.inch / constants.milli),
    ("mm/s", "rate", constants.minute),
    ("rad", "angle", math.degrees(1)),
    ("°F", "temperature", constants.degree_Fahrenheit),
]


@pytest.mark.parametrize(("unit", "kind", "expected"), FACTORS)
def test_factor_agrees_with_scipy_constants(unit, kind, expected):
    assert units.factor(unit, kind) == pytest.approx(expected, rel=1e-13)


@pytest.mark.parametrize("fahrenheit", [-40.0, 32.0, 68.0, 212.0])
def test_temperature_agrees_with_scipy_constants(fahrenheit):
    expected = constants.convert_temperature(fahrenheit, "F", "C")

    assert units.to_si(fahrenheit, "°F", "temperature") == pytest.approx(expected, abs=1e-9)


def test_named_constants_agree_with_scipy_constants():
    named = (units.LBF_N, units.KGF_N, units.INCH_MM, units.PSI_MPA, units.GRAVITY_M_S2)

    expected = (constants.lbf, constants.kgf, 1000 * constants.inch, constants.psi / 1e6, constants.g)
    assert named == pytest.approx(expected, rel=1e-15)
