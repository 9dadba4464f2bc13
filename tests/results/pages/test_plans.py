"""Plans lodged, listed, followed up and withdrawn, as people see them."""

from __future__ import annotations

import io
import json
import re
import uuid
from datetime import timedelta
from zipfile import ZipFile

import pytest
from django.urls import reverse
from django.utils import timezone

from results.accounts import own_data
from results.accounts.leave import leaving
from results.intake.examine import examine_file
from results.models import Plan, Study
from results.practice import lodge as lodging
from results.practice.lodge import withdraw
from tests.factories import accept, make_user
from tests.results.pages.forms import form, save, values_of
from tests.results.practice.plans import followed_up, lodged, query

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def text(response) -> str:
    return response.content.decode()


def plain(response) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", text(response)).split())


@pytest.fixture
def maker(client):
    client.force_login(make_user())
    return client


def lodge_address(**changes) -> str:
    return reverse("plan:lodge") + f"?{query(**changes)}"


def test_lodging_is_for_people_who_are_logged_in(client):
    for response in (client.get(lodge_address()), client.post(lodge_address(), {"key": str(uuid.uuid4())})):
        assert response.status_code == 302
        assert response.headers["Location"].startswith("/login/")
    assert not Plan.objects.exists()


def test_looking_at_it_lodges_nothing_and_sending_it_lodges_it_once(maker):
    page = maker.get(lodge_address())
    assert not Plan.objects.exists()
    assert "Nobody can change it" in text(page)

    answers = [maker.post(lodge_address(), {"key": page.context["key"]}) for _ in range(2)]

    made = Plan.objects.get()
    assert [answer.headers["Location"] for answer in answers] == [made.get_absolute_url()] * 2
    assert made.contributor == make_user()


@pytest.mark.parametrize(("key", "status"), [("", 400), ("nonsense", 400)])
def test_without_its_key_nothing_is_lodged(maker, key, status):
    response = maker.post(lodge_address(), {"key": key})

    assert response.status_code == status
    assert "without its key" in text(response)
    assert not Plan.objects.exists()


def test_plan_that_can_not_be_made_can_not_be_lodged(maker):
    response = maker.post(lodge_address(arm_mm="0"), {"key": str(uuid.uuid4())})

    assert response.headers["Location"].startswith("/plan/?")
    assert not Plan.objects.exists()


def test_too_many_in_a_day_are_told_to_wait(maker, monkeypatch):
    monkeypatch.setattr(lodging, "MOST_A_DAY", 0)

    response = maker.post(lodge_address(), {"key": str(uuid.uuid4())})

    assert response.status_code == 429
    assert "tomorrow" in text(response)


def test_the_same_plan_lodged_again_is_refused_with_a_link_to_the_first(maker):
    maker.post(lodge_address(), {"key": str(uuid.uuid4())})
    first = Plan.objects.get()

    again = maker.post(lodge_address(), {"key": str(uuid.uuid4())})

    assert again.status_code == 409
    assert f"You lodged this very plan before, as plan {first.pk}" in text(again)
    assert f'<a href="{first.get_absolute_url()}">Plan {first.pk}: ' in text(again)
    assert Plan.objects.get() == first


def test_lodged_plan_and_its_sheet_say_what_the_page_said_of_loads_and_rig(client):
    made = lodged(expect_nm="100", full_scale="50 kg")

    for name in ("plans:plan", "plans:sheet"):
        page = plain(client.get(reverse(name, args=[made.pk]))).replace("\u202f", " ")
        assert "The luggage scale stops short: the strongest specimens would need" in page
        assert "No one arm lets it read every series" in page
        assert "328 N (33.5 kgf, 73.8 lbf)" in page


def test_plan_lodged_before_such_things_were_written_down_says_so(client):
    made = lodged(expect_nm="100")
    was = {name: value for name, value in made.planned.items() if not name.startswith("arms")} | {"form": 1}
    later = ("load_from", "rig", "rig_verdict")
    was["series"] = [{name: value for name, value in one.items() if name not in later} for one in was["series"]]
    Plan.objects.filter(pk=made.pk).update(planned=was)

    for name in ("plans:plan", "plans:sheet", "plans:spreadsheet"):
        response = client.get(reverse(name, args=[made.pk]))
        assert response.status_code == 200
    page = plain(client.get(made.get_absolute_url()))
    assert "328 N (33.5 kgf, 73.8 lbf)" in page and "were not written down" in page


def test_everybody_reads_a_plan_as_it_was_lodged(client):
    made = lodged()
    page = plain(client.get(made.get_absolute_url()))

    assert f"Plan {made.pk}, lodged on 10 March 2026, 15:00 (UTC) by maker" in page
    assert "12 in = 304.8 mm" in page
    assert "Only who lodged a plan can follow it up" in page
    assert "Withdraw this plan" not in page
    assert client.get(reverse("plans:sheet", args=[made.pk])).status_code == 200


def test_spreadsheet_names_the_plan_to_who_lodged_it_alone(client, maker):
    made = lodged()
    address = reverse("plans:spreadsheet", args=[made.pk])
    own = examine_file(maker.get(address).content, "plan.xlsx").checked.study.values
    maker.force_login(make_user("other"))
    other = examine_file(maker.get(address).content, "plan.xlsx").checked.study.values

    assert own["plan"] == made
    assert "plan" not in other


