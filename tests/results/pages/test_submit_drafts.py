"""Forms kept while they are typed: for their writer only, never overwritten unseen, gone once handed in."""

from __future__ import annotations

import json
import re

import pytest
from django.urls import reverse

from results.models import FormDraft, Study
from results.pages import submit_drafts
from tests.factories import make_study, make_user

from .forms import form, post, save, values_of
from .shops import text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]
FORM = "/submit/form/"


@pytest.fixture
def owner(client):
    user = make_user("owner")
    client.force_login(user)
    return user


def keep(client, data, version=0, tab=""):
    body = {"fields": data, "version": version, "tab": tab}
    return client.post(reverse("submit:keep"), json.dumps(body), content_type="application/json")


def test_keep_makes_a_draft_and_counts_its_versions(client, owner):
    data = form()

    first = keep(client, data)
    second = keep(client, data | {"setup-arm": "310"}, version=1)

    assert (first.status_code, first.json()["version"], second.json()["version"]) == (200, 1, 2)
    draft = FormDraft.objects.get()
    assert (draft.user, draft.title, draft.typed["setup-arm"]) == (owner, "Rails into posts", "310")
    assert second.json()["at"] == draft.changed_at.isoformat()
    assert second.json()["resume"] == f"{FORM}?draft={data['key']}"


def test_keep_opens_again_with_all_that_was_typed(client, owner):
    data = form(specimen__0__1__notes="cracked <i>first</i>", setup__arm="11 3/4 in") | {"series-0-results": "mean"}
    keep(client, data)

    page = client.get(FORM, {"draft": data["key"]})

    assert page.status_code == 200
    kept = values_of(page)
    assert {name: kept.get(name) for name in data} == data
    assert kept["version"] == "1"
    assert "As you left it on" in text(page)


def test_keep_of_the_same_again_changes_nothing(client, owner):
    data = form()
    keep(client, data)

    again = keep(client, data)  # its first answer got lost, so that it knows of no version

    assert (again.status_code, again.json()["version"]) == (200, 1)


def test_keep_makes_no_draft_of_a_form_nobody_typed_in(client, owner):
    page = client.get(FORM + "?loading=cantilever_arm&joint=butt")

    answer = keep(client, values_of(page))

    assert (answer.status_code, answer.json()) == (200, {"version": 0})
    assert not FormDraft.objects.exists()


def test_keep_from_a_tab_that_has_not_seen_the_newest_is_told_so_and_overwrites_nothing(client, owner):
    data = form()
    keep(client, data)
    keep(client, data | {"setup-arm": "310"}, version=1, tab="a/1")

    answer = keep(client, data | {"setup-arm": "320"}, version=1, tab="b/1")

    assert answer.status_code == 409
    said = answer.json()
    assert (said["version"], said["differs"], said["more"]) == (2, [{"what": "arm", "here": "320", "there": "310"}], 0)
    assert FormDraft.objects.get().typed["setup-arm"] == "310"
    mine = keep(client, data | {"setup-arm": "320"}, version=said["version"], tab="b/2")
    assert (mine.status_code, FormDraft.objects.get().typed["setup-arm"]) == (200, "320")


def test_keep_goes_on_from_what_the_same_page_sent_last_but_never_back(client, owner):
    data = form()
    keep(client, data, tab="a/1")

    newer = keep(client, data | {"setup-arm": "310"}, version=0, tab="a/3")  # no answer came to the first
    overtaken = keep(client, data | {"setup-arm": "305"}, version=0, tab="a/2")

    assert (newer.status_code, overtaken.status_code) == (200, 200)
    assert overtaken.json()["version"] == 2
    assert FormDraft.objects.get().typed["setup-arm"] == "310"


def test_keep_under_the_key_of_another_keeps_a_form_of_ones_own(client, owner):
    data = form()
    keep(client, data)
    client.force_login(make_user("stranger"))

    assert client.get(FORM, {"draft": data["key"]}).status_code == 404
    assert client.get(reverse("submit:throw-away", args=[data["key"]])).status_code == 404
    assert client.post(reverse("submit:throw-away", args=[data["key"]])).status_code == 404
    assert data["study-title"] not in text(client.get("/submit/"))
    assert keep(client, data | {"study-title": "Mine"}).json()["version"] == 1
    assert sorted(FormDraft.objects.values_list("user__username", "title")) == [
        ("owner", "Rails into posts"),
        ("stranger", "Mine"),
    ]


