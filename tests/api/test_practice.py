"""For a piece, by program: demand, capacity, margin, share, leverage, movement."""

from __future__ import annotations

import pytest

from results.practice.joint import LIMITS
from tests.results.practice.oak_book import a_book

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]
JOINT = "joint=mt_blind&timber=oak_northern_red"


def get(client, path: str):
    return client.get(f"/api/v1/{path}")


def test_a_demand_with_its_working_and_caution(client):
    answer = get(client, "demand?piece=arm&load_n=300&arm_mm=30 cm&use=children").json()

    assert (answer["value"], answer["unit"], answer["action"]) == (90.0, "N·m", "bending")
    assert answer["caution"]["leads"] and "children" in answer["caution"]["sentences"][0]
    assert answer["working"][-1]["value"] == answer["value"]
    assert answer["inputs"]["arm_mm"] == 300.0 and "load_n" not in answer["defaulted"]


def test_a_capacity_with_the_limit_and_the_evidence_behind_it(client):
    a_book()
    answer = get(client, f"capacity?{JOINT}&limit=90-90&member_depth_mm=80").json()

    assert (answer["limit"]["coverage"], answer["limit"]["confidence"]) == LIMITS["90-90"]
    assert answer["value"] == min(way["value"] for way in answer["ways"])
    assert {way["rule"] for way in answer["ways"]} == {"section", "bond"}
    assert answer["evidence"]["own"]["shops"] == 6 and answer["evidence"]["footing"] == "ratio_solid"
    assert "member_depth_mm" not in answer["as_tested"] and "tenon_length_mm" in answer["as_tested"]
    section = next(way for way in answer["ways"] if way["rule"] == "section")
    assert any(line["name"].startswith("size") for line in section["working"])


def test_a_margin_is_the_capacity_over_the_demand_of_its_own_answers(client):
    a_book()
    piece = "piece=arm&load_n=300&arm_mm=300"

    margin = get(client, f"margin?{piece}&{JOINT}").json()

    assert margin["demand"] == get(client, f"demand?{piece}").json()
    assert margin["value"] == pytest.approx(margin["capacity"]["value"] / margin["demand"]["value"])
    capacity = get(client, f"capacity?action=bending&{JOINT}").json()
    assert margin["capacity"]["value"] == capacity["value"]
    assert {one["shops"] for one in margin["changes"] if not one["refused"]} == {6}
    assert margin["left_out"] == [] and margin["place"] == "where an arm meets what holds it"
    assert margin["changes"][0]["gain"] >= margin["changes"][1]["gain"]
    assert set(margin["over"]) == {"member_depth_mm", "tenon_length_mm"}


def test_the_three_others(client):
    share = get(client, "share?mean=300&unit=lbf&n=4").json()
    leverage = get(client, "leverage?moment_nm=120").json()
    movement = get(client, "movement?timber=oak_white").json()

    assert [one["code"] for one in share["bounds"]] == ["product", "frame", "bundle", "weakest"]
    assert share["bounds"][0]["mean"] == 1200 and share["bounds"][3]["mean"] < 1200
    assert get(client, "share?mean=300 lbf&cv=15 %25&n=4").json() == share
    assert leverage["curve"][0] == {"arm_mm": 100.0, "force_n": 1200.0, "typical_n": None}
    assert len(movement["year"]) == 12 and movement["cross_grain"]["working"]


@pytest.mark.parametrize("path", ["demand?piece=arm", "share", "leverage", "movement"])
def test_answers_are_held_and_open_to_pages_elsewhere(client, path):
    first = get(client, path)

    assert first["Access-Control-Allow-Origin"] == "*" and first["ETag"]
    again = client.get(f"/api/v1/{path}", headers={"if-none-match": first["ETag"]})
    assert again.status_code == 304


def test_too_little_evidence_is_a_problem_with_its_reasons(client):
    a_book(1)

    response = get(client, f"margin?piece=arm&{JOINT}")

    problem = response.json()
    assert (response.status_code, problem["type"]) == (422, "/api/v1/problems/too-thin")
    assert "Only 1 shop" in problem["reasons"][0]
    assert get(client, "problems/too-thin").status_code == 200


@pytest.mark.parametrize(
    ("path", "parameter", "says"),
    [
        ("demand", "piece", "must be chosen; it is one of chair_leaned, seat, table_racking"),
        ("margin?joint=mt_blind", "piece", "drawer_front, bed_rail, arm."),
        ("leverage?arm_mm=110 kg", "arm_mm", "kg is a mass. A length needs mm"),
        ("share?mean=3 mm", "mean", "write a force or a moment"),
        ("demand?piece=rocket", "piece", "not known"),
        ("demand?piece=arm&load_n=1e9", "load_n", "20 000 N"),
        ("demand?piece=arm&span_mm=5", "span_mm", "no parameter here"),
        ("demand?piece=bed_rail&span_mm=600&position_mm=500", "position_mm", "half of span_mm"),
        ("capacity", "joint", "must be chosen"),
        ("capacity?joint=nail&timber=oak_northern_red", "joint", "not known"),
        ("capacity?joint=mt_blind", "timber", "must be chosen"),
        (f"capacity?{JOINT}&tenon_length_mm=90", "tenon_length_mm", "longer than its member"),
        (f"capacity?{JOINT}&action=dancing", "action", "not known"),
        (f"capacity?{JOINT}&limit=5", "limit", "not known"),
        (f"margin?piece=arm&{JOINT}&lod_n=3", "lod_n", "load_n"),
        ("margin?piece=arm", "joint", "must be chosen"),
        ("share?n=400", "n", "1 to 40"),
        ("share?shares=1,2", "shares", "4 numbers"),
        ("leverage?moment_nm=-5", "moment_nm", "-5"),
        ("leverage?moment_nm=", "moment_nm", "must be said"),
        ("movement?width_mm=9 km", "width_mm", "9 km"),
        ("movement?fruit=apple", "fruit", "no parameter here"),
    ],
)
def test_what_cannot_be_used_is_named(client, path, parameter, says):
    a_book(3)

    response = get(client, path)

    problem = response.json()
    assert response.status_code == 400, problem
    assert response["Content-Type"] == "application/problem+json"
    assert problem["parameter"] == parameter
    assert says in problem["detail"]


def test_every_fault_is_named_at_once(client):
    problem = get(client, "margin?piece=arm&load_n=x&arm_mm=y&joint=nail&timber=tin").json()

    assert {one["parameter"] for one in problem["errors"]} == {"load_n", "arm_mm", "joint", "timber"}


def test_tables_are_not_what_is_answered(client):
    assert get(client, "demand?piece=arm&format=csv").status_code == 400
    response = client.get("/api/v1/demand?piece=arm", headers={"accept": "text/csv"})
    assert response.status_code == 406


def test_the_root_lists_them(client):
    names = {row["name"] for row in get(client, "").json()["results"]}

    assert {"demand", "capacity", "margin", "share", "leverage", "movement"} <= names
