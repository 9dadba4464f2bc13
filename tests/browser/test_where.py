"""Where it broke, picked on the drawing with a thumb, a mouse or a keyboard."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from results.vocabulary import load_vocabulary
from tests.factories import make_user

from .conftest import log_in

pytestmark = pytest.mark.django_db(transaction=True)

FORM = "/submit/form/?loading=cantilever_arm&instrument=luggage_scale&joint=butt&joint=dowel&specimens=3"
SUMMARY = "Where it broke: the places on a drawing"


@pytest.fixture
def form(open_page):
    load_vocabulary()
    make_user("maker")

    def opened(**more):
        page = open_page("/", **more)
        log_in(page, password="sawdust")
        page.goto(FORM)
        return page

    return opened


def places(page) -> list[str]:
    names = [f"specimen-{at}-{row}-failure_place" for at in (0, 1) for row in range(3)]
    return [page.locator(f'[name="{name}"]').input_value() for name in names]


def test_places_picked_go_into_the_rows_one_after_the_other(form):
    page = form(size="phone")
    for row, reading in ((0, "40"), (1, "42"), (2, "41")):
        page.locator(f'[name="specimen-0-{row}-reading"]').fill(reading)
    page.locator('[name="specimen-0-1-outcome"]').select_option("held")
    page.locator('[name="specimen-0-0-reading"]').focus()

    page.get_by_text(SUMMARY).click()
    page.locator('.where-drawing [data-place="socket_wall"]').get_by_text("4", exact=True).click()
    # A specimen that held broke nowhere, so that the third is next.
    done = page.locator("[data-where-done]")
    assert done.inner_text() == "Series 1, specimen 1: mortise or socket wall. Next: series 1, specimen 3."
    page.get_by_role("button", name="Pick 1, bond line").press("Enter")

    assert places(page) == ["socket_wall", "", "bond_line", "", "", ""]
    assert done.inner_text().endswith("No other row waits for one.")
    page.locator('[name="specimen-1-2-reading"]').focus()
    page.get_by_role("button", name="Pick 6, mixed").click()
    assert places(page)[5] == "mixed"
    assert page.faults == []


def test_drawing_is_there_without_scripts_and_offers_nothing_that_would_not_work(form):
    page = form(javascript=False)

    page.get_by_text(SUMMARY).click()

    expect(page.locator(".where-drawing svg")).to_be_visible()
    assert page.locator("[data-pick]:visible").count() == 0
    page.locator('[name="specimen-0-0-failure_place"]').select_option("member")
    assert places(page)[0] == "member"
