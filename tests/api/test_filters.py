"""What may be asked: values mean "or", parameters "and", and anything not understood is refused."""

from __future__ import annotations

import pytest

from api.filters import EvidenceFilters, FootingFilters, SeriesFilters, SpecimenFilters, StudyFilters, TimberFilters
from results.models import Study
from results.pages.browse_forms import StudyFilter, TimberFilter
from tests.factories import (
    make_finding,
    make_joint,
    make_series,
    make_setup,
    make_specimen,
    make_study,
    make_timber,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def two_shops():
    """Two specimens that differ in everything a filter may ask for."""
    river = make_study("One", workshop="Shop by the river", invented=True)
    hill = make_study("Two", workshop="Hill school", invented=False, origin="published", citation="A book")
    one = make_specimen(
        make_series(
            river,
            setup=make_setup(river),
            joint="mt_blind",
            timber="oak_northern_red",
            adhesive="pva",
            conditioning="indoors",
        ),
        failure_place="bond_line",
        flagged=True,
    )
    other_joint = make_joint("lap_half", family="lap")
    two = make_specimen(
        make_series(
            hill,
            setup=make_setup(hill, loading="lap_shear"),
            joint=other_joint.code,
            timber="ash_white",
            adhesive="epoxy",
            tests="bond",
            conditioning="soaked",
        ),
        outcome="held",
    )
    two.series.setup.loading.action = "shear"
    two.series.setup.loading.save()
    return one, two


QUERIES = [
    "joint=mt_blind",
    "family=mortise_tenon",
    "timber=oak_northern_red",
    "adhesive=pva",
    "loading=cantilever_arm",
    "action=bending",
    "tests=joint",
    "conditioning=indoors",
    "workshop=Shop by the river",
    "invented=true",
    "study={study}",
]
OF_SPECIMENS = [
    *QUERIES,
    "series={series}",
    "outcome=broke",
    "failure_place=bond_line",
    "flagged=true",
    "flagged=TRUE",
]
OF_STUDIES = ["q=by the river"]


@pytest.mark.parametrize("query", OF_SPECIMENS[:-1])
def test_specimens_filter_keeps_what_was_asked_for(client, two_shops, query):
    one, _ = two_shops
    query = query.format(study=one.series.study_id, series=one.series_id)

    found = client.get(f"/api/v1/specimens?{query}").json()["results"]

    assert [row["specimen_id"] for row in found] == [one.pk]


@pytest.mark.parametrize("query", [*QUERIES, "series={series}"])
def test_series_filter_keeps_what_was_asked_for(client, two_shops, query):
    one, _ = two_shops
    query = query.format(study=one.series.study_id, series=one.series_id)

    found = client.get(f"/api/v1/series?{query}").json()["results"]

    assert [row["series_id"] for row in found] == [one.series_id]


@pytest.mark.parametrize("query", [*QUERIES, "origin=own"])
def test_studies_filter_keeps_what_was_asked_for(client, two_shops, query):
    one, _ = two_shops
    query = query.format(study=one.series.study_id)

    found = client.get(f"/api/v1/studies?{query}").json()["results"]

    assert [row["study_id"] for row in found] == [one.series.study_id]


@pytest.mark.parametrize("filters", [SpecimenFilters, SeriesFilters, StudyFilters])
def test_every_filter_is_tried_here(filters):
    tried = {query.split("=")[0] for query in [*OF_SPECIMENS, *OF_STUDIES, "origin=own"]}

    assert set(filters.base_filters) - tried <= {"status", "licence"}


def test_tables_of_series_specimens_footings_and_the_map_share_one_language():
    of_series = set(EvidenceFilters.base_filters)

    assert set(SeriesFilters.base_filters) == of_series | {"status", "study", "series"}
    assert set(SpecimenFilters.base_filters) == {*SeriesFilters.base_filters, "outcome", "failure_place", "flagged"}
    assert set(FootingFilters.base_filters) == {*SeriesFilters.base_filters, "footing", "available"}
    assert set(StudyFilters.base_filters) == of_series | {"status", "study", "origin", "licence", "q"}


@pytest.mark.parametrize(
    ("filters", "form", "beside"),
    [(StudyFilters, StudyFilter, set()), (TimberFilters, TimberFilter, set())],
    ids=["studies", "timbers"],
)
def test_what_a_page_can_be_searched_by_is_a_filter_of_the_same_name(filters, form, beside):
    assert set(form.base_fields) - beside <= set(filters.base_filters)


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("", 2),
        ("river", 1),
        ("RIVER shop one", 1),
        ("river two", 0),
        ("joints", 2),
        ("100 %25", 0),
    ],
)
def test_words_have_to_stand_somewhere_in_a_study(client, two_shops, asked, found):
    Study.objects.update(question="Which joints hold?")

    assert client.get(f"/api/v1/studies?q={asked}").json()["count"] == found


