from __future__ import annotations

import itertools
import math

import pandas as pd
import pytest

from stats.charts.graph import FEW_LINES, MOST_NAMED, MOST_NUMBERED, graph, joints_table, pairs_table
from stats.charts.graph_places import MOST_JOINTS, WIDE_PX
from stats.charts.svg_text import line_width, lines
from stats.errors import StatsError

ABOUT = "ratio to solid wood; 5 studies"


def make_nodes(parts: dict[str, int], **specimens: int) -> pd.DataFrame:
    rows = [
        {"joint": code, "joint_name": f"The {code}", "specimens": specimens.get(code, 20), "studies": 2, "part": part}
        for code, part in parts.items()
    ]
    return pd.DataFrame(rows)


def make_edges(*pairs: tuple[str, str, int]) -> pd.DataFrame:
    return pd.DataFrame(pairs, columns=["joint", "versus", "studies"])


def draw(nodes, edges, reference="a"):
    return graph(nodes, edges, reference=reference, about=ABOUT)


def ring(count: int) -> tuple[pd.DataFrame, pd.DataFrame]:
    codes = [f"j{i}" for i in range(count)]
    pairs = [(a, b, 1 + i % 4) for i, (a, b) in enumerate(itertools.combinations(codes, 2))]
    return make_nodes(dict.fromkeys(codes, 1)), make_edges(*pairs)


def segments(chart) -> dict[tuple[tuple[float, float], tuple[float, float]], float]:
    """The lines between joints, with their width."""
    found = {}
    for one in chart.figure.data:
        if one.mode == "lines":
            ends = [place for place in zip(one.x, one.y, strict=True) if place[0] is not None]
            found |= {(ends[i], ends[i + 1]): one.line.width for i in range(0, len(ends), 2)}
    return found


def marks(chart) -> dict[tuple[float, float], float]:
    """Where the joints' marks are, with their size."""
    named = [one for one in chart.figure.data if one.name in ("the reference",) or (one.name or "").startswith("joint")]
    return {
        place: size
        for one in named
        for place, size in zip(zip(one.x, one.y, strict=True), one.marker.size, strict=True)
    }


def test_graph_joins_what_was_tested_together_and_nothing_else():
    nodes = make_nodes({"a": 1, "b": 1, "c": 1, "d": 1})
    chart = draw(nodes, make_edges(("a", "b", 1), ("a", "c", 3)))

    assert sorted(segments(chart).values()) == [1.5, 4.0]
    places = {end for ends in segments(chart) for end in ends}
    assert len(places) == 3 and places < set(marks(chart))


def test_graph_numbers_its_lines_and_widens_them_with_the_studies():
    chart = draw(make_nodes({"a": 1, "b": 1, "c": 1}), make_edges(("a", "b", 1), ("b", "c", 4)))

    (numbers,) = [one for one in chart.figure.data if one.mode == "markers+text"]
    assert sorted(numbers.text) == ["1", "4"]
    assert "The b and The c: 4 studies with both" in numbers.hovertext
    # A number stands on its own line.
    for x, y, text in zip(numbers.x, numbers.y, numbers.text, strict=True):
        wide = {"1": 1.5, "4": 5.5}[text]
        ((one, other),) = [ends for ends, width in segments(chart).items() if width == wide]
        length = math.dist(one, other)
        assert math.dist(one, (x, y)) + math.dist((x, y), other) == pytest.approx(length)


def test_graph_sizes_marks_by_specimens_and_tells_the_reference_by_its_shape():
    chart = draw(make_nodes({"a": 1, "b": 1, "c": 1}, b=200, c=5), make_edges(("a", "b", 1), ("a", "c", 1)))

    joints = next(one for one in chart.figure.data if (one.name or "").startswith("joint"))
    reference = next(one for one in chart.figure.data if one.name == "the reference")
    assert joints.marker.size[0] > joints.marker.size[1]
    assert joints.marker.symbol != reference.marker.symbol
    assert "The b</b><br>2 studies, 200 specimens" in joints.hovertext[0]


def test_graph_draws_parts_apart_with_a_heading_each():
    nodes = make_nodes({"a": 1, "b": 1, "c": 2, "d": 2, "e": 3})
    chart = draw(nodes, make_edges(("a", "b", 1), ("c", "d", 1)))

    words = [text for one in chart.figure.data if one.mode == "text" for text in one.text]
    assert {"<b>Part 1: 2 joints</b>", "<b>Part 2: 2 joints</b>", "<b>Tested with no other joint</b>"} <= set(words)
    lowest_first = min(y for (_, y) in list(segments(chart))[0])
    highest_second = max(y for (_, y) in list(segments(chart))[1])
    assert highest_second < lowest_first
    assert "joints of different parts can't be compared" in chart.summary


