"""What the checks notice in the numbers."""

from __future__ import annotations

import pytest

from results.evidence import Draft, restate, state
from results.models import Instrument
from tests.factories import make_series, make_setup, make_specimen, make_study, make_summary

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]

LBF_N = 4.4482216152605


def a_series(loads, *, joint="mt_blind", study=None, **fields):
    study = study or make_study()
    setup = fields.pop("setup", None) or make_setup(study, arm_mm=fields.pop("arm_mm", 300.0))
    series = make_series(study, setup=setup, joint=joint, **fields)
    for load in loads:
        make_specimen(series, peak_load_n=load)
    return series


def noticed(study, *codes):
    return [one for one in state(Draft.of(study)) if not codes or one.code in codes]


def test_pounds_typed_as_newtons_in_one_specimen_are_named():
    series = a_series([2210.0, 2480.0, 2300.0 / LBF_N, 2350.0, 2290.0])

    (slip,) = noticed(series.study, "unit-slip")

    assert slip.severity == "doubt"
    assert slip.specimen == series.specimens.all()[2].label
    assert "read as newtons but looks like pounds-force" in slip.message
    assert "4.45" in slip.remedy


def test_a_whole_series_in_the_wrong_unit_is_seen_against_the_book():
    for number in range(4):
        study = a_series([340.0 + 9 * number, 360.0, 400.0, 380.0]).study
        restate(study)
    odd = a_series([360.0 / LBF_N, 380.0 / LBF_N, 350.0 / LBF_N, 390.0 / LBF_N])

    (slip,) = noticed(odd.study, "unit-slip-series")

    assert (slip.series, slip.specimen) == (odd.label, "")
    assert "Blind mortise and tenon in other studies" in slip.message
    assert "pounds-force" in slip.message


def test_solid_bars_in_the_wrong_unit_are_seen_against_the_handbook():
    # 20 x 40 mm northern red oak breaks at 528 N·m, 1760 N on this arm.
    series = a_series([1760.0 / 9.80665, 1800.0 / 9.80665, 1700.0 / 9.80665], joint="solid")

    (slip,) = noticed(series.study, "unit-slip-series")

    assert "kilograms-force" in slip.message


def test_more_than_the_timber_can_take_is_impossible():
    series = a_series([500.0, 520.0, 6000.0, 480.0])

    found = noticed(series.study, "impossible", "unit-slip")

    assert [one.specimen for one in found] == [series.specimens.all()[2].label]
    assert found[0].severity == "doubt"


def test_a_mean_beyond_the_timber_is_impossible_too():
    study = make_study()
    series = make_series(study, setup=make_setup(study))
    make_summary(series, mean_si=9000.0, mean_typed="9000", n=12, sd_si=300.0)

    (found,) = noticed(study, "impossible")

    assert (found.series, found.specimen, found.value) == (series.label, "", "9000")


def test_an_outlier_is_named_once_and_its_fellows_are_not():
    series = a_series([500.0, 520.0, 480.0, 510.0, 495.0, 505.0, 488.0, 250.0])

    found = noticed(series.study, "outlier", "unit-slip", "impossible")

    assert [(one.code, one.specimen) for one in found] == [("outlier", series.specimens.last().label)]


def test_sound_series_is_left_alone():
    series = a_series([500.0, 560.0, 470.0, 515.0, 585.0, 440.0])

    assert [one.code for one in noticed(series.study)] == ["no-control"]


def test_readings_that_are_all_equal_pass():
    series = a_series([500.0] * 6)

    assert noticed(series.study, "outlier", "unit-slip", "impossible") == []


def test_controls_themselves_need_no_control():
    series = a_series([500.0, 510.0, 490.0], joint="butt")
    a_series([900.0, 940.0, 870.0], study=series.study, setup=series.setup, control=series)

    assert noticed(series.study, "no-control") == []


def test_few_specimens_count_the_void_ones_apart():
    series = a_series([500.0, 520.0])
    make_specimen(series, outcome="void", void_reason="the rig slipped", peak_load_n=None, reading_typed="")

    (few,) = noticed(series.study, "few-specimens")

    assert f"Series {series.label} has 2 specimens that tell (1 void); three are the fewest" in few.message


def test_missing_control_names_setup_and_series_in_quotation_marks():
    series = a_series([500.0, 520.0, 510.0])

    (none,) = noticed(series.study, "no-control")

    assert f"no control on setup {series.setup.label!r} for series {series.label!r}: a plain" in none.message


def test_short_arm_fresh_glue_and_few_specimens_are_remarked_on():
    series = a_series([500.0], arm_mm=70.0, member_depth_mm=40.0, cure_hours=6.0)

    found = {one.code: one.severity for one in noticed(series.study)}

    assert found == {
        "short-arm": "remark",
        "fresh-glue": "remark",
        "few-specimens": "remark",
        "no-control": "remark",
    }


def test_findings_flag_but_never_remove():
    series = a_series([2210.0, 2480.0, 2300.0 / LBF_N, 2350.0, 2290.0])

    restate(series.study)

    flagged = list(series.specimens.values_list("flagged", flat=True))
    assert flagged == [False, False, True, False, False]
    assert series.study.findings.filter(code="unit-slip", specimen=series.specimens.all()[2]).count() == 1


def test_a_long_series_is_judged_in_reasonable_time(benchmark=None):
    import time

    loads = [500.0 + (7 * k) % 90 for k in range(600)]
    loads[300] /= LBF_N
    series = a_series(loads)
    started = time.perf_counter()

    found = noticed(series.study, "unit-slip")

    assert time.perf_counter() - started < 10
    assert [one.specimen for one in found] == [series.specimens.all()[300].label]


def test_one_odd_specimen_does_not_condemn_its_series():
    for number in range(4):
        restate(a_series([340.0 + 9 * number, 360.0, 400.0, 380.0]).study)
    series = a_series([350.0, 366.0, 971.0, 335.0, 362.0])

    found = noticed(series.study, "unit-slip-series", "outlier", "unit-slip", "impossible")

    assert [(one.code, one.specimen) for one in found] == [("outlier", series.specimens.all()[2].label)]


def test_real_series_are_not_judged_against_invented_ones():
    for number in range(4):
        study = a_series([340.0 + 9 * number, 360.0, 400.0, 380.0]).study
        study.invented = True
        study.save()
        restate(study)
    odd = a_series([360.0 / LBF_N, 380.0 / LBF_N, 350.0 / LBF_N, 390.0 / LBF_N])

    assert noticed(odd.study, "unit-slip-series") == []
    odd.study.invented = True
    odd.study.save()
    assert len(noticed(odd.study, "unit-slip-series")) == 1


def test_slips_of_a_pressure_gauge_are_those_of_pressures():
    instrument = Instrument.objects.get(pk="jack_gauge")
    study = make_study()
    setup = make_setup(study, instrument=instrument, ram_diameter_mm=28.6)
    series = a_series([2210.0, 2480.0, 2300.0 / 14.503774, 2350.0, 2290.0], study=study, setup=setup)

    (slip,) = noticed(series.study, "unit-slip")

    assert "bar" in slip.message and "newtons" not in slip.message
