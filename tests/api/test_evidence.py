"""Footings as a table, and the map of the evidence."""

from __future__ import annotations

import io
import math

import pandas as pd
import pytest

from results.evidence import restate
from tests.factories import make_footing, make_series, make_setup, make_specimen, make_study, make_summary

pytestmark = pytest.mark.django_db


def rows(client, address: str) -> list[dict]:
    response = client.get(f"/api/v1/{address}")
    assert response.status_code == 200, response.content
    return response.json()["results"]


def test_footings_hold_sums_mean_basis_and_steps_of_every_series(client):
    series = make_series()
    for load in (400.0, 500.0, 450.0):
        make_specimen(series, peak_load_n=load)
    restate(series.study)

    found = {row["footing"]: row for row in rows(client, "footings")}

    joint = found["at_joint"]
    assert set(found) == {"peak_load", "at_joint", "stress", "ratio_solid", "ratio_solid_matched", "ratio_control"}
    assert joint["geometric_mean"] == pytest.approx((400 * 500 * 450) ** (1 / 3) * 0.3)
    assert joint["sum_log"] == pytest.approx(sum(math.log(load * 0.3) for load in (400, 500, 450)))
    assert (joint["broke"], joint["held"], joint["unit"], joint["factor"]) == (3, 0, "N·m", pytest.approx(0.3))
    assert joint["steps"][0]["formula"]
    assert joint["worked"].endswith("N·m")
    assert joint["missing"] == []
    lacking = found["ratio_control"]
    assert (lacking["geometric_mean"], lacking["sum_log"]) == (None, None)
    assert lacking["missing"]


@pytest.mark.parametrize(
    ("fields", "mean"),
    [
        ({"n": 2, "sum_log": 2.0}, math.exp(1.0)),
        ({"n": None, "sum_log": 2.0}, math.exp(2.0)),
        ({"n": 0, "sum_log": 0.0}, None),
        ({"n": 2, "sum_log": None, "sum_sq_log": None}, None),
    ],
)
def test_geometric_mean_of_odd_sums(client, fields, mean):
    make_footing(make_series(), **{"kept_n": None, **fields})

    (row,) = rows(client, "footings")

    assert row["geometric_mean"] == (None if mean is None else pytest.approx(mean))


def test_footings_filter_and_order_like_other_tables(client):
    one, two = make_series(joint="butt"), make_series(joint="mt_blind")
    make_footing(one, "stress", unit="MPa", sum_log=2.0)
    make_footing(two, "stress", unit="MPa", sum_log=4.0)
    make_footing(two, "at_joint", n=None, sum_log=None, sum_sq_log=None)

    assert [row["joint"] for row in rows(client, "footings?footing=stress&ordering=-geometric_mean")] == [
        "mt_blind",
        "butt",
    ]
    assert [row["footing"] for row in rows(client, "footings?available=false")] == ["at_joint"]
    assert len(rows(client, "footings?available=true&joint=butt")) == 1
    assert len(rows(client, "footings?available=true&available=false")) == 3


def test_single_footing_is_read_by_its_number(client):
    footing = make_footing(make_series(), steps=[{"name": "moment"}])

    body = client.get(f"/api/v1/footings/{footing.pk}").json()

    assert (body["footing_id"], body["steps"]) == (footing.pk, [{"name": "moment"}])


@pytest.fixture
def book():
    """Bending: butt with tenon, tenon with half lap; dowel alone. Shear: bonds of their own."""
    for number, (joints, timber) in enumerate(
        [(("butt", "mt_blind"), "oak_northern_red"), (("mt_blind", "lap_half"), "ash_white"), (("dowel",), "ash_white")]
    ):
        setup = make_setup(make_study(f"Study {number}"))
        for joint in joints:
            series = make_series(setup=setup, joint=joint, timber=timber)
            for _ in range(number + 1):
                make_specimen(series)
            make_specimen(series, outcome="void")
    shear = make_setup(make_study("Bonds"), loading="lap_shear")
    shear.loading.action = "shear"
    shear.loading.save()
    make_specimen(make_series(setup=shear, joint="butt", tests="bond"))
    make_summary(make_series(setup=shear, joint="lap_half", tests="bond"), n=7)


def test_map_counts_studies_series_and_specimens_by_cell(client, book):
    found = {(row["joint"], row["action"], row["tests"]): row for row in rows(client, "evidence")}

    assert set(found) == {
        ("butt", "bending", "joint"),
        ("mt_blind", "bending", "joint"),
        ("lap_half", "bending", "joint"),
        ("dowel", "bending", "joint"),
        ("butt", "shear", "bond"),
        ("lap_half", "shear", "bond"),
    }
    tenon = found["mt_blind", "bending", "joint"]
    assert (tenon["studies"], tenon["series"], tenon["specimens"]) == (2, 2, 3)
    assert found["lap_half", "shear", "bond"]["specimens"] == 7


def test_map_tells_what_nothing_links(client, book):
    body = client.get("/api/v1/evidence").json()

    parts = {(one["action"], one["part"]): one["joints"] for one in body["parts"]}
    assert parts == {
        ("bending", 1): ["butt", "lap_half", "mt_blind"],
        ("bending", 2): ["dowel"],
        ("shear", 1): ["butt", "lap_half"],
    }
    (apart,) = body["apart"]
    assert apart["joints"] == ["dowel"]
    assert apart["reason"].startswith("No study links dowel to the joints of part 1 (bending, joint tests)")


def test_map_is_split_and_filtered(client, book):
    by_timber = rows(client, "evidence?by=timber&joint=mt_blind")

    assert [(row["timber"], row["specimens"]) for row in by_timber] == [("ash_white", 2), ("oak_northern_red", 1)]
    assert {row["joint"] for row in rows(client, "evidence?action=shear")} == {"butt", "lap_half"}


def test_map_leaves_invented_studies_out_unless_asked(client, book):
    make_specimen(make_series(make_study(invented=True), joint="screw"))

    assert "screw" not in {row["joint"] for row in rows(client, "evidence")}
    assert {row["joint"] for row in rows(client, "evidence?invented=true")} == {"screw"}


@pytest.mark.parametrize(("table", "count"), [("cells", 6), ("parts", 3)])
def test_map_is_a_table_too(client, book, table, count):
    frame = pd.read_csv(io.BytesIO(client.get(f"/api/v1/evidence.csv?table={table}").content))

    assert len(frame) == count == len(rows(client, f"evidence?table={table}"))


def test_map_of_an_empty_book_is_empty(client):
    body = client.get("/api/v1/evidence").json()

    assert (body["count"], body["parts"], body["apart"]) == (0, [], [])
