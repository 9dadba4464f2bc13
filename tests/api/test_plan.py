"""A plan by the API, and the table of plans that were lodged."""

from __future__ import annotations

import csv
import io
import json

import pytest

from results.practice.lodge import withdraw
from stats.practice.caution import TESTING
from tests.factories import accept, make_user
from tests.results.practice.plans import followed_up, lodged, planned, query

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]
PLAN = "/api/v1/plan"


def test_plan_is_that_of_the_page(client):
    body = client.get(f"{PLAN}?{query()}").json()
    found = planned()

    assert body["caution"]["sentences"] == list(TESTING)
    assert (body["n"], body["specimens"], body["question"]) == (3, 12, found.question)
    assert [(one["joint"], one["n"], one["control"]) for one in body["series"]] == [
        (one.joint, one.n, one.is_control) for one in found.groups
    ]
    assert [(one["turn"], one["series"], one["specimen"]) for one in body["order"]] == [
        (run.position, run.series, run.specimen) for run in found.order
    ]
    assert body["series"][2]["load"]["typical_n"] == pytest.approx(found.groups[2].expected.typical_n)
    assert body["series"][2]["rig"]["verdict"] == "too small"
    assert body["arms"] == found.arms_words and body["arms"]
    assert body["told_by_n"]["ratio"] == pytest.approx(found.curve.at_n.ratio)
    assert body["remarks"][0]["parameter"] == "joint"
    assert client.get(f"{PLAN}?{body['query']}").json() == body


def test_every_fault_is_named_with_its_parameter(client):
    response = client.get(f"{PLAN}?{query(arm_mm='0', ratio='1', full_scale='1e9 N', nonsense='1')}")
    body = response.json()

    assert response.status_code == 400
    assert response.headers["Content-Type"].startswith("application/problem+json")
    assert {one["parameter"] for one in body["errors"]} == {"arm_mm", "ratio", "full_scale", "nonsense"}
    assert "0 is 0 mm" in body["detail"]


def test_number_too_large_is_the_ratios_fault(client):
    body = client.get(f"{PLAN}?{query(ratio='1.01', afford='')}").json()

    assert [one["parameter"] for one in body["errors"]] == ["ratio"]


def test_any_page_may_read_it_and_nothing_is_lodged_by_it(client):
    response = client.get(f"{PLAN}?{query()}")

    assert response.headers["Access-Control-Allow-Origin"] == "*"
    assert client.post(PLAN, {}).status_code == 405
    assert client.get("/api/v1/plans").json()["count"] == 0


def test_root_names_it_and_description_has_its_parameters(client):
    names = [row["name"] for row in client.get("/api/v1/").json()["results"]]
    paths = client.get("/api/v1/schema").json()["paths"]
    given = {one["name"]: one for one in paths["/api/v1/plan"]["get"]["parameters"]}

    assert "plan" in names and "plans" in names
    assert {"joint", "loading", "arm_mm", "ratio", "cv_pct", "full_scale", "seed"} <= set(given)
    assert given["joint"]["schema"]["type"] == "array" and given["joint"]["required"]


def test_plans_are_a_table_with_those_that_no_study_followed(client):
    followed, alone = lodged(title="Kept"), lodged(title="Alone")
    withdraw(alone, make_user(), "No oak.")
    study = accept(followed_up(followed))

    rows = {row["plan_id"]: row for row in client.get("/api/v1/plans").json()["results"]}

    assert {pk: row["studies"] for pk, row in rows.items()} == {followed.pk: 1, alone.pk: 0}
    assert rows[alone.pk]["withdrawn_reason"] == "No oak."
    assert rows[followed.pk]["planned"]["n"] == 3
    assert client.get(f"/api/v1/studies/{study.pk}").json()["plan_id"] == followed.pk
    sheet = client.get("/api/v1/plans.csv?ordering=plan_id").getvalue().decode("utf-8-sig")
    line = next(csv.DictReader(io.StringIO(sheet)))
    assert json.loads(line["planned"])["n"] == 3


def test_study_that_waits_for_review_is_not_counted_to_anybody(client):
    followed_up(lodged())
    client.force_login(make_user())

    assert client.get("/api/v1/plans").json()["results"][0]["studies"] == 0
