"""What the book lacks: cells with no study or one, and pairs that one more study tells most by."""

from __future__ import annotations

import math

import pytest
from django.http import QueryDict

from results.evidence import Choices, linked, packing
from results.models import Joint
from results.practice.gaps import SPECIMENS, gaps
from results.practice.plan_asked import PlanAsked
from stats.practice.next_study import next_study
from tests.factories import make_footing, make_series, make_setup, make_study

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def study_of(title: str, **ratios: float) -> None:
    """A study whose joints show these ratios to solid wood, four specimens each."""
    study = make_study(title)
    setup = make_setup(study)
    for joint, ratio in ratios.items():
        series = make_series(study, setup=setup, joint=joint)
        logs = [math.log(ratio) + step for step in (-0.15, -0.05, 0.05, 0.15)]
        sums = {"n": 4, "sum_log": sum(logs), "sum_sq_log": sum(one**2 for one in logs)}
        kept = {f"kept_{name}": value for name, value in sums.items()}
        make_footing(series, "ratio_solid", unit="", **sums, **kept)
    packing.store([study.pk])


@pytest.fixture
def book():
    study_of("First", butt=0.06, mt_blind=0.25, dowel=0.18)
    study_of("Second", butt=0.07, mt_blind=0.31)
    study_of("Third", butt=0.05, mt_blind=0.22)
    study_of("Fourth", butt=0.06, dowel=0.15)


def test_cells_are_those_with_no_study_or_one(book):
    found = gaps("bending", invented=False)

    bending = {one.joint: one.studies for one in found.cells if one.action == "bending"}
    assert "mt_blind" not in bending and "dowel" not in bending
    # Every joint that is no control under four actions, but for the two cells that have studies enough.
    assert found.untested == 4 * Joint.objects.exclude(is_control_kind=True).count() - 2
    assert found.once_tested == 0
    assert not {one.joint for one in found.cells} & {"solid", "butt"}
    assert found.cells[0].joint == "mt_blind" and found.cells[0].elsewhere == 3


def test_pairs_are_ranked_as_the_network_ranks_them(book):
    found = gaps("bending", invented=False)
    fitted = linked(Choices(action="bending", footing="ratio_solid", invented=False)).network
    ranked = next_study(fitted, n=SPECIMENS, cv=0.15).table

    assert [(one.joint, one.versus) for one in found.telling] == list(
        zip(ranked["joint"], ranked["versus"], strict=True)
    )
    assert [one.gain for one in found.telling] == pytest.approx(ranked["gain"].tolist())
    assert all(one.before > one.after > 1 for one in found.telling)


def test_every_gap_leads_to_a_plan_that_asks_for_lengths_alone(book):
    found = gaps("bending", invented=False)

    for one in (*found.cells, *found.telling):
        asked = PlanAsked(QueryDict(one.query))
        assert {name for name, _, _ in asked.faults} <= set(asked.lengths_shown), one.query


def test_book_without_a_network_says_why():
    study_of("Alone", butt=0.06, mt_blind=0.25)

    found = gaps("bending", invented=False)

    assert found.telling == ()
    assert found.refused


def test_an_empty_book_lacks_everything():
    found = gaps("torsion", invented=False)

    assert found.once_tested == 0
    assert found.telling == () and found.refused
