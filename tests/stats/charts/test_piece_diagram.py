"""Free-body drawings of pieces: every force and length on them, whole at any size, harmless whatever was typed."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stats.charts.piece_diagram import piece_diagram
from stats.charts.piece_scenes import SCENES
from stats.footing.units import show
from stats.practice.demand import PIECES, demand

from .test_setup_diagram import SVG, said, strokes_outside

# Inputs that no length or force of the drawing stands for.
NOT_DRAWN = {"tilt_deg", "angle_deg", "sides", "rails", "legs", "lower_rails", "fixed_shelves"}


def draw(piece, given_=None, **options):
    names = {"label", "name"}
    asked = demand(piece, given_, **{k: v for k, v in options.items() if k not in names})
    return piece_diagram(asked, **{k: v for k, v in options.items() if k in names})


def test_every_piece_has_a_drawing_of_its_own():
    assert set(SCENES) == set(PIECES)
    assert len({draw(piece) for piece in PIECES}) == len(PIECES)


@pytest.mark.parametrize("piece", PIECES)
def test_drawing_names_every_length_and_force_of_the_piece(piece):
    given_ = {"offset_mm": 60} if piece == "drawer_front" else {"load_n": 120} if piece == "shelf_fixed" else {}
    found = demand(piece, given_)

    shown = said(piece_diagram(found))

    for one in PIECES[piece].inputs:
        if one.name not in NOT_DRAWN:
            assert one.symbol in shown.split(), one.name
        if one.unit == "mm":
            assert f"{found.inputs[one.name]:,.6g} mm".replace(",", " ") in shown, one.name
        if one.is_load and piece != "seat":  # whose rail takes a share of it
            assert show(found.inputs[one.name], one.unit) in shown, one.name
    assert show(found.value, found.unit) in shown
    assert ("≤" in shown) == (not found.determinate)
    assert "Not to scale." in shown


@pytest.mark.parametrize("piece", PIECES)
def test_drawing_is_told_to_those_who_cannot_see_it(piece):
    root = ElementTree.fromstring(draw(piece, label="oak bench", name="piece-3"))

    title, words = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert root.attrib["role"] == "img" and root.attrib["aria-labelledby"] == "piece-3-title piece-3-desc"
    assert title.text == f"oak bench: {PIECES[piece].name.lower()}"
    for one in PIECES[piece].inputs:
        assert one.words in words.text
    assert f"The joint, {PIECES[piece].joint}, feels" in words.text
    assert (PIECES[piece].assumption in words.text) == (not PIECES[piece].determinate)


@pytest.mark.parametrize("piece", PIECES)
@settings(max_examples=12, deadline=None)
@given(data=st.data())
def test_nothing_is_cut_off_whatever_the_sizes(piece, data):
    values = {}
    for one in PIECES[piece].inputs:
        numbers = st.integers(int(one.low), int(one.high)) if one.whole else st.floats(max(one.low, 1e-3), one.high)
        values[one.name] = data.draw(numbers)
    if piece == "bed_rail":
        values["position_mm"] = max(1.0, values["span_mm"] * data.draw(st.floats(0.0, 0.5)))
    if piece == "drawer_front":
        values["offset_mm"] = values["width_mm"] * data.draw(st.floats(0.0, 0.49))
    for name in ("tilt_deg", "angle_deg"):
        if name in values:
            values[name] = data.draw(st.floats(0.0, 45.0))

    svg = piece_diagram(demand(piece, values, dynamic=1.5))

    assert strokes_outside(svg) == []
    assert "nan" not in svg


def test_loads_are_drawn_with_their_factors_on_and_the_factors_said():
    shown = said(draw("arm", {"load_n": 300, "arm_mm": 300}, dynamic=2.0, misuse=1.5))

    assert "F 900 N" in shown and "M 270 N·m" in shown
    assert "Loads raised by factors: dynamic 2, misuse 1.5." in shown
    assert "factors" not in said(draw("arm"))


def test_push_on_a_back_that_is_not_given_is_not_drawn():
    assert "F " not in said(draw("chair_leaned", {"back_push_n": 0}))


def test_typed_markup_in_the_label_is_harmless():
    svg = draw("arm", label="<script>alert(1)</script> & shelf")

    assert "<script" not in svg and "&lt;script&gt;" in svg
    assert ElementTree.fromstring(svg).find(f"{SVG}title").text.startswith("<script>alert(1)</script> & shelf")
