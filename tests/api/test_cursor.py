"""Pages that begin after a row."""

from __future__ import annotations

import re

import pytest

from tests.factories import make_joint, make_series, make_setup, make_specimen, make_study

pytestmark = pytest.mark.django_db


@pytest.fixture
def specimens():
    """Seven specimens in two series; values that tie and values that are missing."""
    study = make_study()
    setup = make_setup(study)
    series = [make_series(setup=setup, joint=joint) for joint in ("butt", "mt_blind")]
    stresses = [30.5, None, 12.25, 30.5, None, 0.1 + 0.2, 99.0]
    return [make_specimen(series[at % 2], stress_mpa=stress, position=at) for at, stress in enumerate(stresses)]


def walked(client, query: str) -> tuple[list[list[int]], list[dict]]:
    """Numbers of specimens on each page, and the pages."""
    pages, found, address = [], [], f"/api/v1/specimens?cursor=&page_size=2&{query}"
    while address:
        response = client.get(address.removeprefix("http://testserver"))
        assert response.status_code == 200, response.content
        body = response.json()
        pages.append([row["specimen_id"] for row in body["results"]])
        found.append({**body, "Link": response.headers.get("Link", "")})
        address = body["next"]
    return pages, found


@pytest.mark.parametrize(
    "query",
    ["", "ordering=stress_mpa", "ordering=-stress_mpa", "ordering=joint,-stress_mpa", "ordering=-joint", "joint=butt"],
)
def test_pages_hold_the_rows_of_the_whole_in_its_order(client, specimens, query):
    whole = client.get(f"/api/v1/specimens?{query}").json()["results"]

    pages, _ = walked(client, query)

    assert [pk for page in pages for pk in page] == [row["specimen_id"] for row in whole]
    assert all(len(page) == 2 for page in pages[:-1])


def test_cursor_by_a_time_keeps_its_fraction(client):
    studies = [make_study(f"Study {number}") for number in range(4)]
    found, address = [], "/api/v1/studies?cursor=&page_size=1&ordering=-accepted_at"
    while address:
        body = client.get(address.removeprefix("http://testserver")).json()
        found += [row["study_id"] for row in body["results"]]
        address = body["next"]

    assert found == [study.pk for study in reversed(studies)]


def test_row_added_meanwhile_moves_nothing(client, specimens):
    first = client.get("/api/v1/specimens?cursor=&page_size=3").json()
    make_specimen(specimens[0].series, position=0)

    second = client.get(first["next"].removeprefix("http://testserver")).json()

    seen = [row["specimen_id"] for row in first["results"] + second["results"]]
    assert len(set(seen)) == len(seen)


def test_envelope_stays_and_the_link_header_leads_on(client, specimens):
    _, found = walked(client, "")

    assert [set(body) for body in found] == [{"count", "next", "previous", "results", "Link"}] * 4
    assert [body["count"] for body in found] == [None] * 4
    assert re.fullmatch(
        r'<http[^>]+cursor=>?[^>]*>; rel="first", <http[^>]+cursor=[^>]+>; rel="next"', found[0]["Link"]
    )
    assert found[0]["next"] in found[0]["Link"]
    assert 'rel="next"' not in found[-1]["Link"]


def test_table_by_the_cursor_has_the_link_too(client, specimens):
    response = client.get("/api/v1/specimens.csv?cursor=&page_size=2&fields=specimen_id")

    assert response.content.decode().split() == ["specimen_id", str(specimens[0].pk), str(specimens[2].pk)]
    assert 'rel="next"' in response.headers["Link"]


def test_numbered_pages_have_links_as_well(client):
    for place in range(5):
        make_joint(f"joint_{place}", position=place)

    headers = [client.get(f"/api/v1/joints{kind}?page=2&page_size=2").headers for kind in ("", ".csv")]

    base = "http://testserver/api/v1/joints"
    for kind, told in zip(("", ".csv"), headers, strict=True):
        assert told["Link"] == (
            f'<{base}{kind}?page_size=2>; rel="first", <{base}{kind}?page_size=2>; rel="prev", '
            f'<{base}{kind}?page=3&page_size=2>; rel="next", <{base}{kind}?page=3&page_size=2>; rel="last"'
        )


@pytest.mark.parametrize("cursor", ["2", "eyJhIjoxfQ:1abc:xyz", "a:b:c", "%00", "x" * 3000])
def test_made_up_cursor_is_refused(client, specimens, cursor):
    response = client.get(f"/api/v1/specimens?cursor={cursor}")

    assert (response.status_code, response.json()["parameter"]) == (400, "cursor")
    assert "begin with cursor= and nothing" in response.json()["detail"]


def test_cursor_of_another_order_is_refused(client, specimens):
    following = client.get("/api/v1/specimens?cursor=&page_size=2").json()["next"].removeprefix("http://testserver")

    response = client.get(f"{following}&ordering=joint")

    assert response.status_code == 400
    assert "another order" in response.json()["detail"]


def test_cursor_and_page_together_are_refused(client, specimens):
    response = client.get("/api/v1/specimens?cursor=&page=2")

    assert (response.status_code, response.json()["parameter"]) == (400, "page")
