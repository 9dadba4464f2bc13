"""A joint's page: its numbers are those of the API and of the statistics, and its open questions are real gaps."""

from __future__ import annotations

import html
import io
import json
import math
import re

import numpy as np
import pandas as pd
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from results.evidence import Choices, compare, restate
from results.evidence.known import classes
from results.models import Joint
from stats.charts.chart import cell
from stats.inference import interlab
from tests.factories import make_series, make_setup, make_specimen, make_study, make_summary

from .shops import a_shop, table, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def page(client, code="mt_blind", **query):
    return client.get(reverse("browse:joint", args=[code]), query)


def plain(response):
    return text(response).replace("\u202f", " ").replace("\xa0", " ")


def frame(client, address):
    response = client.get(address)
    assert response.status_code == 200, response.content
    return pd.read_csv(io.BytesIO(b"".join(response) if response.streaming else response.content))


def api_of(response, label):
    """The address that a link so labelled leads to."""
    found = re.search(rf'href="([^"]*)"[^>]*>{re.escape(label)}<', response.content.decode())
    assert found, label
    return html.unescape(found.group(1))


def three_shops():
    """Three workshops: two timbers, two glues, two sizes, tenons of two lengths."""
    a_shop("One", workshop="Shop by the river")
    a_shop("Two", workshop="Hill shop", rig=1.2, of_series={"timber": "ash_white", "tenon_length_mm": 25.0})
    a_shop(
        "Three",
        workshop="Yard",
        rig=0.9,
        of_series={"adhesive": "epoxy", "member_depth_mm": 50.0, "tenon_length_mm": 40.0},
    )


# the list


def test_joints_count_what_stands_behind_each(client):
    a_shop("One")
    a_shop("Hidden", status="draft")
    a_shop("Made up", invented=True)

    shown = text(client.get(reverse("browse:joints")))

    assert "Glued butt (end butt) : 1 series in 1 study" in shown
    assert "nothing yet" in shown


# what it took


def test_joint_that_is_unknown_is_not_there(client):
    assert page(client, "nonsense").status_code == 404


def test_joint_that_nobody_tested_invites(client):
    shown = text(page(client, "edge"))

    assert "Nothing yet. Submit a study of it." in shown
    assert "Nobody has sent in a test of the edge joint yet." in shown


def test_joint_shows_the_numbers_that_its_links_to_the_api_give(client):
    three_shops()

    response = page(client)

    heading, row = table(response, "Ratio to solid wood (handbook), with flagged specimens")
    shown = dict(zip(heading, row, strict=True))
    (given,) = frame(client, api_of(response, "CSV")).to_dict("records")
    assert shown["Geometric mean"] == cell(given["geometric_mean"])
    assert shown["95 % interval"] == f"{cell(given['low'])} to {cell(given['high'])}"
    assert [shown[name] for name in ("Studies", "Series", "Specimens")] == ["3", "3", "9"]
    assert shown["Lower limit"] == cell(given["limit_5pct"])
    ahead = f"a mean of {cell(given['prediction_low'])} to {cell(given['prediction_high'])}"
    assert f"The next shop should expect {ahead} for blind mortise and tenon." in plain(response)


@pytest.mark.parametrize(("by", "field"), [("timber", "timber"), ("glue", "adhesive")])
def test_joint_by_timber_and_by_glue_is_the_comparison_narrowed_to_each(client, by, field):
    three_shops()

    response = page(client)

    heading, *rows = table(response, f"Ratio to solid wood (handbook) by {by}")
    found = compare(Choices(joints=("mt_blind",)))
    pairs = dict(zip(found.series[f"{field}_name"], found.series[field], strict=True))
    assert {row[0] for row in rows} == set(pairs) and len(pairs) == 2
    for row in rows:
        shown = dict(zip(heading, row, strict=True))
        address = f"{reverse('api:compare', args=['csv'])}?joint=mt_blind&{field}={pairs[row[0]]}&table=groups"
        (given,) = frame(client, address).to_dict("records")
        assert shown["Geometric mean"] == cell(given["geometric_mean"])
        assert shown["95 % interval"] == f"{cell(given['low'])} to {cell(given['high'])}"
        assert shown["Specimens"] == str(given["specimens"])
        assert f"{field}={pairs[row[0]]}" in response.content.decode()


def test_joint_by_size_groups_what_the_api_says_of_sizes_and_results(client):
    three_shops()

    response = page(client)

    sizes = frame(client, f"{reverse('api:series', args=['csv'])}?joint=mt_blind")
    results = frame(client, f"{reverse('api:compare', args=['csv'])}?joint=mt_blind&table=series")
    both = results.merge(sizes[["series_id", "member_depth_mm", "tenon_length_mm"]], on="series_id")
    for caption, column, unit in (
        ("Ratio to solid wood (handbook) by size of the member", "member_depth_mm", "20 × {:.0f} mm"),
        ("Ratio to solid wood (handbook) by length of the tenon", "tenon_length_mm", "{:.0f} mm"),
    ):
        heading, *rows = table(response, caption)
        at = heading.index("Series")
        expected = {unit.format(size): str(len(own)) for size, own in both.groupby(column)}
        assert {row[0]: row[at] for row in rows} == expected
    assert "1 series doesn't say." in plain(response)  # the first shop didn't write down its tenons


