"""Weights and readings as people write them, to a calibration; and what is refused, where and why."""

from __future__ import annotations

import datetime
import math

import pytest

from results.evidence.calibrated import calibrated
from results.intake.calibrate import Pair, calibration_of, pairs_in, read_calibration
from results.models import Rig
from stats.footing.units import GRAVITY_M_S2 as G
from stats.footing.units import LBF_N

from .test_rigs import ARM, JACK, made

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]

TODAY = datetime.date(2025, 6, 1)
GOOD = "0, 0.2\n10 kg, 97 N\n20 kg, 194.5\n30 kg; 291"


def rig(cells: dict[str, str] = ARM) -> Rig:
    return Rig.objects.filter(label=cells["setup"]).first() or made(cells)


def read(text: str, cells: dict[str, str] = ARM, **more):
    said = {"read_unit": "N", "hung_unit": "kg", "made_on": "2025-03-14", "today": TODAY, **more}
    return read_calibration(rig(cells), pairs_in(text, "pasted"), **said)


def test_pairs_are_parted_as_people_part_them():
    text = "20 kg, 19.6\n\n  10,5 kg\t9,9 kg \n20;19,6\n12,5, 12,1\n30,29.5\nalone\n1,2,3"

    assert [(one.hung, one.read) for one in pairs_in(text, "pasted")] == [
        ("20 kg", "19.6"), ("10,5 kg", "9,9 kg"), ("20", "19,6"), ("12,5", "12,1"), ("30", "29.5"), ("alone", ""),
        ("1,2,3", ""),
    ]  # fmt: skip


def test_weights_and_readings_become_forces_and_stay_as_typed():
    found = read(GOOD)

    assert not found.faults
    assert found.hung_n == pytest.approx([0, 10 * G, 20 * G, 30 * G])
    assert found.read_n == [0.2, 97.0, 194.5, 291.0]
    assert found.points == [("0", "0.2 N"), ("10 kg", "97 N"), ("20 kg", "194.5 N"), ("30 kg", "291 N")]
    assert (found.made_on, found.known_u_n) == (datetime.date(2025, 3, 14), [0.0] * 4)


@pytest.mark.parametrize(
    ("text", "hung", "shown"),
    [
        ("0,0\n½ lb, 8 oz\n1 1/2 lb, 1.5 lb\n22 lbf, 10 kg", 22 * LBF_N, 10 * G),
        ("0,0\n1 kN; 100 kgf\n50 kg; 0.5 kN", 1000, 100 * G),
    ],
)
def test_units_are_those_typed(text, hung, shown):
    found = read(text)

    assert not found.faults
    at = found.hung_n.index(pytest.approx(hung))
    assert found.read_n[at] == pytest.approx(shown)


def test_pressure_becomes_a_force_by_the_ram():
    # F = p π d²/4: 10 bar on a ram of 43 mm are 1452 N.
    found = read("0, 0\n150, 10\n300, 20\n450, 30", JACK, read_unit="bar")

    assert not found.faults
    assert found.read_n == pytest.approx([0.1 * one * math.pi * 43**2 / 4 * 1 for one in (0, 10, 20, 30)])


def test_weight_at_a_distance_is_a_moment_for_a_torque_wrench():
    cells = {"setup": "wrench", "loading": "torsion", "instrument": "torque_wrench"}
    found = read("0, 0\n10 kg at 500 mm, 48\n20 at 0.5 m, 97\n147 N·m, 145", cells, read_unit="N·m", hung_unit="kg")
    moment = calibrated(calibration_of(rig(cells), found, unit="N·m", weights_from="", within=""), "moment")

    assert not found.faults
    assert found.hung_n == pytest.approx([0, 10 * G * 0.5, 20 * G * 0.5, 147])
    assert (moment.unit, moment.fit.n) == ("N·m", 4)
    bare = read("0,0\n10, 48\n20, 97", cells, read_unit="N·m", hung_unit="")
    assert "A weight here is a moment, or a weight at a distance" in bare.faults[0].message


def test_how_well_the_weights_are_known_becomes_standard_uncertainties():
    # Rectangular limits: u = a/√3 (JCGM 100:2008, 4.3.7). Nothing hung on is surely nothing.
    share, weight = read(GOOD, within="1 %"), read(GOOD, within="50 g")

    assert share.known_u_n == pytest.approx([0.01 * one / math.sqrt(3) for one in share.hung_n])
    assert weight.known_u_n == pytest.approx([0, *[0.05 * G / math.sqrt(3)] * 3])


@pytest.mark.parametrize(
    ("text", "code", "words"),
    [
        ("", "too-few", "3 different weights are needed, and there are none yet"),
        ("0,0\n10,9.8 kg", "too-few", "3 different weights are needed, and there are 2"),
        ("10,9.8 kg\n10, 9.9 kg\n10 kg, 9.7 kg\n20,19.6kg", "too-few", "and there are 2: two would fix a line"),
        ("0,0\n10\n20,196", "missing", "The reading that goes with '10' is blank; give both"),
        ("0,0\n,98\n20,196", "missing", "The weight that goes with '98' is blank"),
        ("0,0\nten, 98\n20,196", "not-a-number", "Weight 'ten'"),
        ("0,0\n10 mm, 98\n20,196", "wrong-unit-kind", "Weight '10 mm'"),
        ("0,0\n10, 98 bar\n20,196", "wrong-unit-kind", "Reading '98 bar'"),
        ("0,0\n10, nan\n20,196", "not-finite", "Reading 'nan'"),
        ("0,0\n1e99, 98\n20,196", "absurd", "beyond anything in a workshop"),
        ("0,0\n-10, 98\n20,196", "negative", "The weight '-10' is less than nothing; write 0 for none."),
        ("0,5\n10,5\n20,5", "no-answer", "All readings are '5'; the instrument didn't answer."),
        ("0,0\n10,200\n20,100\n30,300", "falls", "20 kg was read as 100 N, but 10 kg, which is less, as 200 N"),
        ("0,300\n10,200\n20,100", "falls", "readings must rise with the weights"),
        ("0,0\n10,10\n20,20\n30,30", "unit-slip", "about 9.81 times too small for the weights: read as newtons"),
        ("0,0\n10 lb,44.5 lb\n20lb,89 lb", "unit-slip", "about 4.45 times too large for the weights"),
        ("0,0\n10 kg,10 lb\n20 kg,20 lb", "unit-slip", "read as pounds but looks like kilograms"),
    ],
)
def test_what_gives_no_calibration_is_refused_at_its_input(text, code, words):
    found = read(text)

    assert [(one.code, one.field) for one in found.faults][:1] == [(code, "pasted" if text else "points")]
    assert any(words in one.message for one in found.faults), found.faults


