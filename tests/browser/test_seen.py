"""Pages hold for those who see them otherwise: dark, on paper, by keyboard, in a system's colours, without motion."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import expect

from results.vocabulary import load_vocabulary
from stats.charts import look
from tests.colours import contrast, light_and_dark, turned, written

from .pages import fill_book

pytestmark = pytest.mark.django_db(transaction=True)

A4 = {"width": 718, "height": 1000}
"""What A4 leaves between margins of 10 mm [px]."""
COLOUR = "(one, [of, part]) => getComputedStyle(one, part)[of]"


@pytest.fixture
def book(settings, tmp_path):
    return fill_book(settings, tmp_path)


def test_pictures_follow_a_dark_screen_and_stay_light_where_they_leave_it(book, open_page):
    dark = light_and_dark()["dark"]
    page = open_page("/", color_scheme="dark")
    picture = page.locator("#chart-home img")

    assert corner(picture.screenshot()) == dark["sheet"] == turned(look.SHEET)

    with page.expect_download() as saved:
        page.get_by_role("button", name="Ratio to solid wood by joint as PNG").click()
    assert corner(saved.value.path().read_bytes()) == look.SHEET

    page.get_by_role("button", name="Read off single marks").click()
    drawn = page.locator("#chart-home .main-svg").first
    drawn.wait_for()
    assert corner(drawn.screenshot()) == dark["sheet"]

    page.goto("/compare/embed/strength/")
    assert corner(page.locator("img").first.screenshot()) == look.SHEET
    assert colour(page.locator("body"), "backgroundColor") == look.SHEET

    page.goto(f"/studies/{book['study']}/")
    wood = page.locator(".setup-drawing svg rect").first
    page.emulate_media(media="print", color_scheme="dark")
    assert wood.evaluate("one => getComputedStyle(one.ownerSVGElement).filter") == "none"
    assert colour(page.locator("body"), "backgroundColor") == look.SHEET


def test_the_first_page_answers_in_one_screen_and_paper_holds_whole_tables(book, open_page):
    page = open_page("/")
    ends = [page.get_by_role("heading", level=1), page.locator("#chart-home img")]
    ends += [page.locator(".front").get_by_role("link", name=door) for door in ("Submit", "Compare joints", "Take the")]

    assert [box["y"] + box["height"] < 900 for box in (one.bounding_box() for one in ends)] == [True] * 5

    page.goto("/compare/")
    page.emulate_media(media="print")
    page.set_viewport_size(A4)

    expect(page.get_by_role("navigation", name="Main")).to_be_hidden()
    for path in ("/compare/", "/evidence/", f"/studies/{book['study']}/", "/timbers/"):
        page.goto(path)
        page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true })")
        wide = page.locator(".table > table").evaluate_all(
            "all => all.filter(one => one.getBoundingClientRect().right > innerWidth).map(one => one.innerText)"
        )
        assert wide == [], path


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_what_has_the_focus_is_seen(open_page, scheme):
    paper = light_and_dark()[scheme]["paper"]
    page = open_page("/compare/", color_scheme=scheme)

    seen = []
    for _ in range(24):
        page.keyboard.press("Tab")
        one = page.locator(":focus")
        style, width = (one.evaluate(COLOUR, [of, None]) for of in ("outlineStyle", "outlineWidth"))
        seen.append((style, width, contrast(colour(one, "outlineColor"), paper) >= 3))

    assert set(seen) == {("solid", "3px", True)}


def test_a_wide_table_says_so_and_moves_by_keys(open_page):
    load_vocabulary()
    page = open_page("/timbers/", size="phone")
    frame = page.locator(".table")

    expect(page.get_by_text("More columns: swipe or scroll sideways, or use the arrow keys.")).to_be_visible()
    assert frame.get_attribute("data-more") == "right"
    frame.focus()
    for _ in range(30):
        page.keyboard.press("ArrowRight")
    expect(frame).to_have_attribute("data-more", "left")

    page.set_viewport_size({"width": 1280, "height": 900})
    expect(page.locator(".sideways")).to_be_hidden()


def test_the_system_s_colours_leave_marks_and_buttons(book, open_page):
    page = open_page(f"/studies/{book['study']}/", forced_colors="active")

    drawing = page.locator(".setup-drawing svg").first
    assert {look.INK, look.BROKE, look.SHEET} <= colours(drawing.screenshot())

    page.goto("/")
    assert {look.INK, look.SHEET} <= colours(page.locator("#chart-home img").screenshot())
    page.goto("/compare/")
    button = page.get_by_role("button", name="Compare", exact=True)
    assert button.evaluate(COLOUR, ["borderTopStyle", None]) == "solid"
    assert colour(button, "borderTopColor") != colour(button, "backgroundColor")


def test_nothing_moves_for_those_who_asked_for_that(open_page):
    page = open_page("/", reduced_motion="reduce")
    page.evaluate("""() => {
      const sheet = new CSSStyleSheet();
      sheet.replaceSync("main { transition: color 1s; animation: 1s turn; } html { scroll-behavior: smooth; }");
      document.adoptedStyleSheets = [...document.adoptedStyleSheets, sheet];
    }""")

    main = page.locator("main")
    assert main.evaluate(COLOUR, ["transitionDuration", None]) == "0s"
    assert main.evaluate(COLOUR, ["animationName", None]) == "none"
    assert page.locator("html").evaluate(COLOUR, ["scrollBehavior", None]) == "auto"


def corner(picture: bytes) -> str:
    """The colour of a picture's ground, beside its upper left corner."""
    return hexed(Image.open(io.BytesIO(picture)).convert("RGB").getpixel((3, 3)))


def colours(picture: bytes) -> set[str]:
    """All colours of a picture."""
    image = Image.open(io.BytesIO(picture)).convert("RGB")
    return {hexed(pixel) for _, pixel in image.getcolors(image.width * image.height)}


def hexed(pixel) -> str:
    return written(np.array(pixel) / 255)


def colour(one, of: str) -> str:
    """A computed colour of an element, as the style sheet writes it."""
    told = one.evaluate(COLOUR, [of, None])
    return hexed([float(part) for part in told[told.index("(") + 1 : -1].split(",")[:3]])
