"""The page of all studies together: its numbers, the pair looked at closely, what it refuses and what it leaves out."""

from __future__ import annotations

import html
import io
import re

import numpy as np
import pandas as pd
import pytest
from django.contrib.auth import get_user_model
from django.core.cache import caches
from django.urls import reverse

from results.evidence import restate
from results.models import Study
from stats.charts.chart import cell
from stats.inference import network, sidebyside
from tests.factories import make_series, make_setup, make_specimen, make_study

from .linked_book import ALONE, APART, NAMES, STUDIES, a_book, rows
from .shops import a_shop, table, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


@pytest.fixture(autouse=True)
def nothing_kept():
    """A test's data is rolled back, and so is what was kept of it."""
    caches["answers"].clear()


@pytest.fixture(scope="module", autouse=True)
def book(vocabulary, django_db_blocker):
    """One book for all tests of the module; what a test adds is rolled back."""
    with django_db_blocker.unblock():
        a_book(*STUDIES, APART, ALONE)
    yield
    with django_db_blocker.unblock():
        Study.objects.all().delete()
        get_user_model().objects.all().delete()


def get(client, query=""):
    return client.get(f"{reverse('compare:network')}{query}")


def refitted(client, query: str = "") -> tuple[network.Network, pd.DataFrame]:
    """The network that `stats` makes of the API's CSV, and nothing of the site's."""
    series, points = (
        pd.read_csv(io.BytesIO(client.get(f"/api/v1/compare.csv?table={name}{query}").content))
        for name in ("series", "points")
    )
    estimates = sidebyside.series_estimates(series, points)
    arms = estimates[["study_id", "joint", "y", "v_steady"]].rename(columns={"study_id": "study", "v_steady": "v"})
    return network.fit(arms, "butt"), series


def test_network_page_shows_the_very_numbers_of_the_api_and_of_stats_on_its_csv(client):
    shown = rows(get(client), "Each joint as a ratio to Glued butt")
    effects = {row["joint"]: row for row in client.get("/api/v1/network?").json()["effects"]}
    pairs = {frozenset((row["joint"], row["versus"])): row for row in client.get("/api/v1/network").json()["pairs"]}
    fitted, _ = refitted(client)

    assert list(shown) == [NAMES[code] for code in effects]
    for code, effect in effects.items():
        row, one, pair = shown[NAMES[code]], fitted.relative(code, "butt"), pairs[frozenset((code, "butt"))]
        assert row["Ratio"] == cell(effect["ratio"]) == cell(one.ratio)
        assert row["95 % interval"] == f"{cell(effect['low'])} to {cell(effect['high'])}"
        assert row["95 % interval"] == f"{cell(one.ratio_interval.low)} to {cell(one.ratio_interval.high)}"
        assert row["Studies with both"] == str(pair["studies"]) == str(one.studies)
        if code != "dowel":
            ends = np.exp([one.prediction.low, one.prediction.high])
            assert row["The next shop should expect"] == f"{cell(ends[0])} to {cell(ends[1])}"
            turned = pair["joint"] == "butt"
            low = 1 / pair["prediction_high"] if turned else pair["prediction_low"]
            assert row["The next shop should expect"].startswith(f"{cell(low)} to ")


def test_network_page_foretells_nothing_of_a_joint_that_one_shop_made(client):
    dowel = rows(get(client), "Each joint as a ratio to Glued butt")["Dowel"]

    assert dowel["The next shop should expect"] == ""
    assert dowel["Note"] == "Only one study tested one of the two: it can't say what another shop would find."


def test_network_page_shows_direct_and_indirect_evidence_as_stats_splits_it(client):
    response = get(client, "?pair=lap_half,mt_blind")
    fitted, _ = refitted(client)

    shown = rows(response, "Half-lap against Blind mortise and tenon, by each kind of evidence")
    for name, one in (
        ("Studies with both", fitted.direct("lap_half", "mt_blind")),
        ("Through other joints", fitted.indirect("lap_half", "mt_blind")),
        ("All together", fitted.relative("lap_half", "mt_blind")),
    ):
        assert shown[name]["Ratio"] == cell(one.ratio)
        assert shown[name]["95 % interval"] == f"{cell(one.ratio_interval.low)} to {cell(one.ratio_interval.high)}"
    split = fitted.split("lap_half", "mt_blind")
    said = text(response)
    assert "what blind mortise and tenon took in the 2 studies that tested both; through other joints" in said
    assert f"(direct is {cell(np.exp(split.difference[0]))} times indirect, p = {cell(split.p, 2)})" in said