def test_fault_of_a_row_is_told_at_its_own_input():
    pairs = [Pair("0", "0", "hung-0", "read-0"), Pair("10", "", "hung-1", "read-1"), Pair("x", "5", "hung-2", "read-2")]

    found = read_calibration(rig(), pairs, hung_unit="kg", read_unit="N", made_on="2025-03-14", today=TODAY)

    assert [(one.field, one.code) for one in found.faults] == [("read-1", "missing"), ("hung-2", "not-a-number")]


@pytest.mark.parametrize(
    ("made_on", "words"),
    [
        ("", "The date is blank"),
        ("3/4/2025", "'3/4/2025' is no date; write the day"),
        ("March 2025", "'March 2025' is no date; write the day"),
        ("2025-06-02", "lies in the future"),
        ("1066-10-14", "is long ago"),
    ],
)
def test_date_is_a_day_that_was(made_on, words):
    (fault,) = read(GOOD, made_on=made_on).faults

    assert fault.field == "made_on" and words in fault.message
    assert "3 different weights" in read("0,0", made_on=made_on).faults[1].message  # all at once


@pytest.mark.parametrize(
    ("within", "words"),
    [
        ("about 1 %", "Write a share, such as 1 %"),
        ("50", "has no unit"),
        ("30 %", "must be from 0 to 20 % of the weights"),
        ("-1 %", "must be from 0 to 20 %"),
        ("100 kg", "must be from 0 to 20 %"),
    ],
)
def test_how_well_weights_are_known_has_to_be_possible(within, words):
    faults = read(GOOD, within=within).faults

    assert [one.field for one in faults] == ["within"] and words in faults[0].message


def test_rig_that_does_not_say_what_it_reads_is_mended_first():
    broken = rig(JACK)
    broken.typed = {}

    (fault,) = read_calibration(broken, pairs_in(GOOD, "pasted"), made_on="2025-03-14", today=TODAY).faults

    assert fault.code == "rig" and "mend its instrument and its ram" in fault.message


def test_small_falls_and_friction_are_no_mistake_but_doubted():
    up_and_down = read("0,0\n10,97\n20,195\n30,292\n20,222\n10,125\n0,28")
    record = calibration_of(rig(), up_and_down, unit="N", weights_from="", within="")

    assert not up_and_down.faults
    beside, apart = calibrated(record, "force").doubts
    assert "beside the line: the instrument sticks" in beside
    assert apart == "At the same weight its readings lie up to 28 N apart."


def test_correction_far_from_nothing_is_doubted_and_a_usual_one_is_not():
    far, usual = (read(text) for text in ("0,0\n10,70\n20,140\n30,210", GOOD))

    records = [calibration_of(rig(), one, unit="", weights_from="", within="") for one in (far, usual)]
    doubts = [calibrated(record, "force").doubts for record in records]
    assert len(doubts[0]) == 1 and "off by 40 %" in doubts[0][0]
    assert doubts[1] == ()


def test_numbers_are_those_of_the_calibration_line():
    """Against the sums written out, GUM H.3."""
    found = calibrated(calibration_of(rig(), read(GOOD), unit="", weights_from="", within=""), "force")

    x, y = [0.2, 97.0, 194.5, 291.0], [0, 10 * G, 20 * G, 30 * G]
    mean_x, mean_y = sum(x) / 4, sum(y) / 4
    across = sum((one - mean_x) ** 2 for one in x)
    gain = sum((a - mean_x) * (b - mean_y) for a, b in zip(x, y, strict=True)) / across
    zero = mean_y - gain * mean_x
    s2 = sum((b - zero - gain * a) ** 2 for a, b in zip(x, y, strict=True)) / 2
    top = found.highest
    assert (found.fit.zero, found.fit.gain) == pytest.approx((zero, gain))
    assert (top.reading, top.correction) == pytest.approx((291, zero + (gain - 1) * 291))
    assert top.u == pytest.approx(math.sqrt(s2 * (1 + 1 / 4 + (291 - mean_x) ** 2 / across)))
    assert [one.reading for one in found.corrections] == pytest.approx([72.75, 145.5, 218.25, 291])
    assert found.left == pytest.approx([b - zero - gain * a for a, b in zip(x, y, strict=True)])


def test_readings_below_nothing_are_calibrated_too():
    found = read("0, -50\n10, 47\n20, 145")
    record = calibration_of(rig(), found, unit="", weights_from="", within="")
    below = calibration_of(rig(), read("0, -300\n10, -200\n20, -100"), unit="", weights_from="", within="")

    assert not found.faults
    assert calibrated(record, "force").highest.reading == 145
    assert [one.reading for one in calibrated(below, "force").corrections] == [-100]
