"""Figures drawn as SVG: marks where the numbers say, nothing cut off, typed text harmless."""

from __future__ import annotations

import math
import re
from xml.etree import ElementTree

import pytest

from stats.charts import layout, look, svg, svg_marks, svg_text
from stats.charts.figure import Figure
from stats.charts.series import failures, ratios, strength
from stats.errors import StatsError

from .frames import make_failures, make_groups, make_points, make_ratios, make_series

SVG = "{http://www.w3.org/2000/svg}"


def strength_chart(joints):
    points = make_points(joints)
    return strength(points, make_series(points), make_groups(points), footing="Stress", unit="MPa", level=0.95)


def parsed(chart, width=760, foot=""):
    return ElementTree.fromstring(chart.to_svg(width, foot))


def dots(root) -> list[tuple[float, float]]:
    """Places of the dots that one path draws."""
    (path,) = [one for one in root.iter(f"{SVG}path") if one.get("stroke-linecap") == "round" and "h0M" in one.get("d")]
    return [(float(x), float(y)) for x, y in re.findall(r"M([\d.]+) ([\d.]+)h0", path.get("d"))]


@pytest.mark.parametrize("width", [350, 760, 1060])
def test_dots_lie_where_a_logarithmic_axis_puts_them(width):
    root = parsed(strength_chart({"butt": [10.0, 20.0, 40.0]}), width)

    x = sorted(x for x, _ in dots(root))

    # Equal ratios are equal distances.
    assert x[1] - x[0] == pytest.approx(x[2] - x[1], abs=0.11)
    ticks = {one.find(f"{SVG}tspan").text: float(one.get("x")) for one in root.iter(f"{SVG}text") if len(one) == 1}
    assert x[0] == pytest.approx(ticks["10"], abs=0.11)
    assert x[1] == pytest.approx(ticks["20"], abs=0.11)


def test_dots_lie_in_their_joint_s_row_and_all_are_drawn():
    root = parsed(strength_chart({"butt": [10.0, 12.0], "dowel": [30.0, 31.0, 33.0]}))

    # Rows rank by strength: the dowels are above.
    places = sorted(dots(root), key=lambda place: -place[0])
    assert len(places) == 5
    assert max(y for _, y in places[:3]) < min(y for _, y in places[3:])


@pytest.mark.parametrize("width", [340, 350, 760, 1600])
def test_nothing_is_drawn_beyond_the_edges(width):
    for chart in (
        strength_chart({"a joint with a remarkably long name of many words": [10.0, 90.0], "b": [11.0, 13.0]}),
        ratios(make_ratios()),
        failures(make_failures()),
    ):
        root = parsed(chart, width, "a foot that says where the picture is from, and so on and on " * 2)
        assert (int(root.get("width")), int(root.get("height"))) == chart.size(
            width, "a foot that says where the picture is from, and so on and on " * 2
        )
        for one in root.iter(f"{SVG}text"):
            room = sum(
                svg_text.width(run.text, float(run.get("font-size")), bold=run.get("font-weight") is not None)
                for run in one.iter(f"{SVG}tspan")
            )
            left = float(one.get("x")) - {"middle": room / 2, "end": room}.get(one.get("text-anchor"), 0)
            assert left >= -1, "".join(one.itertext())
            assert left + room <= width + 12, "".join(one.itertext())
            assert 0 < float(one.get("y")) < int(root.get("height"))


def test_every_trace_of_a_chart_has_its_sample_in_the_legend():
    chart = ratios(make_ratios())

    words = ["".join(one.itertext()) for one in parsed(chart).iter(f"{SVG}text")]

    for trace in chart.drawing.data:
        if trace.get("showlegend") is not False:
            assert trace["name"] in words


def test_bars_of_a_row_lie_end_to_end_and_fill_it():
    root = parsed(failures(make_failures()))

    rows: dict[str, list[tuple[float, float]]] = {}
    for bar in root.iter(f"{SVG}rect"):
        if bar.get("x") and float(bar.get("height")) > 20:
            rows.setdefault(bar.get("y"), []).append((float(bar.get("x")), float(bar.get("width"))))
    assert rows
    for bars in rows.values():
        bars.sort()
        for (x, wide), (following, _) in zip(bars, bars[1:], strict=False):
            assert x + wide == pytest.approx(following, abs=0.2)
    assert len({round(bars[0][0]) for bars in rows.values()}) == 1
    assert len({round(bars[-1][0] + bars[-1][1]) for bars in rows.values()}) == 1