def test_network_page_takes_a_pair_from_two_selects_as_from_one_parameter(client):
    one, two = get(client, "?pair=lap_half,dowel"), get(client, "?pair=lap_half&pair=dowel")

    assert text(one) == text(two)
    page = one.content.decode()
    assert '<option value="lap_half" selected>Half-lap</option>' in page
    assert '<option value="dowel" selected>Dowel</option>' in page
    assert "No study tested both: half-lap took" in text(one)
    turned = rows(get(client, "?pair=dowel,lap_half"), "Dowel against Half-lap")["All together"]["Ratio"]
    straight = rows(one, "Half-lap against Dowel")["All together"]["Ratio"]
    assert float(turned) * float(straight) == pytest.approx(1, rel=0.01)


def test_network_page_says_where_only_direct_evidence_exists(client):
    said = text(get(client, "?pair=dowel,butt"))

    assert "All that is known is direct: in the one study that tested both, dowel took" in said
    assert "it can't say what another shop would find" in said


def test_network_page_keeps_the_choices_when_a_pair_is_chosen(client):
    page = get(client, "?flagged=without&level=0.9&reference=mt_blind").content.decode()

    form = page[page.index('aria-label="Two joints to look at"') :].split("</form>")[0]
    kept = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)">', form))
    assert kept["flagged"] == "without" and kept["level"] == "0.9" and kept["reference"] == "mt_blind"
    assert form.count('name="pair"') == 2


def test_network_page_shares_of_a_pair_sum_to_all_and_lead_to_the_studies(client):
    response = get(client, "?pair=lap_half,mt_blind")

    heading, *found = table(response, "What each study counts for in this ratio")
    assert heading == ["Study", "Share in the ratio, %", "Tested both"]
    assert sum(float(row[1]) for row in found) == pytest.approx(100, abs=0.3)
    assert {row[0]: row[2] for row in found}["Chair rails"] == "yes"
    assert re.search(r'href="/studies/\d+/">Chair rails', response.content.decode())


def test_network_page_says_how_studies_differ_and_whether_routes_agree(client):
    said, body = text(get(client)), client.get("/api/v1/network").json()

    q, df, p = (body["inconsistency"][name] for name in ("q", "df", "p"))
    assert f"design-by-treatment test: Q = {cell(q)}, df = {df}, p = {cell(p, 2)}" in said
    tau = np.sqrt(body["between_variance"])
    assert tau > 0
    assert f"within a factor of about {cell(np.exp(tau), 2)} of the mean, up or down" in said
    assert f"τ = {cell(tau, 2)}" in said
    low, high = (np.exp(np.sqrt(body[f"between_variance_{end}"])) for end in ("low", "high"))
    assert f"95 % interval of the factor {cell(low)} to {cell(high)}" in said


def test_network_page_shows_what_leaving_out_each_study_does(client):
    response = get(client)
    fitted, series = refitted(client)
    titles = series.drop_duplicates("study_id").set_index("study_id")["study"]

    shown = rows(response, "The ratio to Glued butt that leaving out a study moves most")
    frame = fitted.influence()
    told = {titles[row.study]: row for row in frame.itertuples() if not row.disconnects}
    assert set(shown) == set(told) - {"Corners"}
    for title, row in shown.items():
        ratio = fitted.relative(told[title].joint, "butt").ratio
        assert row["Moves most"] == NAMES[told[title].joint]
        assert row["Ratio without it"] == cell(ratio * np.exp(told[title].shift))
        assert row["In standard errors"] == cell(told[title].shift_in_se)
    assert "Dowel hangs on “Dowels once” alone: without it nothing links it to glued butt." in text(response)
    assert re.search(r'href="/studies/\d+/">Chair rails', response.content.decode())


def test_network_page_without_a_study_is_what_the_book_without_it_gives(client):
    """Leave-one-out against another road: the study really taken out, the spread between studies held."""
    fitted, series = refitted(client)
    number = int(series.loc[series["study"] == "Chair rails", "study_id"].iloc[0])
    row = fitted.influence().set_index("study").loc[number]
    rest = fitted.profile.rows.without(list(fitted.study_names).index(number))
    again = type(fitted.profile)(rest, np.setdiff1d(np.arange(rest.n_joints), fitted.profile.free)).solve(fitted.tau2)
    at, reference = fitted.joints.index(row["joint"]), fitted.joints.index("butt")

    shown = rows(get(client), "The ratio to Glued butt that leaving out a study moves most")["Chair rails"]
    assert shown["Ratio without it"] == cell(np.exp(again.beta[at] - again.beta[reference]))


