"""A test planned and kept: from a gap in the evidence over a lodged plan to a study planned before tested."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe

from results.models import Plan, Study
from results.vocabulary import load_vocabulary
from tests.factories import make_reviewer, make_user
from tests.results.practice.plans import fill

from .conftest import log_in

pytestmark = pytest.mark.django_db(transaction=True)
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@pytest.fixture
def people():
    load_vocabulary()
    make_user()
    make_reviewer("judge")


def well(page, javascript: bool = True) -> None:
    """Nothing wrong with the page as it is; how accessible it is can be told with scripts only."""
    assert page.faults == []
    assert not page.evaluate("document.documentElement.scrollWidth > window.innerWidth")
    if javascript:
        assert [one["id"] for one in Axe().run(page).response["violations"]] == []


def from_a_gap(page) -> None:
    """From an empty cell of the evidence map to a plan worked out."""
    page.goto("/evidence/")
    page.get_by_role("link", name="Blind mortise and tenon, bending moment: no tests").click()
    page.wait_for_url("**/plan/?**")
    assert page.get_by_label("Joint 1").input_value() == "mt_blind"
    assert page.get_by_label("Joint 2").input_value() == "butt"
    assert "Cantilever arm needs the distance from the joint" in page.locator("[role=status]").inner_text()
    assert page.locator("[role=alert]").count() == 0
    page.get_by_label("Joint 3").select_option("dowel")
    page.get_by_label("Arm", exact=True).fill("12 in")
    page.get_by_label("Timber", exact=True).select_option("oak_northern_red")
    page.get_by_label("Glue", exact=True).select_option("pva")
    page.get_by_label("Member thickness").fill("20")
    page.get_by_label("Member depth").fill("40 mm")
    page.get_by_label("Specimens you can make").fill("4")
    page.get_by_label("What reads the load").select_option("bathroom_scale")
    page.get_by_label("The most it shows").fill("150 kg")
    page.locator("fieldset", has_text="Order and names").locator("summary").click()
    page.get_by_label("Who tests").fill("Shop by the river")
    page.get_by_role("button", name="Work out the plan").click()
    page.get_by_role("heading", name=re.compile("^4 of each joint")).wait_for()


def lodged(page, javascript: bool) -> Plan:
    """The plan lodged by somebody who had to log in on the way."""
    page.get_by_role("link", name="Lodge this plan").click()
    page.wait_for_url("**/login/**")
    page.get_by_label("Username").fill("maker")
    page.get_by_label("Password").fill("sawdust")
    page.get_by_role("button", name="Log in").click()
    page.wait_for_url("**/plan/lodge/**")
    well(page, javascript)
    page.get_by_role("button", name="Lodge it for good").click()
    page.wait_for_url("**/plans/*/")
    return Plan.objects.get()


def sent(page, plan: Plan) -> Study:
    """The plan's spreadsheet downloaded, filled in at the bench, and handed in."""
    with page.expect_download() as taken:
        page.get_by_role("link", name="The spreadsheet, begun").click()
    today = datetime.now(UTC).date().isoformat()
    data = fill(Path(taken.value.path()).read_bytes(), tested_on=today, change=lambda book: void(book["specimens"]))
    page.get_by_role("link", name="Send the spreadsheet").click()
    page.locator("input[type=file]").set_input_files({"name": "plan.xlsx", "mimeType": XLSX, "buffer": data})
    page.get_by_role("button", name="Send and look at it").click()
    page.get_by_role("button", name="Hand in").first.click()
    page.wait_for_url("**/studies/*/")
    return Study.objects.get()


def void(sheet) -> None:
    """The first specimen, which the rig spoilt."""
    at = {cell.value: cell.column for cell in sheet[1]}
    sheet.cell(2, at["reading"]).value = None
    sheet.cell(2, at["outcome"]).value, sheet.cell(2, at["void reason"]).value = "void", "the clamp slipped"


@pytest.mark.parametrize(("size", "javascript"), [("phone", True), ("desk", False)])
def test_test_from_a_gap_to_planned_before_tested(open_page, people, size, javascript):
    page = open_page("/", size=size, javascript=javascript)
    from_a_gap(page)
    assert "The bathroom scale stops short" in page.locator("main").inner_text()
    well(page, javascript)

    page.get_by_role("link", name="A sheet to print").click()
    assert page.locator(".log tbody tr").count() == 15  # four of three joints, and the fewest solid bars
    page.get_by_role("link", name="Back to the plan").click()
    page.get_by_role("link", name="Lodge this plan").wait_for()
    plan = lodged(page, javascript)
    assert "It waits for its study" in page.locator("main").inner_text()
    study = sent(page, plan)
    assert study.plan == plan

    judge = open_page("/login/", size=size)
    log_in(judge, "judge", "sawdust")
    judge.get_by_role("button", name="Log out").wait_for()
    judge.goto("/review/")
    judge.get_by_role("link", name=study.title).click()
    judge.get_by_role("button", name="Accept", exact=True).click()
    judge.wait_for_load_state()

    stranger = open_page(study.get_absolute_url(), size=size)
    told = stranger.locator("#the-plan").inner_text()
    assert "planned before tested" in told and "not marked" not in told
    assert "1 of 4: the rig failed" in " ".join(told.split())
    well(stranger)
    stranger.get_by_role("link", name=f"Plan {plan.pk}").click()
    assert study.title in stranger.locator("main").inner_text()
    stranger.goto("/plans/?state=followed")
    assert plan.title in stranger.locator("main").inner_text()