@pytest.mark.parametrize("asked", ["red oak", "quercus RUBRA", "oak_northern", "rubra oak"])
def test_words_find_a_timber_by_any_of_its_names(client, asked):
    make_timber("oak_northern_red", name="Oak, northern red", scientific_name="Quercus rubra")
    make_timber("ash_white", name="Ash, white", scientific_name="Fraxinus americana")

    found = client.get(f"/api/v1/timbers?q={asked}").json()["results"]

    assert [row["code"] for row in found] == ["oak_northern_red"]


def test_repeated_parameter_means_or_and_different_ones_mean_and(client, two_shops):
    one, two = two_shops

    either = client.get("/api/v1/specimens?joint=mt_blind&joint=lap_half").json()["results"]
    both = client.get("/api/v1/specimens?joint=mt_blind&timber=ash_white").json()["results"]

    assert [row["specimen_id"] for row in either] == [one.pk, two.pk]
    assert both == []


def test_studies_are_found_by_one_series_that_is_all_of_it(client, two_shops):
    study = two_shops[0].series.study
    make_series(study, joint="lap_half", timber="ash_white")

    mixed = client.get("/api/v1/studies?joint=mt_blind&timber=ash_white").json()["results"]
    same = client.get("/api/v1/studies?joint=lap_half&timber=ash_white&invented=true").json()["results"]

    assert mixed == []
    assert [row["study_id"] for row in same] == [study.pk]


def test_value_left_empty_asks_for_nothing(client, two_shops):
    found = client.get("/api/v1/specimens?joint=&timber=&page=&ordering=").json()

    assert found["count"] == 2


@pytest.mark.parametrize(("query", "kept"), [("with", [0, 1]), ("without", [1]), ("false", [1])])
@pytest.mark.parametrize("name", ["flagged", "invented"])
def test_flags_take_the_words_of_the_pages_too(client, two_shops, name, query, kept):
    found = client.get(f"/api/v1/specimens?{name}={query}").json()["results"]

    assert [row["specimen_id"] for row in found] == [two_shops[place].pk for place in kept]


@pytest.mark.parametrize(
    ("address", "parameter", "value", "right"),
    [
        ("specimens?joint=mt_blindd", "joint", "mt_blindd", "Did you mean mt_blind"),
        ("specimens?timber=oak_nothern_red", "timber", "oak_nothern_red", "Did you mean oak_northern_red"),
        (
            "specimens?workshop=shop by the rivr",
            "workshop",
            "shop by the rivr",
            "Did you mean Shop by the river",
        ),
        ("specimens?outcome=broken", "outcome", "broken", "Did you mean broke"),
        ("specimens?flagged=yes", "flagged", "yes", "Known: true, false, with, without."),
        ("specimens?invented=yes", "invented", "yes", "Known: true, false, with, without."),
        ("footings?available=with", "available", "with", "Known: true, false."),
        ("studies?q=" + "x" * 101, "q", "x" * 79 + "…", "words of at most 100 letters"),
        ("studies?q=a%00", "q", "a\0", "words of at most 100 letters"),
        ("specimens?study=first", "study", "first", "whole number, as in study=12"),
        ("specimens?study=1.5", "study", "1.5", "whole number, as in study=12"),
        ("specimens?study=99999999999999999999", "study", "99999999999999999999", "whole number"),
        ("specimens?series=987654", "series", "987654", "no such series that you may read"),
        ("specimens?action=bend", "action", "bend", "Did you mean bending"),
        ("specimens?failure_place=glue", "failure_place", "glue", "Known: bond_line."),
        ("specimens?ordering=-peak_load", "ordering", "-peak_load", "Did you mean peak_load_n"),
        ("specimens?ordering=reading_typed", "ordering", "reading_typed", "Known: specimen_id"),
        ("specimens?fields=peak_load", "fields", "peak_load", "Did you mean peak_load_n"),
        ("specimens?page_size=many", "page_size", "many", "whole number from 1"),
        ("specimens?page_size=0", "page_size", "0", "whole number from 1"),
        ("specimens?format=xml", "format", "xml", "json or csv"),
        ("timbers?group=hard", "group", "hard", "Did you mean hardwood"),
        ("findings?severity=grave", "severity", "grave", "Known: error, doubt, remark."),
        ("studies?licence=MIT", "licence", "MIT", "Known: CC0-1.0, CC-BY-4.0."),
    ],
)
def test_value_that_cannot_be_used_is_refused_by_name(client, two_shops, address, parameter, value, right):
    response = client.get(f"/api/v1/{address}")

    body = response.json()
    assert (response.status_code, body["status"], body["type"]) == (400, 400, "/api/v1/problems/bad-value")
    assert (body["parameter"], body["value"]) == (parameter, value)
    assert body["detail"].startswith(f"{parameter}={value!r}") or body["detail"].startswith(f"{parameter}={value}:")
    assert right in body["detail"]


