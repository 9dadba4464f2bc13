from __future__ import annotations

import json
import re

import numpy as np
import pandas as pd
import pytest

from stats.charts import look
from stats.charts.forest import MOST_DRAWN, forest, routes
from stats.errors import StatsError

from .frames import NAN

ABOUT = "ratio to solid wood, bending moment; 7 studies, 90 specimens"


def make_effects(*rows) -> pd.DataFrame:
    columns = ["joint_name", "ratio", "low", "high", "prediction_low", "prediction_high", "studies", "note"]
    given = rows or (
        ("Plate", 1.4, 0.9, 2.2, NAN, NAN, 0, "one study"),
        ("Dowel", 2.5, 2.1, 2.98, 1.7, 3.7, 3, ""),
        ("Half-lap", 6.0, 4.0, 9.0, 2.5, 14.4, 1, ""),
    )
    return pd.DataFrame(given, columns=columns)


def make_ways(**changes) -> pd.DataFrame:
    rows = [
        ("direct", 2.4, 2.0, 2.9, NAN, NAN, 3),
        ("indirect", 2.9, 1.5, 5.6, NAN, NAN, 2),
        ("network", 2.5, 2.1, 2.98, 1.7, 3.7, 5),
    ]
    columns = ["way", "ratio", "low", "high", "prediction_low", "prediction_high", "studies"]
    return pd.DataFrame(rows, columns=columns).assign(**changes)


def draw(effects=None, **changes):
    return forest(make_effects() if effects is None else effects, **{"reference": "Butt", "about": ABOUT, **changes})


def trace(chart, name):
    (found,) = [one for one in chart.figure.data if one.name == name]
    return found


def test_forest_sorts_joints_and_says_how_many_studies_hold_both():
    chart = draw()

    assert list(chart.figure.layout.yaxis.ticktext) == [
        look.row_label("Half-lap", "1 study with both"),
        look.row_label("Dowel", "3 studies with both"),
        look.row_label("Plate", "no study with both"),
    ]
    assert chart.table["Joint"].tolist() == ["Half-lap", "Dowel", "Plate"]


def test_forest_draws_interval_thick_and_prediction_thin_at_their_ends():
    chart = draw()

    thick, thin = trace(chart, "95 % interval"), trace(chart, "what the next shop should expect")
    assert thick.line.width > 2 * thin.line.width
    assert [x for x in thick.x if x is not None] == [4.0, 9.0, 2.1, 2.98, 0.9, 2.2]
    assert [x for x in thin.x if x is not None] == [2.5, 14.4, 1.7, 3.7]


def test_forest_tells_by_mark_which_joints_no_study_tested_side_by_side():
    chart = draw()

    beside, apart = (
        trace(chart, "ratio, from studies with both joints"),
        trace(chart, "ratio, only through other joints"),
    )
    assert (list(beside.x), list(apart.x)) == ([6.0, 2.5], [1.4])
    assert beside.marker.symbol != apart.marker.symbol
    assert chart.table["Compared"].tolist() == ["side by side", "side by side", "only through other joints"]


def test_forest_says_on_its_face_what_is_measured_and_on_how_much():
    chart = draw(level=0.9)

    axis = chart.figure.layout.xaxis.title.text.replace("<br>", " ")
    assert axis == f"ratio {ABOUT}"
    assert "90 % interval" in {one.name for one in chart.figure.data}
    assert "90 % interval" in chart.table.columns
    assert ABOUT in chart.summary


def test_forest_cuts_a_line_that_runs_far_off_and_marks_the_cut():
    effects = make_effects(("Dowel", 2.0, 1.8, 2.2, 0.001, 5_000.0, 2, ""), ("Plate", 1.0, 0.9, 1.1, 0.8, 1.2, 2, ""))

    chart = draw(effects)

    drawn = [x for x in trace(chart, "what the next shop should expect").x if x is not None]
    assert (min(drawn), max(drawn)) == pytest.approx((0.1, 20.0))
    marks = {one.text[0]: list(one.y) for one in chart.figure.data if one.mode == "text"}
    assert marks == {"<b>‹</b>": [0.0], "<b>›</b>": [0.0]}
    assert "is cut" in chart.summary
    assert "5 000" in chart.table["The next shop should expect"][0]
    assert "is cut" not in draw().summary


def test_forest_of_many_joints_draws_the_best_known_and_keeps_all_in_the_table():
    many = MOST_DRAWN + 5
    rows = [(f"J{i}", 1.0 + i, (1.0 + i) / (1.1 + i), (1.0 + i) * (1.1 + i), NAN, NAN, 1, "") for i in range(many)]

    chart = draw(make_effects(*rows))

    labels = [re.sub("<.*?>", " ", label).split()[0] for label in chart.figure.layout.yaxis.ticktext]
    assert labels == [f"J{i}" for i in range(MOST_DRAWN - 1, -1, -1)]
    assert len(chart.table) == many
    assert f"The {MOST_DRAWN} best known of {many} joints are drawn" in chart.summary


def test_forest_makes_typed_markup_harmless():
    chart = draw(make_effects(("<script>x</script>", 2.0, 1.8, 2.2, 1.5, 2.5, 1, "")), reference="<b>butt</b>")

    assert "<script" not in json.dumps(chart.to_json())
    assert "<script" not in chart.to_svg(350)
    assert "&lt;b&gt;butt" in chart.figure.layout.title.text


def test_forest_without_joints_is_refused():
    with pytest.raises(StatsError, match="effects has no rows"):
        draw(make_effects().head(0))


def test_routes_draw_each_kind_of_evidence_by_a_mark_of_its_own():
    chart = routes(make_ways(), joint="Dowel", versus="Butt", about=ABOUT)

    marks = {one.marker.symbol: list(one.x) for one in chart.figure.data if one.mode == "markers+text"}
    assert sorted(marks.values()) == [[2.4], [2.5], [2.9]]
    assert list(chart.figure.layout.yaxis.ticktext) == [
        look.row_label("Studies with both", "3 studies"),
        look.row_label("Through other joints", "2 studies"),
        look.row_label("All together", "5 studies"),
    ]
    assert chart.table["Ratio"].tolist() == [2.4, 2.9, 2.5]
    assert chart.figure.layout.title.text == "<b>Dowel ÷ Butt</b>"


def test_routes_leave_out_what_there_is_none_of():
    ways = make_ways()

    chart = routes(ways[ways["way"] != "direct"], joint="Dowel", versus="Butt", about=ABOUT)

    assert chart.table["Evidence"].tolist() == ["Through other joints", "All together"]
    with pytest.raises(StatsError, match="ways has no rows"):
        routes(ways.head(0), joint="Dowel", versus="Butt", about=ABOUT)


@pytest.mark.parametrize("width", [350, 760])
def test_forest_and_routes_are_pictures_without_not_a_number(width):
    for chart in (draw(), routes(make_ways(high=[2.9, np.inf, 2.98]), joint="a", versus="b", about=ABOUT)):
        assert "nan" not in chart.to_svg(width).lower()
        assert chart.size(width)[0] == width
