"""A plan worked out from an address: how many, in which order, on which rig."""

from __future__ import annotations

import math

import pytest

from results.evidence import packing
from results.models import Study
from results.practice.plan import GUESSED_CV, plan
from results.practice.plan_document import document
from tests.checks.reading import reference
from tests.factories import make_footing, make_series, make_setup, make_study

from .plans import asked, planned

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]
# Two-sided at 5 %, as plans are.
R = [
    row
    for row in reference("sample_size.json")["expected"]["n_per_group"]
    if row["alternative"] == "two.sided" and row["sig_level"] == 0.05 and not row["strict"]
]


def faults(**changes: object) -> dict[str, str]:
    form = asked(**changes)
    assert plan(form) is None
    return {name: message for name, _, message in form.faults}


@pytest.mark.parametrize("row", R)
def test_number_of_specimens_is_that_of_r(row):
    found = planned(afford="", ratio=repr(row["ratio"]), cv_pct=100 * row["cv"], power_pct=100 * row["power"])

    assert found.n == row["n_ceiling"]
    assert float(found.chance) == pytest.approx(100 * row["power_at_n_ceiling"], abs=0.5)


def test_plan_holds_joints_controls_and_every_specimen_once():
    found = planned()

    assert [(one.label, one.joint, one.n, one.is_control) for one in found.groups] == [
        ("A", "mt_blind", 3, False),
        ("B", "dowel", 3, False),
        ("C", "solid", 3, True),
        ("D", "butt", 3, True),
    ]
    turns = [(run.series, run.specimen) for run in found.order]
    assert sorted(turns) == [(label, number) for label in "ABCD" for number in (1, 2, 3)]
    assert found.title == "Blind mortise and tenon against dowel, in bending"
    assert found.question == "Which joint takes more in bending: blind mortise and tenon or dowel?"


def test_order_is_the_same_for_the_same_number_and_another_for_another():
    assert planned(seed=7).order == planned(seed=7).order != planned(seed=8).order


@pytest.mark.parametrize(
    ("controls", "joints"),
    [("both", ["solid", "butt"]), ("solid", ["solid"]), ("butt", ["butt"]), ("none", [])],
)
def test_controls_are_those_asked_for(controls, joints):
    assert [one.joint for one in planned(controls=controls).controls] == joints


def test_a_bar_without_a_joint_is_no_control_of_a_pull():
    found = planned(loading="withdrawal", arm_mm="")

    assert [one.joint for one in found.controls] == ["butt"]


def test_moment_and_load_of_a_solid_bar_are_those_of_a_hand_calculation():
    """M = S·b·D²/6 with S of the timber's table, F = M/a with a = 304.8 mm."""
    found = planned()
    solid = next(one for one in found.groups if one.joint == "solid")
    strength = 98.595  # northern red oak at 12 %, MPa, as the vocabulary has it

    moment = strength * 20 * 40**2 / 6 / 1000
    assert solid.expected.at_joint == pytest.approx(moment, rel=0.01)
    assert solid.expected.typical_n == pytest.approx(moment / 0.3048, rel=0.01)
    assert solid.rig.verdict == "too small"


def test_joint_without_evidence_is_said_at_the_field_and_can_be_planned():
    found = planned()

    assert found.groups[0].expected is None
    # What follows from it stands at the field, and why with the loads: nothing is said twice.
    assert found.about("joint") == [
        "What load to expect can't be foretold for blind mortise and tenon and dowel: break one of each for trial "
        "first."
    ]
    assert found.groups[0].basis == "the book holds no joint tests of blind mortise and tenon in bending yet"


def test_what_somebody_expects_stands_in_for_the_book():
    found = planned(expect_nm="100 N·m")

    assert found.groups[0].expected.typical_n == pytest.approx(100 / 0.3048)
    assert not found.about("joint")


def book_of(*means: float, spread: float, n: int = 5, **fields: object) -> Study:
    """A study with a series for each geometric mean, all specimens of which spread alike on logs."""
    study = make_study("Like ones", **fields)
    for mean in means:
        series = make_series(study, setup=make_setup(study), joint="mt_blind")
        logs = [math.log(mean) + spread * step for step in (-1.0, 0.0, 1.0)]
        sums = {"n": 3, "sum_log": sum(logs), "sum_sq_log": sum(one**2 for one in logs)}
        for code in ("at_joint", "ratio_solid"):
            make_footing(series, code, **sums, **{f"kept_{name}": value for name, value in sums.items()})
    packing.store([study.pk])
    return study


def test_spread_is_that_of_like_series_and_says_so():
    # Three of each at -s, 0, s: the variance of logs is s² on two degrees of freedom, pooled as it is.
    book_of(0.2, 0.3, 0.25, spread=0.2)

    found = planned(cv_pct="")

    assert found.cv == pytest.approx(math.sqrt(math.expm1(0.2**2)))
    assert found.cv_source == (
        "The pooled spread within 3 series in 1 study of these joints in this timber, flagged specimens left out."
    )


def test_spread_of_too_few_series_is_not_taken():
    book_of(0.2, spread=0.2)

    found = planned(cv_pct="")

    assert found.cv == GUESSED_CV
    assert "common practice" in found.about("cv_pct")[0]


def test_invented_series_count_only_where_they_are_asked_for(settings):
    settings.DEMO = False
    book_of(0.2, 0.3, 0.25, spread=0.2, invented=True)

    assert planned(cv_pct="").spread is None
    found = planned(cv_pct="", invented="with")
    assert found.spread.series == 3
    assert found.invented