@pytest.mark.parametrize("count", [2, 3, 4, 5, 8, MOST_NAMED])
def test_graph_names_stand_within_the_narrow_drawing_and_clear_of_each_other(count):
    nodes, edges = ring(count)
    chart = draw(nodes.assign(joint_name="Haunched mortise and tenon"), edges, reference="j0")

    boxes = []
    for one in chart.figure.data:
        if one.mode != "text":
            continue
        for x, y, text in zip(one.x, one.y, one.text, strict=True):
            rows = lines(text, one.textfont.size)
            wide, high = max(line_width(row) for row in rows), 15 * len(rows)
            left = {"middle right": x + 9, "middle left": x - 9 - wide}.get(one.textposition, x - wide / 2)
            middle = {"top center": y + 9 + high / 2, "bottom center": y - 9 - high / 2}.get(one.textposition, y)
            boxes.append((left, left + wide, middle - high / 2, middle + high / 2))
    assert len(boxes) == count
    assert all(left >= -8 and right <= WIDE_PX + 8 for left, right, _, _ in boxes)
    for one, other in itertools.combinations(boxes, 2):
        apart = one[1] <= other[0] or other[1] <= one[0] or one[3] <= other[2] or other[3] <= one[2]
        assert apart, (one, other)


@pytest.mark.parametrize("count", [2, 3, 6, MOST_NAMED, MOST_NAMED + 1, 16, MOST_JOINTS])
def test_graph_marks_do_not_touch_and_no_line_runs_through_the_middle_of_a_third(count):
    nodes, edges = ring(count)
    found = marks(draw(nodes, edges, reference="j0"))

    assert len(found) == count
    for (one, size), (other, also) in itertools.combinations(found.items(), 2):
        assert math.dist(one, other) > (size + also) / 2
    for (a, b), c in itertools.product(itertools.combinations(found, 2), found):
        if c not in (a, b):
            off = abs((b[0] - a[0]) * (a[1] - c[1]) - (a[0] - c[0]) * (b[1] - a[1])) / math.dist(a, b)
            within = (
                min(a[1], b[1]) - 1 <= c[1] <= max(a[1], b[1]) + 1
                and min(a[0], b[0]) - 1 <= c[0] <= max(a[0], b[0]) + 1
            )
            assert not within or off > 4, (a, b, c)


def test_graph_of_many_joints_holds_numbers_and_a_key_names_them():
    nodes, edges = ring(MOST_NAMED + 1)
    chart = draw(nodes, edges, reference="j0")

    inside = [text for one in chart.figure.data if one.name and one.text for text in one.text]
    assert sorted(inside, key=int) == [str(i) for i in range(1, MOST_NAMED + 2)]
    words = [text for one in chart.figure.data if one.mode == "text" for text in one.text]
    assert "<b>3</b> The j2 (20)" in words
    assert "The key below names the numbers" in chart.summary


def test_graph_of_many_lines_numbers_those_of_several_studies_only():
    nodes, edges = ring(10)
    assert len(edges) > FEW_LINES
    numbers = [one for one in draw(nodes, edges, "j0").figure.data if one.mode == "markers+text" and not one.name]

    assert len(numbers[0].text) == int((edges["studies"] > 1).sum())
    assert "1" not in numbers[0].text
    assert "A line without a number is of one study" in draw(nodes, edges, "j0").summary


def test_graph_of_very_many_joints_draws_those_that_most_studies_hold():
    nodes, edges = ring(60)
    nodes["studies"] = range(60)
    chart = draw(nodes, edges, reference="j0")

    assert len(marks(chart)) == MOST_JOINTS
    (reference,) = [one for one in chart.figure.data if one.name == "the reference"]
    assert "The j0" in reference.hovertext[0]
    assert f"Only the {MOST_JOINTS} joints that most studies hold are drawn" in chart.summary
    assert f"Numbers stand on the {MOST_NUMBERED} lines of most studies" in chart.summary
    assert len(chart.table) == len(edges)


def test_graph_table_twin_lists_every_pair_the_best_tested_first():
    nodes, edges = make_nodes({"a": 1, "b": 1, "c": 1}), make_edges(("a", "b", 1), ("b", "c", 4))

    assert pairs_table(nodes, edges).values.tolist() == [["The b", "The c", 4], ["The a", "The b", 1]]
    assert joints_table(nodes).columns.tolist() == ["Joint", "Studies", "Specimens"]
    assert "Part" in joints_table(make_nodes({"a": 1, "b": 2}))


def test_graph_of_a_published_mean_without_a_count_gives_none():
    nodes = make_nodes({"a": 1, "b": 1}, b=0)
    chart = draw(nodes, make_edges(("a", "b", 1)))

    words = [text for one in chart.figure.data if one.mode == "text" for text in one.text]
    assert any("The b" in text and "count not given" in text for text in words)
    assert joints_table(nodes)["Specimens"].isna().tolist() == [False, True]


def test_graph_makes_typed_markup_harmless():
    nodes = make_nodes({"a": 1, "b": 1}).assign(joint_name="<script>x</script>")

    chart = draw(nodes, make_edges(("a", "b", 1)))

    assert "<script" not in chart.to_svg(350)
    assert "<script" not in str(chart.to_json())


@pytest.mark.parametrize(
    ("nodes", "edges", "message"),
    [
        (make_nodes({"a": 1}).head(0), make_edges(), "nodes has no rows"),
        (make_nodes({"a": 1, "b": 1}), make_edges(("a", "z", 1)), "edges names z, which is not among the joints"),
    ],
)
def test_graph_refuses_what_it_cannot_draw(nodes, edges, message):
    with pytest.raises(StatsError, match=message):
        draw(nodes, edges)
