"""Whether a reader holds the answer already."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone
from django.utils.http import http_date

from results.evidence import restate
from results.kept import code
from results.models import DataVersion, data_version
from results.review.decide import withdraw
from tests.factories import make_series, make_specimen, make_study, make_user

pytestmark = pytest.mark.django_db
ADDRESSES = ["studies", "specimens.csv", "compare", "evidence", "columns", "schema", "network", "joints?page_size=2"]


def tag(client, address: str, **headers: str) -> str:
    response = client.get(f"/api/v1/{address}", headers=headers)
    assert response.status_code == 200, response.content
    return response.headers["ETag"]


@pytest.mark.parametrize("address", ADDRESSES)
def test_answer_that_is_held_is_not_sent_again(client, address):
    make_specimen()
    held = tag(client, address)

    again = client.get(f"/api/v1/{address}", headers={"If-None-Match": f'"other", {held}'})

    assert (again.status_code, again.content) == (304, b"")
    assert again.headers["ETag"] == held
    assert again.headers["Cache-Control"] == "public, max-age=60"
    assert {"Accept", "Authorization", "Cookie"} <= set(again.headers["Vary"].split(", "))


def test_tag_differs_by_reader_format_and_query(client):
    make_study()
    tags = {
        tag(client, "studies"),
        tag(client, "studies.csv"),
        tag(client, "studies", accept="text/csv"),
        tag(client, "studies?page_size=5"),
    }
    client.force_login(make_user("reader"))
    tags.add(tag(client, "studies"))
    client.force_login(make_user("other"))
    tags.add(tag(client, "studies"))

    assert len(tags) == 6


def test_every_change_gives_another_tag(client):
    study, other = make_study(), make_study("Another")
    make_specimen(make_series(study))
    seen = [tag(client, "studies")]

    restate(study)
    seen.append(tag(client, "studies"))
    withdraw(study, study.contributor, "the arm was measured wrongly")
    seen.append(tag(client, "studies"))
    other.delete()
    seen.append(tag(client, "studies"))

    assert len(set(seen)) == 4


def test_owner_of_a_draft_is_told_of_its_changes(client):
    owner = make_user("owner")
    client.force_login(owner)
    before = tag(client, "studies?status=draft")
    make_study("Mine", status="draft", contributor=owner)

    again = client.get("/api/v1/studies?status=draft", headers={"If-None-Match": before})

    assert (again.status_code, again.json()["count"]) == (200, 1)


def test_refusal_has_no_tag_and_is_given_to_whoever_sends_one(client):
    response = client.get("/api/v1/studies?colour=red", headers={"If-None-Match": "*"})

    assert response.status_code == 400
    assert "ETag" not in response.headers


def test_date_of_the_last_change_does_where_no_tag_is_sent(client):
    make_study()
    DataVersion.objects.update(changed_at=timezone.now() - timedelta(days=10_000))

    dated = client.get("/api/v1/studies").headers["Last-Modified"]

    # A new program may answer otherwise from old data, so that the date is that of the younger of the two.
    assert dated == http_date(int(code().newest))
    assert client.get("/api/v1/studies", headers={"If-Modified-Since": dated}).status_code == 304
    before = http_date(code().newest - 10)
    assert client.get("/api/v1/studies", headers={"If-Modified-Since": before}).status_code == 200
    assert client.get("/api/v1/studies", headers={"If-Modified-Since": "yesterday"}).status_code == 200
    # A tag that doesn't fit goes before a date that does.
    both = {"If-Modified-Since": dated, "If-None-Match": '"other"'}
    assert client.get("/api/v1/studies", headers=both).status_code == 200


def test_change_of_this_very_second_has_no_date(client):
    DataVersion.objects.update(changed_at=timezone.now() + timedelta(seconds=5))
    make_study()
    DataVersion.objects.update(changed_at=timezone.now() + timedelta(seconds=5))

    assert "Last-Modified" not in client.get("/api/v1/studies").headers


def test_answer_to_somebody_signed_in_has_a_tag_and_no_date(client):
    make_study()
    client.force_login(make_user())

    headers = client.get("/api/v1/studies").headers

    assert "ETag" in headers
    assert "Last-Modified" not in headers


def test_held_answer_costs_one_query(client, django_assert_num_queries):
    make_specimen()
    held = tag(client, "specimens")

    with django_assert_num_queries(1):
        assert client.get("/api/v1/specimens", headers={"If-None-Match": held}).status_code == 304


def test_book_in_which_nothing_was_saved_has_a_tag(client):
    DataVersion.objects.all().delete()
    assert data_version().number == 0
    held = tag(client, "studies")

    assert client.get("/api/v1/studies", headers={"If-None-Match": held}).status_code == 304
