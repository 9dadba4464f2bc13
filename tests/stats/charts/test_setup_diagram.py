"""Drawings of setups: all lengths on them, to scale where they say so, whole, and safe whatever was typed."""

from __future__ import annotations

import csv
import html
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stats.charts.setup_diagram import setup_diagram
from stats.charts.svg_text import width
from stats.errors import StatsError
from stats.footing.loading import LOADINGS

SVG = "{http://www.w3.org/2000/svg}"
VOCABULARY = Path(__file__).parents[3] / "fixtures" / "vocabulary" / "loadings.csv"
LENGTHS = {
    "arm_mm": 300.0,
    "span_mm": 600.0,
    "load_offset_mm": 150.0,
    "joint_offset_mm": 180.0,
    "leg_mm": 250.0,
    "leg_b_mm": 200.0,
    "face_offset_mm": 40.0,
    "rail_height_mm": 610.5,
}
SECTION = {"member_thickness_mm": 20.0, "member_depth_mm": 40.0, "other_depth_mm": 45.0, "bond_length_mm": 25.0}
# What each loading's drawing calls the lengths it takes.
WORDS = {
    "arm_mm": "arm 300 mm",
    "span_mm": "span 600 mm",
    "load_offset_mm": "to load 150 mm",
    "joint_offset_mm": "to joint 180 mm",
    "leg_mm": "leg 250 mm",
    "leg_b_mm": "other leg 200 mm",
    "face_offset_mm": "to face 40 mm",
    "rail_height_mm": "height 610.5 mm",
}


def texts(svg: str) -> list[ElementTree.Element]:
    return list(ElementTree.fromstring(svg).iter(f"{SVG}text"))


def said(svg: str) -> str:
    """All that stands on the drawing, one line."""
    return " ".join(one.text or "" for one in texts(svg))


def box(svg: str) -> tuple[float, float, float, float]:
    x, y, wide, high = map(float, ElementTree.fromstring(svg).attrib["viewBox"].split())
    return x, y, x + wide, y + high


def strokes_outside(svg: str) -> list[str]:
    """Points and texts that would be cut off."""
    left, top, right, bottom = box(svg)
    root = ElementTree.fromstring(svg)
    found = []
    for one in [*root.iter(f"{SVG}polygon"), *root.iter(f"{SVG}polyline")]:
        for pair in one.attrib["points"].split():
            x, y = map(float, pair.split(","))
            if not (left - 0.1 <= x <= right + 0.1 and top - 0.1 <= y <= bottom + 0.1):
                found.append(pair)
    for one in root.iter(f"{SVG}text"):
        x, y, size = (float(one.attrib[name]) for name in ("x", "y", "font-size"))
        room = width(one.text or "", size)
        begin = x - {"start": 0.0, "middle": room / 2, "end": room}[one.attrib["text-anchor"]]
        if begin < left - 0.1 or begin + room > right + 0.1 or y - size * 0.8 < top or y > bottom:
            found.append(one.text or "")
    return found


def test_every_loading_of_the_vocabulary_has_a_drawing():
    with VOCABULARY.open(encoding="utf-8", newline="") as file:
        codes = {row["code"] for row in csv.DictReader(file)}

    assert codes == set(LOADINGS)
    drawn = {code: setup_diagram(code, {}) for code in codes}
    assert len(set(drawn.values())) == len(codes) >= 12


@pytest.mark.parametrize("code", LOADINGS)
def test_drawing_names_each_length_that_its_loading_takes(code):
    loading = LOADINGS[code]

    shown = said(setup_diagram(code, LENGTHS, SECTION))

    for name, words in WORDS.items():
        assert (words in shown) == (name in (*loading.needs, *loading.optional)), name
    assert "joint" in shown and "F" in shown


@pytest.mark.parametrize("code", [code for code, loading in LOADINGS.items() if loading.needs])
def test_length_that_is_missing_is_named_as_not_given(code):
    svg = setup_diagram(code, {}, SECTION)

    for name in LOADINGS[code].needs:
        word = WORDS[name].rsplit(" ", 2)[0]
        assert f"{word}: not given" in said(svg)
    assert "Not to scale." in said(svg) and "Drawn to scale" not in said(svg)


@pytest.mark.parametrize("code", LOADINGS)
def test_drawing_is_told_to_those_who_cannot_see_it(code):
    root = ElementTree.fromstring(setup_diagram(code, LENGTHS, SECTION, label="jack and arm", name="setup-7"))

    title, words = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert root.attrib["role"] == "img" and root.attrib["aria-labelledby"] == "setup-7-title setup-7-desc"
    assert title.attrib["id"] == "setup-7-title" and title.text.startswith("jack and arm: ")
    assert words.attrib["id"] == "setup-7-desc" and len(words.text.split()) > 12
    for name in LOADINGS[code].needs:
        assert WORDS[name] in words.text


def dimension_length(svg: str, words: str) -> float:
    """How long the level dimension line is that this label stands on [drawn units]."""
    root = ElementTree.fromstring(svg)
    label = next(one for one in root.iter(f"{SVG}text") if one.text == words)
    y = float(label.attrib["y"])
    lines = []
    for one in root.iter(f"{SVG}polyline"):
        (a, b), (c, d) = [tuple(map(float, p.split(","))) for p in one.attrib["points"].split()[:2]]
        if b == d and one.attrib["stroke-width"] == "1.1":
            lines.append((abs(b - y), abs(c - a)))
    return min(lines)[1]


