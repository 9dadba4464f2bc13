"""The whole life of a study: from signing up, over a lost connection and a reviewer, to everybody who cites it."""

from __future__ import annotations

import re

import pytest

from results.models import Study
from results.vocabulary import load_vocabulary
from tests.factories import make_reviewer
from tests.results.pages.people import GOOD, link

from .conftest import log_in
from .test_submit_bench import STUDY, Hands, specimens, state, violations

pytestmark = pytest.mark.django_db(transaction=True)


def joined(open_page, size: str):
    """A page on which somebody new may submit."""
    page = open_page("/sign-up/?next=/submit/", size=size)
    page.get_by_label("Username").fill(GOOD["username"])
    page.get_by_label("E-mail").fill(GOOD["email"])
    for field in page.locator("input[type=password]").all():
        field.fill(GOOD["password1"])
    page.get_by_role("button", name="Sign up").click()
    page.get_by_role("heading", name="Confirm your address").wait_for()
    page.goto(link())
    page.get_by_role("button", name="Yes, that is me").click()
    page.wait_for_url("**/submit/")
    return page


def handed_in(page) -> None:
    """Fill in the form, with the connection gone for a while, and hand it in."""
    hands = Hands(page)
    hands.put("instrument", "luggage_scale")
    hands.put("joint", "butt", 0)
    hands.put("joint", "mt_blind", 1)
    page.get_by_role("button", name="Go to the form").click()
    hands.all_of(STUDY)
    state(page, r"^Saved \d\d:\d\d$")
    page.context.set_offline(True)
    hands.all_of(specimens(0))
    state(page, "kept on this device")
    page.context.set_offline(False)
    hands.all_of(specimens(1))
    page.get_by_role("button", name="Check it").click()
    page.locator(".preview").wait_for()
    page.get_by_role("button", name=re.compile("^Hand in")).click()
    page.wait_for_url("**/studies/*/")


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_study_from_signing_up_to_being_cited(open_page, size):
    load_vocabulary()
    make_reviewer("judge")
    maker = joined(open_page, size)
    handed_in(maker)
    study = Study.objects.get()
    assert study.status == "submitted"
    assert violations(maker) == []
    path = study.get_absolute_url()
    stranger = open_page("/", size=size)
    assert stranger.goto(path).status == 404
    assert stranger.request.get("/api/v1/specimens").json()["count"] == 0

    judge = open_page("/login/", size=size)
    log_in(judge, "judge", "sawdust")
    judge.get_by_role("button", name="Log out").wait_for()
    judge.goto("/review/")
    assert violations(judge) == []
    judge.get_by_role("link", name=STUDY["study-title"]).click()
    judge.wait_for_url("**/review/*/")
    assert violations(judge) == []
    judge.get_by_label("Remarks").fill("Arm and scale are told; the control is on the same rig.")
    judge.get_by_role("button", name="Accept", exact=True).click()
    judge.wait_for_load_state()

    study.refresh_from_db()
    assert study.status == "accepted"
    maker.goto("/mine/notices/")
    assert "accepted" in maker.locator("main").inner_text()
    assert stranger.goto(path).status == 200
    assert violations(stranger) == []
    cited = stranger.locator("p", has_text="Cite as").inner_text()
    assert "Shop by the river" in cited and "revision 1" in cited.lower()
    assert stranger.request.get("/api/v1/specimens").json()["count"] == 10
