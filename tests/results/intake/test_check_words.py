"""Words are found however they are written, and where one isn't known the nearest are named."""

from __future__ import annotations

import pytest

from results.intake.words import Words

from .made import flat, sent, told

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def test_check_finds_words_by_code_name_or_other_name_in_any_case():
    for joint in ("mt_blind", "BLIND MORTISE AND TENON", "stopped tenon", "mt-blind"):
        assert sent(flat(series_joint=joint)).draft.series[0].joint_id == "mt_blind"


@pytest.mark.parametrize("typed", ["red oak", "Oak red", "OAK,  red"])
def test_check_suggests_timbers_whose_names_hold_all_words(typed):
    assert "Did you mean Oak, northern red (oak_northern_red) or Oak, southern red (oak_southern_red)?" in told(
        sent(flat(series_timber=typed)), "unknown-word"
    )


def test_check_suggests_by_letters_where_no_name_holds_the_words():
    assert "Did you mean Oak, northern red" in told(sent(flat(series_timber="nothern red oak")), "unknown-word")


@pytest.mark.parametrize(
    ("text", "first"), [("red oak", ["oak_northern_red"]), ("oak", ["oak_northern_red", "oak_white", "oak_black"])]
)
def test_words_near_a_bare_timber_begin_with_the_common_ones(text, first):
    assert [row.pk for row in Words().nearest("Timber", text)][: len(first)] == first


def test_words_near_a_text_keep_their_own_order_among_names_that_hold_it():
    words = Words()
    near = words.nearest("Joint", "mortise")

    assert len(near) > 1
    assert near == [row for row in words.rows("Joint") if row in near]
