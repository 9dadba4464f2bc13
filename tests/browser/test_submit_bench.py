"""A study typed at the bench: few fields, the connection lost in the middle, the tab closed and opened again."""

from __future__ import annotations

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from results.models import FormDraft, Study
from results.vocabulary import load_vocabulary
from tests.factories import make_user

from .conftest import log_in

pytestmark = pytest.mark.django_db(transaction=True)

FIELDS_MOST = 45
STUDY = {
    "study-title": "Rails into posts",
    "study-question": "What does a tenon add to a plain glued rail?",
    "study-workshop": "Shop by the river",
    "study-tested_on": "2025-03",
    "setup-reading_unit": "lbf",
    "setup-arm": "11 3/4 in",
    "shared-timber": "Oak, northern red",
    "shared-adhesive": "pva",
    "shared-moisture": "8",
    "shared-member_thickness": "20",
    "shared-member_depth": "40",
    "series-1-tenon_length": "30",
    "series-1-tenon_depth": "30",
}
LOADS = {0: ["30", "33", "28", "31", "35"], 1: ["64", "71", "60", "66", "69"]}
PLACES = {0: "bond_line", 1: "tenon_or_fastener"}


class Hands:
    """Types and chooses, and counts each field that was typed into or chosen, as often as it was."""

    def __init__(self, page) -> None:
        self.page, self.fields = page, 0

    def put(self, name: str, value: str, nth: int = 0) -> None:
        field = self.page.locator(f"[name='{name}']").nth(nth)
        if field.evaluate("one => one.tagName") == "SELECT":
            field.select_option(value)
        else:
            field.fill(value)
        self.fields += 1

    def all_of(self, values: dict[str, str]) -> None:
        for name, value in values.items():
            self.put(name, value)


def specimens(at: int) -> dict[str, str]:
    rows = {f"specimen-{at}-{row}-reading": load for row, load in enumerate(LOADS[at])}
    return rows | {f"specimen-{at}-{row}-failure_place": PLACES[at] for row in range(5)}


def violations(page) -> list[str]:
    return [f"{one['id']}: {one['help']}" for one in Axe().run(page).response["violations"]]


def state(page, text: str) -> None:
    page.locator("[data-state]", has_text=re.compile(text)).wait_for()


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_ten_specimens_in_few_fields_with_the_connection_lost_and_the_tab_closed(open_page, size):
    load_vocabulary()
    make_user("maker")
    page = open_page("/login/", size=size)
    log_in(page, "maker", "sawdust")
    page.get_by_role("button", name="Log out").wait_for()
    page.goto("/submit/")
    hands = Hands(page)
    hands.put("instrument", "luggage_scale")
    hands.put("joint", "butt", 0)
    hands.put("joint", "mt_blind", 1)
    page.get_by_role("button", name="Go to the form").click()
    assert violations(page) == []  # empty

    hands.all_of(STUDY)
    state(page, r"^Saved \d\d:\d\d$")
    assert page.locator("#setup-arm-echo").inner_text() == "= 298.45 mm"
    assert "arm 298.45 mm" in page.locator("[data-drawing] svg").text_content()
    assert "draft=" in page.url

    page.context.set_offline(True)
    hands.all_of(specimens(0))
    state(page, "kept on this device")
    page.get_by_role("button", name="Check it").click()
    state(page, "It can be sent as soon as there is one")
    assert "specimen-0-4-reading" not in FormDraft.objects.get().typed
    assert violations(page) == []
    page.close()

    page.context.set_offline(False)
    page = hands.page = open_page("/submit/", context=page.context)
    assert violations(page) == []  # with a form to go on with
    page.get_by_role("link", name="Go on").click()
    expect(page.locator("#specimen-0-4-reading")).to_have_value("35")
    for name, value in (STUDY | specimens(0)).items():
        assert page.locator(f"[name='{name}']").input_value() == value
    assert violations(page) == []  # resumed
    hands.all_of(specimens(1))
    page.locator("[name='study-title']").fill("")  # a slip, put right again: not part of the count
    page.get_by_role("button", name="Check it").click()
    page.locator("#found:focus").wait_for()
    assert "1 thing to mend" in page.locator("#found").inner_text()
    assert violations(page) == []  # errors
    page.locator("[name='study-title']").fill(STUDY["study-title"])
    page.get_by_role("button", name="Check it").click()
    page.locator(".preview").wait_for()
    assert violations(page) == []
    page.get_by_role("button", name=re.compile("^Hand in")).click()
    page.wait_for_url("**/studies/*/")

    study = Study.objects.get()
    assert study.status == "submitted"
    assert [one.specimens.count() for one in study.series.order_by("id")] == [5, 5]
    assert study.series.get(label="Blind mortise and tenon").control.label == "Glued butt"
    assert not FormDraft.objects.exists()
    assert hands.fields <= FIELDS_MOST, f"{hands.fields} fields were typed into or chosen"
    assert hands.fields == 3 + len(STUDY) + 20
    page.goto("/submit/")
    expect(page.locator("[data-local]")).to_be_hidden()
