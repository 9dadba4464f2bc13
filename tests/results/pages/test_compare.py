"""The comparison page: the numbers of the comparison, what it refuses, and what it left out."""

from __future__ import annotations

import html
import re

import pytest
from django.urls import reverse

from results.evidence import Choices, compare, restate, verdicts
from results.models import Specimen
from stats.charts.chart import cell
from tests.factories import make_series, make_setup, make_specimen, make_study

from .shops import a_shop, table, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def get(client, query=""):
    return client.get(f"{reverse('compare:compare')}{query}")


def test_compare_shows_the_very_numbers_of_the_comparison(client):
    a_shop("One")
    a_shop("Two", rig=1.2)

    response = get(client)

    found = compare(Choices())
    heading, *rows = table(response, "The chart in numbers")
    by_joint = {row[0]: dict(zip(heading, row, strict=True)) for row in rows}
    assert list(by_joint) == found.groups["joint_name"].tolist()
    for group in found.groups.itertuples():
        row = by_joint[group.joint_name]
        assert row["Geometric mean"] == cell(group.geometric_mean)
        assert row["95 % interval"] == f"{cell(group.low)} to {cell(group.high)}"
        assert [row["Studies"], row["Series"], row["Specimens"]] == ["2", "2", "6"]
    (ratio,) = found.ratios.itertuples()
    heading, row = table(response, "Each joint as a ratio to Glued butt")
    assert row[: len(("joint", "ratio", "interval"))] == [
        "Blind mortise and tenon",
        cell(ratio.ratio),
        f"{cell(ratio.low)} to {cell(ratio.high)}",
    ]
    (told,) = verdicts(found)
    assert f"{told.sentence} Certainty: {told.certainty.level}" in text(response).replace("●", "")


def test_compare_chart_draws_the_points_of_the_comparison(client):
    a_shop()

    page = get(client).content.decode()

    address = html.unescape(re.search(r'data-figure="(/compare/chart/strength[^"]*)"', page)[1])
    drawn = {trace["name"]: trace for trace in client.get(address).json()["figure"]["data"] if "name" in trace}
    assert sorted(drawn["broke"]["x"]) == pytest.approx(sorted(compare(Choices()).points["value"]))
    assert page.count("vendored/plotly") == 1


def test_compare_shows_each_chart_as_a_picture_from_the_same_choices(client):
    a_shop()

    page = get(client, "?footing=at_joint&scale=linear").content.decode()

    pictures = [html.unescape(one) for one in re.findall(r'<img src="(/compare/chart/[^"]*)"', page)]
    assert [one.split("/chart/")[1].split(".")[0] for one in pictures] == ["strength", "ratios", "failures"]
    drawn = client.get(pictures[0])
    assert drawn.headers["Content-Type"] == "image/svg+xml"
    assert "M [N·m]" in drawn.content.decode() and "20 × 40 mm" in drawn.content.decode()
    assert "scale=linear" in pictures[0]


def test_compare_chart_alone_may_stand_in_a_frame_elsewhere(client):
    a_shop()

    alone = client.get(reverse("compare:embed", args=["strength"]), {"joint": "butt", "invented": "with"})

    assert "X-Frame-Options" not in alone.headers and "X-Frame-Options" in get(client).headers
    assert 'href="http://testserver/compare/?joint=butt&amp;action=bending' in alone.content.decode()
    assert "/compare/chart/strength.svg?joint=butt&amp;" in alone.content.decode()
    assert client.get(reverse("compare:embed", args=["no-such"])).status_code == 404


def test_compare_gives_every_joint_against_every_other(client):
    a_shop("One")
    a_shop("Two", rig=1.2)

    rows = table(get(client), "How many times a row's joint took what a column's took")

    (ratio,) = compare(Choices()).ratios.itertuples()
    assert rows[0] == ["Joint", "Blind mortise and tenon", "Glued butt"]
    assert rows[1][2] == f"{ratio.ratio:.2g} ({ratio.low:.2g} to {ratio.high:.2g})"
    assert rows[2][1] == f"{1 / ratio.ratio:.2g} ({1 / ratio.high:.2g} to {1 / ratio.low:.2g})"
    assert rows[1][1] == rows[2][2] == ""


