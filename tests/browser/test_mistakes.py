"""The eight mistakes, each tried in a browser on the demonstration's studies, and caught."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from results.demo import FOLDER, load_demo
from results.vocabulary import load_vocabulary

from .conftest import log_in
from .test_main_job import spreadsheet

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def book(settings, tmp_path):
    """Put the demonstration's files of those numbers into the book."""
    settings.DEMO = True
    settings.DATA_DIR = tmp_path / "kept"

    def put(*numbers: str) -> None:
        load_vocabulary()
        chosen = tmp_path / "files"
        chosen.mkdir()
        for number in numbers:
            (file,) = FOLDER.glob(f"{number}_*")
            (chosen / file.name).write_bytes(file.read_bytes())
        load_demo(chosen)

    return put


def choose(page, label: str, value: str) -> None:
    page.get_by_label(label, exact=True).select_option(value)
    page.wait_for_url(f"**{value}**")


def left_out(page) -> str:
    return page.locator("table", has_text="What was left out").inner_text()


def send(page, data: bytes) -> None:
    """Send a spreadsheet, as a person would."""
    log_in(page)
    page.get_by_role("button", name="Log out").wait_for()
    page.goto("/submit/")
    page.locator("[name=file]").set_input_files({"name": "tests.csv", "mimeType": "text/csv", "buffer": data})
    page.get_by_role("button", name="Send and look at it").click()
    page.wait_for_load_state()


def test_1_loads_of_two_rigs_share_no_axis(book, open_page):
    book("01", "02")  # one arm is twice as long as the other
    page = open_page("/compare/")

    choose(page, "Measured as", "peak_load")

    page.get_by_text("On this footing nothing else compares with them").wait_for()
    assert "read on another rig" in left_out(page)
    assert "choose the ratio to solid wood" in left_out(page)
    choose(page, "Measured as", "at_joint")  # what the joint feels is the same on both
    page.locator("table", has_text="The chart in numbers").get_by_text("Dowel").wait_for()
    assert "read on another rig" not in page.content()


def test_2_a_test_of_a_glue_bond_is_no_test_of_a_joint(book, open_page):
    book("01", "09")
    page = open_page("/compare/?action=shear&tests=bond&footing=stress")
    expect(page.locator("table", has_text="The chart in numbers")).to_be_visible()

    page.goto("/compare/?action=any&footing=stress")
    choose(page, "Tested", "any")

    page.get_by_text("they answer different questions, so they are not drawn on one axis").wait_for()
    assert page.locator("figure").count() == 0
    page.get_by_role("link", name="bending moment, joint tests").click()
    expect(page.locator("figure").first).to_be_visible()


def test_3_where_it_broke_and_how_much_it_took_are_read_apart(book, open_page):
    book("01")
    page = open_page("/compare/")

    section = page.locator("section", has=page.locator("#failures"))
    section.locator("summary", has_text="The same in numbers").click()
    head = section.locator("thead").inner_text()

    assert "Share, %" in head and "Geometric mean" in head
    told = section.locator("figcaption").inner_text()
    assert "a joint broke says nothing of how much it took" in told
    page.locator("img[alt^='Failure places']").wait_for()


def test_4_an_average_without_count_or_spread_is_one_shop_s_and_weighs_least(book, open_page):
    book("13")
    page = open_page("/compare/")

    words = page.locator(".verdicts").inner_text()
    assert "it can't say what another shop would find" in words
    assert "Certainty: high" not in words
    page.locator("summary", has_text="series behind it").click()
    rows = page.locator("table", has_text="The series behind the chart").locator("tbody tr").all_inner_texts()
    assert any("borrowed from like series" in row for row in rows)


def test_5_a_frame_of_four_joints_is_not_read_as_one(book, open_page):
    book("10")
    page = open_page("/compare/")

    assert "It doesn't say what a piece with several such joints holds" in page.content()
    page.goto("/studies/")
    page.get_by_role("link", name="Bench frames, racked").click()
    # 52 kg on a frame 600 mm high: each of four corners feels F h / 4.
    assert "M = H · h / 4 at each corner" in page.content()
    assert "509.9 N × 0.150 m = 76.5 N·m" in page.content()


def test_6_a_short_arm_and_fresh_glue_are_pointed_at(book, open_page):
    book("13")
    page = open_page("/")

    send(page, spreadsheet(**{"row0_setup arm": "60 mm", "row0_series cure": "3 h", "row3_series cure": "3 h"}))

    found = page.locator("main").inner_text()
    assert "so short an arm hides what leverage does to the joint" in found
    assert "fresh joints say nothing" in found


def test_7_a_pound_typed_as_a_newton_is_named(book, open_page):
    book("13")
    page = open_page("/")

    send(page, spreadsheet(**{"row4_specimen reading": "102.3 N"}))  # 455 N read as 102.3 lbf

    found = page.locator("main").inner_text()
    assert "Specimen B2 of series B is 0.21 times the others" in found
    assert "read as newtons but looks like pounds-force" in found


def test_8_a_specimen_is_not_dropped_without_a_word(book, open_page):
    book("01")
    page = open_page("/compare/")
    groups = page.locator("table", has_text="The chart in numbers").first
    held = groups.locator("thead th").all_inner_texts().index("Held")
    solid = groups.locator("tbody tr", has_text="Solid member").locator("th, td").nth(held)
    assert int(solid.inner_text()) > 0  # those that held are in, as "at least this much"

    send(page, spreadsheet(**{"row4_specimen outcome": "void"}))

    assert "void" in page.locator("main").inner_text()
    assert "reason" in page.locator("main").inner_text()
    assert not page.get_by_role("button", name="Hand in").count()
