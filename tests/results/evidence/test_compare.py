"""Joints side by side from the book, and what is left out."""

from __future__ import annotations

import pytest
from django.http import QueryDict

from results.evidence import BadChoice, Choices, compare, facets, restate
from tests.factories import make_series, make_setup, make_specimen, make_study, make_summary

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def a_shop(title, *, rig=1.0, arm_mm=300.0, joints=None, loading="cantilever_arm", **of_series):
    """A study of butt joints and blind tenons, its loads times `rig` on the given arm."""
    study = make_study(title)
    setup = make_setup(study, arm_mm=arm_mm, loading=loading)
    for joint, moments in (joints or {"butt": [40, 44, 48], "mt_blind": [90, 101, 95]}).items():
        series = make_series(study, setup=setup, joint=joint, label=joint, **of_series)
        for moment in moments:
            make_specimen(series, peak_load_n=moment * rig / (arm_mm or 300.0) * 1000)
    restate(study)
    return study


def test_two_rigs_of_one_moment_agree_though_their_loads_differ():
    a_shop("Long arm", arm_mm=600.0)
    a_shop("Short arm", arm_mm=300.0)

    moments = compare(Choices(footing="at_joint")).series.set_index(["study", "joint"])["geometric_mean"]
    loads = compare(Choices(footing="peak_load"))

    assert moments["Long arm", "butt"] == pytest.approx(moments["Short arm", "butt"])
    assert loads.series["study"].nunique() == 1  # another rig's loads are not put on this axis
    (left,) = loads.left_out.itertuples()
    assert (left.series, left.specimens) == (2, 6)
    assert "read on another rig" in left.reason


def test_groups_and_ratio_come_out_of_the_book():
    a_shop("One")
    a_shop("Two", rig=1.1)

    found = compare(Choices())

    groups = found.groups.set_index("joint")
    assert groups.index.tolist() == ["mt_blind", "butt"]
    assert groups.loc["butt", ["studies", "series", "specimens"]].tolist() == [2, 2, 6]
    (ratio,) = found.ratios.itertuples()
    assert (found.reference, ratio.studies) == ("butt", 2)
    assert ratio.ratio == pytest.approx((90 * 101 * 95) ** (1 / 3) / (40 * 44 * 48) ** (1 / 3), rel=1e-6)
    assert ratio.low < ratio.ratio < ratio.high


def test_bond_and_joint_tests_are_not_drawn_on_one_axis():
    a_shop("Joints")
    a_shop("Bonds", joints={"butt": [40, 44, 48]}, tests="bond", grain_a="end", grain_b="side")

    refused = compare(Choices(tests="any"))
    joints = compare(Choices())

    assert "not drawn on one axis" in refused.refused and refused.empty
    assert [label for label, _ in refused.alternatives] == [
        "bending moment, joint tests (2 series)",
        "bending moment, bond tests (1 series)",
    ]
    assert "bond tests, which are never pooled with joint tests" in joints.left_out["reason"].tolist()
    assert joints.series["study"].unique().tolist() == ["Joints"]


def test_actions_are_not_drawn_on_one_axis():
    a_shop("Bent")
    a_shop("Pulled", loading="withdrawal", arm_mm=None, joints={"dowel": [90, 95, 99]})

    refused = compare(Choices(action="any", footing="peak_load"))
    bent = compare(Choices())

    assert "bending moment, axial force" in refused.refused
    assert "tested under another action: axial force" in bent.left_out["reason"].tolist()


def test_end_and_side_grain_bonds_are_told_apart():
    study = make_study("Grain")
    setup = make_setup(study)
    for label, (a, b), loads in (("ee", ("end", "end"), [300, 310]), ("es", ("side", "end"), [120, 118])):
        series = make_series(study, setup=setup, joint="butt", label=label, tests="bond", grain_a=a, grain_b=b)
        for load in loads:
            make_specimen(series, peak_load_n=load)
    restate(study)

    found = compare(Choices(tests="bond"))

    assert found.groups["joint_name"].tolist() == ["Glued butt, end-end grain", "Glued butt, end-side grain"]


def test_missing_arm_is_left_out_with_the_reason_and_counted():
    a_shop("Whole")
    a_shop("No arm", arm_mm=None)

    found = compare(Choices())

    (left,) = found.left_out.itertuples()
    assert (left.series, left.specimens) == (2, 6)
    assert "arm_mm" in left.reason and "No arm" in left.example


def test_flagged_specimens_are_given_with_and_without():
    a_shop("Slip", joints={"mt_blind": [90, 101, 95, 97, 92 / 4.448]})

    with_them, without = compare(Choices()), compare(Choices(flagged=False))

    assert with_them.groups.loc[0, ["specimens", "flagged"]].tolist() == [5, 1]
    assert without.groups.loc[0, "specimens"] == 4
    assert with_them.groups_other.loc[0, "geometric_mean"] == without.groups.loc[0, "geometric_mean"]
    assert with_them.points["flagged"].sum() == 1
    assert without.groups.loc[0, "geometric_mean"] > with_them.groups.loc[0, "geometric_mean"]