def test_compare_keeps_the_choices_in_the_address(client):
    a_shop()

    response = get(client, "?joint=butt&footing=stress&flagged=without")

    page = response.content.decode()
    assert '<option value="stress" selected>' in page
    assert '<option value="without" selected>' in page
    assert 'name="joint" value="butt" checked' in page
    assert [row[0] for row in table(response, "The chart in numbers")[1:]] == ["Glued butt"]
    query = Choices(joints=("butt",), footing="stress", flagged=False).query().replace("&", "&amp;")
    assert f'href="{reverse("api:compare", args=["json"])}?{query}"' in page


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("?footing=strenght", "footing = strenght is not known"),
        ("?joint=mt_blnd", "joint = mt_blnd is not in the vocabulary. Did you mean mt_blind"),
        ("?level=2", "level = 2 is not known"),
        ("?colour=red", "colour = red is no parameter here"),
        ("?action=bending&action=shear", "action = bending, shear may be given once only"),
        ("?scale=cubic", "scale = cubic is no kind of axis; choose log or linear"),
        ("?group=softwoods", "group = softwoods is not known. Did you mean softwood"),
        ("?conditioning=wet", "conditioning = wet is not known."),
        ("?timber=%00", "is not in the vocabulary"),
        ("?joint=<script>alert(1)</script>", "is not in the vocabulary"),
    ],
)
def test_compare_refuses_a_parameter_by_name_value_and_what_would_be_right(client, query, said):
    response = get(client, query)

    assert response.status_code == 400
    assert said in text(response)
    assert b"<script>alert" not in response.content


@pytest.mark.parametrize("address", ["/compare/chart/strength.svg", "/compare/embed/strength/"])
def test_compare_charts_refuse_a_parameter_too(client, address):
    response = client.get(address, {"footing": "nonsense"})

    assert response.status_code == 400
    assert "footing = nonsense is not known" in text(response)


def test_compare_marks_invented_data(client, settings):
    settings.DEMO = True  # where invented studies are shown without asking
    a_shop("Made up", invented=True)

    assert "invented All of these results are made up" in text(get(client))


def test_compare_of_real_and_invented_studies_says_some(client, settings):
    settings.DEMO = True  # where invented studies are shown without asking
    a_shop("Made up", invented=True)
    a_shop("Broken")

    response = get(client)

    assert "invented Some of these results are made up" in text(response)
    studies = {row[1] for row in table(response, "The series behind the chart")[1:]}
    assert studies == {"Made up (invented)", "Broken"}


def test_compare_of_real_data_has_no_mark(client):
    a_shop()

    assert "tag invented" not in get(client).content.decode()


def test_compare_refuses_two_actions_on_one_axis_and_offers_each(client):
    a_shop()
    study = make_study("Pulled")
    series = make_series(study, setup=make_setup(study, loading="withdrawal", arm_mm=None), joint="dowel")
    for load in (4000, 4100, 3900):
        make_specimen(series, peak_load_n=load)
    restate(study)

    response = get(client, "?action=any&footing=peak_load")

    page = response.content.decode()
    assert "not drawn on one axis" in text(response)
    assert "data-figure" not in page
    assert "axial force, joint tests (1 series)" in page
    assert "action=axial&amp;footing=peak_load" in page


def test_compare_of_bonds_links_each_kind_to_its_joint(client):
    a_shop(of_series={"tests": "bond", "grain_a": "end", "grain_b": "side"})

    response = get(client, "?tests=bond")

    assert f'href="{reverse("browse:joint", args=["butt"])}"' in response.content.decode()
    assert "Glued butt, end-side grain" in {row[0] for row in table(response, "The chart in numbers")}


def test_compare_on_a_footing_of_one_size_says_which(client):
    a_shop()

    assert "All on this axis: 20 × 40 mm" in text(get(client, "?footing=at_joint"))


