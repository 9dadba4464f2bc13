from __future__ import annotations

import json

import numpy as np
import pytest

from stats.charts import look
from stats.charts.series import failures, ratios, strength
from stats.errors import StatsError

from .frames import NAN, make_failures, make_groups, make_points, make_ratios, make_series

RATIO = {"footing": "Ratio to solid wood (handbook)", "symbol": "R", "unit": "", "level": 0.95}


def draw(points, **changes):
    return strength(points, make_series(points), make_groups(points), **{**RATIO, **changes})


def trace(chart, name):
    found = [t for t in chart.figure.data if t.name == name]
    assert len(found) == 1, [t.name for t in chart.figure.data]
    return found[0]


def labels(chart):
    return list(chart.figure.layout.yaxis.ticktext)


def test_strength_puts_the_strongest_joint_on_top_with_what_stands_behind_it():
    chart = draw(make_points({"butt": [0.1, 0.12], "dowel": [0.3, 0.31, 0.33]}))

    assert labels(chart) == [
        look.row_label("Dowel", "1 study, 1 series,", "3 specimens"),
        look.row_label("Butt", "1 study, 1 series,", "2 specimens"),
    ]
    assert list(chart.table["Joint"]) == ["Dowel", "Butt"]
    assert chart.figure.layout.yaxis.range == (1.5, -0.5)


def test_strength_axis_says_footing_symbol_unit_and_what_a_bar_is():
    chart = draw(make_points({"butt": [80.0, 95.0]}), footing="Moment at the joint", symbol="M", unit="N·m")

    layout = chart.figure.layout
    assert layout.title.text == "<b>Moment at the joint, M [N·m]</b>"
    assert "bar: its 95 % interval" in layout.title.subtitle.text
    assert layout.xaxis.title.text == "M [N·m]"
    assert "Geometric mean, N·m" in chart.table.columns


def test_strength_says_on_its_face_what_all_that_is_drawn_has_in_common():
    points = make_points({"butt": [80.0, 95.0]})

    chart = draw(points, footing="Moment at the joint", symbol="M", unit="N·m", within="40 × 70 mm")

    assert chart.figure.layout.xaxis.title.text == "M [N·m]<br>40 × 70 mm"


def test_strength_draws_every_specimen_at_its_value():
    points = make_points({"butt": [0.1, 0.12, 0.09], "dowel": [0.3]})

    broke = trace(draw(points), "broke")

    assert sorted(broke.x) == [0.09, 0.1, 0.12, 0.3]
    assert broke.marker.symbol == "circle"


def test_strength_marks_held_and_flagged_by_shape_not_by_colour_alone():
    points = make_points({"butt": [0.1, 0.12, 0.09]})
    points["outcome"] = ["broke", "held", "broke"]
    points["flagged"] = [False, False, True]

    chart = draw(points)

    held, flagged = trace(chart, "held: took at least this"), trace(chart, "flagged by a check")
    assert (held.marker.symbol, list(held.x)) == ("triangle-up-open", [0.12])
    assert "held: took at least <b>0.120</b>" in held.hovertext[0]
    assert (flagged.marker.symbol, list(flagged.x)) == ("circle-cross-open", [0.09])
    # A flagged specimen keeps its own mark below the ring: it is doubted, not removed.
    assert 0.09 in trace(chart, "broke").x


def test_strength_names_study_and_series_in_the_hover_text_without_typed_markup():
    points = make_points({"butt": [0.1]}, study="<img src=x>", series="A&B")

    hover = trace(draw(points), "broke").hovertext[0]

    assert "&lt;img src=x&gt;" in hover and "A&amp;B" in hover and "<img" not in hover


def test_strength_marks_a_published_mean_apart():
    points = make_points({"butt": [0.1, 0.12]})
    series = make_series(points).assign(summary_only=True, n=np.nan)

    chart = strength(points.iloc[:0], series, make_groups(points), **RATIO)

    assert "a series' geometric mean" not in [t.name for t in chart.figure.data]
    published = trace(chart, "a published mean only")
    assert published.marker.symbol == "square-open"
    assert "number of specimens not stated" in published.hovertext[0]


def test_strength_without_an_interval_draws_no_bar_and_says_so():
    points = make_points({"butt": [0.1, 0.12], "dowel": [0.3]})
    groups = make_groups(points)
    groups.loc[groups["joint"] == "dowel", ["low", "high"]] = NAN

    chart = strength(points, make_series(points), groups, **RATIO)

    bars = next(t for t in chart.figure.data if t.mode == "lines")
    low, high = groups.loc[0, ["low", "high"]]
    assert list(bars.x) == [low, high, None]
    assert "too few results for an interval" in trace(chart, "the joint's geometric mean").hovertext[0]