def test_form_of_a_plan_is_filled_in_but_for_the_readings(maker):
    made = lodged(workshop="Shop by the river")

    values = values_of(maker.get(reverse("submit:form") + f"?plan={made.pk}"))

    assert values["study-plan"] == str(made.pk)
    assert (values["study-title"], values["study-workshop"]) == (made.title, "Shop by the river")
    assert (values["setup-arm"], values["shared-member_thickness"]) == ("12 in", "20 mm")
    assert [values[f"series-{at}-joint"] for at in range(4)] == ["mt_blind", "dowel", "solid", "butt"]
    assert {values[f"specimen-0-{row}-reading"] for row in range(3)} == {""}


def test_form_sent_with_a_plan_follows_it_and_with_anothers_is_refused_at_the_field(maker):
    made, other = lodged(), lodged("other")

    refused = save(maker, form(**{"study-plan": str(other.pk)}))
    save(maker, form(**{"study-plan": str(made.pk)}))

    assert f"Plan {other.pk} was lodged by somebody else." in text(refused)
    assert Study.objects.get().plan == made


def test_form_of_somebody_elses_plan_or_of_a_withdrawn_one_is_not_there(maker):
    withdrawn = withdraw(lodged(), make_user(), "No oak.")

    for number in (lodged("other").pk, withdrawn.pk, 999, "x", ""):
        assert maker.get(reverse("submit:form") + f"?plan={number}").status_code == 404


def test_list_tells_what_waits_what_is_missing_and_what_was_followed(client):
    recent = lodged(at=timezone.now() - timedelta(days=3), title="Recent")
    missing = lodged(at=timezone.now() - timedelta(days=400), title="Forgotten")
    gone = withdraw(lodged(title="Given up"), make_user(), "No oak.")
    kept = lodged(title="Kept")
    study = accept(followed_up(kept))

    response = client.get(reverse("plans:plans"))
    page = plain(response)

    assert response.context["counts"] == {"missing": 2, "followed": 1, "withdrawn": 1}
    assert "It waits for its study, for 3 days now." in page
    assert "No study in 400 days." in page
    assert "Withdrawn without a study: No oak." in page
    assert f"Followed by {study.title}" in page
    missing_ones = [row.plan for row in response.context["rows"] if row.is_missing]
    assert set(missing_ones) == {missing, gone}
    for state, plans in (("missing", [recent, missing]), ("followed", [kept]), ("withdrawn", [gone])):
        rows = client.get(reverse("plans:plans") + f"?state={state}").context["rows"]
        assert [row.plan for row in rows] == plans


def test_own_plans_are_listed_to_oneself(maker):
    made = lodged()
    lodged("other")

    assert [row.plan for row in maker.get(reverse("plans:plans") + "?state=mine").context["rows"]] == [made]


@pytest.mark.parametrize("asked", ["state=nonsense", "page=0", "page=x", "nonsense=1"])
def test_list_refuses_what_it_does_not_know(client, asked):
    assert client.get(reverse("plans:plans") + f"?{asked}").status_code in (400, 404)


def test_study_that_follows_is_marked_with_its_plan_and_what_was_done_otherwise(client):
    made = lodged()

    def change(book):
        book["specimens"].delete_rows(2)

    study = accept(followed_up(made, change=change))
    for address in (study.get_absolute_url(), made.get_absolute_url()):
        page = plain(client.get(address))
        assert "planned before tested Lodged on 10 March 2026, tested 2026-04-02." in page
        assert "Specimens of blind mortise and tenon 3 2" in page
    assert made.get_absolute_url() in text(client.get(study.get_absolute_url()))


def test_study_tested_before_is_not_marked_and_that_is_said(client):
    study = accept(followed_up(lodged(), tested_on="2026-03-01"))

    page = plain(client.get(study.get_absolute_url()))

    assert "not marked as planned before tested" in page
    assert "from before the plan was lodged on 10 March 2026" in page


def test_study_that_waits_for_review_shows_to_its_contributor_alone(client, maker):
    made = lodged()
    study = followed_up(made)

    assert study.title in text(maker.get(made.get_absolute_url()))
    maker.force_login(make_user("other"))
    assert study.get_absolute_url() not in text(maker.get(made.get_absolute_url()))


def test_withdrawing_wants_a_reason_and_keeps_what_was_typed(maker):
    made = lodged()
    address = reverse("plans:withdraw", args=[made.pk])

    blank, long = maker.post(address, {"reason": " "}), maker.post(address, {"reason": "x" * 3000})
    done = maker.post(address, {"reason": "No oak."})

    assert (blank.status_code, long.status_code, done.status_code) == (422, 422, 302)
    assert "x" * 3000 in text(long)
    page = plain(maker.get(made.get_absolute_url()))
    assert "Reason: No oak." in page


def test_nobody_else_withdraws(client):
    made = lodged()
    address = reverse("plans:withdraw", args=[made.pk])
    assert client.post(address, {"reason": "x"}).headers["Location"].startswith("/login/")
    client.force_login(make_user("other"))

    assert client.get(address).status_code == 403
    assert client.post(address, {"reason": "x"}).status_code == 403
    made.refresh_from_db()
    assert not made.is_withdrawn


def test_plan_that_is_not_there_is_not_found(client):
    for name in ("plan", "sheet", "spreadsheet"):
        assert client.get(reverse(f"plans:{name}", args=[999])).status_code == 404


def test_leaving_tells_of_plans_and_own_data_holds_them(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    made = lodged()
    file = io.BytesIO()

    own_data.write(make_user(), file)

    assert leaving(make_user()).plans == [made]
    (kept,) = json.loads(ZipFile(file).read("plans.json"))
    assert (kept["title"], kept["planned"]["n"]) == (made.title, 3)
    assert "contributor" not in kept
