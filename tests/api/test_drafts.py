"""Studies sent by a program, saved as drafts of whoever sends them."""

from __future__ import annotations

import copy
import json
import uuid

import pytest
from django.test import Client
from rest_framework.authtoken.models import Token

from api.openapi.answers import DRAFT_EXAMPLE
from results.models import Finding, SeriesFooting, Study
from tests.factories import make_study, make_user

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


@pytest.fixture
def token():
    return Token.objects.create(user=make_user("program")).key


def send(client, body: object, token: str = "", kind: str = "application/json", **headers: str):
    data = json.dumps(body) if kind == "application/json" else body
    given = {"Authorization": f"Bearer {token}", **headers} if token else headers
    return client.post("/api/v1/studies", data, content_type=kind, headers=given)


def as_csv(rows: list[dict]) -> str:
    names = list(rows[0])
    return "\r\n".join([",".join(names), *(",".join(row.get(name, "") for name in names) for row in rows)])


def test_study_is_saved_as_a_draft_with_footings_and_findings(client, token):
    response = send(client, DRAFT_EXAMPLE, token)
    answer = response.json()
    study = Study.objects.get()

    assert response.status_code == 201, answer
    assert (study.status, study.accepted_at, study.contributor.username) == ("draft", None, "program")
    assert response.headers["Location"] == answer["address"] == f"http://testserver/api/v1/studies/{study.pk}"
    assert [one.peak_load_n for one in study.series.get().specimens.all()] == pytest.approx([1245.502, 1178.779])
    assert SeriesFooting.objects.filter(sum_log__isnull=False).count() >= 4
    assert Finding.objects.count() == len(answer["findings"])
    assert client.get(f"/api/v1/studies/{study.pk}").status_code == 404
    owner = client.get(answer["address"], headers={"Authorization": f"Bearer {token}"})
    assert owner.json()["study_status"] == "draft"


@pytest.mark.parametrize("kind", ["list", "rows", "csv"])
def test_list_object_and_csv_say_the_same(client, token, kind):
    body = {"list": DRAFT_EXAMPLE, "rows": {"rows": DRAFT_EXAMPLE}, "csv": as_csv(DRAFT_EXAMPLE)}[kind]

    response = send(client, body, token, "text/csv" if kind == "csv" else "application/json")

    assert response.status_code == 201, response.content
    assert Study.objects.get().series.get().specimens.count() == 2


def test_numbers_and_booleans_are_read_as_if_typed(client, token):
    body = copy.deepcopy(DRAFT_EXAMPLE)
    body[0] |= {
        "study length unit": "mm",
        "setup arm": 300,
        "study invented": True,
        "series tenon length": 30.5,
        "setup reading unit": "lbf",
    }
    body[1] |= {"specimen reading": 265, "specimen notes": None}

    response = send(client, body, token)
    assert response.status_code == 201, response.content
    study = Study.objects.get()
    assert (study.invented, study.setups.get().arm_mm, study.series.get().tenon_length_mm) == (True, 300.0, 30.5)
    assert study.series.get().specimens.last().peak_load_n == pytest.approx(1178.779)


def test_errors_save_nothing_and_are_told_with_row_and_column(client, token):
    body = copy.deepcopy(DRAFT_EXAMPLE)
    body[0]["series joint"] = "mt_blnd"
    body[1]["specimen reading"] = "heavy"

    response = send(client, body, token)
    answer = response.json()
    errors = {one["field"]: one for one in answer["findings"] if one["severity"] == "error"}

    assert (response.status_code, answer["type"]) == (422, "/api/v1/problems/findings")
    assert "mt_blind" in errors["joint"]["remedy"]
    # Row 1 are the names.
    assert (errors["joint"]["row"], errors["reading"]["row"]) == (2, 3)
    assert errors["reading"]["column"] == list(DRAFT_EXAMPLE[0]).index("specimen reading") + 1
    assert Study.objects.count() == 0


def test_same_key_saves_once(client, token):
    key = {"Idempotency-Key": str(uuid.uuid4())}

    first, second = (send(client, DRAFT_EXAMPLE, token, **key) for _ in range(2))

    assert (first.status_code, second.status_code) == (201, 201)
    assert first.json()["study_id"] == second.json()["study_id"]
    assert Study.objects.count() == 1


def test_key_of_somebody_else_shows_nothing_of_theirs(client, token):
    theirs = make_study("Secret", status="draft", contributor=make_user("other"))

    response = send(client, DRAFT_EXAMPLE, token, **{"Idempotency-Key": str(theirs.submission_key)})

    assert (response.status_code, response.json()["type"]) == (409, "/api/v1/problems/key-taken")
    assert "Secret" not in response.content.decode()


def test_key_that_is_none_is_refused(client, token):
    response = send(client, DRAFT_EXAMPLE, token, **{"Idempotency-Key": "mine"})

    assert (response.status_code, response.json()["parameter"]) == (400, "Idempotency-Key")


@pytest.mark.parametrize(
    "authorization",
    [None, "Bearer", "Bearer abc", f"Bearer {'0' * 40}", f"Token {'f' * 40}", "Bearer \x00", f"Bearer {'F' * 40}"],
)
def test_writing_without_a_token_that_is_known_is_refused(client, authorization):
    headers = {} if authorization is None else {"Authorization": authorization}

    response = send(client, DRAFT_EXAMPLE, **headers)

    assert (response.status_code, response.json()["type"]) == (401, "/api/v1/problems/token-needed")
    assert response.headers["WWW-Authenticate"] == "Bearer"
    assert Study.objects.count() == 0


def test_token_of_a_user_who_may_no_longer_sign_in_is_refused(client, token):
    user = make_user("program")
    user.is_active = False
    user.save()

    assert send(client, DRAFT_EXAMPLE, token).status_code == 401


def test_bad_token_is_refused_for_reading_too(client):
    response = client.get("/api/v1/studies", headers={"Authorization": "Bearer nonsense"})

    assert (response.status_code, response.json()["type"]) == (401, "/api/v1/problems/token-needed")


def test_other_schemes_are_passed_over(client):
    assert client.get("/api/v1/studies", headers={"Authorization": "Basic YTpi"}).status_code == 200


def test_session_without_the_form_token_may_not_write():
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(make_user())

    assert send(strict, DRAFT_EXAMPLE).status_code == 403


@pytest.mark.parametrize(
    ("body", "code"),
    [
        ({"row": []}, "not-records"),
        ([], "empty"),
        ([1], "not-records"),
        ("text", "not-records"),
        ([{"series": ["A"]}], "not-plain"),
        ([{"colour": "red"}], "no-headings"),
        ([{f"column {at}": "x" for at in range(300)}], "too-many-columns"),
    ],
)
def test_body_that_is_no_table_is_a_finding(client, token, body, code):
    response = send(client, body, token)

    assert response.status_code == 422
    assert [one["code"] for one in response.json()["findings"]] == [code]


def test_csv_that_is_none_is_a_finding(client, token):
    response = send(client, b"\xff\xfe\x00", token, "text/csv")

    assert response.status_code == 422
    assert response.json()["findings"]


def test_draft_counts_for_nothing(client, token):
    send(client, DRAFT_EXAMPLE, token)

    assert client.get("/api/v1/specimens").json()["count"] == 0
    assert client.get("/api/v1/evidence").json()["count"] == 0
    assert client.get("/api/v1/compare").json()["groups"] == []
    joint = client.get("/api/v1/joints/mt_blind").json()
    assert joint["series"] == 0