def test_network_page_names_parts_and_leads_to_each_with_a_reference_of_its_own(client):
    response = get(client)

    said = text(response)
    assert "These studies fall into 3 parts that no study joins" in said
    assert "Mitre and bridle (1 study): show part" in said or "Bridle and mitre (1 study): show part" in said
    assert "Screw (never tested beside another joint)" in said
    found = re.search(r'Part 2: .*?href="\?([^"]*)"', response.content.decode())
    other = text(get(client, f"?{html.unescape(found[1])}"))
    assert "every ratio is to Bridle" in other or "every ratio is to Mitre" in other
    assert "shown here: " in other


def test_network_page_lists_what_was_left_out_and_set_aside(client):
    a_shop("Bonds", of_series={"tests": "bond", "grain_a": "end", "grain_b": "side"})

    response = get(client)

    aside = rows(response, "Studies that link nothing")
    assert aside["Screws"]["Joint"] == "Screw"
    left = rows(response, "What was left out, and why")
    assert "bond tests, which are never pooled with joint tests" in left


def test_network_page_tells_the_graph_in_numbers(client):
    response = get(client)
    fitted, _ = refitted(client)

    joints = rows(response, "The joints, and how much stands behind each")
    assert (joints["Glued butt"]["Studies"], joints["Glued butt"]["Specimens"]) == ("4", "20")
    _, *found = table(response, "Pairs that a study tested side by side")
    code = {name: one for one, name in {**NAMES, "mitre": "Mitre", "bridle": "Bridle"}.items()}
    assert len(found) == 5
    for joint, versus, studies in found:
        assert fitted.relative(code[joint], code[versus]).studies == int(studies)


def test_network_page_links_to_the_same_numbers(client):
    page = html.unescape(get(client, "?level=0.9").content.decode())

    for address in set(re.findall(r'href="(/api/v1/[^"]*)"', page)):
        assert client.get(address).status_code == 200, address
    assert "/api/v1/network.csv?action=bending&footing=ratio_solid&tests=joint&level=0.9&table=pairs" in page
    assert f'href="{reverse("compare:compare")}?action=bending' in page
    assert reverse("browse:methods") in page


def test_network_page_draws_its_charts_on_the_server(client):
    page = html.unescape(get(client, "?pair=lap_half,mt_blind").content.decode())

    for name in ("joints", "graph", "pair", "influence"):
        figure = re.search(rf'data-figure="(/compare/network/{name}\.json[^"]*)"', page)[1]
        assert set(client.get(figure).json()["figure"]) == {"data", "layout"}
        pictures = re.findall(rf'(?:src|srcset)="(/compare/network/{name}\.svg[^"]*)"', page)
        assert len(pictures) == 3
        answer = client.get(pictures[-1])
        assert answer["Content-Type"] == "image/svg+xml" and answer.content.startswith(b"<svg")


def test_network_charts_answer_for_the_pair_that_was_chosen(client):
    figure = client.get("/compare/network/pair.json?pair=dowel,butt").json()["figure"]

    assert figure["layout"]["title"]["text"] == "<b>Dowel ÷ Glued butt</b>"


@pytest.mark.parametrize(
    ("address", "status"),
    [
        ("/compare/network/nonsense.svg", 404),
        ("/compare/network/joints.gif", 404),
        ("/compare/network/joints.svg?width=7", 400),
        ("/compare/network/joints.svg?width=wide", 400),
        ("/compare/network/joints.svg?footing=nonsense", 400),
        ("/compare/network/pair.json?pair=nonsense,butt", 400),
        ("/compare/network/joints.svg?tests=bond", 404),
    ],
)
def test_network_charts_refuse_what_they_cannot_draw(client, address, status):
    assert client.get(address).status_code == status


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("?footing=strenght", "footing = strenght is not known"),
        ("?joint=mt_blnd", "joint = mt_blnd is not in the vocabulary. Did you mean mt_blind"),
        ("?colour=red", "colour = red is no parameter here"),
        ("?pair=mt_blnd,butt", "pair = mt_blnd is not in the vocabulary. Did you mean mt_blind"),
        ("?pair=qqqqqqqq,butt", "pair = qqqqqqqq is not in the vocabulary. The list of joints has the codes."),
        ("?pair=butt", "pair = butt names 1 joint; name two."),
        ("?pair=butt,dowel&pair=mitre", "pair = butt, dowel, mitre names 3 joints; name two."),
        ("?pair=butt&pair=butt", "pair = butt, butt names one joint twice; name two that differ."),
        ("?pair=%00,butt", "is not in the vocabulary"),
        ("?pair=<script>alert(1)</script>,butt", "is not in the vocabulary"),
        ("?pair=" + "x" * 5000 + ",butt", "is not in the vocabulary"),
    ],
)
def test_network_page_refuses_a_parameter_by_name_value_and_what_would_be_right(client, query, said):
    response = get(client, query)

    assert response.status_code == 400
    assert said in text(response)
    assert b"<script>alert" not in response.content


