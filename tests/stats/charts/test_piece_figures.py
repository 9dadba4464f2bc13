"""Curves for a piece and a plan: what is drawn is what the numbers are, with a table twin and a sentence."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from stats.charts.piece_figures import leverage_curve, margin_over_size, power_chart, sharing_bounds, year_chart
from stats.errors import StatsError
from stats.practice.assembly import share
from stats.practice.leverage import leverage
from stats.practice.movement import year
from stats.practice.plan import power_curve

NAN = float("nan")


def make_margins(upper=(1.0, 1.5, 2.2, NAN)) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "size_mm": [20.0, 30.0, 40.0, 50.0],
            "margin": [0.8, 1.2, 1.4, NAN],
            "upper": list(upper),
            "typical": [1.1, 1.7, 2.0, NAN],
            "low": [0.7, 1.1, 1.3, NAN],
            "high": [1.8, 2.6, 3.1, NAN],
            "reason": ["", "", "", "tenon_depth_mm (50) must be at most member_depth_mm (45)"],
        }
    )


def make_year() -> pd.DataFrame:
    humidity = [30, 30, 35, 40, 50, 60, 65, 64, 55, 45, 35, 31]
    return year([20] * 12, humidity, width_mm=500, coefficient_per_pct=0.00369, glued_pct=8)


CHARTS = {
    "margin": lambda: margin_over_size(
        make_margins(), size="tenon length", about="blind mortise and tenon, <i>oak</i>"
    ),
    "leverage": lambda: leverage_curve(leverage(120, typical_nm=180), about="dowel"),
    "sharing": lambda: sharing_bounds(share(300, 4, cv=0.2, unit="lbf"), about="four corners"),
    "power": lambda: power_chart(power_curve(1.2, 0.15, affordable=6)),
    "year": lambda: year_chart(make_year(), about="500 mm of red oak"),
}


@pytest.mark.parametrize("name", CHARTS)
def test_chart_is_drawn_by_either_and_has_a_table_and_a_sentence(name):
    chart = CHARTS[name]()

    assert chart.figure.layout.title.text  # plotly takes every word of it
    for width in (350, 760):
        svg = chart.to_svg(width)
        assert svg.startswith("<svg") and "nan" not in svg and "<i>" not in svg
    assert len(chart.table) >= 4 and len(chart.summary.split()) > 15
    assert "safe" not in (chart.summary + " ".join(chart.table.columns)).lower()


def test_margin_chart_draws_both_ways_and_leaves_a_gap_where_nothing_can_be_built():
    chart = CHARTS["margin"]()

    lines = {trace["name"]: trace for trace in chart.drawing.data}
    assert lines["lower limit"]["y"] == [0.8, 1.2, 1.4, None]
    assert lines["lower limit, if only glue (or wood) decided"]["y"] == [1.0, 1.5, 2.2, None]
    assert lines["90 % of single joints lie between"]["y"][:3] == [0.7, 1.1, 1.3]
    assert chart.drawing.layout["shapes"][0]["y0"] == 1.0
    assert chart.table["Note"].iloc[3].startswith("tenon_depth_mm (50)")
    assert "1 size can't be built." in chart.summary


def test_margin_chart_of_one_way_draws_it_once():
    chart = margin_over_size(make_margins(upper=(0.8, 1.2, 1.4, NAN)), size="rail depth", about="")

    assert not any("only glue" in (trace["name"] or "") for trace in chart.drawing.data)


def test_margin_chart_without_any_margin_is_refused():
    frame = make_margins().assign(margin=NAN)

    with pytest.raises(StatsError, match="must hold a size that can be built"):
        margin_over_size(frame, size="tenon length", about="")


def test_leverage_curve_sets_a_push_beside_it():
    chart = CHARTS["leverage"]()

    first = chart.drawing.data[0]
    np.testing.assert_allclose(np.array(first["x"]) * np.array(first["y"]), 120_000)
    push = chart.drawing.data[-1]
    assert (push["name"], set(push["y"])) == ("a push of 386 N", {386.0})
    assert "From a length of 311 mm on" in chart.summary
    names = [trace["name"] for trace in leverage_curve(leverage(120), about="").drawing.data]
    assert names == ["force that breaks it", "a push of 386 N"]


def test_sharing_chart_shows_every_bound_on_one_scale_from_nothing_up():
    chart = CHARTS["sharing"]()

    means = next(trace for trace in chart.drawing.data if trace.get("name") == "on average")
    assert means["x"][:2] == [1200.0, 1200.0] and means["x"][3] == pytest.approx(969, abs=1)
    low = next(trace for trace in chart.drawing.data if trace.get("name") == "95 of 100 exceed this")
    assert low["y"] == [2.0, 3.0]
    assert chart.drawing.layout["xaxis"]["range"][0] <= 0
    assert chart.table["Of the product"].tolist()[0] == 1.0
    assert all(len(text) > 40 for text in chart.table["Assumes"])


def test_power_chart_marks_the_number_that_is_needed():
    chart = CHARTS["power"]()

    mark = chart.drawing.data[1]
    assert (mark["x"], mark["name"]) == ([12.0], "12 of each joint")
    assert chart.drawing.layout["shapes"][0]["y0"] == 80.0
    # Each number with its own chance: 12 tell 1.2 in 82 %, 6 in 48 %, and 6 tell 1.31 in the 80 % wanted.
    assert "12 of each give 82 %. 6 of each give 48 %; they tell a ratio of 1.31 with 80 %." in chart.summary
    assert "as surely" not in chart.summary
    assert "tell a ratio" not in power_chart(power_curve(1.2, 0.15)).summary


def test_year_chart_names_the_months_and_the_swing():
    chart = CHARTS["year"]()

    assert chart.drawing.layout["xaxis"]["ticktext"] == list("JFMAMJJASOND")
    assert "widest in Jul and narrowest in Jan" in chart.summary
    frame = make_year()
    assert chart.table["Change of width, mm"].tolist() == frame["change_mm"].tolist()
