"""Requests that can't be answered: the right status, a problem that says what is wrong, and no trace of a crash."""

from __future__ import annotations

import json

import pytest
from rest_framework.authtoken.models import Token

from tests.factories import make_specimen, make_user

pytestmark = pytest.mark.django_db
JSON = "application/json"


@pytest.mark.parametrize(
    ("address", "status", "kind", "detail"),
    [
        # Unknown parameter.
        ("specimens?colour=red", 400, "unknown-parameter", "'colour' is no parameter here."),
        ("footings?footings=stress", 400, "unknown-parameter", "Did you mean footing"),
        ("network?joints=butt", 400, "unknown-parameter", "Did you mean joint"),
        ("limits?coverages=0.9", 400, "unknown-parameter", "Did you mean coverage"),
        ("evidence?page=1", 400, "unknown-parameter", "'page' is no parameter here."),
        ("evidence?status=draft", 400, "unknown-parameter", "'status' is no parameter here."),
        ("columns?table=studies", 400, "unknown-parameter", "'table' is no parameter here."),
        ("schema?lang=de", 400, "unknown-parameter", "'lang' is no parameter here."),
        ("studies/1?fields=study_id", 400, "unknown-parameter", "'fields' is no parameter here."),
        # Wrong type.
        ("specimens?study=one", 400, "bad-value", "is not a number of a study"),
        ("specimens?series=1.5", 400, "bad-value", "is not a number of a series"),
        ("specimens?study=-1", 400, "bad-value", "is not a number of a study"),
        ("specimens?study=٣", 400, "bad-value", "is not a number of a study"),
        ("specimens?page_size=ten", 400, "bad-value", "is not a page size"),
        ("limits?coverage=most", 400, "bad-value", "it is a share from 0.5 to 0.999"),
        # Unknown value, with the nearest.
        ("specimens?joint=mt_blnd", 400, "bad-value", "Did you mean mt_blind?"),
        ("specimens?joint=mortise_tenon", 400, "bad-value", "is a family of joints: ask for"),
        ("compare?joint=mortise_tenon", 400, "bad-value", "is a family of joints: ask for"),
        ("footings?footing=stres", 400, "bad-value", "Did you mean stress?"),
        ("footings?available=maybe", 400, "bad-value", "Known: true, false."),
        ("network?footing=ratio_solit", 400, "bad-value", "Did you mean ratio_solid"),
        ("limits?model=lognorml", 400, "bad-value", "Did you mean lognormal"),
        ("evidence?by=timbr", 400, "bad-value", "Did you mean timber?"),
        ("evidence?table=cell", 400, "bad-value", "Did you mean cells?"),
        ("network?table=pair", 400, "bad-value", "Did you mean pairs or parts?"),
        ("specimens?ordering=peak_lod_n", 400, "bad-value", "Did you mean peak_load_n"),
        ("specimens?fields=peak_lod_n", 400, "bad-value", "Did you mean peak_load_n"),
        ("specimens?format=xml", 400, "bad-value", "it may be json or csv or ndjson or parquet"),
        ("schema?format=csv", 400, "bad-value", "it may be json"),
        ("specimens?joint=%00", 400, "bad-value", "is not known."),
        ("network?joint=%00", 400, "bad-value", "is not in the vocabulary."),
        ("specimens?workshop=%00%ff", 400, "bad-value", "is not known."),
        # Page past the end.
        ("specimens?page=2", 404, "not-found", "page=2 is not there: 1 rows, 100 on a page."),
        ("specimens.csv?page=2", 404, "not-found", "It is a whole number from 1 to 1, or 'last'."),
        ("specimens?page=999999999999999999999999", 404, "not-found", "page="),
        # No page at all.
        ("specimens?page=0", 400, "bad-value", "page='0' is no page."),
        ("specimens?page=-1", 400, "bad-value", "It is a whole number from 1 to 1, or 'last'."),
        ("specimens?page=two", 400, "bad-value", "page='two' is no page."),
        # Absurd limits.
        ("specimens?page_size=0", 400, "bad-value", "is not a page size"),
        ("specimens?page_size=-5", 400, "bad-value", "is not a page size"),
        ("limits?coverage=1", 400, "bad-value", "it is a share from 0.5 to 0.999"),
        ("limits?coverage=nan", 400, "bad-value", "it is a share from 0.5 to 0.999"),
        ("limits?confidence=1e400", 400, "bad-value", "it is a share from 0.5 to 0.999"),
        ("specimens?study=999999999999999999", 400, "bad-value", "there is no such study that you may read"),
        ("specimens?study=99999999999999999999", 400, "bad-value", "is not a number of a study"),
        ("specimens/99999999999999999999", 404, "not-found", "There is no specimen"),
        # Two values where there is room for one.
        ("specimens?page=1&page=2", 400, "bad-value", "page is there with 2 values, '1' and '2'; it takes one."),
        ("specimens?page_size=1&page_size=2", 400, "bad-value", "it takes one"),
        ("specimens?cursor=a&cursor=b", 400, "bad-value", "cursor is there with 2 values"),
        ("studies?q=one&q=two", 400, "bad-value", "q is there with 2 values, 'one' and 'two'"),
        ("evidence?by=timber&by=adhesive", 400, "bad-value", "by is there with 2 values"),
        ("network?table=pairs&table=parts", 400, "bad-value", "table is there with 2 values"),
        ("network?action=shear&action=bending", 400, "bad-value", "may be given once only"),
        ("limits?coverage=0.9&coverage=0.8", 400, "bad-value", "coverage is there with 2 values"),
        ("limits?confidence=0.9&confidence=0.8", 400, "bad-value", "confidence is there with 2 values"),
        ("specimens?format=csv&format=json", 400, "bad-value", "format='json' can't be had here, because format='csv'"),
        # A format beside an address that ends in another.
        ("specimens.csv?format=json", 400, "bad-value", "because the address ends in .csv; leave one of them out"),
        ("specimens.csv?format=xml", 400, "bad-value", "format='xml' is not offered here"),
        ("compare.json?format=csv", 400, "bad-value", "because the address ends in .json"),
        ("columns.parquet?format=ndjson", 400, "bad-value", "because the address ends in .parquet"),
        ("schema.csv", 400, "bad-value", "format='csv' is not offered here; it may be json."),
        # Addresses.
        ("networks", 404, "not-found", "Did you mean network"),
        ("specimens.xlsx", 404, "not-found", "ends in .json, .csv, .ndjson, .parquet or nothing"),
        ("joints/a%0Ab", 404, "not-found", "is no address here"),
        ("joints/%00", 404, "not-found", "is no address here"),
    ],
)
def test_address_that_can_not_be_answered(client, address, status, kind, detail):
    make_specimen()

    response = client.get(f"/api/v1/{address}")
    body = response.json()

    assert (response.status_code, body["type"]) == (status, f"/api/v1/problems/{kind}")
    assert response.headers["Content-Type"] == "application/problem+json"
    assert response.headers["Cache-Control"] == "no-store"
    assert body["status"] == status
    assert detail in body["detail"]


