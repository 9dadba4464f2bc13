"""How what was typed is read, and where its words stand in a text."""

from __future__ import annotations

import importlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from results.search.nearest import suggestions
from results.search.studies import FIELDS
from results.search.words import ACCENTS, PARTING, WHOLE, Term, fold, marked, root, snippet, sought, spaced, words

MIGRATION = importlib.import_module("results.migrations.0006_search")


def terms(typed):
    return [" ".join(term.words) for term in sought(typed).terms]


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("Dowels", ["dowel"]),
        ("half-lap", ["half", "lap"]),
        ('"half laps" oak', ["half lap", "oak"]),
        ("mortise and tenon", ["mortise", "tenon"]),
        ("and", ["and"]),
        ("St. John’s shop", ["st", "john", "shop"]),
        ("  épicéa\tcommun ", ["epicea", "commun"]),
        ("dowel dowels DOWEL", ["dowel"]),
        ('"unfinished quote', ["unfinished quote"]),
        ("'; DROP TABLE -- <b>x</b> :* & !", ["drop", "table", "b", "x"]),
        ("??? --- ()", []),
        ("", []),
    ],
)
def test_sought_reads_words_phrases_and_plurals(typed, expected):
    assert terms(typed) == expected


def test_sought_knows_what_is_unwanted():
    asked = sought('oak -"cross lap" -pine co-op')

    assert [term.words for term in asked.unwanted] == [("cross", "lap"), ("pine",)]
    assert [term.words for term in asked.terms] == [("oak",), ("co",), ("op",)]


@pytest.mark.parametrize(
    ("word", "expected"),
    [("boxes", "box"), ("bridges", "bridge"), ("assemblies", "assembl"), ("glass", "glass"), ("ash", "ash"),
     ("ashes", "ash"), ("pinus", "pinus"), ("bus", "bus"), ("axis", "axis")],
)  # fmt: skip
def test_root_is_the_beginning_of_one_and_many(word, expected):
    assert root(word) == expected


def test_terms_are_beginnings_of_words_in_any_order_and_phrases_stand_together():
    text = spaced("A blind half-lap, twice dowelled", "(Épicéa)")

    assert sought("dowel half").is_in(text)
    assert sought("epicéa").is_in(text)
    assert sought('"half lap"').is_in(text) and not sought('"lap half"').is_in(text)
    assert not sought("lind").is_in(text)
    assert not sought("half -epicea").is_in(text)
    assert sought("a").is_in(text) and not sought("b").is_in(text)  # a single letter is a whole word


def test_marked_text_is_the_text_with_the_words_marked():
    parts = marked("Dowels & <b>dowels</b>, Épicéa", sought("dowel épi").terms)

    assert "".join(part.text for part in parts) == "Dowels & <b>dowels</b>, Épicéa"
    assert [part.text for part in parts if part.marked] == ["Dowels", "dowels", "Épicéa"]


def test_snippet_is_short_and_about_the_first_word_found():
    text = "word " * 200 + "here is the tenon that was meant " + "more " * 200

    parts = snippet(text, sought("tenon").terms)

    shown = "".join(part.text for part in parts)
    assert "the tenon that" in shown and shown.startswith("… ") and shown.endswith(" …") and len(shown) < 230
    assert snippet("short", sought("tenon").terms)[0].text == "short"


@given(st.text(max_size=80), st.text(max_size=30))
def test_any_text_is_kept_whole_when_marked(text, typed):
    asked = sought(typed)

    assert "".join(part.text for part in marked(text, asked.terms)) == text
    assert all(part.text for part in snippet(text, asked.terms))
    assert set(asked.tsquery()) <= set(" &!()<->:*") | {c for c in asked.tsquery() if c.isalnum()}


@given(
    st.text(alphabet="ab é-_", max_size=12), st.lists(st.sampled_from(["a", "ab", "b", "bae"]), min_size=1, max_size=2)
)
def test_term_is_in_a_text_where_it_is_at_some_word(text, asked):
    term = Term(tuple(asked))

    assert term.is_in(spaced(text)) == (next(term.at(words(text)), None) is not None)


def test_folding_in_the_database_is_the_same():
    assert (MIGRATION.ACCENTS, MIGRATION.PARTING, MIGRATION.FIELDS) == (ACCENTS, PARTING, FIELDS)
    assert str.maketrans(*MIGRATION.WHOLE) == WHOLE
    assert fold("ÀÉÎöüß Łódź—x") == "aeiouß lodz x"


NAMES = ["Dowel", "Mitre feathered mitre; keyed mitre", "Half-lap halving; end lap", "Oak, northern red Quercus rubra"]


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("dowl", ["dowel"]),
        ("miter", ["mitre"]),
        ("red oka", ["red oak"]),
        ("quercis", ["quercus"]),
        ("zzzzqq", []),
        ("dowel zzzzqq", ["dowel"]),
    ],
)
def test_suggestions_are_the_nearest_known_words(typed, expected):
    assert suggestions(sought(typed), NAMES)[: len(expected) or 9] == expected