def test_a_place_of_failure_has_its_hatching_in_the_picture():
    text = failures(make_failures()).to_svg()

    assert text.count("<pattern") >= 2
    assert 'fill="url(#hatch-' in text


def test_typed_markup_is_only_text():
    root = parsed(strength_chart({"<script>alert(1)</script>": [10.0, 12.0]}))

    assert [one.tag for one in root.iter() if "script" in one.tag] == []
    assert "<Script>" in "".join(root.itertext()).replace(" ", "")


def test_picture_says_what_it_is_for_those_who_do_not_see_it():
    chart = strength_chart({"butt": [10.0, 12.0]})

    root = parsed(chart)

    assert root.get("role") == "img"
    assert root.find(f"{SVG}title").text == "Stress [MPa]"
    assert root.find(f"{SVG}desc").text == chart.summary


def test_line_at_one_is_drawn_though_all_ratios_lie_above():
    root = parsed(ratios(make_ratios()))

    assert [one for one in root.iter(f"{SVG}path") if one.get("stroke-dasharray")]


def test_many_dots_stay_a_light_picture():
    chart = strength_chart({"butt": [10.0 + 0.001 * i for i in range(4_900)]})

    assert len(chart.to_svg()) < 100_000


@pytest.mark.parametrize("width", [339, 1601, 0, -350])
def test_width_out_of_range_is_refused(width):
    with pytest.raises(StatsError, match=rf"width \({width}\) must be 340 to 1600 px"):
        ratios(make_ratios()).to_svg(width)


def two_axes(**changes):
    fig = Figure()
    fig.scatter(
        x=[1.0, 10.0, 100.0], y=[-2.0, 0.0, 2.0], mode="lines+markers", name="shops", marker={"symbol": "square"}
    )
    fig.hline(1.5, color=look.HELD, dash="dash")
    layout.xy_layout(fig, "Shops", "a mark a shop", "load [N]", "h [-]", log_x=True, **changes)
    return fig


def test_two_axes_of_numbers_place_marks_and_lines():
    root = ElementTree.fromstring(svg.draw(two_axes(), 760, "Shops."))

    marks = [one for one in root.iter(f"{SVG}path") if "translate" in (one.get("transform") or "")]
    places = [
        tuple(map(float, re.search(r"translate\(([\d.]+) ([\d.]+)\)", one.get("transform")).groups())) for one in marks
    ]
    (x1, y1), (x2, y2), (x3, y3) = places[:3]
    assert x2 - x1 == pytest.approx(x3 - x2, abs=0.2)
    assert y1 - y2 == pytest.approx(y2 - y3, abs=0.2) and y1 > y3
    assert "upwards: h [-]" in "".join(root.itertext())


def test_drawing_without_axes_has_no_ticks():
    fig = Figure()
    fig.scatter(
        x=[0.0, 1.0], y=[0.0, 1.0], mode="markers+text", text=["a", "b"], name="joints", marker={"size": [9, 20]}
    )
    layout.free_layout(fig, "Which met which", "", height=200, x=(-0.2, 1.2), y=(-0.2, 1.2))

    root = ElementTree.fromstring(svg.draw(fig, 350, "Graph."))

    radii = sorted(float(one.get("r")) for one in root.iter(f"{SVG}circle"))
    assert radii[-1] == 10.0
    assert {"a", "b", "joints"} <= {"".join(one.itertext()) for one in root.iter(f"{SVG}text")}


def test_every_symbol_can_be_drawn():
    for symbol in (*svg_marks.SYMBOLS, "circle", "circle-open"):
        assert svg_marks.mark(symbol, (5.0, 5.0), 10.0, "#000000", {}).startswith(("<path", "<circle"))


def test_text_is_folded_between_words_where_it_would_be_too_wide():
    lines = svg_text.fold("<b>a heading of several words</b><br>more", 12, 90)

    assert all(svg_text.line_width(line) <= 90 for line in lines)
    assert "".join(run.text for line in lines for run in line).split() == ["a", "heading", "of", "several", "wordsmore"]


def test_scale_of_numbers_that_are_all_alike_is_not_divided_by_nothing():
    root = parsed(strength_chart({"butt": [10.0, 10.0, 10.0]}))

    assert all(math.isfinite(x) for x, _ in dots(root))
