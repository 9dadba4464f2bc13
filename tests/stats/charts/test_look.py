from __future__ import annotations

import numpy as np
import pytest

from stats.charts import look, ticks
from stats.charts.chart import cell
from tests.colours import contrast, light_and_dark


@pytest.mark.parametrize("token", ["sheet", "ink", "soft", "line"])
def test_palette_is_the_pages_own(token):
    assert getattr(look, token.upper()) == light_and_dark()["light"][token]


@pytest.mark.parametrize("colour", [look.INK, look.SOFT, look.BROKE, look.HELD, look.FLAGGED])
def test_marks_and_words_stand_out_from_the_sheet(colour):
    assert contrast(colour, look.SHEET) >= 4.5


def test_failure_places_are_told_apart_by_hatching_alone():
    patterns = [fill.pattern for fill in look.PLACES.values()] + [look.UNKNOWN_PLACE.pattern]

    assert len(set(patterns)) == len(patterns)


def test_spread_is_the_same_every_time_and_within_its_lane():
    offsets = look.spread(500, 0.2)

    assert np.array_equal(offsets, look.spread(500, 0.2))
    assert np.abs(offsets).max() <= 0.2
    # Filled evenly: no tenth of the lane is left empty or crowded.
    counts, _ = np.histogram(offsets, bins=10, range=(-0.2, 0.2))
    assert counts.min() >= 48 and counts.max() <= 52


def test_log_ticks_of_a_wide_axis_are_powers_of_ten_alone():
    """On a phone the words of 3 and of 10 would touch where three decades share the width."""
    assert ticks.log_ticks(0.9, 700) == [1, 10, 100]
    assert ticks.log_ticks(0.9, 200) == [1, 3, 10, 30, 100]


@pytest.mark.parametrize(("low", "high"), [(0.03, 1.1), (95, 180), (0.98, 1.02), (3, 40), (1e-3, 1e5), (4.0, 4.0)])
def test_log_ticks_give_a_narrow_and_a_wide_axis_a_few_labels(low, high):
    found = ticks.log_ticks(low, high)

    assert found == sorted(found) and all(tick > 0 for tick in found)
    if high > low:
        assert 2 <= len([t for t in found if low <= t <= high]) <= 9


def test_wrap_makes_typed_markup_harmless():
    assert look.wrap("<script>alert(1)</script>", 40) == "&lt;script&gt;alert(1)&lt;/script&gt;"


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.24318, "0.243"),
        (353.2, "353"),
        (np.int64(1240), "1\u00a0240"),
        (0, "0"),
        (float("nan"), ""),
        (None, ""),
        (np.float64(99.96), "100"),
        (True, "yes"),
        ("butt", "butt"),
    ],
)
def test_cell_shows_counts_whole_and_measures_in_three_digits(value, text):
    assert cell(value).replace(" ", "\u00a0") == text
