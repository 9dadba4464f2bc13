"""What goes wrong beside the pages: a database that is away, a full disk, forms without a mark, requests too large."""

from __future__ import annotations

import errno

import pytest
from django.db import DatabaseError, InterfaceError, OperationalError, connection
from django.test import Client
from django.urls import path

from results.site.urls import *  # noqa: F403
from results.site.urls import urlpatterns as site
from tests.factories import make_user
from tests.results.pages.shops import text

pytestmark = pytest.mark.django_db


def away(execute, sql, params, many, context):
    raise OperationalError("connection to server failed")


@pytest.fixture
def unraised():
    """A reader, who gets an answer where a test would get the error."""
    return Client(raise_request_exception=False)


@pytest.mark.parametrize("address", ["/", "/compare/", "/studies/", "/mine/", "/account/", "/login/"])
def test_a_database_that_is_away_is_told_and_nothing_is_lost(unraised, address):
    unraised.force_login(make_user("owner"))

    with connection.execute_wrapper(away):
        response = unraised.get(address)

    assert (response.status_code, response.headers["Retry-After"]) == (503, "30")
    assert "Nothing is lost: what was saved is there, and nothing was half saved." in text(response)
    assert "Content-Security-Policy" in response.headers
    assert unraised.get(address).status_code < 400


def test_a_form_that_meets_no_database_is_told_to_go_back(unraised):
    with connection.execute_wrapper(away):
        response = unraised.post("/login/", {"login": "owner", "password": "x"})

    assert response.status_code == 503 and "go back in your browser" in text(response)


@pytest.mark.parametrize("address", ["/api/v1/studies.json", "/api/v1/specimens.csv", "/api/v1/compare.json"])
def test_the_api_says_it_as_a_problem(unraised, address):
    with connection.execute_wrapper(away):
        response = unraised.get(address)

    assert (response.status_code, response.headers["Retry-After"]) == (503, "30")
    assert response.headers["Content-Type"] == "application/problem+json"
    found = response.json()
    assert (found["title"], found["status"]) == ("Not available", 503)
    assert unraised.get(found["type"]).status_code == 200


def _raises(error):
    def view(request):
        raise error

    return view


def _behind(request):
    try:
        raise InterfaceError("connection already closed")
    except InterfaceError as error:
        raise RuntimeError("could not be shown") from error


# The site, with views that break.
urlpatterns = [
    path("break/behind/", _behind),
    path("break/disk/", _raises(OSError(errno.ENOSPC, "No space left on device"))),
    path("break/database-disk/", _raises(OperationalError("database or disk is full"))),
    path("break/ours/", _raises(ValueError("a slip"))),
    path("break/sql/", _raises(DatabaseError("a slip in SQL"))),
    *site,
]


@pytest.mark.urls(__name__)
@pytest.mark.parametrize(
    ("what", "status", "said"),
    [
        ("behind", 503, "Back in a moment"),
        ("disk", 503, "The book has no room left"),
        ("database-disk", 503, "The book has no room left"),
        ("ours", 500, "Something broke that shouldn't have"),
        ("sql", 500, "Something broke that shouldn't have"),
    ],
)
def test_what_broke_is_told_apart(unraised, what, status, said):
    response = unraised.get(f"/break/{what}/")

    assert response.status_code == status and said in text(response)


def test_a_form_without_its_mark_is_refused_and_says_what_to_do():
    client = Client(enforce_csrf_checks=True)
    client.force_login(make_user("owner"))

    for address in ("/account/", "/account/delete/", "/submit/form/", "/data/token/", "/logout/"):
        response = client.post(address, {"digest": "never"})
        assert response.status_code == 403, address
        assert "This form could not be taken" in text(response) and "what you typed is still there" in text(response)
    assert client.get("/account/").status_code == 200


def test_too_many_fields_are_refused_with_the_number_that_is_taken(client, settings):
    settings.DATA_UPLOAD_MAX_NUMBER_FIELDS = 10

    response = client.post("/login/", {f"field-{number}": "x" for number in range(11)})

    assert response.status_code == 413
    assert "10 fields at the most" in text(response) and "spreadsheet" in text(response)


def test_too_large_a_form_is_refused_with_the_size_that_is_taken(client, settings):
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 2_000_000

    response = client.post("/login/", "x" * 2_000_001, content_type="application/x-www-form-urlencoded")

    assert response.status_code == 413 and "2 MB at the most" in text(response)


def test_a_request_that_cannot_be_read_is_refused(client):
    response = client.get("/", headers={"host": "elsewhere.example"})

    assert response.status_code == 400