def test_compare_says_which_choice_left_nothing(client):
    a_shop()

    by_timber = text(get(client, "?joint=butt&timber=ash_white"))
    by_action = text(get(client, "?action=torsion"))

    assert "No series is left after choosing joint Glued butt and timber Ash, white." in by_timber
    assert "2 series match the joints, timbers and glues chosen" in by_action
    assert "tested under another action: bending moment" in by_action


def test_compare_offers_the_choices_without_the_one_that_emptied_them(client):
    a_shop()

    page = get(client, "?group=softwood&joint=butt").content.decode()

    assert "No series is left after choosing joint Glued butt and timber softwoods." in html.unescape(page)
    offered = html.unescape(re.search(r'<a href="([^"]*)">The same without that last choice', page)[1])
    assert [row[0] for row in table(get(client, offered), "The chart in numbers")[1:]] == ["Glued butt"]


def test_compare_by_what_the_joints_lived_through_and_by_group_of_timber(client):
    a_shop("Dry", of_series={"conditioning": "indoors"})
    a_shop("Steady", rig=1.2, of_series={"conditioning": "climate"})
    a_shop("Pine", rig=0.5, of_series={"conditioning": "indoors", "timber": "pine_loblolly"})

    def studies(query: str) -> set[str]:
        return {row[1] for row in table(get(client, query), "The series behind the chart")[1:]}

    assert studies("?conditioning=indoors") == {"Dry", "Pine"}
    assert studies("?conditioning=indoors&conditioning=climate") == {"Dry", "Steady", "Pine"}
    assert studies("?conditioning=indoors&group=hardwood") == {"Dry"}
    assert studies("?group=softwood") == {"Pine"}
    assert 'name="group" value="softwood" checked' in get(client, "?group=softwood").content.decode()


def test_compare_of_an_empty_book_says_so(client):
    assert "The book has no accepted studies yet." in text(get(client))


def test_compare_gives_groups_with_and_without_flagged_specimens(client):
    study = a_shop()
    Specimen.objects.filter(series__label="butt", peak_load_n__gt=155).update(flagged=True)
    footing = study.series.get(label="butt").footings.get(code="ratio_solid")
    kept = study.series.get(label="butt").specimens.filter(flagged=False)
    footing.kept_n = kept.count()
    footing.kept_sum_log, footing.kept_sum_sq_log = _sums([one.ratio_solid for one in kept])
    footing.save()

    response = get(client)

    column = table(response, "The chart in numbers")[0].index("Specimens")
    assert [row[column] for row in table(response, "The chart in numbers")[1:]] == ["3", "3"]
    assert [row[column] for row in table(response, "The same without flagged specimens")[1:]] == ["3", "2"]


def _sums(values):
    import math

    logs = [math.log(value) for value in values]
    return sum(logs), sum(log * log for log in logs)


def test_compare_without_any_flagged_specimen_says_that_nothing_changes(client):
    a_shop()

    assert "Leaving flagged specimens in or out changes nothing here" in text(get(client))


def test_compare_shows_where_joints_broke_with_what_those_took(client):
    a_shop()

    rows = table(get(client), "Where the joints broke")

    assert rows[0] == ["Joint", "Where it broke", "Specimens", "Share, %", "Geometric mean"]
    butt = compare(Choices()).failures.query("joint == 'butt' and place == 'member'").iloc[0]
    assert ["Glued butt", "Member away from the joint", "1", "33.3", cell(butt["geometric_mean"])] in rows


@pytest.mark.parametrize("status", ["draft", "submitted", "withdrawn"])
def test_compare_leaves_out_studies_that_do_not_count(client, status):
    a_shop("Counts")
    a_shop("Doesn't", rig=5.0, status=status)

    assert {row[1] for row in table(get(client), "The series behind the chart")[1:]} == {"Counts"}


def test_compare_shows_typed_markup_as_text(client):
    a_shop("<script>alert(1)</script>")

    page = get(client).content.decode()

    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)" in page
