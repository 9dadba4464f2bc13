"""A study's series as ratios to what the others found: marks, cut lines, table twin, words."""

from __future__ import annotations

import math

import pandas as pd
import pytest

from stats.charts.beside import FURTHEST, MOST_ROWS, beside, standing
from stats.errors import StatsError

ROW = {
    "series": "A",
    "joint_name": "Glued butt",
    "unit": "MPa",
    "mean": 12.0,
    "low": 11.0,
    "high": 13.1,
    "studies": 4,
    "specimens": 31,
    "others_mean": 10.0,
    "others_low": 9.0,
    "others_high": 11.1,
    "others_prediction_low": 7.0,
    "others_prediction_high": 14.3,
    "ratio": 1.2,
    "ratio_low": 1.05,
    "ratio_high": 1.37,
}


def rows(*changes: dict) -> pd.DataFrame:
    return pd.DataFrame([{**ROW, **change} for change in changes or ({},)])


def trace(chart, name: str) -> dict:
    return next(one for one in chart.to_json()["data"] if one.get("name") == name)


def test_marks_lie_at_the_ratio_and_the_others_at_one():
    chart = beside(rows({}, {"series": "B", "ratio": 0.8}))

    assert trace(chart, "this study")["x"] == [1.2, 0.8]
    assert trace(chart, "mean of the other studies")["x"] == [1.0, 1.0]
    assert (
        trace(chart, "this study")["marker"]["symbol"] != trace(chart, "mean of the other studies")["marker"]["symbol"]
    )
    assert trace(chart, "the others' 95 % interval")["x"][:2] == pytest.approx([0.9, 1.11])
    assert trace(chart, "what the next shop should expect, by the others")["x"][:2] == pytest.approx([0.7, 1.43])


def test_line_that_runs_off_is_cut_and_that_is_said():
    chart = beside(rows({"others_prediction_low": 0.01, "others_prediction_high": 9000.0}))

    assert trace(chart, "what the next shop should expect, by the others")["x"][:2] == [1 / FURTHEST, FURTHEST]
    assert "Lines end at 0.125 and 8" in chart.summary
    assert "0.0100 to 9 000" in chart.table["The next shop should expect"].iloc[0]
    assert "Lines end" not in beside(rows()).summary


def test_series_without_a_spread_has_a_mark_and_no_bar():
    nan = math.nan
    chart = beside(rows({"low": nan, "high": nan, "ratio_low": nan, "ratio_high": nan}))

    names = [one.get("name") for one in chart.to_json()["data"]]
    assert "this study" in names and "the ratio's 95 % interval" not in names
    assert chart.table["Ratio's 95 % interval"].iloc[0] == ""


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({}, "within that"),
        ({"mean": 20.0}, "above that"),
        ({"mean": 2.0}, "below that"),
        ({"others_prediction_low": math.nan, "studies": 1}, "too few studies"),
    ],
)
def test_standing_is_told_against_what_the_others_lead_one_to_expect(change, said):
    assert standing(next(rows(change).itertuples())) == said


def test_more_rows_than_fit_stand_in_the_table():
    chart = beside(rows(*({"series": str(i)} for i in range(MOST_ROWS + 3))))

    assert len(trace(chart, "this study")["x"]) == MOST_ROWS
    assert len(chart.table) == MOST_ROWS + 3
    assert "The table has 3 more." in chart.summary


def test_names_are_shown_as_text_and_the_footing_stands_on_the_face():
    drawn = str(beside(rows({"series": "<b>A</b>"}), about="nominal stress").to_json())

    assert "<b>A</b>" not in drawn and "&lt;b&gt;A&lt;/b&gt;" in drawn and "nominal stress" in drawn


def test_nothing_to_draw_is_refused():
    with pytest.raises(StatsError, match="rows is empty"):
        beside(rows().head(0))


def test_chart_is_drawn_by_the_server():
    assert beside(rows()).to_svg(350).startswith("<svg")
