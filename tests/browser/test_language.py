"""Pages in German in a browser: accessible, and their long words fit a phone; a choice in the foot holds."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from .conftest import log_in
from .pages import FORM, fill_book, look_at

pytestmark = pytest.mark.django_db(transaction=True)
PAGES = ["/", "/compare/", "/joints/mt_blind/", "/piece/chair_leaned/"]


def in_german(page) -> None:
    page.context.add_cookies([{"name": "language", "value": "de", "url": page.url}])


def test_german_pages_are_accessible_and_fit(settings, tmp_path, open_page):
    book = fill_book(settings, tmp_path)
    page = open_page("/", size="phone")
    log_in(page)
    in_german(page)

    troubles = {path: look_at(page, path.format(**book)) for path in [*PAGES, FORM]}

    assert page.locator("html").get_attribute("lang") == "de"
    assert {path: found for path, found in troubles.items() if found} == {}


def test_what_a_reader_chooses_in_the_foot_holds_on_the_next_page(vocabulary, open_page):
    page = open_page("/joints/")

    page.get_by_label("Language").select_option("de")
    page.get_by_role("button", name="Show so").click()
    expect(page.get_by_role("heading", name="Verbindungen", exact=True)).to_be_visible()
    page.get_by_role("link", name="Studien", exact=True).first.click()

    expect(page.locator("h1")).to_have_text("Studien")
    page.get_by_label("Sprache").select_option("en")
    page.get_by_role("button", name="So anzeigen").click()
    expect(page.locator("h1")).to_have_text("Studies")