def test_lengths_of_a_drawing_to_scale_keep_their_ratios():
    lengths = {"span_mm": 600.0, "load_offset_mm": 240.0, "joint_offset_mm": 120.0}

    svg = setup_diagram("two_point_bending", lengths, SECTION)

    assert "Drawn to scale." in said(svg)
    span = dimension_length(svg, "span 600 mm")
    assert dimension_length(svg, "to load 240 mm") / span == pytest.approx(240 / 600, abs=0.002)
    assert dimension_length(svg, "to joint 120 mm") / span == pytest.approx(120 / 600, abs=0.002)


def test_length_too_short_to_read_is_drawn_longer_and_that_is_said():
    svg = setup_diagram("two_point_bending", {"span_mm": 6000.0, "load_offset_mm": 24.0}, SECTION)

    assert "Not to scale." in said(svg)
    assert dimension_length(svg, "to load 24 mm") >= 14


def test_member_too_thin_to_read_is_said_apart_from_the_lengths():
    svg = setup_diagram("cantilever_arm", {"arm_mm": 3000.0}, SECTION)

    assert "Lengths to scale, members not to scale." in said(svg)


def test_torque_wrench_is_drawn_as_a_turn_without_an_arm():
    for code in ("cantilever_arm", "torsion"):
        svg = setup_diagram(code, {}, SECTION, reads="moment", instrument="torque_wrench")

        assert "as read" in said(svg) and "arm" not in said(svg).replace("no arm", "")
        assert "not given" not in svg
        assert "<path" in svg and "no length enters" in said(svg)


def test_jack_is_drawn_with_its_ram_or_says_that_it_is_missing():
    plain = setup_diagram("centre_point_bending", LENGTHS, SECTION)
    jack = setup_diagram("centre_point_bending", {**LENGTHS, "ram_diameter_mm": 42.9}, SECTION, instrument="jack_gauge")
    bare = setup_diagram("centre_point_bending", LENGTHS, SECTION, instrument="jack_gauge")

    assert jack.count("<polygon") == plain.count("<polygon") + 2
    assert "ram diameter 42.9 mm" in said(jack).replace("  ", " ")
    assert "ram diameter: not given" in said(bare)


def test_arm_is_drawn_from_where_it_was_measured():
    drawn = {
        where: setup_diagram("cantilever_arm", {"arm_mm": 300.0, "arm_reference": where}, SECTION)
        for where in ("face", "centre", "far_face")
    }

    assert "to the joint's face" in said(drawn["face"])
    assert "to the other member's centre line" in said(drawn["centre"])
    assert "to the other member's far face" in said(drawn["far_face"])
    assert len({dimension_length(svg, "arm 300 mm") for svg in drawn.values()}) == 1


def test_arm_of_which_nobody_said_where_it_ends_is_drawn_to_the_face_and_that_is_said():
    unsaid = setup_diagram("cantilever_arm", {"arm_mm": 300.0}, SECTION)
    face = setup_diagram("cantilever_arm", {"arm_mm": 300.0, "arm_reference": "face"}, SECTION)

    assert "The arm is taken as measured to the joint's face, since it isn't said." in html.unescape(unsaid)
    assert "The arm is measured to the joint's face." in html.unescape(face)


def test_lap_is_drawn_with_the_faces_that_share_its_load():
    single, double, unknown = (
        setup_diagram("lap_shear", {"shear_faces": faces} if faces else {}, SECTION) for faces in (1, 2, None)
    )

    assert "One bonded face carries the load." in said(single)
    assert "Two bonded faces share the load." in said(double)
    assert "Bonded faces: not given; taken as one." in said(unknown)
    assert double.count("<polygon") > single.count("<polygon")


def test_typed_markup_is_shown_as_text():
    svg = setup_diagram("withdrawal", {}, label='<script>alert("1")</script> & co')

    assert "<script" not in svg
    title = ElementTree.fromstring(svg).find(f"{SVG}title").text
    assert title == '<script>alert("1")</script> & co: withdrawal'


def test_drawing_carries_no_style_and_no_script():
    for code in LOADINGS:
        svg = setup_diagram(code, LENGTHS, SECTION, instrument="jack_gauge")
        assert not re.search(r"\sstyle=|<style|\son\w+=|href", svg)
        assert len(svg) < 12_000


def test_unknown_loading_is_refused():
    with pytest.raises(StatsError, match=r"loading \('pushing'\) must be one of cantilever_arm"):
        setup_diagram("pushing", {})


@pytest.mark.parametrize("code", LOADINGS)
@pytest.mark.parametrize("reads", ["force", "moment", "stress"])
def test_nothing_of_a_drawing_is_cut_off(code, reads):
    for lengths in ({}, LENGTHS, {**LENGTHS, "ram_diameter_mm": 42.9, "diagonal_deg": 30.0, "angle_deg": -40.0}):
        svg = setup_diagram(code, lengths, SECTION, reads=reads, instrument="jack_gauge")
        assert strokes_outside(svg) == []
        left, _, right, _ = box(svg)
        assert right - left <= 376  # text of 12.5 is then still above 11 px on a narrow phone


ANY = st.none() | st.floats(min_value=1e-3, max_value=1e6, allow_nan=False)


@settings(max_examples=60, deadline=None)
@given(
    code=st.sampled_from(sorted(LOADINGS)),
    lengths=st.fixed_dictionaries(dict.fromkeys(LENGTHS, ANY)),
    section=st.fixed_dictionaries(dict.fromkeys(SECTION, ANY)),
    angle=st.none() | st.floats(-89, 89),
    reference=st.sampled_from(["face", "centre", "far_face"]),
)
def test_any_lengths_give_a_whole_drawing(code, lengths, section, angle, reference):
    setup = {**lengths, "angle_deg": angle, "diagonal_deg": abs(angle or 0), "arm_reference": reference}
    svg = setup_diagram(code, setup, section)

    assert "nan" not in svg and "inf" not in svg
    assert strokes_outside(svg) == []
