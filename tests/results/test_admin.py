"""The pages for staff: what they may do with people and words, and that records are beyond them."""

from __future__ import annotations

import pytest
from allauth.mfa.models import Authenticator
from django.contrib.auth import get_user_model
from django.contrib.auth.models import Group
from django.urls import reverse

from results.models import Answer, Entry, Question, Revision, Study, Timber, data_version, reviews
from tests.factories import make_failure_place, make_joint, make_study, make_timber, make_user

from .pages.people import second_factor

pytestmark = pytest.mark.django_db


def page(model: str, what: str, *args: object) -> str:
    app = "auth" if model == "user" else "results"
    return reverse(f"admin:{app}_{model}_{what}", args=args)


@pytest.fixture
def staff(client):
    user = make_user("keeper", is_staff=True)
    user.groups.add(Group.objects.get(name="staff"))
    client.force_login(user)
    return user


@pytest.fixture
def boss(client):
    user = make_user("boss", is_staff=True, is_superuser=True)
    client.force_login(user)
    return user


def form_of(client, address: str) -> dict[str, object]:
    """What the page's form would send as it stands."""
    form = client.get(address).context["adminform"].form
    values = {name: form[name].value() for name in form.fields}
    return {name: value for name, value in values.items() if value is not None and value is not False}


def test_readers_and_reviewers_are_kept_out(client):
    reviewer = make_user("reviewer")
    reviewer.groups.add(Group.objects.get(name="reviewers"))
    for user in (make_user("reader"), reviewer):
        client.force_login(user)
        assert client.get(page("user", "changelist"), follow=True).status_code == 403


def test_staff_make_somebody_a_reviewer_by_the_group(client, staff):
    user = make_user("reader")
    address = page("user", "change", user.pk)
    assert not reviews(user)

    sent = {**form_of(client, address), "groups": [Group.objects.get(name="reviewers").pk]}
    response = client.post(address, sent)

    assert response.status_code == 302
    assert reviews(get_user_model().objects.get(pk=user.pk))


def test_staff_make_nobody_staff_and_change_none_of_them(client, staff):
    user, boss = make_user("reader"), make_user("boss", is_staff=True, is_superuser=True)
    address = page("user", "change", user.pk)
    client.post(address, {**form_of(client, address), "is_staff": "on", "is_superuser": "on"})
    user.refresh_from_db()

    assert (user.is_staff, user.is_superuser) == (False, False)
    for address in (page("user", "change", boss.pk), reverse("admin:auth_user_password_change", args=[boss.pk])):
        assert client.post(address, {"password1": "long-grain-9", "password2": "long-grain-9"}).status_code == 403
    for address in (page("user", "delete", boss.pk), page("user", "delete", staff.pk)):
        assert client.post(address, {"post": "yes"}).status_code == 403
    client.post(page("user", "changelist"), {"action": "delete_selected", "_selected_action": boss.pk, "post": "yes"})
    assert get_user_model().objects.count() == 3


def test_deleting_somebody_is_leaving_for_them(client, boss):
    user = make_user("owner")
    accepted, draft = make_study("Open", contributor=user), make_study("Own", status="draft", contributor=user)

    asked = client.get(page("user", "delete", user.pk)).content.decode()
    client.post(page("user", "delete", user.pk), {"post": "yes"})

    assert f"study {draft.pk}, draft" in asked and f"study {accepted.pk}" not in asked
    assert list(Study.objects.values_list("title", "contributor")) == [("Open", None)]
    assert not get_user_model().objects.filter(pk=user.pk).exists()


def test_a_lost_second_factor_is_taken_off_but_not_that_of_other_staff(client, staff):
    user, boss = make_user("owner"), make_user("boss", is_staff=True)
    second_factor(user)
    second_factor(boss)

    client.post(
        page("user", "changelist"), {"action": "take_off_second_factor", "_selected_action": [user.pk, boss.pk]}
    )

    assert set(Authenticator.objects.values_list("user", flat=True)) == {boss.pk}