def test_strength_up_to_5_000_marks_draws_them_and_beyond_summarises_and_says_so():
    rng = np.random.default_rng(7)
    values = list(rng.lognormal(-1, 0.2, 4_999))

    few = draw(make_points({"butt": values}))
    many = draw(make_points({"butt": [*values, 0.3]}))

    assert len(trace(few, "broke").x) == 4_999
    assert "Each small mark is one specimen" in few.summary
    assert "broke" not in [t.name for t in many.figure.data]
    assert "5 000 specimens are too many to tell apart" in many.summary.replace("\u202f", " ")
    low, high, gap = trace(many, "middle 80 % of specimens").x
    assert [low, high, gap] == [*np.quantile([*values, 0.3], [0.1, 0.9]), None]
    assert len(json.dumps(many.to_json())) < 10_000


def test_strength_is_plain_json_without_nan_or_packed_arrays():
    points = make_points({"butt": [0.1, 0.12], "dowel": [0.3]})
    groups = make_groups(points)
    groups.loc[0, ["low", "high", "geometric_mean"]] = NAN

    sent = strength(points, make_series(points), groups, **RATIO).to_json()

    text = json.dumps(sent, allow_nan=False)
    assert "bdata" not in text
    assert sorted(sent) == ["data", "layout"]


@pytest.mark.parametrize(("changes", "message"), [({"level": 95}, r"level \(95\) must be between 0 and 1")])
def test_strength_refuses_what_it_cannot_draw(changes, message):
    points = make_points({"butt": [0.1]})

    with pytest.raises(StatsError, match=message):
        draw(points, **changes)
    with pytest.raises(StatsError, match=r"groups \(0 rows\) must have at least one joint"):
        strength(points, make_series(points), make_groups(points).iloc[:0], **RATIO)


def test_failures_stack_to_the_whole_and_write_strength_beside_each_share():
    chart = failures(make_failures(), footing="Ratio to solid wood", unit="")

    bars = [t for t in chart.figure.data if t.type == "bar"]
    totals: dict[float, float] = {}
    for bar in bars:
        for x, y in zip(bar.x, bar.y, strict=True):
            totals[y] = totals.get(y, 0) + x
    assert [round(t, 9) for t in totals.values()] == [100, 100]
    (numbers,) = [t for t in chart.figure.data if t.type == "scatter"]
    # The 5 % part has no room for its number; the table has it.
    assert dict(zip(numbers.x, numbers.text, strict=True)) == {47.5: "0.12", 25: "0.31", 75: "0.29"}
    assert list(chart.table["Geometric mean"]) == [0.2, 0.12, 0.31, 0.29]


def test_failures_order_and_hatch_places_alike_in_every_chart():
    chart = failures(make_failures())

    bars = [t for t in chart.figure.data if t.type == "bar"]
    assert [b.name for b in bars] == ["bond line", "tenon or fastener", "member away from the joint"]
    assert [b.marker.pattern.shape for b in bars] == ["", ".", "-"]


def test_failures_without_rows_is_refused():
    with pytest.raises(StatsError, match=r"failures \(0 rows\)"):
        failures(make_failures().iloc[:0])


def test_ratios_draw_those_connected_and_keep_the_others_in_the_table():
    chart = ratios(make_ratios())

    drawn = [label.split("</b>")[0] for label in labels(chart)]
    assert drawn == ["<b>Mortise", "<b>Dowels", "<b>Plate"]
    assert list(chart.table["Joint"]) == ["Mortise", "Dowels", "Plate", "Box joint"]
    assert "1 joint without a path to the reference can't be drawn" in chart.summary
    assert list(trace(chart, "ratio, through other studies").x) == [3.1]
    symbols = [t.marker.symbol for t in chart.figure.data if t.name.startswith("ratio")]
    assert symbols == ["diamond", "diamond-open", "cross-open"]
    assert [s.yref for s in chart.figure.layout.shapes if s.x0 == s.x1 == 1] == ["paper"]


def test_ratios_thick_bar_is_the_interval_and_thin_line_the_prediction():
    chart = ratios(make_ratios())

    interval = trace(chart, "95 % interval of the ratio")
    prediction = trace(chart, "prediction: where another shop's ratio may fall")
    assert list(interval.x) == [2.4, 4.0, None, 2.1, 2.98, None, 0.9, 2.2, None]
    assert list(prediction.x) == [1.7, 3.7, None]
    assert interval.line.width > prediction.line.width


def test_ratios_without_any_connected_joint_are_refused():
    with pytest.raises(StatsError, match="at least one joint connected to the reference"):
        ratios(make_ratios().query("joint == 'box'"))
