"""Refusals: one shape, the right status, nothing that only a program understands."""

from __future__ import annotations

import json

import pytest
from django.test import Client

from api.errors import PROBLEMS, nearest
from tests.factories import make_study, make_user

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("address", "detail"),
    [
        ("studies/987654", "There is no study 987654 that you may read."),
        ("studies/987654.csv", "There is no study 987654 that you may read."),
        ("studies/99999999999999999999999", "There is no study 99999999999999999999999 that you may read."),
        ("joints/no_such", "There is no joint no_such that you may read."),
    ],
)
def test_record_that_is_not_there_is_not_found(client, address, detail):
    response = client.get(f"/api/v1/{address}")

    assert response.status_code == 404
    assert response.headers["Content-Type"] == "application/problem+json"
    assert json.loads(response.content) == {
        "type": "/api/v1/problems/not-found",
        "title": "Not found",
        "status": 404,
        "detail": detail,
        "request_id": response.headers["X-Request-ID"],
    }


@pytest.mark.parametrize(
    ("address", "right"),
    [
        ("specimen", "Did you mean specimens"),
        ("specimens.xml", "A table's address ends in .json, .csv, .ndjson, .parquet or nothing."),
        ("studies/abc", "Did you mean studies"),
        ("zzz", "Known: studies, series, specimens"),
        ("problems/strange", "Known: unknown-parameter, bad-value"),
    ],
)
def test_address_that_names_nothing_is_a_problem_too(client, address, right):
    response = client.get(f"/api/v1/{address}")

    assert (response.status_code, response.headers["Content-Type"]) == (404, "application/problem+json")
    assert right in response.json()["detail"]


def test_accept_header_that_allows_neither_format_is_refused(client):
    response = client.get("/api/v1/studies", headers={"accept": "application/xml"})

    assert (response.status_code, response.json()["type"]) == (406, "/api/v1/problems/no-such-format")


@pytest.mark.parametrize("method", ["post", "put", "patch", "delete"])
def test_writing_is_refused(client, method):
    study = make_study()

    response = getattr(client, method)(f"/api/v1/studies/{study.pk}")

    assert (response.status_code, response.json()["type"]) == (405, "/api/v1/problems/read-only")
    assert response.headers["Allow"] == "GET, HEAD, OPTIONS"


def test_writing_without_the_form_token_is_refused_in_the_same_shape():
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(make_user())

    response = strict.post("/api/v1/studies")

    assert (response.status_code, response.json()["type"]) == (403, "/api/v1/problems/refused")


@pytest.mark.parametrize("kind", PROBLEMS)
def test_every_kind_of_problem_is_explained_at_its_address(client, kind):
    body = client.get(f"/api/v1/problems/{kind}").json()

    title, meaning = PROBLEMS[kind]
    assert body["results"] == [{"kind": kind, "title": title, "meaning": meaning}]


def test_head_answers_like_get_without_a_body(client):
    response = client.head("/api/v1/studies.csv")

    assert (response.status_code, response.headers["Content-Type"]) == (200, "text/csv; charset=utf-8")


@pytest.mark.parametrize(
    ("address", "caching"),
    [
        ("studies", "public, max-age=60"),
        ("studies.csv", "public, max-age=60"),
        ("studies/0", "no-store"),
        ("studies?joint=nothing", "no-store"),
        ("nowhere", "no-store"),
    ],
)
def test_answers_are_open_to_scripts_elsewhere_and_say_how_long_they_keep(client, address, caching):
    response = client.get(f"/api/v1/{address}")

    assert response.headers["Access-Control-Allow-Origin"] == "*"
    assert "Access-Control-Allow-Credentials" not in response.headers
    assert response.headers["Cache-Control"] == caching


def test_answers_to_somebody_signed_in_are_kept_by_no_shared_cache(client):
    client.force_login(make_user())

    response = client.get("/api/v1/studies")

    assert response.headers["Cache-Control"] == "private, no-cache"
    assert "Cookie" in response.headers["Vary"]


@pytest.mark.parametrize(
    ("value", "known", "sentence"),
    [
        ("BUT", ["butt", "solid"], "Did you mean butt?"),
        ("xyz", ["butt", "solid"], "Known: butt, solid."),
        ("xyz", [], "There are none yet."),
        ("xyz", [f"joint_{n}" for n in range(31)], "There are 31 known."),
    ],
)
def test_nearest_says_what_was_probably_meant(value, known, sentence):
    assert nearest(value, known) == sentence