def test_load_to_expect_is_the_books_ratio_of_the_timber():
    book_of(0.2, 0.3, spread=0.1)

    one = planned().groups[0]

    assert one.expected.at_joint == pytest.approx(math.sqrt(0.2 * 0.3) * 98.595 * 20 * 40**2 / 6 / 1000, rel=0.01)
    assert one.basis == "0.245 of solid wood in 2 series of 1 study"
    # Within a series and between series, variances of logs added, two standard deviations off.
    between = max(math.log(0.3 / 0.2) / math.sqrt(2), 0.25)
    total = math.hypot(math.sqrt(math.log1p(0.15**2)), between)
    assert one.expected.high_n / one.expected.typical_n == pytest.approx(math.exp(2 * total), rel=1e-6)


def test_load_without_timber_is_the_books_moment():
    book_of(0.2, 0.3, spread=0.1)

    one = planned(timber="").groups[0]

    assert one.expected.at_joint == pytest.approx(math.sqrt(0.06))
    assert "of their own sizes, any timber" in one.basis


@pytest.mark.parametrize(
    ("changes", "name", "words"),
    [
        ({"joint": ["mt_blind"]}, "joint", "1 of 2 joints given"),
        ({"joint": []}, "joint", "0 of 2 joints given"),
        ({"joint": ["mt_blind", "dowl"]}, "joint", "Did you mean dowel"),
        ({"joint": ["butt", "dowel", "box", "mitre", "screw", "plate", "edge"]}, "joint", "7 joints given"),
        ({"arm_mm": "0"}, "arm_mm", "0 is 0 mm"),
        ({"arm_mm": "9 km"}, "arm_mm", ""),
        ({"arm_mm": ""}, "arm_mm", "Cantilever arm needs the distance from the joint"),
        ({"arm_mm": "300 kg"}, "arm_mm", ""),
        ({"member_depth_mm": "1e9"}, "member_depth_mm", ""),
        ({"full_scale": "1e9 N"}, "full_scale", "1 000 000 000 N; 10.0 to 1 000 000 N is taken"),
        ({"full_scale": "0 kg"}, "full_scale", "0 kg is 0 N"),
        ({"full_scale": "150"}, "full_scale", "unit"),
        ({"full_scale": "9 bar"}, "full_scale", ""),
        ({"instrument": ""}, "instrument", "Say what it is that shows 150 kg"),
        ({"instrument": "jack_gauge", "full_scale": "200 bar"}, "ram_diameter_mm", "tells no force without it"),
        ({"instrument": "nonsense"}, "instrument", "is not known"),
        ({"ratio": "1"}, "ratio", "is no difference"),
        ({"ratio": "0"}, "ratio", "is taken"),
        ({"ratio": ""}, "ratio", "This is blank"),
        ({"ratio": "1.01", "afford": ""}, "ratio", "200 are taken at most. 12 of each tell a ratio of 1.20 with 80 %"),
        ({"cv_pct": "300"}, "cv_pct", "is taken"),
        ({"power_pct": "100"}, "power_pct", "is taken"),
        ({"afford": "1"}, "afford", "from 2 to 200"),
        ({"afford": "many"}, "afford", "from 2 to 200"),
        ({"blocks": "50"}, "blocks", "at most the number of specimens, 12"),
        ({"seed": "-1"}, "seed", "from 1 to"),
        ({"timber": "okk"}, "timber", "is not known"),
        ({"expect_n": "300"}, "expect_n", "give the moment to expect instead"),
        ({"loading": "corner_opening", "leg_mm": "300", "leg_b_mm": "200", "friction": "0.3"}, "", "can't be had"),
        ({"loading": "two_point_bending", "load_offset_mm": "300", "span_mm": "400"}, "load_offset_mm", "half of span"),
        ({"arm_reference": "centre"}, "other_depth_mm", "needs it"),
        ({"nonsense": "1"}, "nonsense", "'nonsense' is no parameter here"),
        ({"arm_mm": ["300", "400"]}, "arm_mm", "once only"),
    ],
)
def test_what_cannot_be_used_is_said_at_its_field(changes, name, words):
    found = faults(**changes)

    assert name in found, found
    assert words in found[name]


def test_lengths_of_another_loading_are_passed_over():
    found = planned(loading="withdrawal", span_mm="400")

    assert dict(found.asked.pairs()).keys().isdisjoint({"arm_mm", "span_mm"})
    assert document(found)["lengths"] == {}


def test_words_of_the_arms_are_one_figure_for_a_series_and_for_all():
    found = planned(expect_nm="100", full_scale="50 kg")
    solid = next(one for one in found.groups if one.joint == "solid")

    assert found.arms[0] == solid.rig.least_arm_mm
    least = f"{math.ceil(found.arms[0] / 10) * 10:,}".replace(",", " ")
    for words in (solid.rig.words, found.arms_words):
        assert f"{least} mm or more" in words.replace("\u202f", " ")


def test_plan_written_down_keeps_what_the_page_says_of_loads_and_rig():
    found = planned(expect_nm="100", full_scale="50 kg")

    written = document(found)

    assert [one["rig"] for one in written["series"]] == [one.rig.words if one.rig else "" for one in found.groups]
    assert [one["load_from"] for one in written["series"]] == [one.basis for one in found.groups]
    assert (written["arms"], written["arms_mm"]) == (found.arms_words, list(found.arms))


def test_no_word_of_a_plan_calls_anything_safe():
    found = planned(expect_nm="100")
    texts = [found.cv_source, *found.notes, *found.cautions, *(one.rig.words for one in found.rigs)]

    assert not [text for text in texts if "safe" in text.lower()]
