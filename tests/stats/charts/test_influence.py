from __future__ import annotations

import pandas as pd
import pytest

from stats.charts.influence import MOST_DRAWN, influence
from stats.errors import StatsError

from .frames import NAN

ABOUT = "ratio to solid wood; 3 studies"


def make_frame(*rows) -> pd.DataFrame:
    given = rows or (
        ("Rails into posts", "Dowel", 2.0, 2.1, 0.3),
        ("Evening class", "Dowel", 2.0, 3.0, 1.6),
        ("Carcase corners", "Plate", NAN, NAN, NAN),
        ("Bench frames", "Half-lap", 6.0, 4.5, 0.9),
    )
    return pd.DataFrame(given, columns=["study", "joint_name", "ratio", "without", "shift_in_se"])


def draw(frame=None):
    return influence(make_frame() if frame is None else frame, reference="Butt", about=ABOUT)


def test_influence_puts_the_study_that_moves_most_on_top():
    chart = draw()

    labels = [label.split("<br>")[0] for label in chart.figure.layout.yaxis.ticktext]
    assert labels == ["<b>Evening class</b>", "<b>Bench frames</b>", "<b>Rails into posts</b>"]
    assert chart.table["Without"].tolist() == ["Evening class", "Bench frames", "Rails into posts"]
    assert chart.table["Ratio without it"].tolist() == [3.0, 4.5, 2.1]


def test_influence_draws_how_far_the_ratio_goes_from_one():
    chart = draw()

    marks = [one for one in chart.figure.data if one.mode == "markers+text"]
    assert [list(one.x) for one in marks] == [[1.5], [0.75, 1.05]]
    assert len({one.marker.symbol for one in marks}) == 2
    bars = next(one for one in chart.figure.data if one.mode == "lines")
    assert [x for x in bars.x if x is not None] == [1.0, 1.5, 0.75, 1.0, 1.0, 1.05]
    assert marks[0].text == ("2.00 → 3.00",)


def test_influence_of_many_studies_draws_those_that_move_most():
    rows = [(f"Study {i}", "Dowel", 2.0, 2.0 + 0.01 * i, 0.1 * i) for i in range(MOST_DRAWN + 8)]

    chart = draw(make_frame(*rows))

    assert len(chart.figure.layout.yaxis.ticktext) == MOST_DRAWN
    assert len(chart.table) == MOST_DRAWN + 8
    assert f"The {MOST_DRAWN} that move most of {MOST_DRAWN + 8} are drawn" in chart.summary


def test_influence_words_at_the_outermost_marks_stay_within_the_picture():
    assert draw().to_svg(350).count("<text") > 6
    low, high = draw().figure.layout.xaxis.range
    assert 10**low < 0.75 / 1.05 and 10**high > 1.5 * 1.05


def test_influence_makes_typed_markup_harmless():
    assert "<script" not in draw(make_frame(("<script>x</script>", "Dowel", 2.0, 3.0, 1.0))).to_svg(350)


def test_influence_of_studies_that_none_can_leave_out_is_refused():
    with pytest.raises(StatsError, match="must hold a study that can be left out"):
        draw(make_frame(("Only one", "Dowel", NAN, NAN, NAN)))
