"""Tables and single records: what is in them and who may read it."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.factories import (
    accept,
    make_finding,
    make_footing,
    make_series,
    make_setup,
    make_specimen,
    make_study,
    make_summary,
    make_timber,
    make_user,
)
from tests.results.pages.handed_in import accepted, changed

pytestmark = pytest.mark.django_db


def rows(client: Client, address: str) -> list[dict]:
    response = client.get(f"/api/v1/{address}")
    assert response.status_code == 200, response.content
    return response.json()["results"]


def test_studies_list_holds_accepted_ones_with_their_counts(client):
    study = make_study("Rails into posts")
    series = make_series(study)
    make_specimen(series)
    make_specimen(series, outcome="void")
    make_study("Not sent yet", status="draft")
    make_study("Taken back", status="withdrawn")

    found = rows(client, "studies")

    assert [(row["study_id"], row["series"], row["specimens"]) for row in found] == [(study.pk, 1, 2)]


def test_studies_status_shows_withdrawn_ones_with_their_reason(client):
    gone = make_study(status="withdrawn", withdrawn_reason="the gauge was never calibrated")

    found = rows(client, "studies?status=withdrawn&status=accepted")

    assert [(row["study_id"], row["study_status"], row["withdrawn_reason"]) for row in found] == [
        (gone.pk, "withdrawn", "the gauge was never calibrated")
    ]


def test_withdrawn_study_stays_readable_at_its_address(client):
    gone = make_study(status="withdrawn", withdrawn_reason="the gauge was never calibrated")

    body = client.get(f"/api/v1/studies/{gone.pk}").json()

    assert (body["study_status"], body["withdrawn_reason"]) == ("withdrawn", "the gauge was never calibrated")


@pytest.mark.parametrize("table", ["series", "specimens", "findings"])
def test_withdrawn_and_draft_studies_leave_the_tables(client, table):
    for status in ("withdrawn", "draft", "submitted"):
        specimen = make_specimen(make_series(make_study(status=status)))
        make_finding(specimen.series.study)

    assert rows(client, table) == []


@pytest.mark.parametrize("who", ["nobody", "stranger"])
def test_drafts_never_show_to_others_in_any_way(client, who):
    draft = make_study("Secret", status="draft", workshop="Hidden shop", contributor=make_user("owner"))
    specimen = make_specimen(make_series(draft))
    finding = make_finding(draft)
    if who == "stranger":
        client.force_login(make_user("stranger"))

    for table in ("studies", "series", "specimens", "findings"):
        assert rows(client, f"{table}?status=draft&status=submitted&status=accepted") == []
    for address in (
        f"studies/{draft.pk}",
        f"series/{specimen.series_id}",
        f"specimens/{specimen.pk}",
        f"findings/{finding.pk}",
        f"studies/{draft.pk}.csv",
    ):
        assert client.get(f"/api/v1/{address}").status_code == 404
    refusal = client.get("/api/v1/studies?status=draft&workshop=Hidden shap").json()
    assert "Hidden shop" not in refusal["detail"]
    # A draft and a study that isn't there are told apart by nothing.
    taken = client.get(f"/api/v1/series?study={draft.pk}").json()
    absent = client.get(f"/api/v1/series?study={draft.pk + 1000}").json()
    assert taken["detail"].replace(str(draft.pk), "N") == absent["detail"].replace(str(draft.pk + 1000), "N")


def test_owner_reads_own_draft_when_asking_for_it(client):
    owner = make_user("owner")
    draft = make_study("Mine", status="draft", contributor=owner)
    specimen = make_specimen(make_series(draft))
    client.force_login(owner)

    assert rows(client, "specimens") == []
    assert [row["specimen_id"] for row in rows(client, "specimens?status=draft")] == [specimen.pk]
    assert client.get(f"/api/v1/studies/{draft.pk}").json()["study_title"] == "Mine"


def test_study_detail_holds_setups_series_and_findings(client):
    study = make_study()
    setup = make_setup(study, label="jack and arm", arm_mm=250.0, typed={"arm_mm": "250 mm"})
    series = make_series(study, setup=setup, label="A")
    make_specimen(series)
    finding = make_finding(study, series=series)

    body = client.get(f"/api/v1/studies/{study.pk}.json").json()

    assert body["page"] == f"/studies/{study.pk}/"
    assert [(one["label"], one["arm_mm"], one["span_mm"], one["typed"]) for one in body["setups"]] == [
        ("jack and arm", 250.0, None, {"arm_mm": "250 mm"})
    ]
    assert body["series_rows"] == [
        {
            "series_id": series.pk,
            "series": "A",
            "joint": "mt_blind",
            "tests": "joint",
            "timber": "oak_northern_red",
            "adhesive": "pva",
            "setup": "jack and arm",
            "broke": 1,
            "held": 0,
            "void": 0,
            "flagged": 0,
        }
    ]
    assert [one["finding_id"] for one in body["findings"]] == [finding.pk]


def test_series_detail_holds_footings_with_working_in_order(client):
    series = make_series(grain_a="side", grain_b="end")
    step = {"name": "moment", "formula": "M = F a", "inputs": {"arm_mm": [300, "mm"]}, "factor": 0.3}
    make_footing(series, "stress", unit="MPa", n=None, sum_log=None, sum_sq_log=None, missing=["the timber"])
    make_footing(
        series,
        "at_joint",
        held=1,
        kept_n=1,
        kept_sum_log=5.4,
        factor=0.3,
        steps=[step],
        worked="1240 N x 0.3 m",
    )

    body = client.get(f"/api/v1/series/{series.pk}").json()

    assert body["faces"] == "end-side"
    assert body["published"] is None
    assert body["footings"] == [
        {
            "code": "at_joint",
            "unit": "N·m",
            "broke": 2,
            "held": 1,
            "sum_log": 11.0,
            "sum_sq_log": 60.6,
            "kept_broke": 1,
            "kept_held": 0,
            "kept_sum_log": 5.4,
            "kept_sum_sq_log": None,
            "factor": 0.3,
            "basis": "",
            "steps": [step],
            "worked": "1240 N x 0.3 m",
            "missing": [],
        },
        {
            "code": "stress",
            "unit": "MPa",
            "broke": None,
            "held": 0,
            "sum_log": None,
            "sum_sq_log": None,
            "kept_broke": None,
            "kept_held": 0,
            "kept_sum_log": None,
            "kept_sum_sq_log": None,
            "factor": None,
            "basis": "",
            "steps": [],
            "worked": "",
            "missing": ["the timber"],
        },
    ]


def test_series_with_a_published_mean_shows_it_in_the_unit_of_its_quantity(client):
    series = make_series()
    make_summary(series, quantity="moment", mean_typed="210 ft-lb", mean_si=284.7, n=6)

    body = client.get(f"/api/v1/series/{series.pk}").json()

    assert body["published"] == {
        "quantity": "moment",
        "unit": "N·m",
        "mean_typed": "210 ft-lb",
        "mean_si": 284.7,
        "sd_typed": "",
        "sd_si": None,
        "count": 6,
    }
    assert (body["published_mean_nm"], body["published_mean_n"], body["published_mean_mpa"]) == (
        284.7,
        None,
        None,
    )
    assert (body["published_sd_nm"], body["published_count"]) == (None, 6)


def test_specimen_takes_moisture_of_its_series_when_it_has_none(client):
    series = make_series(moisture_pct=12.0, density_kgm3=700.0)
    make_specimen(series)
    make_specimen(series, moisture_pct=8.5, density_kgm3=655.0)

    found = rows(client, "specimens")

    assert [(row["moisture_pct"], row["density_kgm3"]) for row in found] == [(12.0, 700.0), (8.5, 655.0)]


def test_specimen_row_is_useful_by_itself(client):
    study = make_study("Rails into posts", workshop="Shop by the river", invented=True, licence="CC0-1.0")
    setup = make_setup(study, label="jack", arm_mm=250.0)
    control = make_series(setup=setup, joint="butt")
    series = make_series(setup=setup, label="A", control=control, grain_a="long", conditioning="indoors")
    specimen = make_specimen(
        series,
        label="A1",
        peak_load_n=1240.0,
        reading_typed="280",
        reading_unit="lbf",
        moment_nm=310.0,
        stress_mpa=58.1,
        failure_place="bond_line",
        wood_failure_pct=35.0,
        flagged=True,
    )

    body = client.get(f"/api/v1/specimens/{specimen.pk}").json()

    given = {name: value for name, value in body.items() if value is not None}
    assert given == {
        "specimen_id": specimen.pk,
        "study_id": study.pk,
        "study_title": "Rails into posts",
        "workshop": "Shop by the river",
        "tested_on": "2025-03",
        "origin": "own",
        "licence": "CC0-1.0",
        "invented": True,
        "study_status": "accepted",
        "setup_id": setup.pk,
        "setup": "jack",
        "loading": "cantilever_arm",
        "action": "bending",
        "reads": "force",
        "arm_mm": 250.0,
        "arm_reference": "face",
        "series_id": series.pk,
        "series": "A",
        "joint": "mt_blind",
        "joint_family": "mortise_tenon",
        "tests": "joint",
        "timber": "oak_northern_red",
        "adhesive": "pva",
        "grain_a": "long",
        "member_thickness_mm": 20.0,
        "member_depth_mm": 40.0,
        "control_series_id": control.pk,
        "conditioning": "indoors",
        "specimen": "A1",
        "reading_typed": "280",
        "reading_unit": "lbf",
        "outcome": "broke",
        "failure_place": "bond_line",
        "wood_failure_pct": 35.0,
        "peak_load_n": 1240.0,
        "moment_nm": 310.0,
        "stress_mpa": 58.1,
        "flagged": True,
    }


def test_vocabulary_tables_count_accepted_series_only(client):
    make_series(joint="butt", timber="ash_white")
    make_series(make_study(status="withdrawn"), joint="butt", timber="ash_white")
    make_timber("beech_european", mor_12_mpa=110.0)

    joints = {row["code"]: row["series"] for row in rows(client, "joints")}
    timbers = {row["code"]: (row["series"], row["mor_12_mpa"]) for row in rows(client, "timbers")}

    assert joints == {"butt": 1}
    assert timbers == {"ash_white": (1, 99.0), "beech_european": (0, 110.0)}


def test_loadings_tell_how_many_accepted_series_name_them_without_going_through_these(client):
    make_series(setup=make_setup(make_study("Pulled"), loading="withdrawal"))
    bent = make_setup(make_study("Bent", invented=True))
    make_series(bent.study, setup=bent)
    make_series(bent.study, label="B", setup=bent)
    for status in ("draft", "submitted", "returned", "withdrawn"):
        make_series(make_study(status, status=status))
    make_setup(make_study("Nobody tested so"), loading="lap_shear")

    by_code = {row["code"]: row["series"] for row in rows(client, "loadings")}
    with CaptureQueriesContext(connection) as asked:
        ordered = [(row["code"], row["series"]) for row in rows(client, "loadings?ordering=-series")]

    assert by_code == {"withdrawal": 1, "cantilever_arm": 2, "lap_shear": 0}
    assert ordered == [("cantilever_arm", 2), ("withdrawal", 1), ("lap_shear", 0)]
    assert not [query["sql"] for query in asked if 'FROM "results_series"' in query["sql"]]
    # A cursor goes on from a number, too.
    first = client.get("/api/v1/loadings?cursor=&ordering=series&page_size=2").json()
    rest = client.get(first["next"]).json()["results"]
    assert [row["code"] for row in [*first["results"], *rest]] == ["lap_shear", "withdrawal", "cantilever_arm"]
    assert b"cantilever_arm" in client.get("/api/v1/loadings.csv").getvalue()
    # They are those of the data as they are now, though the query is the same.
    make_series(bent.study, label="C", setup=bent)
    assert client.get("/api/v1/loadings/cantilever_arm").json()["series"] == 3


def test_loadings_of_an_empty_book_can_be_ordered(client):
    make_setup(make_study("Draft", status="draft"))

    assert [row["series"] for row in rows(client, "loadings?ordering=series")] == [0]


@pytest.mark.parametrize(
    ("table", "code"),
    [
        ("joints", "mt_blind"),
        ("loadings", "cantilever_arm"),
        ("timbers", "oak_northern_red"),
        ("adhesives", "pva"),
    ],
)
def test_vocabulary_word_is_read_by_its_code(client, table, code):
    make_series()

    body = client.get(f"/api/v1/{table}/{code}").json()

    assert (body["code"], body["series"], body["source"]) == (code, 1, "common practice")


def test_study_tells_the_number_of_the_revision_that_was_accepted_last(client):
    make_study("From before there were revisions")
    study = accepted("Rails into posts")
    changed(study)

    found = {row["study_title"]: row["revision"] for row in rows(client, "studies")}
    assert found == {"From before there were revisions": None, "Rails into posts": 1}
    accept(study)
    assert client.get(f"/api/v1/studies/{study.pk}").json()["revision"] == 2


@pytest.mark.parametrize(
    ("table", "queries"),
    [
        ("studies", 4),
        ("series", 4),
        ("specimens", 4),
        ("findings", 4),
        ("joints", 4),
        ("timbers", 4),
        ("adhesives", 4),
        ("failure-places", 4),
    ],
)
def test_list_takes_the_same_queries_however_many_rows(client, django_assert_num_queries, table, queries):
    for _ in range(3):
        study = make_study()
        make_finding(study)
        for _ in range(2):
            make_specimen(make_series(study), failure_place="bond_line")

    with django_assert_num_queries(queries):
        assert rows(client, table)


def test_loadings_take_a_few_queries_once_the_book_is_counted(client, django_assert_num_queries):
    for loading in ("cantilever_arm", "withdrawal", "lap_shear"):
        make_series(setup=make_setup(loading=loading))
    rows(client, "loadings")

    with django_assert_num_queries(4):  # the version twice: of the answer, and of what was counted; keys; rows
        assert len(rows(client, "loadings?page_size=2")) == 2


@pytest.mark.parametrize(("table", "queries"), [("studies", 6), ("series", 5), ("specimens", 2)])
def test_detail_takes_a_fixed_number_of_queries(client, django_assert_num_queries, table, queries):
    series = make_series()
    for code in ("peak_load", "at_joint", "stress"):
        make_footing(series, code)
    for _ in range(3):
        specimen = make_specimen(series)
        make_finding(series.study, series=series)
    pk = {"studies": series.study_id, "series": series.pk, "specimens": specimen.pk}[table]

    with django_assert_num_queries(queries):
        assert client.get(f"/api/v1/{table}/{pk}").status_code == 200
