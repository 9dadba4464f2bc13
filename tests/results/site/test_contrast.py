"""Colours that meet on a page stand apart, in light and in dark; pictures do on both, though drawn once."""

from __future__ import annotations

import re

import pytest

from stats.charts import graph, look
from stats.charts.setup_pen import GLUE, IRON, LOAD, WOOD
from tests.colours import STYLES, blocks, contrast, light_and_dark, over, tokens, turned

TEXT, GRAPHIC = 4.5, 3.0
GROUNDS = ("paper", "sheet", "wash")
SURE = ("sure-high", "sure-moderate", "sure-low", "sure-very-low")
# What is written, and on what.
WORDS = [
    *((words, ground) for words in ("ink", "soft", "accent", "accent-strong") for ground in GROUNDS),
    *((words, ground) for words in ("ink", "soft", "accent") for ground in ("doubt-wash", "error-wash")),
    *(("ink", ground) for ground in SURE),
    *((words, ground) for words in ("error", "doubt", "ok") for ground in ("paper", "sheet")),
    ("error", "error-wash"),
    ("doubt", "doubt-wash"),
    ("ink", "marked"),
    ("accent", "marked"),
    ("soft", "hatch"),
    ("on-accent", "accent"),
    ("on-accent", "accent-strong"),
    ("on-error", "error"),
]
# Edges of fields and buttons, what has the focus, and the bars beside notes.
MARKS = [
    *(("edge", ground) for ground in GROUNDS),
    *(("focus", ground) for ground in (*GROUNDS, "doubt-wash", "error-wash")),
    ("accent", "wash"),
    ("doubt", "doubt-wash"),
    ("error", "error-wash"),
]
# Thin lines between rows and around sheets, which nothing hangs on.
ORNAMENT = {"line", "drawn-line"}
IN_PICTURES = {"as drawn": lambda colour: colour, "turned": turned}


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("pairs", "least"), [(WORDS, TEXT), (MARKS, GRAPHIC)], ids=["words", "marks"])
def test_what_meets_on_a_page_stands_apart(pairs, least, scheme):
    colours = light_and_dark()[scheme]

    found = {pair: round(contrast(*(colours[name] for name in pair)), 2) for pair in pairs}

    assert {pair: ratio for pair, ratio in found.items() if ratio < least} == {}


def test_every_colour_has_a_value_for_dark_and_is_measured():
    light, dark, _ = (tokens(block) for block in blocks())

    assert set(light) - set(dark) == {"drawn-line"}
    assert set(light) - {name for pair in WORDS + MARKS for name in pair} == ORNAMENT


@pytest.mark.parametrize("sheet", ["look", "submit", "plan", "where"])
def test_colours_stand_in_the_tokens_only(sheet):
    text = blocks()[2] if sheet == "look" else (STYLES / f"{sheet}.css").read_text()

    assert re.findall(r"#[0-9a-f]{3,8}\b|rgba?\(|hsla?\(", text) == []


@pytest.mark.parametrize("seen", IN_PICTURES)
def test_pictures_stand_out_from_their_sheet(seen):
    see = IN_PICTURES[seen]
    sheet = see(look.SHEET)

    words = {colour: contrast(see(colour), sheet) for colour in (look.INK, look.SOFT, look.BROKE, GLUE, LOAD)}
    one_of_many = over(look.BROKE, look.SHEET, look.SEEN_THROUGH)
    marks = {
        colour: contrast(see(colour), sheet)
        for colour in (look.BROKE, one_of_many, look.HELD, look.FLAGGED, graph.EDGE, graph.BEHIND)
    }

    assert {colour: round(ratio, 2) for colour, ratio in words.items() if ratio < TEXT} == {}
    assert {colour: round(ratio, 2) for colour, ratio in marks.items() if ratio < GRAPHIC} == {}


@pytest.mark.parametrize("seen", IN_PICTURES)
def test_fills_bear_their_words_and_are_bounded(seen):
    see = IN_PICTURES[seen]

    on_fills = {fill.colour: contrast(see(fill.text), see(fill.colour)) for fill in look.PLACES.values()}
    outlines = {fill: contrast(see(look.INK), see(fill)) for fill in (WOOD, IRON)}

    assert {fill: round(ratio, 2) for fill, ratio in on_fills.items() if ratio < TEXT} == {}
    assert {fill: round(ratio, 2) for fill, ratio in outlines.items() if ratio < GRAPHIC} == {}
    assert contrast(see(look.SOFT), see(look.SHEET)) >= GRAPHIC


def test_a_turned_picture_s_sheet_is_the_page_s():
    assert turned(look.SHEET) == light_and_dark()["dark"]["sheet"]
