"""How many requests a reader may make."""

from __future__ import annotations

import pytest
from rest_framework.authtoken.models import Token

from tests.factories import make_user

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def small_allowance(settings, monkeypatch):
    """Three requests in the minute, five with a token; the minute doesn't end during the test."""
    settings.API_ANONYMOUS_PER_MINUTE = 3
    settings.API_TOKEN_PER_MINUTE = 5
    monkeypatch.setattr("api.allowance.time.time", lambda: 600_030.0)


def test_every_answer_tells_the_policy_and_what_is_left(client):
    told = [client.get(f"/api/v1/{address}").headers for address in ("studies", "nowhere", "studies.csv")]

    assert [headers["RateLimit"] for headers in told] == [f'"anonymous";r={left};t=30' for left in (2, 1, 0)]
    assert {headers["RateLimit-Policy"] for headers in told} == {'"anonymous";q=3;w=60'}


def test_requests_above_the_allowance_are_told_when_to_come_back(client):
    for _ in range(3):
        assert client.get("/api/v1/studies").status_code == 200

    refused = client.get("/api/v1/studies")

    assert refused.status_code == 429
    assert refused.json()["type"] == "/api/v1/problems/too-many-requests"
    assert refused.headers["Retry-After"] == "30"
    assert refused.headers["RateLimit"] == '"anonymous";r=0;t=30'
    assert refused.headers["Cache-Control"] == "no-store"


def test_next_minute_begins_anew(client, monkeypatch):
    for _ in range(4):
        client.get("/api/v1/studies")
    monkeypatch.setattr("api.allowance.time.time", lambda: 600_060.0)

    assert client.get("/api/v1/studies").status_code == 200


def test_token_has_an_allowance_of_its_own_and_a_larger_one(client):
    token = Token.objects.create(user=make_user()).key
    for _ in range(3):
        client.get("/api/v1/studies")

    told = client.get("/api/v1/studies", headers={"Authorization": f"Bearer {token}"}).headers

    assert (told["RateLimit-Policy"], told["RateLimit"]) == ('"token";q=5;w=60', '"token";r=4;t=30')


def test_other_address_is_counted_apart_and_a_header_makes_none(client):
    for _ in range(3):
        client.get("/api/v1/studies")

    assert client.get("/api/v1/studies", headers={"X-Forwarded-For": "203.0.113.9"}).status_code == 429
    assert client.get("/api/v1/studies", REMOTE_ADDR="203.0.113.9").status_code == 200


def test_tokens_can_not_be_tried_out_without_end(client):
    wrong = {"Authorization": f"Bearer {'0' * 40}"}

    assert [client.get("/api/v1/studies", headers=wrong).status_code for _ in range(4)] == [401, 401, 401, 429]