def test_keep_refuses_to_change_a_study_of_another(client, owner):
    study = make_study(contributor=make_user("somebody else"))

    assert keep(client, form() | {"change": str(study.pk)}).status_code == 404
    assert post(client, form() | {"change": str(study.pk)}).status_code == 404
    assert not FormDraft.objects.exists()


@pytest.mark.parametrize("key", ["", "x", "../..", "7f000001-0000-4000-8000-000000000000"])
def test_draft_that_is_not_there_is_not_found(client, owner, key):
    assert client.get(FORM, {"draft": key}).status_code == 404


def test_keep_leaves_out_what_no_database_holds(client, owner):
    data = form(study__title="Rails\x00 into \ud800posts")

    assert [keep(client, data).json()["version"], keep(client, data).json()["version"]] == [1, 1]
    assert FormDraft.objects.get().title == "Rails into posts"
    assert client.get(FORM, {"draft": data["key"]}).status_code == 200


def test_keep_takes_the_name_of_a_page_that_no_database_holds(client, owner):
    data = form()

    first = keep(client, data, tab="a\x00\ud800/1")
    second = keep(client, data | {"setup-arm": "310"}, tab="a\x00\ud800/2")

    assert [first.json()["version"], second.json()["version"]] == [1, 2]
    assert FormDraft.objects.get().tab == "a/2"


def test_keep_has_a_bound_and_says_so(client, owner):
    answer = keep(client, form(study__notes="x" * submit_drafts.BYTES_MOST))

    assert answer.status_code == 413
    assert re.match(r"This form holds 50\d kB; up to 500 kB are kept. Shorten the notes", answer.json()["message"])
    assert keep(client, form(study__notes="x" * 3_000_000)).status_code == 413
    assert not FormDraft.objects.exists()


def test_keep_has_a_bound_on_how_many(client, owner, monkeypatch):
    monkeypatch.setattr(submit_drafts, "DRAFTS_MOST", 2)
    assert [keep(client, form()).status_code for _ in range(3)] == [200, 200, 413]

    page = post(client, form())

    assert page.status_code == 200  # what can't be kept can be looked at all the same
    assert "You have 2 unfinished forms; throw some away" in text(page)


@pytest.mark.parametrize(
    "body", [b"", b"[]", b'{"fields": [1]}', b'{"fields": {"study-title": 3}}', b"\xff\xfe", b"[" * 99_999]
)
def test_keep_and_check_refuse_what_is_no_form(client, owner, body):
    for name in ("keep", "check"):
        assert client.post(reverse(f"submit:{name}"), body, content_type="application/json").status_code == 400
    assert client.get(reverse("submit:keep")).status_code == 405


def test_keep_tells_who_is_logged_out_where_to_log_in(client):
    for name in ("keep", "check"):
        answer = client.post(reverse(f"submit:{name}"), b"{}", content_type="application/json")
        assert (answer.status_code, answer.json()["login"]) == (401, "/login/")


def test_keep_wants_the_token_of_the_page(owner):
    from django.test import Client

    strict = Client(enforce_csrf_checks=True)
    strict.force_login(owner)

    assert keep(strict, form()).status_code == 403
    assert not FormDraft.objects.exists()


# without scripts


def test_every_answer_of_the_form_keeps_what_was_typed(client, owner):
    data = form(study__workshop="")

    page = post(client, data)

    assert page.status_code == 422
    assert FormDraft.objects.get().typed["setup-arm"] == "300"
    assert values_of(page)["version"] == "1"
    post(client, data | {"add-joint": "dowel"}, "add-series")
    draft = FormDraft.objects.get()
    assert (draft.version, draft.typed["series-count"]) == (2, "3")


def test_keep_for_later_leads_to_the_list_from_where_one_goes_on(client, owner):
    data = form()

    answer = client.post(FORM, {**data, "do": "keep"}, follow=True)

    assert answer.redirect_chain == [("/submit/", 302)]
    page = answer.content.decode()
    assert "Kept. Go on with it whenever you like." in page
    assert f'href="{FORM}?draft={data["key"]}"' in page
    assert "Rails into posts" in text(answer) and "Butt, Tenon" in text(answer)


def test_keep_for_later_of_what_can_not_be_kept_says_so_and_keeps_it_on_the_page(client, owner):
    data = form(study__notes="x" * submit_drafts.BYTES_MOST)

    page = client.post(FORM, {**data, "do": "keep"})

    assert page.status_code == 200
    assert "up to 500 kB are kept" in text(page)
    assert "Kept. Go on" not in text(page)
    assert values_of(page)["study-notes"] == data["study-notes"]


