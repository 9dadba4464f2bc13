"""The drawing of the places where a joint can break: the vocabulary's places, numbered in its order, whole."""

from __future__ import annotations

import csv
from pathlib import Path
from xml.etree import ElementTree

from stats.charts.failure_drawing import PLACES, failure_drawing

from .test_setup_diagram import SVG, strokes_outside

VOCABULARY = Path(__file__).parents[3] / "fixtures" / "vocabulary" / "failure_places.csv"


def rows() -> list[dict[str, str]]:
    with VOCABULARY.open(encoding="utf-8", newline="") as file:
        return sorted(csv.DictReader(file), key=lambda row: int(row["position"]))


def test_places_are_those_of_the_vocabulary_in_its_order():
    assert [place.code for place in PLACES] == [row["code"] for row in rows()]
    for place, row in zip(PLACES, rows(), strict=True):
        assert " ".join(place.words).partition(":")[0].casefold() == row["name"].casefold()


def test_each_place_is_a_group_with_its_number_and_its_name():
    groups = list(ElementTree.fromstring(failure_drawing()).iter(f"{SVG}g"))

    assert [group.attrib["data-place"] for group in groups] == [place.code for place in PLACES]
    for number, (group, place) in enumerate(zip(groups, PLACES, strict=True), 1):
        texts = [one.text for one in group.iter(f"{SVG}text")]
        assert sorted(texts) == sorted([str(number), *place.words])


def test_nothing_leaves_the_drawing_and_it_is_told_in_words():
    svg = failure_drawing("other")

    assert strokes_outside(svg) == []
    root = ElementTree.fromstring(svg)
    assert root.attrib["aria-labelledby"] == "other-title other-desc"
    told = root.find(f"{SVG}desc").text
    assert all(f"{number}, {' '.join(place.words)}" in told for number, place in enumerate(PLACES, 1))


def test_breaks_lie_where_they_are_said_to_be():
    """The tenon's break is between the glue lines, the wall's in the post, the member's in the rail beyond it."""
    cracks = {place.code: place.cracks for place in PLACES}
    ((tenon,), (wall,), (member,)) = (cracks[code] for code in ("tenon_or_fastener", "socket_wall", "member"))

    assert all(96 < y < 138 and 144 < x < 212 for x, y in tenon)
    assert all(y > 138 and 122 < x < 212 for x, y in wall)
    assert all(72 < y < 162 and x > 250 for x, y in member)
    assert cracks["mixed"] == ()