def test_every_fault_is_named_not_only_the_first(client):
    body = client.get("/api/v1/specimens?colour=red&study=one&flagged=maybe&ordering=x").json()

    assert [fault["parameter"] for fault in body["errors"]] == ["colour", "ordering", "study", "flagged"]


@pytest.mark.parametrize(
    ("address", "parameter"),
    [
        ("specimens?page=7", "page"),
        ("specimens?page=x", "page"),
        ("specimens?page_size=x", "page_size"),
        ("specimens?cursor=x", "cursor"),
        ("specimens?cursor=&page=2", "page"),
        ("specimens?format=x", "format"),
        ("specimens.csv?format=json", "format"),
        ("specimens?ordering=x", "ordering"),
        ("compare?level=x", "level"),
        ("limits?model=x", "model"),
        ("evidence?by=x", "by"),
    ],
)
def test_problem_names_the_parameter(client, address, parameter):
    body = client.get(f"/api/v1/{address}").json()

    assert (body["parameter"], body["errors"][0]["parameter"]) == (parameter, parameter)


@pytest.mark.parametrize("address", ["specimens?page=1&page=1", "specimens?page=&page=1", "specimens.csv?format=csv"])
def test_same_value_said_twice_is_said_once(client, address):
    make_specimen()

    assert client.get(f"/api/v1/{address}").status_code == 200


def test_page_size_beyond_all_bounds_gives_the_largest(client):
    make_specimen()

    assert client.get(f"/api/v1/specimens?page_size={10**30}").status_code == 200