def test_joint_warns_that_rows_from_different_shops_are_not_only_their_timber(client):
    three_shops()

    assert (
        "No study tested two of these rows side by side: a difference between rows may be the shops' as much as the"
        " timber's." in plain(page(client))
    )


def test_joint_in_one_timber_says_so_and_draws_it_once(client):
    a_shop()

    response = page(client)

    assert "By timber All of it in Oak, northern red." in plain(response)
    source = response.content.decode()
    assert 'id="chart-strength"' in source and 'id="chart-timber"' not in source


def test_joint_on_the_stress_stays_within_one_timber(client):
    three_shops()

    shown = plain(page(client, footing="stress"))

    assert "all of Oak, northern red ; what was left out stands below" in shown
    assert "a stress is compared within one timber, while the ratio to solid wood holds across them" in shown
    assert "of another timber than what is shown" in shown


def test_joint_stands_against_its_controls_in_the_words_of_that_comparison(client):
    three_shops()

    shown = plain(page(client))

    found = compare(Choices(joints=("mt_blind", "butt"), reference="butt"))
    ratio = found.ratios.iloc[0]
    assert f"{ratio['ratio']:.2g}" in shown.split("Against solid wood")[1].split("By timber")[0]
    assert "No test of solid wood shares this footing with it." in shown


def test_joint_keeps_where_it_broke_and_how_much_it_took_apart(client):
    a_shop()

    rows = table(page(client), "Where the joints broke")

    given = {row["place_name"]: row for row in compare(Choices(joints=("mt_blind",))).failures.to_dict("records")}
    assert {row[1] for row in rows[1:]} == set(given)
    for row in rows[1:]:
        assert row[2:] == [
            cell(given[row[1]]["n"]),
            cell(100 * given[row[1]]["share"]),
            cell(given[row[1]]["geometric_mean"]),
        ]


# from shop to shop


def test_joint_tells_how_far_shops_differ_as_factors(client):
    three_shops()

    response = page(client)

    points = frame(client, f"{reverse('api:compare', args=['csv'])}?joint=mt_blind&table=points")
    series = frame(client, f"{reverse('api:compare', args=['csv'])}?joint=mt_blind&table=series")
    shops = points["series_id"].map(series.set_index("series_id")["workshop"])
    told = interlab.precision(pd.DataFrame({"study": shops, "joint": "j", "y": np.log(points["value"])}))
    level = told.levels.loc["j"]
    # Half of all differences of two normal draws are below 0.954 standard deviations (0.6745 times root 2).
    within, across = (cell(math.exp(0.9538726 * level[name])) for name in ("s_r", "s_R"))
    assert f"differ by a factor of about {within} , two of different shops by about {across} :" in plain(response)
    assert f"within {cell(math.exp(level['r_limit']))} and {cell(math.exp(level['R_limit']))}" in plain(response)
    rows = table(response, "Ratio to solid wood (handbook) as each shop found it")
    assert [row[0] for row in rows[1:]] == ["Hill shop", "Shop by the river", "Yard"]


def test_joint_of_one_shop_has_no_spread_between_shops(client):
    a_shop("One")
    a_shop("Two")

    shown = plain(page(client))

    assert "All of these specimens are one shop's: how far shops differ can't be seen." in shown
    assert "differ by a factor" not in shown


# choices in the address


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ({"action": "bendign"}, "action = bendign is not known. Did you mean bending"),
        ({"action": "any"}, "action = any is not known."),
        ({"tests": "any"}, "tests = any is not known. Known: bond, joint."),
        ({"footing": "strenght"}, "footing = strenght is not known."),
        ({"level": "2"}, "level = 2 is not known"),
        ({"flagged": "some"}, "flagged = some is not known"),
        ({"colour": "red"}, "colour = red is no parameter here."),
        ({"joint": "butt"}, "joint = butt is no parameter here."),
        ({"page": "abc"}, "page = abc is no page number"),
        ({"footing": "\0"}, "is not known"),
    ],
)
def test_joint_refuses_a_parameter_by_name(client, query, said):
    a_shop()

    response = page(client, **query)

    assert response.status_code == 400
    assert said in text(response)


def test_joint_shows_the_best_stocked_unless_asked(client):
    a_shop("One")
    for number in range(2):
        study = make_study(f"Pulled {number}")
        series = make_series(study, setup=make_setup(study, loading="withdrawal", arm_mm=None), tenon_length_mm=30.0)
        for load in (4000, 4100, 3900):
            make_specimen(series, peak_load_n=load)
        restate(study)

    assert '<option value="axial" selected>' in page(client).content.decode()
    asked = page(client, action="bending").content.decode()
    assert '<option value="bending" selected>' in asked
    assert "axial force, joint tests" in asked  # and where the rest is


