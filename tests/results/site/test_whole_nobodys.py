"""Whole pages that are kept are nobody's: nothing of one reader or one request is kept, nor given to another."""

from __future__ import annotations

import pytest
from django.conf import settings as site
from django.contrib import messages
from django.contrib.auth.models import AnonymousUser
from django.contrib.messages.storage.base import Message
from django.contrib.messages.storage.cookie import CookieStorage
from django.core.cache import caches
from django.db import connection
from django.http import HttpResponse, StreamingHttpResponse
from django.middleware.csrf import get_token
from django.test import Client, RequestFactory
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from results import kept
from results.models import Study, bump
from results.site import routing, whole
from results.site.whole import KeptPages, kept_whole
from tests.factories import make_reviewer, make_series, make_study, make_user

from .test_whole import is_warm, queries_of

pytestmark = pytest.mark.django_db


def test_nothing_of_somebody_signed_in_is_kept_or_given(client):
    make_study("Rails into posts")
    client.force_login(make_user("somebody-signed-in"))
    own = client.get("/studies/")
    assert b"somebody-signed-in" in own.content and b"csrfmiddlewaretoken" in own.content

    nobody, queries = queries_of(Client(), "/studies/")
    assert b"somebody-signed-in" not in nobody.content and b"csrfmiddlewaretoken" not in nobody.content
    assert queries > 1
    # And now that everybody's is there, whoever is signed in has their own all the same.
    assert b"somebody-signed-in" in client.get("/studies/").content


def test_a_draft_is_its_owners_a_waiting_study_its_reviewers_and_neither_is_ever_kept():
    owner, reviewer = make_user("owner"), make_reviewer()
    studies = [
        make_study("Of a shed nobody knows", status=status, contributor=owner, workshop="Hidden shed")
        for status in ("draft", "submitted", "returned")
    ]
    for study in studies:
        make_series(study, joint="dowel")
    addresses = ["/", "/studies/", "/workshops/", "/joints/dowel/", "/joints/", "/evidence/", "/compare/"]
    addresses += [f"/studies/{study.pk}/" for study in studies] + ["/mine/", "/review/"]
    for user in (owner, reviewer):
        somebody = Client()
        somebody.force_login(user)
        for address in addresses:
            somebody.get(address)
    seen = Client()
    seen.force_login(owner)
    assert b"Of a shed nobody knows" in seen.get(f"/studies/{studies[0].pk}/").content

    for _ in range(2):
        for address in addresses:
            page = Client().get(address)
            assert b"Of a shed nobody knows" not in page.content and b"Hidden shed" not in page.content, address
        assert Client().get(f"/studies/{studies[0].pk}/").status_code == 404

    # Accepted, it is there at once.
    studies[1].status, studies[1].accepted_at = Study.Status.ACCEPTED, timezone.now()
    studies[1].save()
    assert b"Of a shed nobody knows" in Client().get("/studies/").content


@pytest.mark.parametrize("cookie", [site.SESSION_COOKIE_NAME, "messages", routing.COOKIE])
def test_who_sends_a_cookie_of_their_own_is_given_no_kept_page(client, cookie):
    client.get("/")
    somebody = Client()
    somebody.cookies[cookie] = "anything"

    assert not is_warm(somebody, "/")


def test_who_sends_a_token_or_writes_is_given_no_kept_page(client):
    client.get("/")

    assert not is_warm(client, "/", headers={"authorization": "Bearer x"})
    with CaptureQueriesContext(connection) as asked:
        assert client.post("/").status_code == 200
    assert len(asked) > 1


def test_a_cookie_that_matters_to_no_page_is_no_matter(client):
    client.get("/")
    somebody = Client()
    somebody.cookies["somebody_elses"] = "1"
    somebody.cookies[site.CSRF_COOKIE_NAME] = "x" * 32

    assert is_warm(somebody, "/")


def test_a_cookie_that_chooses_has_a_page_for_each_choice(client):
    def of(value):
        client.cookies["units"] = value
        return is_warm(client, "/")

    assert [of("si"), of("imperial"), of("si"), of("imperial")] == [False, False, True, True]
    assert [of("furlongs"), of("")] == [True, True]  # as not chosen


def answer(make, **headers):
    """What becomes of an answer of a view of that making, and whether it was kept."""
    request = RequestFactory().get("/made-up/", HTTP_HOST="localhost")
    request.user, request.session, request.resolver_match = AnonymousUser(), Empty(), None
    request._messages = []
    view = kept_whole(make)
    caches["pages"].clear()
    middleware = KeptPages(lambda asked: view(asked))
    response = middleware(request)
    again = RequestFactory().get("/made-up/", HTTP_HOST="localhost")
    found = KeptPages(lambda asked: HttpResponse(b"made anew"))(again)
    return response, found.content != b"made anew"


class Empty(dict):
    def is_empty(self):
        return not self


def plain(request):
    return HttpResponse(b"everybody's")


def with_headers(**headers):
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    return lambda request: HttpResponse(b"x", headers=named)


def with_cookie(request):
    response = plain(request)
    response.set_cookie("any", "thing")
    return response


def with_token(request):
    return HttpResponse(get_token(request))


def with_message(request):
    request._messages = [Message(messages.INFO, "Saved.")]
    return plain(request)


def signed_in(request):
    request.user = make_user("owner")
    return plain(request)


def in_session(request):
    request.session["any"] = "thing"
    return plain(request)


def changes(request):
    bump()
    return plain(request)


def of_before(request):
    kept._given.of_before = kept.of_before() + 1
    return plain(request)


def test_a_plain_answer_is_kept():
    assert answer(plain)[1]


@pytest.mark.parametrize(
    "make",
    [
        with_cookie,
        with_token,
        with_message,
        signed_in,
        in_session,
        changes,
        of_before,
        with_headers(Retry_After="20"),
        with_headers(X_RateLimit_Remaining="3"),
        with_headers(Vary="Accept-Language"),
        with_headers(Vary="*"),
        with_headers(Cache_Control="private"),
        with_headers(Cache_Control="no-store"),
        with_headers(Content_Security_Policy="script-src 'nonce-abc'"),
        lambda request: HttpResponse(b"x", status=404),
        lambda request: HttpResponse(b"x", status=301),
        lambda request: StreamingHttpResponse(iter([b"x"])),
        lambda request: HttpResponse(b"x" * (whole.BYTES_MOST + 1)),
    ],
)
def test_what_is_of_one_reader_or_one_request_is_never_kept(make):
    response, is_kept = answer(make)

    assert not is_kept
    assert "ETag" not in response.headers


def test_a_message_is_told_to_whom_it_is_for_and_is_on_nobody_elses_page(client):
    client.get("/")
    client.cookies["messages"] = a_message("You are signed out.")

    assert b"You are signed out." in client.get("/").content
    for _ in range(2):
        assert b"You are signed out." not in Client().get("/").content


def a_message(text: str) -> str:
    """The cookie that holds it until the next page."""
    storage, response = CookieStorage(RequestFactory().get("/")), HttpResponse()
    storage.add(messages.INFO, text)
    storage.update(response)
    return response.cookies["messages"].value
