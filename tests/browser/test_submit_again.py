"""A study after it was handed in: going back to its form, putting it right; and a file that was not taken."""

from __future__ import annotations

import re

import pytest

from results.models import Study
from results.review.hand_in import hand_in
from results.vocabulary import load_vocabulary
from tests.factories import make_user
from tests.results.intake.made import csv_of, examine_file, flat

from .conftest import log_in
from .test_main_job import fill
from .test_submit_bench import violations

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


@pytest.mark.parametrize("size", ["desk", "phone"])
def test_a_form_handed_in_can_be_gone_back_to_and_put_right(maker, open_page, size):
    page = open_page("/login/", size=size)
    log_in(page, "maker", "sawdust")
    page.get_by_role("button", name="Log out").wait_for()
    page.goto(FORM)
    fill(page, **STUDY)
    page.get_by_role("button", name="Check it").click()
    page.locator("#found:focus").wait_for()
    assert "not handed in yet" in page.locator("#found").inner_text()
    assert "298.45 mm" in page.locator(".preview").inner_text()
    # Handed in beside, so that the form stays as it was left, as it is found after going back to it.
    page.evaluate("document.getElementById('study-form').target = '_blank'")
    with page.expect_popup() as beside:
        page.get_by_role("button", name=re.compile("^Hand in")).click()
    beside.value.wait_for_url("**/studies/*/")
    beside.value.close()
    page.evaluate("document.getElementById('study-form').target = ''")
    study = Study.objects.get()

    # A correction is not thrown away unsaid.
    fill(page, **{"setup-arm": "12 in"})
    page.locator("[data-state]", has_text="This form was handed in: see the study").wait_for()
    page.get_by_role("button", name="Check again").click()
    page.locator("#found", has_text="Nothing was changed").wait_for()
    assert page.locator("[name='setup-arm']").input_value() == "12 in"
    page.get_by_role("button", name="Check it as a change of that study").click()
    page.locator("#why-found").wait_for()
    fill(page, why="the arm was measured wrongly")
    page.get_by_role("button", name="Check it").click()
    page.locator("table", has_text="Before and after").wait_for()
    assert "12 in" in page.locator("table", has_text="Before and after").inner_text()
    assert violations(page) == []
    page.get_by_role("button", name="Hand in the change").click()
    page.wait_for_url("**/studies/*/")
    assert Study.objects.get().setups.get().arm_mm == pytest.approx(304.8)
    assert study.revisions.get(number=2).why == "the arm was measured wrongly"

    # And any study of one's own opens in the form, to be changed or for a new one.
    page.get_by_role("link", name="Change it in the form").click()
    assert page.locator("[name='setup-arm']").input_value() == "12 in"
    assert page.locator("[name='specimen-0-2-reading']").input_value() == "42"
    page.goto(study.get_absolute_url())
    page.get_by_role("link", name="start a new one from this").click()
    assert page.locator("[name='specimen-0-2-reading']").input_value() == "42"
    assert page.locator("[name='why']").count() == 0
    assert [fault for fault in page.faults if "status of 4" not in fault] == []


@pytest.mark.parametrize("size", ["desk", "phone"])
def test_a_changed_spreadsheet_shows_its_differences_first(maker, open_page, size):
    page = open_page("/login/", size=size)
    log_in(page, "maker", "sawdust")
    page.get_by_role("button", name="Log out").wait_for()
    read = examine_file(csv_of(flat(series="Tenons")).encode(), "tenons.csv")
    study = hand_in(read.draft, maker, read.noticed)
    page.goto(study.get_absolute_url())
    page.get_by_role("link", name="download it as a spreadsheet to edit").click()
    assert violations(page) == []
    with page.expect_download() as sent:
        page.get_by_role("link", name="One table (CSV)").click()
    data = sent.value.path().read_bytes()

    for changed in (data, data.replace(b"Tenons", b"Tenons of oak")):
        file = {"name": "study.csv", "mimeType": "text/csv", "buffer": changed}
        page.goto(f"/submit/change/{study.pk}/")
        page.locator("input[type=file]").set_input_files(file)
        page.get_by_role("button", name="Send and see what differs").click()
        page.wait_for_url("**/submit/upload/**")
        assert violations(page) == []
        said = page.locator("main").inner_text()
        assert ("No differences" in said) == (changed == data)


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
