"""Comparing joints as a reader does: narrowing, turning to a chart, quoting a sentence, going back."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from results.vocabulary import load_vocabulary
from tests.results.pages.shops import a_shop

from .conftest import show_pictures, turn_to_chart

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def two_shops(settings, tmp_path):
    settings.DATA_DIR = tmp_path
    load_vocabulary()
    a_shop("One")
    a_shop("Two", rig=1.2)


def shown(page) -> list[str]:
    """Joints of the table, in its order."""
    return page.locator("table", has_text="The chart in numbers").locator("tbody th").all_inner_texts()


def test_a_choice_is_answered_without_a_new_page_and_stays_in_the_address(open_page):
    page = open_page("/compare/")
    page.evaluate("window.same = true")
    page.get_by_label("Measured as").focus()
    page.get_by_label("Measured as").select_option("at_joint")

    page.get_by_text("All on this axis: 20 × 40 mm").wait_for()

    assert page.evaluate("window.same") is True
    assert "footing=at_joint" in page.url and "reference" not in page.url  # what isn't chosen isn't said
    assert page.get_by_label("Measured as").evaluate("one => one === document.activeElement") is True
    page.reload()
    assert page.get_by_label("Measured as").input_value() == "at_joint"
    assert page.faults == []


def test_going_back_shows_what_was_there_with_the_form_as_it_was(open_page):
    page = open_page("/compare/")
    page.get_by_label("Measured as").select_option("at_joint")
    page.get_by_text("All on this axis").wait_for()

    page.go_back()

    page.get_by_text("All on this axis").wait_for(state="detached")
    assert page.get_by_label("Measured as").input_value() == "ratio_solid"
    assert shown(page) == ["Blind mortise and tenon", "Glued butt"]


def test_a_joint_is_found_among_many_and_chosen(open_page):
    page = open_page("/compare/")
    page.locator("summary", has_text="Joints: all").click()
    page.get_by_label("Find a joint").fill("blind")
    assert page.locator(".choice:visible").count() == 1

    page.locator(".choice:visible input").check()

    page.locator("#chosen-joints", has_text="Blind mortise and tenon").wait_for()
    assert shown(page) == ["Blind mortise and tenon"]
    assert "joint=mt_blind" in page.url


def test_narrowing_works_without_javascript(open_page):
    page = open_page("/compare/", javascript=False, size="phone")
    page.get_by_label("Measured as").select_option("at_joint")
    page.get_by_role("button", name="Compare").click()

    expect(page.get_by_text("All on this axis: 20 × 40 mm")).to_be_visible()
    expect(page.locator("figure img").first).to_be_visible()
    assert not page.get_by_role("button", name=re.compile("Read off|copy|PNG")).count()


def test_plotly_is_fetched_only_when_a_reader_turns_to_a_chart(open_page):
    page = open_page("/compare/")
    fetched = []
    page.on("request", lambda request: fetched.append(request.url))
    page.reload()
    page.wait_for_load_state("networkidle")
    assert not [url for url in fetched if "plotly" in url or ".json" in url]

    words = turn_to_chart(page)

    assert "Ratio to solid wood" in words and "Blind mortise" in words
    assert len([url for url in fetched if "plotly" in url]) == 1
    assert page.faults == []


def test_a_narrowed_chart_can_be_turned_to_as_well(open_page):
    page = open_page("/compare/")
    page.get_by_label("Measured as").select_option("at_joint")
    page.get_by_text("All on this axis").wait_for()

    assert "Moment at the joint, M [N·m]" in turn_to_chart(page)


def test_a_sentence_is_copied_whole(open_page):
    page = open_page("/compare/")
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])

    page.get_by_role("button", name="copy the sentence").first.click()

    page.get_by_role("button", name="copied").wait_for()
    copied = page.evaluate("navigator.clipboard.readText()")
    assert copied.startswith("Bent until they broke, and compared by ratio to solid wood")
    assert "Certainty: " in copied and "doesn't say what a piece" in copied


def test_the_picture_is_saved_as_png(open_page):
    page = open_page("/compare/")

    with page.expect_download() as saved:
        page.get_by_role("button", name="Strength by joint as PNG").click()

    assert saved.value.suggested_filename == "breakbook-strength.png"
    assert saved.value.path().read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"


def test_a_chart_stands_alone_in_a_frame(open_page, live_server):
    page = open_page("/compare/embed/strength/?joint=butt&joint=mt_blind")

    assert page.locator("nav").count() == 0
    show_pictures(page)
    assert page.evaluate("document.images[0].naturalWidth") > 0
    expect(page.get_by_role("link", name=re.compile("From|Breakbook")).first).to_be_visible()
