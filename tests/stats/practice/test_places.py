"""Which joints are made at a place, by how their members meet."""

from __future__ import annotations

import csv

import pytest
from django.conf import settings

from stats.errors import StatsError
from stats.practice.demand import PIECES
from stats.practice.places import PLACE_OF, PLACES, fits


def joints() -> list[str]:
    with (settings.BASE_DIR / "fixtures" / "vocabulary" / "joints.csv").open(newline="", encoding="utf-8") as file:
        return [row["code"] for row in csv.DictReader(file)]


def test_every_kind_of_piece_has_a_place():
    assert PLACE_OF.keys() == PIECES.keys()
    assert set(PLACE_OF.values()) <= PLACES.keys()


@pytest.mark.parametrize("joint", ["edge", "tongue_groove", "scarf", "finger_scarf", "lap_cross"])
def test_what_joins_edges_or_ends_is_made_at_no_place(joint):
    assert joint in joints()
    assert not any(fits(joint, place) for place in PLACES)


@pytest.mark.parametrize(
    ("place", "made", "not_made"),
    [
        ("rail", {"mt_blind", "dowel", "lap_half", "loose_tenon", "butt"}, {"mitre", "box", "housing", "edge"}),
        ("frame", {"mitre_splined", "bridle", "mt_haunched"}, {"dovetail_through", "housing"}),
        ("board", {"housing", "dovetail_sliding", "screw"}, {"bridle", "box", "mitre"}),
        ("case", {"box", "dovetail_half_blind", "mitre", "housing"}, {"bridle", "lap_half"}),
        ("arm", {"mt_through", "bridle", "dowel"}, {"mitre_lock", "dovetail_sliding"}),
    ],
)
def test_joints_are_those_whose_members_meet_so(place, made, not_made):
    assert made | not_made <= set(joints())
    assert {joint for joint in made | not_made if fits(joint, place)} == made


def test_joint_that_is_not_known_here_is_left_in_and_a_place_that_is_not_is_refused():
    assert fits("something_new", "rail")
    with pytest.raises(StatsError, match=r"place \('attic'\) must be one of rail, frame"):
        fits("dowel", "attic")