def test_withdrawn_and_draft_studies_leave_the_statistics():
    kept = a_shop("Kept")
    for status, title in (("withdrawn", "Gone"), ("draft", "Not yet")):
        study = a_shop(title, rig=9.0)
        study.status, study.withdrawn_reason = status, "wrong arm"
        study.save()

    found = compare(Choices())

    assert found.series["study_id"].unique().tolist() == [kept.pk]
    assert ("mt_blind", "Blind mortise and tenon", 1) in [row[:3] for row in facets()["joints"]]


def test_summaries_without_spread_are_shown_and_marked():
    study = a_shop("Own")
    series = make_series(study, setup=study.setups.get(), joint="mt_blind", label="published")
    make_summary(series, mean_si=330.0, mean_typed="330")
    restate(study)

    found = compare(Choices()).series.set_index("series")

    assert found.loc["published", ["imputed", "summary_only", "n_assumed"]].tolist() == [True] * 3
    assert found.loc["butt", ["imputed", "summary_only", "n_assumed"]].tolist() == [False] * 3


def test_an_empty_choice_is_empty_and_offers_what_there_is():
    a_shop("Bent")

    found = compare(Choices(action="torsion"))

    assert found.empty and not found.refused
    assert [label for label, _ in found.alternatives] == ["bending moment, joint tests (2 series)"]


def test_failure_places_stand_apart_from_strength():
    study = make_study("Places")
    series = make_series(study, setup=make_setup(study))
    for load, place in ((300, "bond_line"), (310, "bond_line"), (450, "member"), (460, None)):
        make_specimen(series, peak_load_n=load, failure_place=place)
    restate(study)

    found = compare(Choices(footing="at_joint")).failures.set_index("place")

    assert found["n"].to_dict() == {"bond_line": 2, "member": 1, "": 1}
    assert found.loc["bond_line", "share"] == 0.5
    assert found.loc["member", "geometric_mean"] == pytest.approx(135.0)


@pytest.mark.parametrize(
    ("query", "field", "says"),
    [
        ("joint=mt_blnid", "joint", "Did you mean mt_blind"),
        ("footing=stres", "footing", "Did you mean stress"),
        ("action=bend", "action", "Did you mean bending"),
        ("action=bending&action=axial", "action", "once only"),
        ("tests=xyz", "tests", "Known: any, bond, joint"),
        ("reference=butt&reference=dowel", "reference", "name one"),
        ("level=95", "level", "0.95"),
        ("flagged=no", "flagged", "with"),
        ("joints=butt", "joints", "Did you mean joint"),
        ("joint=%00", "joint", "is not in the vocabulary"),
    ],
)
def test_a_bad_choice_names_parameter_value_and_remedy(query, field, says):
    with pytest.raises(BadChoice) as fault:
        Choices.from_query(QueryDict(query))

    assert fault.value.field == field
    assert says in fault.value.message


def test_choices_survive_the_way_through_an_address():
    choices = Choices(joints=("butt", "mt_blind"), footing="stress", timbers=("maple_sugar",), flagged=False, level=0.9)

    assert Choices.from_query(QueryDict(choices.query())) == choices


def test_invented_studies_are_left_out_unless_asked_for(settings):
    a_shop("Real")
    made_up = a_shop("Made up", rig=3.0)
    made_up.invented = True
    made_up.save()

    plain, asked = compare(Choices()), compare(Choices(invented=True))
    settings.DEMO = True
    demonstration = compare(Choices())

    assert plain.series["study"].unique().tolist() == ["Real"]
    assert "from invented studies" in plain.left_out["reason"].tolist()
    assert (plain.invented, asked.invented, demonstration.invented) == (False, True, True)
    assert Choices.from_query(QueryDict("invented=false")) == Choices(invented=False)


def test_what_a_fixed_choice_leaves_out_is_no_reason_to_refuse():
    a_shop("Bent")
    a_shop("Glue", loading="lap_shear", arm_mm=None, joints={"lap_plain": [90, 95, 99]}, tests="bond")

    assert compare(Choices(tests="bond", action="any", footing="peak_load")).refused == ""
    assert compare(Choices(tests="any", action="shear", footing="peak_load")).refused == ""
    assert compare(Choices(tests="any", action="any")).refused


def test_a_joint_of_one_study_only_gets_no_word_on_the_next_shop():
    a_shop("One")
    a_shop("Two", rig=1.1)
    a_shop("Three", joints={"butt": [40, 44, 48], "mt_blind": [90, 101, 95], "box": [60, 66, 63]})

    found = compare(Choices()).ratios.set_index("joint")

    assert found.loc["mt_blind", "prediction_low"] > 0
    assert found.loc[["box"], ["prediction_low", "prediction_high"]].isna().all(axis=None)
    assert found.loc["box", "note"].startswith("Only one study")
