"""All studies together as a reader uses it: two joints chosen with and without JavaScript, a part shown by itself."""

from __future__ import annotations

import pytest

from results.vocabulary import load_vocabulary
from tests.results.pages.linked_book import APART, STUDIES, a_book

from .conftest import turn_to_chart

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def book(settings, tmp_path):
    settings.DATA_DIR = tmp_path
    load_vocabulary()
    a_book(*STUDIES, APART)


@pytest.mark.parametrize("javascript", [False, True])
def test_two_joints_are_chosen_and_the_choices_stay(open_page, javascript):
    page = open_page("/compare/network/?level=0.9&reference=mt_blind", size="phone", javascript=javascript)

    page.get_by_label("This joint").select_option("lap_half")
    page.get_by_label("against", exact=True).select_option("mt_blind")
    page.get_by_role("button", name="Look closer").click()

    page.get_by_role("heading", name="Half-lap against Blind mortise and tenon").wait_for()
    assert page.get_by_text("Half-lap took").count() == 1
    assert page.get_by_label("This joint").input_value() == "lap_half"
    assert "level=0.9" in page.url and "reference=mt_blind" in page.url and page.url.endswith("#pair")
    assert page.get_by_role("heading", name="Every joint against Blind mortise and tenon").count() == 1
    picture = page.locator("#chart-pair img")
    picture.scroll_into_view_if_needed()
    assert picture.evaluate("image => image.decode().then(() => image.naturalWidth)") > 0
    assert page.faults == []


def test_a_part_is_shown_against_a_reference_of_its_own(open_page):
    page = open_page("/compare/network/", javascript=False)

    page.get_by_role("link", name="show part 2 against a reference of its own").click()

    heading = page.get_by_role("heading", name="Every joint against")
    assert heading.inner_text().removeprefix("Every joint against ") in ("Mitre", "Bridle")


def test_single_marks_can_be_read_off(open_page):
    page = open_page("/compare/network/")

    drawn = turn_to_chart(page)

    assert "Ratio to Glued butt" in drawn and "Half-lap" in drawn
    assert page.faults == []
