"""From records to stored footings."""

from __future__ import annotations

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from results.evidence import Draft, restate, state
from results.models import SeriesFooting, Study
from tests.factories import make_series, make_setup, make_specimen, make_study, make_summary

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]

LBF_N = 4.4482216152605


def a_study(**of_setup):
    study = make_study()
    return study, make_setup(study, **{"arm_mm": 300.0, **of_setup})


def broken(series, *loads, **fields):
    return [make_specimen(series, peak_load_n=load, **fields) for load in loads]


def stored(series):
    return {row.code: row for row in SeriesFooting.objects.filter(series=series)}


def test_a_load_climbs_to_moment_stress_and_ratio():
    study, setup = a_study()
    series = make_series(study, setup=setup, member_thickness_mm=20.0, member_depth_mm=60.0)
    first, _ = broken(series, 1240.0, 900.0)

    restate(study)

    first.refresh_from_db()
    assert first.moment_nm == pytest.approx(372.0)
    assert first.stress_mpa == pytest.approx(372e3 / (20 * 60**2 / 6))
    assert first.ratio_solid == pytest.approx(31.0 / 99.0)  # northern red oak, modulus of rupture 99 MPa at 12 %
    assert (first.force_n, first.ratio_control, first.flagged) == (None, None, False)
    rows = stored(series)
    assert set(rows) == set(dict.fromkeys(SeriesFooting.objects.values_list("code", flat=True)))
    assert rows["at_joint"].worked == "1 240 N × 0.300 m = 372 N·m"
    assert (rows["at_joint"].n, rows["at_joint"].held, rows["at_joint"].unit) == (2, 0, "N·m")
    assert rows["at_joint"].sum_log == pytest.approx(np.log([372.0, 270.0]).sum())
    assert rows["at_joint"].sum_sq_log == pytest.approx((np.log([372.0, 270.0]) ** 2).sum())
    assert rows["ratio_control"].missing and rows["ratio_control"].sum_log is None


def test_a_control_on_the_same_setup_divides():
    study, setup = a_study()
    control = make_series(study, setup=setup, joint="butt")
    series = make_series(study, setup=setup, control=control)
    broken(control, 470 * LBF_N, 470 * LBF_N)
    (tenon,) = broken(series, 990 * LBF_N)

    restate(study)

    tenon.refresh_from_db()
    assert tenon.ratio_control == pytest.approx(990 / 470)


def test_a_control_on_another_setup_does_not_divide():
    study, setup = a_study()
    control = make_series(study, setup=make_setup(study), joint="butt")
    series = make_series(study, setup=setup, control=control)
    broken(control, 500.0)
    (tenon,) = broken(series, 1000.0)

    restate(study)

    tenon.refresh_from_db()
    assert tenon.ratio_control is None


def test_own_solid_bars_give_the_matched_ratio_apart_from_the_handbook_one():
    study, setup = a_study()
    solid = make_series(study, setup=setup, joint="solid")
    series = make_series(study, setup=setup)
    broken(solid, 2000.0, 2000.0)
    (tenon,) = broken(series, 500.0)

    restate(study)

    tenon.refresh_from_db()
    assert tenon.ratio_solid_matched == pytest.approx(0.25)
    assert tenon.ratio_solid == pytest.approx(500 * 0.3 / (20 * 40**2 / 6 / 1000) / 99.0)


def test_missing_arm_keeps_the_record_and_says_what_is_missing():
    study, setup = a_study(arm_mm=None)
    series = make_series(study, setup=setup)
    (one,) = broken(series, 500.0)

    noticed = state(Draft.of(study))
    restate(study)

    one.refresh_from_db()
    assert (one.peak_load_n, one.moment_nm, one.ratio_solid) == (500.0, None, None)
    assert "arm_mm" in stored(series)["at_joint"].missing[0]
    assert [n.severity for n in noticed if n.code == "footing-missing"] == ["remark"]


def test_held_specimens_are_counted_apart_and_void_ones_not_at_all():
    study, setup = a_study()
    series = make_series(study, setup=setup)
    broken(series, 500.0, 520.0)
    broken(series, 600.0, outcome="held")
    void = make_specimen(series, outcome="void")

    restate(study)

    row = stored(series)["at_joint"]
    assert (row.n, row.held) == (2, 1)
    void.refresh_from_db()
    assert void.moment_nm is None


def test_series_of_void_specimens_only_is_stored_as_telling_nothing():
    study, setup = a_study()
    series = make_series(study, setup=setup)
    make_specimen(series, outcome="void")

    restate(study)

    assert stored(series)["peak_load"].missing == ["a specimen that broke or held"]


