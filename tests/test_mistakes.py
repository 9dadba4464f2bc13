"""The eight mistakes that the book exists to prevent, each made and each caught."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from results.evidence import Choices, Draft, compare, restate, state, verdicts
from results.models import Specimen
from tests.factories import make_series, make_setup, make_specimen, make_study, make_summary
from tests.results.pages.shops import a_shop, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]

LBF_N = 4.4482216152605


def broken(loads, *, study=None, setup=None, **of_series):
    """A series of specimens that broke at these loads [N]."""
    setup = setup or make_setup(study or make_study())
    series = make_series(setup.study, setup=setup, **of_series)
    for load in loads:
        make_specimen(series, peak_load_n=load)
    return series


def test_1_peak_loads_of_two_rigs_are_not_set_side_by_side(client):
    a_shop("Short arm")
    long_arm = make_setup(make_study("Long arm"), arm_mm=600.0)
    broken([67, 73, 80], setup=long_arm, joint="butt")
    restate(long_arm.study)

    loads = compare(Choices(footing="peak_load"))
    moments = compare(Choices(footing="at_joint")).series.set_index(["study", "joint"])["geometric_mean"]

    assert loads.series["study"].unique().tolist() == ["Short arm"]
    assert "another rig" in loads.left_out["reason"].iloc[0]
    # The same bond takes half the load at twice the arm; at the joint the two agree.
    assert moments["Long arm", "butt"] == pytest.approx(moments["Short arm", "butt"], rel=0.01)


def test_2_a_bond_test_is_not_read_as_a_joint_test(client):
    a_shop("Joints")
    a_shop("Bonds", of_series={"tests": "bond", "grain_a": "end", "grain_b": "side"})

    page = text(client.get("/compare/?tests=any"))

    assert "they answer different questions, so they are not drawn on one axis" in page
    assert compare(Choices()).series["study"].unique().tolist() == ["Joints"]


def test_3_where_it_broke_and_how_much_it_took_are_told_apart():
    setup = make_setup(make_study())
    clean = broken([900, 940, 870], setup=setup, label="clean", joint="mt_blind")
    torn = broken([300, 320, 310], setup=setup, label="torn", joint="butt")
    for series, place, wood in ((clean, "bond_line", 0), (torn, "wood_beside_bond", 100)):
        series.specimens.update(failure_place=place, wood_failure_pct=wood)
    restate(setup.study)

    found = compare(Choices(footing="at_joint"))

    strength = found.failures.set_index("place")["geometric_mean"]
    assert strength["bond_line"] > 2.5 * strength["wood_beside_bond"]
    assert found.groups["joint"].tolist() == ["mt_blind", "butt"]  # ranked by strength, not by torn wood


def test_4_an_average_without_count_or_spread_is_marked_and_one_shop_is_not_everybody(client):
    study = a_shop("Own")
    series = make_series(study, setup=study.setups.get(), joint="mt_blind", label="from a magazine")
    make_summary(series, mean_si=330.0, mean_typed="330")
    restate(study)

    found = compare(Choices())

    assert {"no-spread", "no-count"} <= set(study.findings.values_list("code", flat=True))
    row = found.series.set_index("series").loc["from a magazine"]
    assert row["imputed"] and row["n_assumed"]
    assert row["v"] > 3 * found.series.set_index("series").loc["mt_blind", "v"]  # so it weighs least
    assert "can't say what another shop would find" in verdicts(found)[0].whole


def test_5_a_load_on_four_joints_is_not_read_as_one_joint_s():
    setup = make_setup(make_study(), loading="frame_racking", arm_mm=None, rail_height_mm=600.0)
    series = broken([1000.0], setup=setup)
    restate(setup.study)

    frame = series.specimens.get()

    # 1000 N on a frame of four joints, 0.6 m high: H h / 4 = 150 N·m at each, not 600 and not a sum of four.
    assert frame.moment_nm == pytest.approx(150.0)


def test_6_short_arms_and_fresh_glue_are_said():
    setup = make_setup(make_study(), arm_mm=60.0)
    series = broken([2000, 2100, 1950], setup=setup, member_depth_mm=40.0, cure_hours=5.0)

    found = {one.code: one.message for one in state(Draft.of(series.study))}

    assert "hides what leverage does" in found["short-arm"]
    assert "nothing of what seasons and use do" in found["fresh-glue"]


def test_7_a_pound_typed_as_a_newton_is_named():
    series = broken([2210, 2480, 2300 / LBF_N, 2350, 2290])

    (slip,) = [one for one in state(Draft.of(series.study)) if one.code == "unit-slip"]

    assert "read as newtons but looks like pounds-force" in slip.message


def test_8_nothing_is_dropped_without_a_word():
    series = broken([500, 520, 480, 510, 495, 150])
    held = make_specimen(series, peak_load_n=600.0, outcome="held")
    restate(series.study)

    found = compare(Choices())

    # The one that broke early is doubted, shown and counted; the one that held is counted as held.
    assert found.groups.loc[0, ["specimens", "held", "flagged"]].tolist() == [7, 1, 1]
    assert found.groups_other.loc[0, "specimens"] == 6
    assert held.pk in found.points["specimen_id"].tolist()
    with pytest.raises(IntegrityError), transaction.atomic():
        Specimen.objects.filter(pk=held.pk).update(outcome="void")  # a void one must say why
    with pytest.raises(ValidationError):
        Specimen(series=series, label="x", outcome="void").full_clean()
