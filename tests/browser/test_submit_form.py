"""The form under the hands: the grid, pasting, readings in SI, two tabs, a login that ran out."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from results.models import FormDraft
from results.vocabulary import load_vocabulary
from tests.factories import make_user

from .conftest import log_in
from .test_main_job import fill
from .test_submit_bench import state, violations

pytestmark = pytest.mark.django_db(transaction=True)

FORM = "/submit/form/?loading=cantilever_arm&instrument=luggage_scale&joint=butt&joint=mt_blind&specimens=3"
PASTE = """(text) => {
    const data = new DataTransfer();
    data.setData("text/plain", text);
    const more = { clipboardData: data, bubbles: true, cancelable: true };
    document.activeElement.dispatchEvent(new ClipboardEvent("paste", more));
}"""


@pytest.fixture
def maker():
    load_vocabulary()
    return make_user("maker")


def opened(open_page, size="desk", path=FORM):
    page = open_page("/login/", size=size)
    log_in(page, "maker", "sawdust")
    page.get_by_role("button", name="Log out").wait_for()
    page.goto(path)
    return page


def field(page, name):
    return page.locator(f"[name='{name}']")


def readings(page, at=0, column="reading"):
    cells = page.locator(f"[name^='specimen-{at}-'][name$='-{column}']")
    return [cells.nth(number).input_value() for number in range(cells.count())]


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_grid_is_filled_by_keys_alone(maker, open_page, size):
    page = opened(open_page, size)

    field(page, "specimen-0-0-reading").focus()
    for text in ("118", "120,5", "1/2 kN"):
        page.keyboard.type(text)
        page.keyboard.press("Enter")
    # From the foot of the column to the head of the next that is not filled in by itself.
    assert page.evaluate("document.activeElement.name") == "specimen-0-0-failure_place"
    for text in ("2", "1", "5"):  # as the drawing numbers them
        page.keyboard.type(text)
        page.keyboard.press("Enter")

    assert readings(page) == ["118", "120,5", "1/2 kN"]
    assert readings(page, column="failure_place") == ["wood_beside_bond", "bond_line", "member"]
    assert page.evaluate("document.activeElement.name") == "specimen-0-0-wood_failure"
    field(page, "specimen-0-1-outcome").focus()
    page.keyboard.type("h")
    assert field(page, "specimen-0-1-outcome").input_value() == "held"
    page.get_by_role("button", name="Add 5 specimen rows").first.click()
    assert page.evaluate("document.activeElement.name") == "specimen-0-3-reading"
    assert len(readings(page)) == 8
    assert field(page, "series-0-rows").input_value() == "8"
    assert violations(page) == []
    assert page.url.endswith("specimens=3") or "draft=" in page.url  # no page was asked for


def test_pasted_cells_fill_the_grid_and_what_is_left_out_is_said(maker, open_page):
    page = opened(open_page)
    field(page, "specimen-0-1-reading").fill("7")
    field(page, "specimen-0-0-reading").focus()

    page.evaluate(PASTE, "load\tend\n118,5 kg\tbroke\tbond\t40\n120\theld\n125\tb\tno such place\t\t\t\textra\n131\n")

    told = page.locator("[data-grid='0'] [data-pasted]").inner_text()
    assert readings(page) == ["118,5 kg", "120", "125", "131"]
    assert readings(page, column="outcome") == ["broke", "held", "broke", "broke"]
    assert readings(page, column="failure_place") == ["bond_line", "", "no such place", ""]
    assert told.startswith("4 rows filled in, 1 of them new, read as reading, outcome, failure place, wood failure")
    assert "1 value that stood there was replaced." in told
    assert "the first row, which looks like headings (load, end)" in told
    assert "“extra” in row 3, column 7: there is no column for it" in told
    page.locator("#specimen-0-2-failure_place-found", has_text="is not in the vocabulary").wait_for()

    field(page, "specimen-1-0-reading").focus()
    page.evaluate(PASTE, "\n".join(str(number) for number in range(1, 105)))
    assert len(readings(page, 1)) == 100
    assert "rows 101 to 104: the form holds 100 specimens" in page.locator("[data-grid='1'] [data-pasted]").inner_text()
    # What is said to be saved may still be the form of before the last cells were pasted.
    for _ in range(100):
        if "specimen-1-99-reading" in FormDraft.objects.get().typed:
            break
        page.wait_for_timeout(100)
    assert FormDraft.objects.get().typed["specimen-1-99-reading"] == "100"


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_slips_are_told_beside_their_cells_while_typing(maker, open_page, size):
    page = opened(open_page, size)
    fill(
        page,
        **{
            "setup-reading_unit": "N",
            "setup-arm": "1' 2\"",
            "shared-timber": "northern red oak",
            "shared-member_thickness": "20",
            "shared-member_depth": "40",
            "specimen-1-0-reading": "400",
            "specimen-1-1-reading": "410",
            "specimen-1-2-reading": "92",
        },
    )

    page.locator("#specimen-1-2-reading-found", has_text="A slip would explain it").wait_for()
    assert page.locator("#setup-arm-echo").inner_text() == "= 355.6 mm"
    assert page.locator("#shared-timber-echo").inner_text() == "= Oak, northern red"
    assert page.locator("[id$='-found']", has_text="is blank; it is needed").count() == 0  # nobody was there yet
    assert field(page, "specimen-1-2-reading").get_attribute("aria-describedby").endswith("specimen-1-2-reading-found")
    field(page, "setup-arm").fill("far")
    page.locator("#setup-arm-found", has_text="does not start with a number").wait_for()
    assert field(page, "setup-arm").get_attribute("aria-invalid") == "true"
    assert violations(page) == []
    field(page, "study-title").focus()
    field(page, "study-question").focus()
    page.locator("#study-title-found", has_text="Title is blank; it is needed").wait_for()
    field(page, "setup-arm").fill("")
    page.locator("#setup-arm-found", has_text="can't be had, since this is missing").wait_for()
    assert field(page, "setup-arm").get_attribute("aria-invalid") is None
    assert page.faults == []


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_two_tabs_ask_whose_words_are_to_stand(maker, open_page, size):
    page = opened(open_page, size)
    field(page, "setup-arm").fill("300")
    state(page, "^Saved")
    other = open_page(re.sub(r"^https?://[^/]+", "", page.url), context=page.context)
    field(other, "setup-arm").fill("310")
    state(other, "^Saved")

    field(page, "setup-arm").fill("320")
    state(page, "changed in another tab or on another device at .*arm: here “320”, there “310”.*Which is to stand")
    assert FormDraft.objects.get().typed["setup-arm"] == "310"
    assert violations(page) == []
    page.get_by_role("button", name="Check it").click()  # asked by the page, too
    page.locator("#found", has_text="This form was changed elsewhere; nothing was overwritten").wait_for()
    assert field(page, "setup-arm").input_value() == "320"
    assert violations(page) == []
    page.get_by_role("button", name="Keep mine").first.click()
    page.locator("#found", has_text="to mend").wait_for()
    assert FormDraft.objects.get().typed["setup-arm"] == "320"

    field(other, "setup-arm").fill("330")
    state(other, "Which is to stand")
    other.get_by_role("button", name="Take theirs").click()
    expect(other.locator("#setup-arm")).to_have_value("320")
    assert FormDraft.objects.get().typed["setup-arm"] == "320"


def test_login_that_ran_out_loses_nothing(maker, open_page):
    page = opened(open_page)
    field(page, "setup-arm").fill("300")
    state(page, "^Saved")
    kept = page.context.cookies()
    page.context.clear_cookies(name=re.compile("session"))

    field(page, "setup-arm").fill("11 3/4 in")
    state(page, "Not saved: you are logged out; kept on this device")
    page.get_by_role("link", name="Log in and come back").click()
    page.get_by_label("Username").fill("maker")
    page.get_by_label("Password").fill("sawdust")
    page.get_by_role("button", name="Log in").click()

    expect(page.locator("#setup-arm")).to_have_value("11 3/4 in")
    assert FormDraft.objects.get().typed["setup-arm"] == "11 3/4 in"
    assert kept


def test_form_that_never_reached_the_server_is_offered_where_one_begins(maker, open_page):
    page = opened(open_page)
    page.context.set_offline(True)
    field(page, "study-title").fill("Typed in the shed")
    state(page, "kept on this device")
    page.close()
    page.context.set_offline(False)
    assert not FormDraft.objects.exists()

    page = open_page("/submit/", context=page.context)

    assert "“Typed in the shed”" in page.locator("[data-local]").inner_text()
    assert violations(page) == []
    page.get_by_role("button", name="Bring it back").click()
    page.wait_for_url("**/submit/form/**")
    assert field(page, "study-title").input_value() == "Typed in the shed"
    assert FormDraft.objects.get().title == "Typed in the shed"
    page.goto("/submit/")
    expect(page.locator("[data-local]")).to_be_hidden()
    page.get_by_role("link", name="Throw away").click()
    assert violations(page) == []
    page.get_by_role("button", name="Throw it away").click()
    page.wait_for_url("**/submit/")
    assert page.get_by_role("heading", name="Unfinished").count() == 0


def test_series_like_the_last_goes_on_in_the_field_that_differs(maker, open_page):
    page = opened(open_page, "phone")
    fill(page, **{"series-1-tenon_length": "30", "series-1-tenon_depth": "30"})

    page.get_by_label("Same as the last series, but with another").select_option("tenon_length")
    page.get_by_role("button", name="Add one like the last").click()

    page.locator("[name='series-2-series']").wait_for()
    assert page.evaluate("document.activeElement.name") == "series-2-tenon_length"
    assert field(page, "series-2-series").input_value() == "Blind mortise and tenon 2"
    assert field(page, "series-2-tenon_depth").input_value() == "30"
    assert field(page, "series-2-control").input_value() == "0"


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_published_means_are_asked_for_without_specimens(maker, open_page, size):
    page = opened(open_page, size, "/submit/")
    page.get_by_label("a mean from a publication").check()
    field(page, "joint").first.select_option("butt")
    page.get_by_role("button", name="Go to the form").click()

    assert page.locator("#study input, #study textarea").first.get_attribute("name") == "study-citation"
    expect(field(page, "series-0-mean")).to_be_visible()
    expect(field(page, "specimen-0-0-reading")).to_be_hidden()
    assert violations(page) == []
