"""Lists by the page."""

from __future__ import annotations

import pytest

from api.pagination import Pages
from tests.factories import make_joint

pytestmark = pytest.mark.django_db
BASE = "http://testserver/api/v1"


@pytest.fixture
def five_joints():
    for place in range(5):
        make_joint(f"joint_{place}", position=place)


def test_envelope_links_pages_and_keeps_suffix_and_filters(client, five_joints):
    body = client.get("/api/v1/joints.json?page_size=2&page=2&family=mortise_tenon&fields=code").json()

    assert body == {
        "count": 5,
        "next": f"{BASE}/joints.json?family=mortise_tenon&fields=code&page=3&page_size=2",
        "previous": f"{BASE}/joints.json?family=mortise_tenon&fields=code&page_size=2",
        "results": [{"code": "joint_2"}, {"code": "joint_3"}],
    }


def test_last_page_is_short_and_has_no_next(client, five_joints):
    body = client.get("/api/v1/joints?page_size=2&page=last").json()

    assert (body["next"], [row["code"] for row in body["results"]]) == (None, ["joint_4"])


def test_page_size_over_the_largest_gives_the_largest(client, five_joints, monkeypatch):
    monkeypatch.setattr(Pages, "max_page_size", 3)

    body = client.get("/api/v1/joints?page_size=1000000").json()

    assert len(body["results"]) == 3


def test_largest_page_size_is_a_thousand():
    assert (Pages.page_size, Pages.max_page_size) == (100, 1000)


@pytest.mark.parametrize(
    ("page", "status", "kind", "title", "why"),
    [
        ("4", 404, "not-found", "Not found", "page=4 is not there: 5 rows, 2 on a page."),
        ("9" * 15, 404, "not-found", "Not found", f"page={'9' * 15} is not there: 5 rows, 2 on a page."),
        ("0", 400, "bad-value", "Value not usable", "page='0' is no page."),
        ("-1", 400, "bad-value", "Value not usable", "page='-1' is no page."),
        ("two", 400, "bad-value", "Value not usable", "page='two' is no page."),
    ],
)
@pytest.mark.parametrize("suffix", ["json", "csv"])
def test_page_that_is_not_there_says_what_is(client, five_joints, suffix, page, status, kind, title, why):
    response = client.get(f"/api/v1/joints.{suffix}?page_size=2&page={page}")

    detail = f"{why} It is a whole number from 1 to 3, or 'last'."
    assert response.status_code == status
    assert response.json() == {
        "type": f"/api/v1/problems/{kind}",
        "title": title,
        "status": status,
        "detail": detail,
        "parameter": "page",
        "value": page,
        "errors": [{"parameter": "page", "value": page, "detail": detail}],
        "request_id": response["X-Request-ID"],
    }


def test_empty_table_has_one_empty_page(client):
    assert client.get("/api/v1/joints?page=1").json() == {
        "count": 0,
        "next": None,
        "previous": None,
        "results": [],
    }
