"""A timber's page: its properties, the joints in it as the API has them, and its solid bars against the handbook."""

from __future__ import annotations

import io

import pandas as pd
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from results.evidence import Choices, compare, restate
from stats.charts.chart import cell
from tests.factories import make_series, make_setup, make_specimen, make_study

from .shops import a_shop, table, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def page(client, code="oak_northern_red", **query):
    return client.get(reverse("browse:timber", args=[code]), query)


def bars(title="Bars", *, stress=(90.0, 99.0, 108.9), **fields):
    """Solid bars of 20 mm by 40 mm, bent until they took these stresses [MPa] by M = F a, sigma = 6 M / (b h²)."""
    study = make_study(title, **fields)
    series = make_series(study, setup=make_setup(study), joint="solid", adhesive=None)
    for one in stress:
        make_specimen(series, peak_load_n=one * 20 * 40**2 / 6 / 300)
    restate(study)
    return study


def test_timbers_are_found_by_common_and_scientific_name(client):
    def found(**query):
        return client.get(reverse("browse:timbers"), query)

    assert "Oak, northern red" in text(found(q="red oak"))
    assert "1 timber, strengths in MPa" in text(found(q="quercus rubra"))
    assert "No timber matches" in text(found(q="plastic"))
    assert found(group="metal").status_code == 400


def test_timber_shows_properties_with_their_source_and_provenance(client, settings):
    settings.DEMO = True  # where invented studies are shown without asking
    a_shop(invented=True)

    response = page(client)

    rows = table(response, "Averages of clear")
    assert ["modulus of rupture (bending strength)", "MPa", "57.2", "99.0"] in rows
    shown = text(response)
    assert "Wood Handbook, FPL-GTR-190 (2010), Table 5-3a" in shown
    assert "the table itself was not opened" in shown
    assert "2 series of accepted studies" in shown
    assert "invented All of these results are made up" in shown


def test_timber_shows_its_joints_with_the_numbers_of_the_api(client):
    a_shop("One")
    a_shop("Two", rig=1.2, workshop="Hill shop")
    a_shop("Elsewhere", of_series={"timber": "ash_white"})

    response = page(client)

    heading, *rows = table(response, "Joints tested in it")
    assert [row[0] for row in rows] == ["Blind mortise and tenon", "Glued butt"]
    for footing, mean, ends in (
        ("ratio_solid", "Ratio to solid wood", "95 % interval of the ratio"),
        ("stress", "Stress, MPa", "95 % interval of the stress"),
    ):
        address = f"{reverse('api:compare', args=['csv'])}?timber=oak_northern_red&footing={footing}&table=groups"
        given = pd.read_csv(io.BytesIO(client.get(address).content)).set_index("joint_name")
        for row in rows:
            shown, group = dict(zip(heading, row, strict=True)), given.loc[row[0]]
            assert shown[mean] == cell(group["geometric_mean"])
            assert shown[ends] == f"{cell(group['low'])} to {cell(group['high'])}"
            assert shown["Specimens"] == str(group["specimens"]) == "6"


def test_timber_sets_its_solid_bars_against_the_handbook(client):
    bars()
    bars("More bars", stress=(80.0, 88.0, 96.8), workshop="Hill shop")

    response = page(client)

    (group,) = compare(Choices(joints=("solid",), timbers=("oak_northern_red",))).groups.to_dict("records")
    shown = text(response).replace("\u202f", " ")
    assert f"took {cell(group['geometric_mean'])} times" in shown
    assert "2 studies, 6 specimens" in shown
    rows = table(response, "Its solid bars, a series a row")
    # (90 · 99 · 108.9)^(1/3) = 99.0 MPa, which is the handbook's 99.0 for red oak.
    assert rows[-1][:4] == ["Bars", "Shop by the river", "3", "1.00"] or rows[1][:4] == [
        "Bars",
        "Shop by the river",
        "3",
        "1.00",
    ]
    assert "handbook modulus of rupture of Oak, northern red" in " ".join(rows[1])


def test_timber_of_which_no_bars_were_broken_says_so(client):
    a_shop()

    assert "Nobody has broken solid bars of it yet." in text(page(client))


def test_timber_that_nobody_used_invites(client):
    assert "Nobody has sent in a test in it yet." in text(page(client, "teak"))


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ({"action": "bendign"}, "action = bendign is not known. Did you mean bending"),
        ({"tests": "any"}, "tests = any is not known."),
        ({"timber": "ash_white"}, "timber = ash_white is no parameter here."),
        ({"level": "x"}, "level = x is not known"),
        ({"page": "7"}, "page = 7 is not there"),
    ],
)
def test_timber_refuses_a_parameter_by_name(client, query, said):
    response = page(client, **query)

    assert response.status_code == 400
    assert said in text(response)


def test_timber_without_results_for_a_choice_says_what_was_left_out(client):
    a_shop()

    shown = text(page(client, action="torsion"))

    assert "Nothing to show in torsion, joint tests" in shown
    assert "tested under another action: bending moment" in shown


@pytest.mark.parametrize("status", ["draft", "submitted", "withdrawn"])
def test_timber_counts_no_hidden_study(client, status):
    a_shop("Counts")
    a_shop("Doesn't", status=status)

    response = page(client)

    heading, *rows = table(response, "Joints tested in it")
    assert {row[heading.index("Specimens")] for row in rows} == {"3"}
    assert "Doesn't" not in text(response)


def test_timber_chart_draws_the_joints(client):
    a_shop()

    answer = client.get(reverse("browse:timber-chart", args=["oak_northern_red", "strength", "json"])).json()

    drawn = {trace.get("name"): trace for trace in answer["figure"]["data"]}
    points = compare(Choices(timbers=("oak_northern_red",))).points
    assert sorted(drawn["broke"]["x"]) == pytest.approx(sorted(points["value"]))
    assert client.get(reverse("browse:timber-chart", args=["oak_northern_red", "other", "svg"])).status_code == 404


def test_timber_asks_as_many_queries_for_many_studies_as_for_few(client):
    counts = []
    for shops in (2, 6):
        for number in range(shops):
            a_shop(f"Study {shops} {number}")
            bars(f"Bars {shops} {number}")
        with CaptureQueriesContext(connection) as asked:
            page(client)
        with CaptureQueriesContext(connection) as again:
            page(client)
        counts.append((len(asked), len(again)))

    assert counts[0] == counts[1]
    assert counts[1][1] <= 10, [query["sql"][:120] for query in again]
