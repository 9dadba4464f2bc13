"""Generalised ESD test on Rosner's 54 values.

Source: Rosner (1983); NIST/SEMATECH e-Handbook section 1.3.5.17.3, whose printed statistics and critical values
(six decimals) are met too; statistics to full precision from R 4.2.2.
"""

from __future__ import annotations

import pytest

from stats.inference import outliers
from tests.checks.reading import reference

ROSNER = reference("gesd_rosner.json")

# as printed by NIST
NIST_R = [3.118906, 2.942973, 3.179424, 2.810181, 2.815580, 2.848172, 2.279327, 2.310366, 2.101581, 2.067178]
NIST_LAMBDA = [
    3.158794, 3.151430, 3.143890, 3.136165, 3.128247, 3.120128, 3.111796, 3.103243, 3.094456, 3.085425,
]  # fmt: skip


@pytest.fixture(name="found")
def _found():
    data = ROSNER["data"]
    return outliers.generalised_esd(data["x"], data["max_outliers"], data["alpha"])


def test_esd_agrees_with_r(found):
    expected, rtol = ROSNER["expected"], ROSNER["tolerance"]
    assert found.statistics == pytest.approx(expected["R"], rel=rtol)
    assert found.critical == pytest.approx(expected["lambda"], rel=rtol)
    assert [i + 1 for i in found.order] == expected["removed_index_1based"]


def test_esd_agrees_with_nist_print(found):
    assert found.statistics == pytest.approx(NIST_R, abs=5.1e-7)
    assert found.critical == pytest.approx(NIST_LAMBDA, abs=5.1e-7)


def test_esd_finds_three_outliers_though_two_steps_fall_short(found):
    assert [ROSNER["data"]["x"][i] for i in found.indices] == ROSNER["expected"]["outliers"] == [6.01, 5.42, 5.34]
    assert found.statistics[0] < found.critical[0]
    assert found.statistics[1] < found.critical[1]