def test_flagged_specimens_stay_and_sums_are_kept_with_and_without_them():
    study, setup = a_study()
    series = make_series(study, setup=setup)
    loads = [500.0, 520.0, 480.0, 510.0, 495.0, 505.0 / LBF_N]
    specimens = broken(series, *loads)

    restate(study)

    specimens[-1].refresh_from_db()
    row = stored(series)["peak_load"]
    assert specimens[-1].flagged
    assert (row.n, row.kept_n) == (6, 5)
    assert row.sum_log - row.kept_sum_log == pytest.approx(np.log(505.0 / LBF_N))


def test_specimen_moisture_acts_on_the_solid_wood_it_is_measured_against():
    study, setup = a_study()
    series = make_series(study, setup=setup, moisture_pct=12.0)
    dry, damp = broken(series, 500.0, 500.0)
    damp.moisture_pct = 8.0
    damp.save()

    restate(study)

    dry.refresh_from_db()
    damp.refresh_from_db()
    # Wood Handbook eq. 5-3 for northern red oak at 8 %: 117.2 MPa against 99 at 12 %.
    assert dry.ratio_solid / damp.ratio_solid == pytest.approx(117.2 / 99.0, rel=2e-3)


def test_a_published_moment_with_spread_becomes_lognormal_sums():
    study, setup = a_study(reads="moment", arm_mm=None)
    series = make_series(study, setup=setup, member_thickness_mm=22.2, member_depth_mm=63.5)
    make_summary(series, quantity="moment", mean_si=353.0, sd_si=48.0, n=215, mean_typed="353 N·m")

    restate(study)

    row = stored(series)["at_joint"]
    spread = np.log1p((48 / 353) ** 2)
    assert row.n == 215
    assert row.sum_log / 215 == pytest.approx(np.log(353) - spread / 2)
    assert (row.sum_sq_log - row.sum_log**2 / 215) / 214 == pytest.approx(spread)
    assert stored(series)["peak_load"].sum_log is None


def test_a_published_mean_without_spread_or_count_has_no_squares():
    study, setup = a_study()
    series = make_series(study, setup=setup)
    make_summary(series)

    noticed = state(Draft.of(study))
    restate(study)

    row = stored(series)["peak_load"]
    assert (row.n, row.sum_log, row.sum_sq_log) == (None, pytest.approx(np.log(1000.0)), None)
    assert {n.code for n in noticed} >= {"no-spread", "no-count"}


def test_a_torque_wrench_enters_at_the_joint():
    study, setup = a_study(reads="moment", arm_mm=None)
    series = make_series(study, setup=setup)
    specimen = make_specimen(series, peak_load_n=None, moment_nm=120.0)

    restate(study)

    specimen.refresh_from_db()
    assert (specimen.peak_load_n, specimen.moment_nm) == (None, 120.0)
    assert specimen.stress_mpa == pytest.approx(120e3 / (20 * 40**2 / 6))


def test_restating_twice_changes_nothing():
    study, setup = a_study()
    broken(make_series(study, setup=setup), 500.0, 520.0, 480.0, 510.0, 2200.0)

    first, second = restate(study), restate(study)

    assert (first, second) == (True, False)
    assert SeriesFooting.objects.count() == 6
    assert Study.objects.get().findings.filter(code="unit-slip").count() == 1


def test_restating_asks_no_more_of_the_database_for_more_series():
    asked = []
    for count in (1, 4):
        study, setup = a_study()
        for _ in range(count):
            broken(make_series(study, setup=setup), 1240.0, 900.0)
        restate(study)
        with CaptureQueriesContext(connection) as again:
            restate(study)
        said = [one["sql"] for one in again.captured_queries]
        packs = sum("results_packed" in sql for sql in said)
        asked.append((packs, sum(sql.startswith("DELETE") for sql in said)))

    assert asked[0] == asked[1]


def test_restating_leaves_nothing_of_before():
    study, setup = a_study()
    series = make_series(study, setup=setup)
    broken(series, 1240.0, 900.0)
    restate(study)
    before = set(SeriesFooting.objects.filter(series=series).values_list("pk", flat=True))

    assert not restate(study)

    now = set(SeriesFooting.objects.filter(series=series).values_list("pk", flat=True))
    assert before and len(now) == len(before) and not now & before
    series.specimens.all().delete()
    assert restate(study)
    assert not stored(series)["peak_load"].n
