"""The comparison in numbers: as the page has it, in both formats, refused where it must be."""

from __future__ import annotations

import io

import pandas as pd
import pytest

from api.views.statistics import SERIES
from results.evidence import Choices, compare, restate, verdicts
from tests.factories import make_series, make_setup, make_specimen, make_study

pytestmark = pytest.mark.django_db
AT_JOINT = "footing=at_joint"


@pytest.fixture
def two_joints():
    """Two studies that both broke butt joints and tenons, on the same size; one specimen is flagged by hand."""
    for number in range(2):
        study = make_study(f"Study {number}", workshop=f"Shop {number}")
        setup = make_setup(study, arm_mm=200.0 + 100 * number)
        butt = make_series(setup=setup, joint="butt")
        tenon = make_series(setup=setup, joint="mt_blind", control=butt)
        for load in (400.0, 440.0, 380.0, 410.0):
            make_specimen(butt, peak_load_n=load, failure_place="bond_line")
            make_specimen(tenon, peak_load_n=3 * load, failure_place="tenon_or_fastener")
        restate(study)


def frame_of(client, query: str) -> pd.DataFrame:
    response = client.get(f"/api/v1/compare.csv?{query}")
    assert response.status_code == 200, response.content
    return pd.read_csv(io.BytesIO(response.content))


def test_compare_gives_what_the_comparison_found(client, two_joints):
    body = client.get(f"/api/v1/compare?{AT_JOINT}&reference=butt").json()

    found = compare(Choices(footing="at_joint", reference="butt"))
    assert (body["footing"]["code"], body["footing"]["unit"], body["action"]) == ("at_joint", "N·m", "bending")
    assert (body["reference"], body["refused"], body["level"], body["flagged"]) == ("butt", "", 0.95, "with")
    assert body["invented"] is False
    (told,) = verdicts(found)
    assert body["verdicts"][0]["sentence"] == told.sentence
    assert (body["verdicts"][0]["certainty"], len(body["verdicts"][0]["reasons"])) == (told.certainty.level, 5)
    assert [row["joint"] for row in body["groups"]] == found.groups["joint"].tolist()
    assert [row["geometric_mean"] for row in body["groups"]] == found.groups["geometric_mean"].tolist()
    assert sorted((row["joint"], row["n"], row["share"]) for row in body["failures"]) == [
        ("butt", 8, 1.0),
        ("mt_blind", 8, 1.0),
    ]
    assert [list(row) for row in body["series"]] == [SERIES] * 4
    assert {"groups_other", "left_out", "alternatives", "query"} <= set(body)


def test_compare_ratio_is_that_of_the_loads_on_the_same_rigs(client, two_joints):
    ratios = client.get(f"/api/v1/compare?{AT_JOINT}&reference=butt").json()["ratios"]

    tenon = next(row for row in ratios if row["joint"] == "mt_blind")
    assert tenon["reference"] == "butt"
    assert tenon["ratio"] == pytest.approx(3.0, rel=1e-6)
    assert tenon["studies"] == 2


def test_compare_csv_is_the_groups_with_footing_and_unit_beside_each_number(client, two_joints):
    frame = frame_of(client, AT_JOINT)

    assert frame.columns[:4].tolist() == ["action", "footing", "unit", "joint"]
    assert frame[["joint", "unit", "footing"]].sort_values("joint").values.tolist() == [
        ["butt", "N·m", "at_joint"],
        ["mt_blind", "N·m", "at_joint"],
    ]
    assert frame["geometric_mean"].dtype.kind == "f"


@pytest.mark.parametrize(
    ("table", "rows"), [("ratios", None), ("series", 4), ("failures", 2), ("points", 16), ("groups_other", 2)]
)
def test_compare_csv_gives_the_table_asked_for_as_json_does(client, two_joints, table, rows):
    frame = frame_of(client, f"{AT_JOINT}&table={table}")
    listed = client.get(f"/api/v1/compare.json?{AT_JOINT}&table={table}").json()

    assert rows is None or len(frame) == rows
    assert listed["count"] == len(frame)
    assert list(listed["results"][0]) == frame.columns.tolist()