def test_no_page_shows_secrets(client, boss):
    for name in ("authtoken_tokenproxy", "mfa_authenticator", "account_emailconfirmation", "results_formdraft"):
        assert f"{name.partition('_')[0]}/{name.partition('_')[2]}" not in client.get("/admin/").content.decode()


def test_a_name_put_right_raises_the_data_version_and_what_numbers_rest_on_stays(client, staff):
    make_joint("dowel", area_rule="dowel")
    before = data_version().number
    address = page("joint", "change", "dowel")

    response = client.post(address, {**form_of(client, address), "name": "Dowels", "area_rule": "other", "code": "x"})

    assert response.status_code == 302
    joint = make_joint("dowel")
    assert (joint.name, joint.area_rule) == ("Dowels", "dowel")
    assert data_version().number > before


def test_a_timber_can_be_added_and_must_say_where_it_is_from(client, staff):
    typed = form_of(client, page("timber", "add")) | {
        "code": "pear",
        "name": "pear",
        "group": "hardwood",
        "provenance": "table",
    }

    refused = client.post(page("timber", "add"), {**typed, "source": ""})
    client.post(page("timber", "add"), {**typed, "source": "a table", "mor_12_mpa": "93"})

    assert "This field is required." in refused.content.decode()
    assert Timber.objects.get(code="pear").mor_12_mpa == 93.0


def test_numbers_of_a_timber_and_codes_are_not_changed_here(client, boss):
    make_timber("oak", mor_12_mpa=99.0)
    address = page("timber", "change", "oak")

    client.post(address, {**form_of(client, address), "mor_12_mpa": "1", "name": "Oak"})

    assert list(Timber.objects.values_list("code", "name", "mor_12_mpa")) == [("oak", "Oak", 99.0)]


def test_words_are_never_deleted_and_rules_never_added(client, boss):
    make_failure_place("bond_line")

    assert client.post(page("failureplace", "delete", "bond_line"), {"post": "yes"}).status_code == 403
    assert client.get(page("joint", "add")).status_code == 403
    assert client.get(page("loading", "add")).status_code == 403
    assert client.get(page("failureplace", "add")).status_code == 200


@pytest.fixture
def records():
    study = make_study("Open")
    revision = Revision.objects.create(study=study, number=1, state="accepted", document=b"x", document_sha256="0" * 64)
    entry = Entry.objects.create(
        number=1, at=study.accepted_at, study=study, revision=revision, what="accepted", before="0" * 64, hash="1" * 64
    )
    question = Question.objects.create(study=study, kind="question", text="Which glue?", asked_by=make_user("other"))
    answer = Answer.objects.create(question=question, by=study.contributor, text="Hide glue.")
    return {"study": study, "revision": revision, "entry": entry, "question": question, "answer": answer}


@pytest.mark.parametrize("name", ["study", "revision", "entry", "question", "answer"])
def test_records_are_read_and_nothing_more_even_by_a_superuser(client, boss, records, name):
    record = records[name]

    assert client.get(page(name, "changelist")).status_code == 200
    shown = client.get(page(name, "change", record.pk))
    assert shown.status_code == 200 and not shown.context["has_change_permission"]
    assert client.post(page(name, "change", record.pk), {"title": "Spoilt", "text": "Spoilt"}).status_code == 403
    assert client.get(page(name, "add")).status_code == 403
    may_go = name in ("question", "answer")
    assert client.post(page(name, "delete", record.pk), {"post": "yes"}).status_code == (302 if may_go else 403)
    assert type(record).objects.filter(pk=record.pk).exists() is not may_go


def test_drafts_are_their_contributors_own(client, boss):
    draft = make_study("Own", status="draft")

    assert "Own" not in client.get(page("study", "changelist")).content.decode()
    assert client.get(page("study", "change", draft.pk)).status_code == 302  # not there
