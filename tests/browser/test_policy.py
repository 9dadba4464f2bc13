"""The browser holds every page to the content policy; nothing that a page needs is held back by it.

Pages as they open are looked at by the tests of all pages, whose console must be empty; here is what comes later.
"""

from __future__ import annotations

import pytest

from tests.factories import make_study, make_timber, make_user

from .conftest import log_in
from .pages import fill_book

pytestmark = pytest.mark.django_db(transaction=True)

CHARTS = [
    "/compare/embed/strength/",
    "/compare/network/",
    "/studies/{study}/",
    "/joints/mt_blind/",
    "/compare/",
]
STAFF = [
    "",
    "auth/user/",
    "auth/user/add/",
    "auth/user/{user}/change/",
    "results/timber/",
    "results/timber/oak_northern_red/change/",
    "results/study/{study}/change/",
]
WATCH = """document.addEventListener("securitypolicyviolation", (event) => {
  const where = `${event.blockedURI} ${event.sourceFile}:${event.lineNumber}`;
  window.held = (window.held || []).concat(`${event.effectiveDirective}: ${where}`);
});"""


@pytest.fixture
def page(open_page):
    page = open_page("/methods/")
    page.add_init_script(WATCH)
    return page


def held(page) -> list[str]:
    return page.evaluate("window.held || []")


def turn_to_all(page) -> int:
    """Ask for the single marks of every chart on the page; how many there are."""
    buttons = page.locator("[data-closer]")
    for number in range(buttons.count()):
        buttons.nth(number).click()
        page.locator(".js-plotly-plot .main-svg").nth(number).wait_for()
    return buttons.count()


def test_charts_and_the_reference_work_under_the_policy(settings, tmp_path, page):
    book = fill_book(settings, tmp_path)
    found = {}
    for path in CHARTS:
        page.goto(path.format(**book))
        assert turn_to_all(page), path
        found[path] = held(page)
    assert found == dict.fromkeys(CHARTS, [])

    # A chart's rules and bold words go another way into the page than plotly would send them; they are there.
    drawn = page.locator(".js-plotly-plot").first
    assert drawn.locator(".main-svg").first.evaluate("one => getComputedStyle(one).position") == "absolute"
    weights = "all => all.map(one => getComputedStyle(one).fontWeight)"
    assert {"400", "700"} <= set(drawn.locator("tspan").evaluate_all(weights))
    drawn.locator(".points path").first.hover(force=True)
    drawn.locator(".hoverlayer .hovertext").first.wait_for()
    with page.expect_download() as kept:
        page.get_by_role("button", name="PNG").first.click()
    assert kept.value.suggested_filename.endswith(".png")
    assert held(page) == []

    page.goto("/api/v1/reference/")
    page.locator(".opblock-tag").first.click()
    page.locator(".opblock-summary-control").first.click()
    page.get_by_role("button", name="Try it out").first.click()
    page.get_by_role("button", name="Execute").first.click()
    page.locator(".live-responses-table").first.wait_for()
    assert held(page) == []
    assert page.faults == []


def test_pages_for_staff_work_under_the_policy(page):
    boss = make_user("boss", is_staff=True, is_superuser=True)
    make_timber()
    where = {"user": boss.pk, "study": make_study().pk}
    log_in(page, "boss", "sawdust")
    found = {}
    for path in STAFF:
        page.goto(f"/admin/{path.format(**where)}")
        assert page.locator("#content").count(), path
        found[path] = held(page)

    assert found == dict.fromkeys(STAFF, [])
    assert page.faults == []


def test_what_is_not_allowed_is_held_back(page):
    """The policy is there at all: a script and a style in the page itself do nothing, nor does what is elsewhere."""
    page.goto("/methods/")
    page.evaluate("""() => {
      const script = document.createElement("script");
      script.textContent = "window.ran = true";
      document.body.append(script);
      document.body.setAttribute("style", "color: red");
      const elsewhere = new Image();
      elsewhere.src = "https://elsewhere.example/mark.png";
      document.body.append(elsewhere);
    }""")
    page.evaluate("""async () => {
      while ((window.held || []).length < 3) await new Promise(later => setTimeout(later, 50));
    }""")

    assert page.evaluate("window.ran") is None
    assert {one.split(":")[0] for one in held(page)} == {"script-src-elem", "style-src-attr", "img-src"}