def test_throw_away_asks_first(client, owner):
    data = form()
    keep(client, data)
    url = reverse("submit:throw-away", args=[data["key"]])

    page = client.get(url)
    assert "Throw this form away?" in text(page)
    assert FormDraft.objects.exists()

    answer = client.post(url)
    assert answer.headers["Location"] == "/submit/"
    assert answer.cookies["arrived"].value == data["key"]
    assert not FormDraft.objects.exists()


def test_form_from_a_tab_that_has_not_seen_the_newest_shows_both_and_overwrites_nothing(client, owner):
    data = form()
    post(client, data)
    client.post(FORM, {**data, "setup-arm": "310", "version": "1", "do": "check"})

    page = client.post(FORM, {**data, "setup-arm": "320", "version": "1", "do": "save"})

    assert page.status_code == 409
    assert "This form was changed elsewhere; nothing was overwritten" in text(page)
    row = re.search(r"<th scope=\"row\">arm</th><td>(.*?)</td><td>(.*?)</td>", page.content.decode())
    assert row.groups() == ("320", "310")
    kept = values_of(page)
    assert (kept["setup-arm"], kept["version"]) == ("320", "2")
    assert FormDraft.objects.get().typed["setup-arm"] == "310"
    assert not Study.objects.exists()

    mine = client.post(FORM, {**kept, "do": "mine"})
    assert mine.status_code == 200
    assert FormDraft.objects.get().typed["setup-arm"] == "320"
    assert 'value="save"' in mine.content.decode()


def test_form_sent_after_the_session_ended_comes_back_after_logging_in(client, owner):
    data = form(setup__arm="11 3/4 in") | {"by": str(owner.pk), "version": "0"}
    client.logout()

    answer = client.post(FORM, {**data, "do": "save"})

    assert answer.headers["Location"] == f"/login/?next={FORM}%3Fheld%3D{data['key']}"
    assert not Study.objects.exists()
    page = client.post("/login/", {"login": "owner", "password": "sawdust", "next": f"{FORM}?held=1"}, follow=True)
    kept = values_of(page)
    assert (kept["setup-arm"], kept["key"]) == ("11 3/4 in", data["key"])
    assert "You had been logged out. This is what you sent" in text(page)
    assert client.get(FORM, {"held": "1"}).headers["Location"] == "/submit/"  # once


def test_form_sent_after_the_session_ended_is_shown_to_nobody_else(client, owner):
    client.logout()
    client.post(FORM, {**form(), "by": str(owner.pk), "do": "save"})
    session = client.session
    held = session["form_held"]
    client.force_login(make_user("stranger"))
    session = client.session
    session["form_held"] = held  # logging in keeps the session's data
    session.save()

    assert client.get(FORM, {"held": "1"}).headers["Location"] == "/submit/"


def test_form_held_while_logging_in_shows_nothing_of_the_study_of_another(client, owner):
    theirs = make_study("A secret joint", status="draft", contributor=make_user("somebody else"))
    client.logout()
    client.post(FORM, {**form(), "change": str(theirs.pk), "by": str(owner.pk), "do": "save"})
    client.post("/login/", {"login": "owner", "password": "sawdust", "next": "/"})

    page = client.get(FORM, {"held": "1"})

    assert page.status_code == 200 and values_of(page)["setup-arm"] == "300"
    assert page.context["changes"] is None
    assert "A secret joint" not in page.content.decode()


# handing in


def test_hand_in_throws_the_draft_away(client, owner):
    data = form(shared__cure="200")
    keep(client, data)

    saved = save(client, data | {"version": "1"})

    assert saved.headers["Location"] == Study.objects.get().get_absolute_url()
    assert saved.cookies["arrived"].value == data["key"]
    assert not FormDraft.objects.exists()
    late = keep(client, data | {"setup-arm": "310"}, version=1)  # from a tab that was left open
    assert (late.status_code, late.json()["study"]) == (410, Study.objects.get().get_absolute_url())
    assert not FormDraft.objects.exists()


def test_hand_in_that_fails_keeps_the_draft(client, owner, monkeypatch):
    data = form(shared__cure="200")
    seen = post(client, data).context["seen"]
    client.raise_request_exception = False
    filled = FormDraft.objects.filter

    def broken(*args, **kwargs):  # the last step of handing in
        if kwargs and set(kwargs) == {"pk"} and Study.objects.exists():
            raise OSError("the disk is gone")
        return filled(*args, **kwargs)

    monkeypatch.setattr(FormDraft.objects, "filter", broken)
    answer = post(client, data | {"seen": seen}, "save")

    monkeypatch.undo()
    assert answer.status_code in (500, 503)
    assert not Study.objects.exists()
    assert FormDraft.objects.count() == 1