@pytest.mark.parametrize("query", ["?pair=", "?pair=,", "?pair=&pair="])
def test_network_page_with_an_empty_pair_shows_the_one_best_tested(client, query):
    response = get(client, query)

    assert response.status_code == 200
    assert "Half-lap against Glued butt" in text(response)


def test_network_page_says_why_a_pair_can_not_be_compared(client):
    apart, absent = get(client, "?pair=mitre,butt"), get(client, "?pair=box,butt")

    assert "Mitre against Glued butt No chain of studies links the two" in text(apart)
    assert "box is not among the joints of these studies; choose from those listed." in text(absent)
    assert (apart.status_code, absent.status_code) == (200, 200)
    assert "network/pair.svg" not in apart.content.decode()


def test_network_page_refuses_two_actions_on_one_axis_and_offers_each(client):
    study = make_study("Pulled")
    series = make_series(study, setup=make_setup(study, loading="withdrawal", arm_mm=None), joint="dowel")
    for load in (4000, 4100, 3900):
        make_specimen(series, peak_load_n=load)
    restate(study)

    response = get(client, "?action=any&footing=peak_load")

    assert "not drawn on one axis" in text(response)
    assert "axial force, joint tests (1 series)" in text(response)
    assert "<figure" not in response.content.decode()


def test_network_page_says_which_choice_left_nothing_and_leads_to_what_there_is(client):
    response = get(client, "?joint=butt&joint=mt_blind&timber=ash_white")

    assert "No series is left after choosing joint" in text(response)
    found = re.search(r'href="\?([^"]*)">with all timbers \(2 studies\)', response.content.decode())
    assert "Each joint as a ratio to Glued butt" in text(get(client, f"?{html.unescape(found[1])}"))


def test_network_page_of_a_reference_without_company_offers_others(client):
    response = get(client, "?reference=screw")

    assert "No study tested Screw beside another joint, so no ratio to it can be had" in text(response)
    offered = re.findall(r'href="\?([^"]*)">against ', response.content.decode())
    assert len(offered) == 3
    assert "Each joint as a ratio to" in text(get(client, f"?{html.unescape(offered[0])}"))


def test_network_page_says_that_a_reference_not_there_was_replaced(client):
    assert "The reference chosen (box) is not among these joints; Glued butt stands in for it." in text(
        get(client, "?reference=box")
    )


def test_network_page_of_real_data_has_no_mark(client):
    assert "tag invented" not in get(client).content.decode()


def test_network_page_follows_the_data(client):
    before = rows(get(client), "Each joint as a ratio to Glued butt")
    a_book(("A further shop", ("butt", "mt_blind", "dowel")), seed=3)

    after = rows(get(client), "Each joint as a ratio to Glued butt")

    assert before["Dowel"]["Studies with both"] == "1"
    assert after["Dowel"]["Studies with both"] == "2"
    assert after["Dowel"]["The next shop should expect"]


def test_network_page_asks_as_many_queries_for_many_studies_as_for_few(client, django_assert_max_num_queries):
    query = "?pair=lap_half,mt_blind&timber=oak_northern_red"
    a_book(("A further shop", ("butt", "mt_blind")))  # so that nothing of the data is held in memory yet
    with django_assert_max_num_queries(100) as few:
        get(client, query)
    a_book(*((f"Study {i}", ("butt", "mt_blind", "lap_half", "bridle", "screw")) for i in range(5)))

    with django_assert_max_num_queries(len(few)) as many:
        get(client, query)

    assert len(many) == len(few) < 40


def test_network_page_kept_asks_little(client, django_assert_max_num_queries):
    get(client)

    # What was worked out is read from where it is kept; the rest is the form that chooses.
    with django_assert_max_num_queries(8):
        get(client)
