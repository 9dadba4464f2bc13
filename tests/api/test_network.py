"""The network and the lower limits of a choice, in numbers."""

from __future__ import annotations

import io
import threading
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pandas as pd
import pytest

from results.evidence import Choices, compare, linked, restate
from stats.inference import tolerance
from stats.inference.batches import basis_between_batches
from tests.factories import make_series, make_setup, make_specimen, make_study, make_summary

pytestmark = pytest.mark.django_db
AT = "footing=at_joint"


@pytest.fixture
def three_joints():
    """Studies of butt and tenon, of butt and half lap; and one of dowel and mitre, which nothing links to these."""
    pairs = [("butt", "mt_blind"), ("butt", "lap_half"), ("butt", "mt_blind"), ("dowel", "mitre")]
    means = {"butt": 400.0, "mt_blind": 1200.0, "lap_half": 800.0, "dowel": 700.0, "mitre": 300.0}
    rng = np.random.default_rng(5)
    for number, pair in enumerate(pairs):
        study = make_study(f"Study {number}")
        setup = make_setup(study)
        for joint in pair:
            series = make_series(setup=setup, joint=joint)
            for load in means[joint] * np.exp(rng.normal(0.05 * number, 0.1, 5)):
                make_specimen(series, peak_load_n=float(load))
        restate(study)


def frame_of(client, address: str) -> pd.DataFrame:
    response = client.get(f"/api/v1/{address}")
    assert response.status_code == 200, response.content
    return pd.read_csv(io.BytesIO(response.content))


def test_network_gives_what_the_fit_found(client, three_joints):
    body = client.get(f"/api/v1/network?{AT}&reference=butt").json()
    fitted = linked(Choices(footing="at_joint", reference="butt")).network

    assert (body["reference"], body["refused"], body["footing"]["unit"]) == ("butt", "", "N·m")
    assert (body["studies"], body["series"]) == (fitted.studies, fitted.series)
    assert body["between_variance"] == pytest.approx(fitted.tau2)
    effects = {row["joint"]: row for row in body["effects"]}
    assert set(effects) == {"mt_blind", "lap_half"}
    one = fitted.relative("mt_blind", "butt")
    assert effects["mt_blind"]["ratio"] == pytest.approx(one.ratio)
    assert effects["mt_blind"]["low"] == pytest.approx(one.ratio_interval.low)
    pair = next(row for row in body["pairs"] if {row["joint"], row["versus"]} == {"mt_blind", "lap_half"})
    assert pair["studies"] == 0
    assert pair["log_ratio"] == pytest.approx(fitted.relative(pair["joint"], pair["versus"]).estimate)
    assert [row["joint"] for row in body["ranking"]] == ["mt_blind", "lap_half", "butt"]
    assert body["inconsistency"]["df"] == fitted.inconsistency.df
    assert {row["part"] for row in body["parts"]} == {1, 2}
    assert {row["joint"] for row in body["parts"] if row["part"] == 2} == {"dowel", "mitre"}
    assert any("nothing links" in note for note in body["notes"])


def test_network_gives_direct_against_indirect_and_what_each_study_does(client, three_joints):
    split = frame_of(client, f"network.csv?{AT}&reference=butt&table=split").set_index(["joint", "versus"])
    moves = frame_of(client, f"network.csv?{AT}&reference=butt&table=influence").set_index("study_id")

    fitted = linked(Choices(footing="at_joint", reference="butt")).network
    for joint, versus in split.index:
        sides, row = fitted.split(joint, versus), split.loc[(joint, versus)]
        assert row["direct_ratio"] == pytest.approx(np.exp(sides.direct[0]))
        if sides.indirect:
            assert row["direct_over_indirect"] == pytest.approx(np.exp(sides.difference[0]))
            assert row["p"] == pytest.approx(sides.p)
        else:
            assert np.isnan(row["indirect_ratio"]) and np.isnan(row["p"])
    told = fitted.influence().set_index("study")
    assert moves["shift_in_se"].to_dict() == pytest.approx(told["shift_in_se"].to_dict(), nan_ok=True)


def test_network_ratios_are_those_of_the_comparison(client, three_joints):
    effects = {row["joint"]: row for row in client.get(f"/api/v1/network?{AT}&reference=butt").json()["effects"]}
    ratios = compare(Choices(footing="at_joint", reference="butt")).ratios.set_index("joint")

    for joint in ("mt_blind", "lap_half"):
        assert effects[joint]["ratio"] == pytest.approx(ratios.loc[joint, "ratio"])
        assert effects[joint]["high"] == pytest.approx(ratios.loc[joint, "high"])


