"""The sentences of the page of all studies together, case by case."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from results.evidence.linked_numbers import Difference, Pair, Spread
from results.pages import network_words as words
from stats.inference.log_ratios import Contrast
from stats.interval import Interval

NAMES = {"dowel": "Dowel", "butt": "Glued butt"}


def contrast(ratio: float, low: float, high: float, *, studies: int = 4, ahead: bool = True) -> Contrast:
    ends = Interval(float(np.log(low)), float(np.log(high)), 0.95)
    wide = Interval(ends.low - 0.5, ends.high + 0.5, 0.95) if ahead else None
    return Contrast("dowel", "butt", float(np.log(ratio)), 0.1, ends, wide, studies, "network", 5)


def pair(direct=None, indirect=None, *, whole=None, p=None, note="") -> Pair:
    gap = Difference(2.0, p) if p is not None else None
    return Pair("dowel", "butt", whole or contrast(2.0, 1.5, 2.7), direct, indirect, gap, pd.DataFrame(), note)


def test_pair_that_agrees_is_read_together():
    said = " ".join(words.of_pair(pair(contrast(2.0, 1.5, 2.7), contrast(2.2, 1.2, 4.0), p=0.4), NAMES))

    assert "Dowel took 2.00 times (95 % interval 1.50 to 2.70) what glued butt took in the 4 studies" in said
    assert "agree within their errors (direct is 2.00 times indirect, p = 0.40), so they may be read together" in said
    assert "The interval lies above 1: over all shops dowel is the stronger." in said
    assert "The next shop that tests both should expect 0.910 to 4.45." in said


def test_pair_that_disagrees_is_not_to_be_quoted_unread():
    said = " ".join(words.of_pair(pair(contrast(3.0, 2.5, 3.6), contrast(1.2, 1.0, 1.4), p=0.0002), NAMES))

    assert "The two kinds of evidence disagree (direct is 2.00 times indirect, p < 0.001)" in said
    assert "an average of things that differ" in said
    assert "agree within" not in said


def test_pair_of_direct_evidence_alone_says_so():
    one = contrast(0.5, 0.4, 0.6, studies=1, ahead=False)
    said = words.of_pair(pair(one, whole=one, note="One study only."), NAMES)

    assert said[0].startswith("All that is known is direct: in the one study that tested both, dowel took 0.500 times")
    assert said[1] == "The interval lies below 1: over all shops glued butt is the stronger."
    assert said[2] == "One study only."


def test_pair_of_indirect_evidence_alone_says_that_no_study_tested_both():
    wide = contrast(1.2, 0.8, 1.8, studies=0)
    said = words.of_pair(pair(indirect=wide, whole=wide), NAMES)

    assert said[0].startswith("No study tested both: dowel took 1.20 times")
    assert said[1] == "The interval holds 1: the two can't be told apart."


def test_spread_is_told_as_a_factor():
    said = words.heterogeneity(Spread(float(np.log(1.5)), Interval(0.2, 0.9, 0.95), 0.83))

    assert "within a factor of about 1.5 of the mean" in said
    assert "95 % interval of the factor 1.22 to 2.46" in said
    assert "(I² = 83 %)" in said


def test_spread_of_nothing_seen_is_no_proof_that_there_is_none():
    said = words.heterogeneity(Spread(0.0, Interval(0.0, np.inf, 0.95), 0.0))

    assert "Studies differ no more than the scatter of their own specimens explains" in said
    assert "1.00 to any size" in said
    assert "a difference may still be there, unseen" in said


def test_spread_that_can_not_be_seen_says_so():
    assert "can't be seen" in words.heterogeneity(None)


@pytest.mark.parametrize(
    ("p", "said"),
    [
        (None, "can't be tested"),
        (0.3, "agree on one set of ratios as well as their errors let one expect (design-by-treatment test: Q = 4.10"),
        (0.01, "do not agree on one set of ratios (design-by-treatment test: Q = 4.10, df = 2, p = 0.010)"),
    ],
)
def test_inconsistency_in_a_sentence(p, said):
    fitted = SimpleNamespace(inconsistency=SimpleNamespace(q=4.1, df=2, p=p))

    assert said in words.inconsistency(fitted)


def influence_frame(*rows) -> pd.DataFrame:
    columns = ["study", "joint_name", "ratio", "without", "shift_in_se", "rests"]
    return pd.DataFrame(rows, columns=columns)


def test_influence_of_one_study_has_nothing_to_set_against_it():
    frame = influence_frame(("Only", None, np.nan, np.nan, np.nan, ("Dowel",)))

    assert words.of_influence(frame, "Glued butt") == [
        "Only “Only” tells on these ratios: there is no other study to set it against."
    ]


def test_influence_says_when_no_study_moves_much_and_which_joints_hang_on_one():
    frame = influence_frame(
        ("First", "Dowel", 2.0, 2.1, 0.4, ()),
        ("Second", "Dowel", 2.0, 1.95, 0.3, ()),
        ("Third", None, np.nan, np.nan, np.nan, ("Mitre", "Box joint", "Bridle")),
    )

    said = words.of_influence(frame, "Glued butt")

    assert said[0].startswith("Leaving out “First” moves a ratio most: dowel to glued butt goes from 2.00 to 2.10")
    assert said[1] == "No study moves any ratio by as much as its standard error."
    assert said[2] == (
        "Mitre, box joint and bridle hang on “Third” alone: without it nothing links them to glued butt."
    )


def test_influence_lists_only_so_many_studies_that_joints_hang_on():
    frame = influence_frame(*((f"S{i}", None, np.nan, np.nan, np.nan, ("Mitre",)) for i in range(9)))

    assert words.of_influence(frame, "Glued butt")[-1] == "So do others on 3 more studies."


def test_figures_are_not_broken_over_lines():
    assert words.tied("p = 0.5, 97 %") == "p\u00a0=\u00a00.5, 97\u00a0%"