@pytest.mark.parametrize(
    ("address", "parameter", "right"),
    [
        ("specimens?joints=butt", "joints", "Did you mean joint"),
        ("series?outcome=broke", "outcome", "Known: joint, family"),
        ("joints?timber=ash_white", "timber", "Known: family"),
        ("studies/1?joint=butt", "joint", "Known: format"),
        ("columns?table=series", "table", "Known: format"),
    ],
)
def test_unknown_parameter_is_refused_not_ignored(client, address, parameter, right):
    response = client.get(f"/api/v1/{address}")

    body = response.json()
    assert (response.status_code, body["type"]) == (400, "/api/v1/problems/unknown-parameter")
    assert body["parameter"] == parameter
    assert body["detail"].startswith(f"{parameter!r} is no parameter here.")
    assert right in body["detail"]


def test_all_faults_of_an_address_are_told_at_once(client, two_shops):
    body = client.get("/api/v1/specimens?joint=bud&joint=mt_blind&colour=red&tests=glue").json()

    assert [(one["parameter"], one["value"]) for one in body["errors"]] == [
        ("colour", "red"),
        ("joint", "bud"),
        ("tests", "glue"),
    ]


def test_withdrawn_study_asked_for_by_number_is_refused_with_the_way_to_it(client):
    series = make_series(make_study(status="withdrawn"))

    refused = client.get(f"/api/v1/series?study={series.study_id}")
    shown = client.get(f"/api/v1/series?study={series.study_id}&status=withdrawn")

    assert refused.status_code == 400
    assert refused.json()["detail"] == (
        f"study={series.study_id}: the study is withdrawn and left out unless asked for; add status=withdrawn."
    )
    assert [row["series_id"] for row in shown.json()["results"]] == [series.pk]


def test_nul_and_overlong_values_are_refused_not_passed_on(client):
    make_joint()

    for query in ("joint=%00", "workshop=%00", "study=%00", "joint=" + "x" * 5000, "study=" + "9" * 5000):
        response = client.get(f"/api/v1/specimens?{query}")

        assert response.status_code == 400
        assert len(response.content) < 2000


def test_findings_filter_by_severity(client):
    study = make_study()
    make_finding(study, severity="doubt")
    remark = make_finding(study, severity="remark")

    found = client.get(f"/api/v1/findings?severity=remark&study={study.pk}").json()["results"]

    assert [row["finding_id"] for row in found] == [remark.pk]


def test_vocabulary_filters(client):
    make_joint("butt", family="butt")
    make_joint("mt_blind")
    make_timber("pine_eastern_white", group="softwood")
    make_timber("ash_white")

    joints = client.get("/api/v1/joints?family=butt").json()["results"]
    timbers = client.get("/api/v1/timbers?group=softwood").json()["results"]

    assert [row["code"] for row in joints] == ["butt"]
    assert [row["code"] for row in timbers] == ["pine_eastern_white"]


def test_ordering_is_by_public_name_and_puts_missing_values_last(client):
    series = make_series()
    loads = [300.0, None, 100.0, 200.0]
    made = [make_specimen(series, peak_load_n=load) for load in loads]

    up = client.get("/api/v1/specimens?ordering=peak_load_n").json()["results"]
    down = client.get("/api/v1/specimens?ordering=-peak_load_n").json()["results"]
    several = client.get("/api/v1/specimens?ordering=joint,-specimen_id").json()["results"]

    assert [row["peak_load_n"] for row in up] == [100.0, 200.0, 300.0, None]
    assert [row["peak_load_n"] for row in down] == [300.0, 200.0, 100.0, None]
    assert [row["specimen_id"] for row in several] == [one.pk for one in reversed(made)]


@pytest.mark.parametrize("table", ["studies", "series", "specimens", "findings", "joints", "loadings", "timbers"])
def test_every_name_offered_for_ordering_works(client, table):
    study = make_study()
    make_specimen(make_series(study))
    make_finding(study)
    root = client.get("/api/v1/").json()["results"]
    offered = next(row["ordering"] for row in root if row["name"] == table).split()

    for name in offered:
        assert client.get(f"/api/v1/{table}?ordering=-{name}").status_code == 200, name


def test_fields_narrow_the_row_in_the_order_of_the_table(client):
    make_specimen()

    found = client.get("/api/v1/specimens?fields=peak_load_n,joint&fields=outcome").json()["results"]

    assert found == [{"joint": "mt_blind", "outcome": "broke", "peak_load_n": 1240.0}]
