"""Questions in an address: quantities as people write them, and what can't be used said at its field."""

from __future__ import annotations

import pytest
from django.http import QueryDict

from results.practice.leverage import LeverageAsked
from results.practice.piece import PieceAsked
from results.practice.share import ShareAsked

G = 9.80665  # m/s², standard acceleration of gravity (exact by definition)
FOOT_M, POUND_FORCE_N = 0.3048, 4.4482216152605  # exact by definition


def errors(form) -> dict[str, str]:
    form.is_valid()
    return {name: " ".join(found) for name, found in form.errors.items()}


@pytest.mark.parametrize(
    ("typed", "newtons"),
    [("110 kg", 110 * G), ("250 lbf", 250 * POUND_FORCE_N), ("1.2 kN", 1200.0), ("981", 981.0)],
)
def test_loads_are_read_as_people_write_them(typed, newtons):
    form = PieceAsked(QueryDict(f"load_n={typed}"), "seat")

    assert form.demand().inputs["load_n"] == pytest.approx(newtons)


@pytest.mark.parametrize(
    ("typed", "per_metre"), [("400", 400.0), ("25 kg/m", 25 * G), ("27 lb/ft", 27 * POUND_FORCE_N / FOOT_M)]
)
def test_a_load_for_each_metre_is_read_with_either_unit(typed, per_metre):
    form = PieceAsked(QueryDict(f"line_load_n_m={typed}"), "shelf_fixed")

    assert form.demand().inputs["line_load_n_m"] == pytest.approx(per_metre)


@pytest.mark.parametrize(
    ("query", "field", "says"),
    [
        ("load_n=1e9", "load_n", "1 to 20 000 N"),
        ("load_n=0", "load_n", "0 is 0 N"),
        ("load_n=heavy", "load_n", "heavy"),
        ("load_n=12 mm", "load_n", "mm"),
        ("span_mm=-3", "span_mm", "-3"),
        ("rails=2.5", "rails", "whole number from 1 to 12"),
        ("dynamic=0.5", "dynamic", "1 to 10"),
        ("use=boats", "use", "boats"),
        ("preset=armchair", "preset", "armchair"),
        ("load_n=5&load_n=6", "load_n", "once only"),
    ],
)
def test_what_cannot_be_used_is_said_at_its_field(query, field, says):
    form = PieceAsked(QueryDict(query), "seat")

    assert form.demand() is None
    assert says in errors(form)[field]


def test_an_unknown_parameter_is_refused_with_the_nearest():
    form = PieceAsked(QueryDict("lod_n=5"), "seat")

    assert form.demand() is None
    assert "load_n" in errors(form)["__all__"]
    assert form.faults == [("lod_n", "5", form.unknown["lod_n"])]


def test_sizes_that_contradict_each_other_are_said_at_the_first():
    form = PieceAsked(QueryDict("span_mm=600&position_mm=500"), "bed_rail")

    assert form.demand() is None
    assert "at most half of span_mm" in errors(form)["position_mm"]


def test_a_load_to_start_from_gives_way_to_what_is_typed():
    asked = "preset=iso7173_back&sitter_n=600"
    found = PieceAsked(QueryDict(asked), "chair_leaned").demand()

    assert found.inputs["sitter_n"] == 600
    assert found.inputs["back_push_n"] == 330  # ISO 7173:1989, 7.6, as stats.practice.loads cites it


def test_the_same_is_asked_again_by_its_query():
    form = PieceAsked(QueryDict("load_n=110+kg&rails=&use=children"), "seat")
    form.is_valid()

    assert form.query() == "load_n=110+kg&use=children"
    assert form.query(use="own") == "load_n=110+kg&use=own"


@pytest.mark.parametrize(
    ("query", "field"),
    [("shares=1,2", "shares"), ("shares=a,b,c,d", "shares"), ("n=0", "n"), ("mean=", "mean"), ("cv=15", "cv")],
)
def test_shares_and_counts_that_cannot_be(query, field):
    form = ShareAsked(QueryDict(query))

    assert form.answer() is None
    assert field in errors(form)


def test_a_middling_joint_below_the_limit_is_refused():
    form = LeverageAsked(QueryDict("moment_nm=100&typical_nm=90"))

    assert form.answer() is None
    assert "must be moment_nm (100) or more" in errors(form)["typical_nm"]