def test_joint_without_results_for_a_choice_offers_what_there_is(client):
    a_shop()

    shown = plain(page(client, action="torsion"))

    assert "Nothing to show: blind mortise and tenon, torsion, joint tests" in shown
    assert "What can be shown instead: bending moment, joint tests : 1 study, 1 series" in shown


def test_joint_has_a_footing_of_each_kind_with_a_mean_where_one_means_something(client):
    a_shop()

    rows = {row[0]: row for row in table(page(client, footing="stress"), "What stands on each footing")[1:]}

    assert rows["ratio to solid wood (handbook)"][3] != "" and rows["nominal stress, MPa"][3] != ""
    assert rows["peak load, N"][1:4] == ["1", "1", ""]


# who is counted, who sees what


@pytest.mark.parametrize("status", ["draft", "submitted", "withdrawn"])
def test_joint_counts_no_hidden_study(client, status):
    a_shop("Counts")
    a_shop("Doesn't", rig=5.0, status=status, workshop="Hidden shop", of_series={"timber": "ash_white"})

    response = page(client)

    assert table(response, "Ratio to solid wood (handbook), with flagged")[1][3:6] == ["1", "1", "3"]
    assert "Hidden shop" not in text(response) and "Ash, white" not in text(response)


def test_joint_leaves_invented_studies_out_unless_asked(client):
    a_shop("Real")
    a_shop("Made up", rig=1.1, invented=True, workshop="Nowhere")

    without, with_them = page(client), page(client, invented="with")

    assert table(without, "Ratio to solid wood (handbook), with flagged")[1][3] == "1"
    assert table(with_them, "Ratio to solid wood (handbook), with flagged")[1][3] == "2"
    assert "invented Some of these results are made up" in text(with_them)
    assert "results are made up" not in text(without)


def test_joint_known_from_published_means_only(client):
    study = make_study(origin="published", citation="A handbook, 1998.")
    make_summary(make_series(study, label="A"))
    restate(study)

    response = page(client)

    assert response.status_code == 200
    assert "No series of it has 5 specimens" in plain(response)


def test_joint_shows_its_rule_and_its_dimensions(client):
    response = page(client)

    assert "A = 2 · n · l · d" in text(response) and "Source: derived from geometry" in text(response)
    assert ["tenon_length_mm", "the length of the tenon in the mortise", "for the stress and the ratios"] in table(
        response, "Dimensions that say something"
    )


# charts


def test_joint_charts_draw_the_specimens_row_by_row(client):
    three_shops()

    answer = client.get(reverse("browse:joint-chart", args=["mt_blind", "timber", "json"])).json()

    drawn = {trace.get("name"): trace for trace in answer["figure"]["data"]}
    points = compare(Choices(joints=("mt_blind",))).points
    assert sorted(drawn["broke"]["x"]) == pytest.approx(sorted(points["value"]))
    assert "by timber" in answer["summary"]
    for name in ("adhesive", "size", "tenon_length_mm", "failures"):
        assert client.get(reverse("browse:joint-chart", args=["mt_blind", name, "svg"])).status_code == 200


def test_joint_picture_has_the_size_that_the_page_says(client):
    three_shops()

    source = page(client).content.decode()

    picture = re.search(r'<img src="([^"]*/chart/timber\.svg[^"]*)" width="(\d+)" height="(\d+)"', source)
    drawn = client.get(html.unescape(picture.group(1))).content.decode()
    assert f'width="{picture.group(2)}"' in drawn and f'height="{picture.group(3)}"' in drawn


@pytest.mark.parametrize(("name", "kind"), [("nonsense", "svg"), ("timber", "pdf"), ("strength", "svg")])
def test_joint_has_no_other_charts(client, name, kind):
    three_shops()  # in two timbers, so that the one row for all isn't drawn

    assert client.get(reverse("browse:joint-chart", args=["mt_blind", name, kind])).status_code == 404


def test_joint_asks_as_many_queries_for_many_studies_as_for_few(client):
    counts = []
    for shops in (2, 6):
        for number in range(shops):
            a_shop(f"Study {shops} {number}", workshop=f"Shop {number}")
        with CaptureQueriesContext(connection) as asked:
            page(client)
        with CaptureQueriesContext(connection) as again:
            page(client)
        counts.append((len(asked), len(again)))

    assert counts[0] == counts[1]
    assert counts[1][1] <= 12, [query["sql"][:120] for query in again]


# sizes


def test_sizes_stand_by_themselves_where_they_are_few_and_in_classes_where_many():
    assert classes([30.0, None, 30.2, 41.0], "mm") == ["30 mm", None, "30 mm", "41 mm"]
    many = classes([float(size) for size in range(10, 90, 2)], "mm")
    assert len(set(many)) <= 8
    assert many[0] == "10 to 19 mm" and many[-1] == "80 to 89 mm"
    assert json.dumps(classes([math.nan], "")) == "[null]"


def test_every_joint_of_the_vocabulary_has_a_page(client):
    a_shop()

    for code in Joint.objects.values_list("pk", flat=True):
        assert page(client, code).status_code == 200