def test_compare_gives_groups_with_and_without_flagged_specimens(client, two_joints):
    series = make_series(make_study("One read in pounds"), joint="butt")
    for load in (400.0, 440.0, 380.0, 410.0, 420.0, 395.0, 405.0, 405.0 / 4.448):
        make_specimen(series, peak_load_n=load)
    restate(series.study)
    assert series.specimens.filter(flagged=True).count() == 1

    given = client.get(f"/api/v1/compare?{AT_JOINT}").json()
    turned = client.get(f"/api/v1/compare?{AT_JOINT}&flagged=without").json()

    assert [row["specimens"] for row in given["groups"] if row["joint"] == "butt"] == [16]
    assert [row["specimens"] for row in given["groups_other"] if row["joint"] == "butt"] == [15]
    assert turned["groups"] == given["groups_other"]
    assert turned["groups_other"] == given["groups"]


def test_compare_groups_are_the_same_both_ways_where_nothing_is_flagged(client, two_joints):
    body = client.get(f"/api/v1/compare?{AT_JOINT}").json()

    assert len(body["groups"]) == 2
    assert body["groups_other"] == body["groups"]


def test_compare_left_out_says_why(client, two_joints):
    pulled = make_setup(make_study("Pulled"), loading="withdrawal")
    pulled.loading.action = "axial"
    pulled.loading.save()
    make_specimen(make_series(setup=pulled))
    restate(pulled.study)

    frame = frame_of(client, f"{AT_JOINT}&table=left_out")

    assert "tested under another action: axial force" in frame["reason"].tolist()


def test_compare_refusal_is_a_sentence_in_json_and_a_problem_in_csv(client, two_joints):
    bond = make_study("Glue only")
    make_specimen(make_series(bond, tests="bond"))
    restate(bond)

    body = client.get(f"/api/v1/compare?{AT_JOINT}&tests=any").json()
    table = client.get(f"/api/v1/compare.csv?{AT_JOINT}&tests=any")

    assert body["refused"].startswith("A bond test shows what a glue line takes by itself")
    assert body["groups"] == []
    assert table.status_code == 422
    assert table.json()["type"] == "/api/v1/problems/not-comparable"
    assert table.json()["detail"] == body["refused"]
    assert table.json()["alternatives"] == body["alternatives"]


def test_compare_of_an_empty_book_is_empty_in_json_and_a_problem_in_csv(client):
    body = client.get("/api/v1/compare").json()
    table = client.get("/api/v1/compare.csv")

    assert (body["groups"], body["ratios"], body["refused"]) == ([], [], "")
    assert (table.status_code, table.json()["detail"]) == (422, "No series is left to show.")


@pytest.mark.parametrize(
    ("query", "parameter", "value"),
    [
        ("joint=mt_blnd", "joint", "mt_blnd"),
        ("footing=strain", "footing", "strain"),
        ("level=0.5", "level", "0.5"),
        ("action=bend", "action", "bend"),
        ("colour=red", "colour", "red"),
        ("table=group", "table", "group"),
        ("page=2", "page", "2"),
    ],
)
@pytest.mark.parametrize("suffix", ["json", "csv"])
def test_compare_refuses_what_it_does_not_understand(client, two_joints, query, parameter, value, suffix):
    response = client.get(f"/api/v1/compare.{suffix}?{query}")

    body = response.json()
    assert (response.status_code, body["status"]) == (400, 400)
    assert (body["parameter"], body["value"]) == (parameter, value)
    assert (value if parameter not in ("colour", "page") else parameter) in body["detail"]


def test_compare_leaves_out_withdrawn_and_draft_studies(client, two_joints):
    for status in ("withdrawn", "draft"):
        study = make_study(status=status)
        make_specimen(make_series(study, joint="lap_half"))
        restate(study)

    groups = client.get(f"/api/v1/compare?{AT_JOINT}").json()["groups"]

    assert {row["joint"] for row in groups} == {"butt", "mt_blind"}
