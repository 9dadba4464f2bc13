"""The list of releases, for programs."""

from __future__ import annotations

import io
from datetime import timedelta

import pandas as pd
import pytest

from tests.results.releases.books import ACCEPTED_AT, a_published, a_study, folder, released

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


@pytest.fixture(autouse=True)
def data_dir(settings, tmp_path):
    settings.DATA_DIR = tmp_path


def test_list_of_an_empty_book_is_empty(client):
    assert client.get("/api/v1/releases.json").json()["results"] == []


def test_list_has_each_release_with_its_counts_and_where_its_files_are(client):
    a_study()
    released()
    a_published(at=ACCEPTED_AT + timedelta(days=1))
    second = released()

    rows = client.get("/api/v1/releases.json").json()["results"]

    assert [row["release"] for row in rows] == ["2025-03-15-1", "2025-03-14-1"]
    assert rows[0] == {
        "release": "2025-03-15-1",
        "date": "2025-03-15",
        "as_of": "2025-03-15T10:30:15Z",
        "studies": 2,
        "series": 3,
        "specimens": 6,
        "invented": 0,
        "added": 1,
        "changed": 0,
        "withdrawn": 0,
        "data_sha256": second.data_hash,
        "page": "http://testserver/data/releases/2025-03-15-1/",
        "datapackage": "http://testserver/data/releases/2025-03-15-1/datapackage.json",
    }
    descriptor = client.get("/data/releases/2025-03-15-1/datapackage.json")
    assert descriptor.getvalue() == (folder(second) / "datapackage.json").read_bytes()


def test_list_is_a_csv_too(client):
    a_study()
    released()
    response = client.get("/api/v1/releases.csv")

    frame = pd.read_csv(io.BytesIO(response.getvalue() if response.streaming else response.content))

    assert frame.loc[0, ["release", "studies", "as_of"]].tolist() == ["2025-03-14-1", 1, "2025-03-14T10:30:15Z"]


def test_list_refuses_what_it_does_not_take(client):
    response = client.get("/api/v1/releases.json?latest=1")

    assert response.status_code == 400
    assert response.json()["parameter"] == "latest"


def test_a_new_release_is_seen_by_whoever_asks_whether_the_list_is_still_the_same(client):
    a_study()
    released()
    known = client.get("/api/v1/releases.json").headers.get("ETag")
    a_published(at=ACCEPTED_AT + timedelta(days=1))
    released()

    headers = {"If-None-Match": known} if known else {}
    assert client.get("/api/v1/releases.json", headers=headers).status_code == 200