@pytest.mark.parametrize(
    ("table", "rows"),
    [
        ("effects", 2),
        ("pairs", 4),
        ("split", 3),
        ("influence", 4),
        ("ranking", 3),
        ("refused_pairs", 6),
        ("parts", 5),
        ("set_aside", 0),
    ],
)
def test_network_tables_are_the_same_in_csv_and_json(client, three_joints, table, rows):
    frame = frame_of(client, f"network.csv?{AT}&table={table}")
    listed = client.get(f"/api/v1/network?{AT}&table={table}").json()

    assert (len(frame), listed["count"]) == (rows, rows)
    assert frame.columns[:3].tolist() == ["action", "footing", "unit"]


def test_network_without_two_studies_says_why(client):
    study = make_study()
    setup = make_setup(study)
    for joint, load in (("butt", 400.0), ("mt_blind", 1200.0)):
        series = make_series(setup=setup, joint=joint)
        for factor in (0.9, 1.0, 1.1):
            make_specimen(series, peak_load_n=load * factor)
    restate(study)

    body = client.get(f"/api/v1/network?{AT}").json()
    table = client.get(f"/api/v1/network.csv?{AT}")

    assert body["refused"]
    assert (body["effects"], body["between_variance"], body["inconsistency"]) == ([], None, None)
    assert (table.status_code, table.json()["detail"]) == (422, body["refused"])


def test_network_is_worked_out_once_for_each_state_of_the_data(client, three_joints, monkeypatch):
    worked = []

    def counted(choices: Choices):
        worked.append(choices)
        return linked(choices)

    monkeypatch.setattr("api.views.network.linked", counted)
    first = client.get(f"/api/v1/network?{AT}&reference=butt").json()

    assert client.get(f"/api/v1/network?reference=butt&{AT}").json() == first
    assert len(worked) == 1
    client.get(f"/api/v1/network?{AT}&reference=mt_blind")
    assert len(worked) == 2
    make_study("Another")
    client.get(f"/api/v1/network?{AT}&reference=butt")
    assert len(worked) == 3


@pytest.mark.django_db(transaction=True)
def test_network_asked_by_many_at_once_is_worked_out_once(live_server, three_joints, monkeypatch):
    import urllib.request

    worked = []
    begin = threading.Barrier(5)

    def counted(choices: Choices):
        worked.append(choices)
        return linked(choices)

    def ask(_: int) -> bytes:
        begin.wait()
        with urllib.request.urlopen(f"{live_server.url}/api/v1/network?{AT}&reference=butt") as answer:
            return answer.read()

    monkeypatch.setattr("api.views.network.linked", counted)
    with ThreadPoolExecutor(5) as pool:
        answers = set(pool.map(ask, range(5)))

    assert (len(answers), len(worked)) == (1, 1)


def test_limits_of_one_study_are_those_of_its_sample(client, three_joints):
    body = client.get(f"/api/v1/limits?{AT}&joint=lap_half&coverage=0.9&confidence=0.95").json()
    points = compare(Choices(joints=("lap_half",), footing="at_joint")).points

    (row,) = body["limits"]
    right = tolerance.lower_limit(points["value"].to_numpy(float), 0.9, 0.95)
    assert (row["limit"], row["factor"]) == (pytest.approx(right.value), pytest.approx(right.factor))
    assert (row["studies"], row["specimens"], row["held"], row["method"]) == (1, 5, 0, "one sample")
    assert (body["coverage"], body["confidence"], body["model"]) == (0.9, 0.95, "lognormal")


def test_limits_of_several_studies_allow_for_their_difference(client, three_joints):
    body = client.get(f"/api/v1/limits?{AT}&joint=mt_blind").json()
    points = compare(Choices(joints=("mt_blind",), footing="at_joint")).points

    (row,) = body["limits"]
    right = basis_between_batches(points["value"].to_numpy(float), points["study_id"].to_numpy(), 0.95, 0.75)
    assert (row["limit"], row["method"], row["studies"]) == (pytest.approx(right.value), "studies that differ", 2)


def test_limits_that_can_not_be_had_say_what_is_missing(client, three_joints):
    published = make_series(joint="screw")
    make_summary(published, n=5, sd_typed="50", sd_si=50.0)
    restate(published.study)

    rows = {row["joint"]: row for row in client.get(f"/api/v1/limits?{AT}&model=order").json()["limits"]}

    assert "needs" in rows["lap_half"]["missing"]
    assert "2 studies differ" in rows["mt_blind"]["missing"]
    assert rows["mt_blind"]["limit"] is None
    lognormal = {row["joint"]: row for row in client.get(f"/api/v1/limits?{AT}").json()["limits"]}
    assert "single results" in lognormal["screw"]["missing"]


def test_limits_are_a_table_with_the_parameters_beside_each_number(client, three_joints):
    frame = frame_of(client, f"limits.csv?{AT}&model=normal")

    assert frame[["unit", "model", "coverage", "confidence"]].drop_duplicates().values.tolist() == [
        ["N·m", "normal", 0.95, 0.75]
    ]
    assert frame["limit"].dtype.kind == "f"
