"""A form after it was saved: going back to it, putting it right; and a file that was not taken."""

from __future__ import annotations

import re

import pytest

from results.models import Study
from results.vocabulary import load_vocabulary
from tests.factories import make_user

from .conftest import log_in
from .test_main_job import fill

pytestmark = pytest.mark.django_db(transaction=True)

FORM = "/submit/form/?loading=cantilever_arm&instrument=luggage_scale&joint=butt&specimens=3"
STUDY = {
    "study-title": "Rails into posts",
    "study-question": "How much does a glued butt take?",
    "study-workshop": "Shop by the river",
    "setup-reading_unit": "kg",
    "setup-arm": "11 3/4 in",
    "shared-timber": "Oak, northern red",
    "series-0-member_thickness": "20",
    "series-0-member_depth": "40",
    **{f"specimen-0-{row}-reading": str(40 + row) for row in range(3)},
}


@pytest.fixture
def maker():
    load_vocabulary()
    return make_user("maker")


def save_it(page) -> None:
    page.get_by_role("button", name=re.compile("^Save")).click()
    page.wait_for_url("**/studies/*/")


@pytest.mark.parametrize("size", ["desk", "phone"])
def test_a_saved_form_can_be_gone_back_to_and_put_right(maker, open_page, size):
    page = open_page("/login/", size=size)
    log_in(page, "maker", "sawdust")
    page.goto(FORM)
    fill(page, **STUDY)
    page.get_by_role("button", name="Check and save").last.click()
    page.locator("#found:focus").wait_for()
    assert "not saved yet" in page.locator("#found").inner_text()
    assert "298.45 mm" in page.locator(".preview").inner_text()
    # Saved beside, so that the form stays as it was left, as it is found after going back to it.
    page.evaluate("document.getElementById('study-form').target = '_blank'")
    with page.expect_popup() as beside:
        page.get_by_role("button", name=re.compile("^Save")).click()
    beside.value.wait_for_url("**/studies/*/")
    beside.value.close()
    page.evaluate("document.getElementById('study-form').target = ''")
    first = Study.objects.get()

    # A correction is not thrown away unsaid.
    fill(page, **{"setup-arm": "12 in"})
    page.get_by_role("button", name="Check and save").last.click()
    assert "Nothing was changed" in page.locator("#found").inner_text()
    assert page.locator("[name='setup-arm']").input_value() == "12 in"
    page.get_by_role("button", name="Check it as a new study").click()
    assert Study.objects.count() == 1
    save_it(page)
    assert [one.setups.get().arm_mm for one in Study.objects.order_by("id")] == pytest.approx([298.45, 304.8])

    # A new form brings back what was saved last, under a key of its own.
    page.goto(FORM)
    assert "was saved. It can be brought back" in page.locator("#kept").inner_text()
    page.get_by_role("button", name="Bring it back").click()
    assert page.locator("[name='setup-arm']").input_value() == "12 in"
    assert page.locator("[name='specimen-0-2-reading']").input_value() == "42"
    page.get_by_role("button", name="Check and save").last.click()
    assert "not saved yet" in page.locator("#found").inner_text()

    # And any study of one's own opens in the form.
    page.goto(first.get_absolute_url())
    page.get_by_role("link", name="Start a new one from this").first.click()
    assert page.locator("[name='setup-arm']").input_value() == "11 3/4 in"
    assert page.locator("[name='specimen-0-2-reading']").input_value() == "42"


@pytest.mark.parametrize("size", ["desk", "phone"])
def test_a_file_that_was_not_taken_is_told_of_where_one_looks(maker, open_page, size):
    page = open_page("/login/", size=size)
    log_in(page, "maker", "sawdust")
    page.goto("/submit/")
    page.locator("input[type=file]").set_input_files({"name": "a.pdf", "mimeType": "text/csv", "buffer": b"x"})
    page.get_by_role("button", name="Send and look at it").click()

    page.locator("#found:focus").wait_for()
    box = page.locator("#found").bounding_box()
    assert box["y"] >= 0 and box["y"] + box["height"] <= page.viewport_size["height"]
    assert "Files ending in '.pdf' aren't taken" in page.locator("#found").inner_text()