def test_very_many_values_are_a_problem_and_no_crash(client):
    response = client.get("/api/v1/specimens?" + "&".join(["study=1"] * 20_001))

    assert (response.status_code, response.headers["Content-Type"]) == (400, "application/problem+json")


def test_very_long_value_is_shortened_in_the_answer(client):
    response = client.get(f"/api/v1/specimens?joint={'x' * 5000}")

    assert response.status_code == 400
    assert len(response.content) < 1000


@pytest.mark.parametrize("accept", ["application/xml", "text/html", "image/png", "application/json;version=9"])
@pytest.mark.parametrize("address", ["specimens", "columns", "schema", "network", "evidence"])
def test_accept_header_without_a_format_of_ours(client, accept, address):
    response = client.get(f"/api/v1/{address}", headers={"accept": accept})

    if accept.startswith("application/json"):  # a parameter of the media type changes nothing
        assert response.status_code in (200, 406)
        return
    assert (response.status_code, response.json()["type"]) == (406, "/api/v1/problems/no-such-format")
    assert "application/json" in response.json()["detail"]


BODIES = [
    ("{", "The body is no JSON"),
    ("", "The body is no JSON"),
    ("[1,]", "The body is no JSON"),
    ('{"a": NaN}', "NaN is no number"),
    ('{"a": 1, "a": 2}', "'a' is there twice in one object"),
    ("[" * 100_000, "nested too deeply"),
    (b"\xff\xfe", "The body is no JSON"),
    ('["\\ud800"]', "The body is no JSON"),
    ("9" * 5000, "The body is no JSON"),
]


@pytest.mark.parametrize(("body", "detail"), BODIES, ids=range(len(BODIES)))
@pytest.mark.parametrize("address", ["normalise", "studies"])
def test_malformed_json_says_where(client, address, body, detail):
    token = Token.objects.create(user=make_user()).key

    response = client.post(f"/api/v1/{address}", body, content_type=JSON, headers={"Authorization": f"Bearer {token}"})

    if not body:  # nothing was sent, so nothing is malformed
        assert response.status_code in (400, 422)
        return
    assert (response.status_code, response.json()["type"]) == (400, "/api/v1/problems/malformed")
    assert detail in response.json()["detail"]


@pytest.mark.parametrize("told", [True, False], ids=["length-told", "length-wrong"])
def test_huge_body_is_refused(client, settings, told):
    settings.UPLOAD_MAX_MB = 1
    token = {"Authorization": f"Bearer {Token.objects.create(user=make_user()).key}"}
    body = json.dumps([{"study title": "x" * 1_000_001}])

    for address in ("normalise", "studies"):
        response = client.post(f"/api/v1/{address}", body, content_type=JSON, headers=token)
        assert (response.status_code, response.json()["type"]) == (413, "/api/v1/problems/too-large")
        assert "1000000" in response.json()["detail"]


@pytest.mark.parametrize(
    ("address", "kind"),
    [("normalise", "text/csv"), ("studies", "application/xml"), ("normalise", "multipart/form-data; boundary=x")],
)
def test_media_type_that_is_not_taken(client, address, kind):
    token = Token.objects.create(user=make_user()).key

    response = client.generic(
        "POST", f"/api/v1/{address}", b"x", content_type=kind, headers={"Authorization": f"Bearer {token}"}
    )

    assert (response.status_code, response.json()["type"]) == (415, "/api/v1/problems/wrong-media-type")


@pytest.mark.parametrize(
    ("method", "address", "allow"),
    [
        ("delete", "studies", "GET, POST, HEAD, OPTIONS"),
        ("post", "specimens", "GET, HEAD, OPTIONS"),
        ("put", "studies/1", "GET, HEAD, OPTIONS"),
        ("post", "studies/1", "GET, HEAD, OPTIONS"),
        ("get", "normalise", "POST, OPTIONS"),
        ("patch", "network", "GET, HEAD, OPTIONS"),
        ("trace", "schema", "GET, HEAD, OPTIONS"),
    ],
)
def test_method_that_is_not_taken(client, method, address, allow):
    response = getattr(client, method)(f"/api/v1/{address}")

    assert (response.status_code, response.json()["type"]) == (405, "/api/v1/problems/read-only")
    assert sorted(response.headers["Allow"].split(", ")) == sorted(allow.split(", "))
