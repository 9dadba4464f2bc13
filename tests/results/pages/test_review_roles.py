"""Who may do what on the pages of review, questions and notices: every address and method, for every role."""

from __future__ import annotations

import pytest
from django.test import Client

from results.models import Notice, Question, Revision
from results.review import ask as asking
from results.review.hand_in import hand_in_draft
from results.review.notify import tell
from tests.factories import make_reviewer, make_study, make_user

pytestmark = pytest.mark.django_db

ROLES = ("anonymous", "contributor", "other", "reviewer", "own reviewer")
# On a study of `contributor`'s, asked about by `asker`; the last role is a reviewer and contributed it.
LOGIN, OK, DONE, NO, GONE, NOT_SO = 302, 200, 303, 403, 404, 405
EXPECTED = {
    # address: by method, a status for each role
    "/review/": {"get": (LOGIN, NO, NO, OK, OK), "post": (LOGIN, NO, NO, NOT_SO, NOT_SO)},
    "/review/{revision}/": {"get": (LOGIN, NO, NO, OK, OK), "post": (LOGIN, NO, NO, DONE, NO)},
    "/studies/{study}/ask/": {"get": (LOGIN, NO, OK, OK, NO), "post": (LOGIN, NO, DONE, DONE, NO)},
    "/studies/{waiting}/ask/": {"get": (GONE, NO, GONE, NO, NO), "post": (GONE, NO, GONE, NO, NO)},
    "/questions/{question}/answer/": {"get": (LOGIN, OK, NO, OK, OK), "post": (LOGIN, DONE, NO, DONE, DONE)},
    "/questions/{question}/resolve/": {"get": (LOGIN, NO, NO, OK, NO), "post": (LOGIN, NO, NO, DONE, NO)},
    "/questions/{hidden}/answer/": {"get": (GONE, OK, GONE, OK, OK), "post": (GONE, DONE, GONE, DONE, DONE)},
    "/mine/notices/": {"get": (LOGIN, OK, OK, OK, OK), "post": (LOGIN, DONE, DONE, DONE, DONE)},
    "/mine/notices/{notice}/": {"get": (LOGIN, GONE, GONE, GONE, GONE), "post": (LOGIN, *[NOT_SO] * 4)},
}
SAID = {"do": "accept", "remarks": "Well.", "kind": "question", "text": "Which glue?"}
CASES = [
    (address, method, role, statuses[at])
    for address, methods in EXPECTED.items()
    for method, statuses in methods.items()
    for at, role in enumerate(ROLES)
]


@pytest.fixture
def places(request):
    """The book for one case: what the addresses are filled with."""
    role = request.node.callspec.params.get("role")
    owner = make_reviewer("contributor") if role == "own reviewer" else make_user("contributor")
    study, waiting, hidden = (
        make_study(title, contributor=owner, status=status)
        for title, status in (("Known", "accepted"), ("Waiting", "draft"), ("Hidden", "accepted"))
    )
    hand_in_draft(waiting, owner)
    question, of_hidden = (
        asking.ask(one, make_user("asker"), "doubt", "Is it oak?", asking.Target()) for one in (study, hidden)
    )
    hidden.status = "returned"
    hidden.save()
    tell([make_user("asker")], study, "answer", "x", "/")
    return {
        "study": study.pk,
        "waiting": waiting.pk,
        "revision": Revision.objects.get(study=waiting).pk,
        "question": question.pk,
        "hidden": of_hidden.pk,
        "notice": Notice.objects.get(user__username="asker").pk,
    }


def log_in(client, role):
    if role == "reviewer":
        client.force_login(make_reviewer("another judge"))
    elif role != "anonymous":
        client.force_login(make_user("contributor" if role in ("contributor", "own reviewer") else "other"))


@pytest.mark.parametrize(("address", "method", "role", "status"), CASES)
def test_each_role_gets_its_answer_and_changes_nothing_else(client, places, address, method, role, status):
    log_in(client, role)
    before = state()

    response = getattr(client, method)(address.format(**places), SAID if method == "post" else None)

    if status == LOGIN:
        assert response.status_code == 302 and response.url.startswith("/login/?next=")
    elif status == DONE:
        assert response.status_code == 302 and not response.url.startswith("/login/")
    else:
        assert response.status_code == status
    if status != DONE:
        assert state() == before


def state():
    """All that these pages can change."""
    return (
        list(Revision.objects.order_by("pk").values("state", "remarks", "decided_by")),
        list(Question.objects.order_by("pk").values("state", "text", "resolution")),
        Question.objects.values_list("answers").count(),
        list(Notice.objects.order_by("pk").values("pk", "seen_at")),
    )


@pytest.mark.parametrize("address", ["/review/{revision}/", "/studies/{study}/ask/", "/mine/notices/"])
def test_form_without_its_token_is_refused(places, address):
    client = Client(enforce_csrf_checks=True)
    log_in(client, "reviewer")

    assert client.post(address.format(**places), SAID).status_code == 403
