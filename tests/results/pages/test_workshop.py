"""A workshop's page: whom it names, where it stands, what it says when there are too few, and its address."""

from __future__ import annotations

import html
import io
import re
from xml.etree import ElementTree

import numpy as np
import pandas as pd
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from results.evidence import restate
from results.evidence import shops as evidence
from results.pages.workshop_address import workshop_url, written
from stats.inference import interlab, sidebyside
from tests.factories import make_series, make_setup, make_specimen, make_study, make_user

from .shops import a_shop, table, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]

RIGS = (1.0, 1.1, 0.9, 1.05, 1.3)


def shops(rigs=RIGS, **fields):
    """Workshops that tested the same joints, each on a rig that reads so many times the truth."""
    return [a_shop(f"Study {i}", workshop=f"Shop {i}", rig=rig, **fields) for i, rig in enumerate(rigs)]


def page(client, name, **query):
    return client.get(workshop_url(name), query)


# who is named


def test_workshops_are_listed_with_what_counts_and_what_was_withdrawn(client):
    a_shop("One", workshop="Ash Yard")
    a_shop("Two", workshop="Ash Yard", status="withdrawn")
    a_shop("Three", workshop="Birch Yard", invented=True)
    a_shop("Four", workshop="Hidden Yard", status="draft")

    shown = text(client.get(reverse("browse:workshops")))

    assert "2 workshops" in shown and "Hidden Yard" not in shown
    assert "Ash Yard · 1 study, 1 withdrawn" in shown
    assert "Birch Yard · 1 study invented" in shown
    assert "1 workshop Ash Yard" in text(client.get(reverse("browse:workshops"), {"q": "ash"}))


@pytest.mark.parametrize("who", [None, "owner", "stranger"])
def test_hidden_studies_never_count_nor_show_whoever_asks(client, who):
    shops(RIGS[:3])
    a_shop("Open study", workshop="Mine", contributor=make_user("owner"))
    a_shop("Hidden study", workshop="Mine", status="draft", rig=5.0, contributor=make_user("owner"))
    a_shop("Hidden alone", workshop="Secret", status="submitted", contributor=make_user("owner"))
    if who:
        client.force_login(make_user(who))

    response = page(client, "Mine")
    shown = text(response)

    assert "Open study" in shown and "Hidden study" not in shown
    rows = table(response, "Joints shared with three other shops or more")
    assert float(rows[1][rows[0].index("This ÷ others")]) == pytest.approx(1.0, abs=0.05)
    missing = page(client, "Secret")
    assert missing.status_code == 404 and "Mine" not in text(missing).split("All workshops")[0].replace("Secret", "")
    assert "Secret" not in text(client.get(reverse("browse:workshops")))


def test_withdrawn_studies_are_listed_but_stand_beside_nobody(client):
    shops(RIGS[:4])
    a_shop("Taken back", workshop="Only withdrawn", status="withdrawn")

    shown = text(page(client, "Only withdrawn"))

    assert "Taken back" in shown and "withdrawn" in shown
    assert "None of its studies counts any more, so it is set beside nobody." in shown
    assert "z-score" not in shown


def test_invented_studies_stand_in_a_demonstration_only(client, settings):
    settings.DEMO = False
    shops(invented=True)

    assert "invented studies are shown in a demonstration only" in text(page(client, "Shop 0"))
    settings.DEMO = True
    shown = text(page(client, "Shop 0"))
    assert "invented What this workshop tested is made up" in shown and "this shop reads" in shown


# where it stands


def test_workshop_says_in_plain_words_where_it_stands(client):
    shops()

    shown = text(page(client, "Shop 4"))

    # 1.3 over the geometric mean of 1.0, 1.1, 0.9 and 1.05
    above = round(100 * (1.3 / (1.0 * 1.1 * 0.9 * 1.05) ** 0.25 - 1))
    reads = f"this shop reads on average about {above} % above the others."
    assert f"On the 2 joints it shares with three other shops or more, {reads}" in shown
    assert "A score is a reason to look, not a verdict on a shop" in shown
    assert "% below the others." in text(page(client, "Shop 2"))


def test_workshop_that_reads_as_the_others_is_said_to(client):
    shops((1.0, 1.0, 1.0, 1.0))

    assert "this shop reads on average as the others do. Between shops that is usual, on each" in text(
        page(client, "Shop 1")
    )


def test_workshop_far_off_is_said_to_be_more_than_usual(client):
    shops((1.0, 1.02, 0.98, 1.01, 2.5))

    shown = text(page(client, "Shop 4"))

    # 2.5 over the geometric mean of 1.0, 1.02, 0.98 and 1.01
    assert "On 2 of them it differs by more than is usual between shops: glued butt, 149 % above and out of" in shown


@pytest.mark.parametrize("count", [1, 2, 3])
def test_too_few_shops_give_words_and_no_number(client, count):
    shops(RIGS[:count])

    response = page(client, "Shop 0")
    shown = text(response)

    assert "Too few shops to say where this one stands" in shown and "No number is given for that reason." in shown
    assert "this shop reads" not in shown and "% above" not in shown
    assert "Joints shared with three other shops" not in shown
    assert ("Too few shops for h and k" in shown) == (count < 3)


def test_z_scores_equal_the_numeric_code_on_the_api_csv(client):
    shops()
    response = page(client, "Shop 3")
    address = html.unescape(re.search(r'href="([^"]*footings\.csv[^"]*)"', response.content.decode())[1])

    frame = pd.read_csv(io.BytesIO(b"".join(client.get(address))))

    n = frame["broke"].astype(float)
    series = frame.assign(
        n=n,
        mean_log=frame["sum_log"] / n,
        sd_log=np.sqrt((frame["sum_sq_log"] - frame["sum_log"] ** 2 / n) / (n - 1)),
        family=frame["joint_family"],
    )
    estimates = sidebyside.series_estimates(series, pd.DataFrame(columns=["series_id", "value", "outcome"]))
    means = sidebyside.study_means(estimates.assign(study_id=series["workshop"]))
    names = {"butt": "Glued butt", "mt_blind": "Blind mortise and tenon"}
    rows = table(response, "Joints shared with three other shops or more")
    shown = {row[0]: dict(zip(rows[0], row, strict=True)) for row in rows[1:]}
    assert set(shown) == set(names.values())
    for joint, part in means.groupby("joint"):
        scores = interlab.standing(part["y"], part["v"], labels=part["study_id"].tolist()).set_index("study")
        own, row = scores.loc["Shop 3"], shown[names[joint]]
        assert float(row["z"]) == pytest.approx(own["z"], rel=0.006)
        assert float(row["This shop"]) == pytest.approx(np.exp(own["y"]), rel=0.006)
        assert float(row["Mean of the others"]) == pytest.approx(np.exp(own["assigned"]), rel=0.006)


def test_h_and_k_equal_the_numeric_code_on_the_api_csv(client):
    shops()
    response = page(client, "Shop 3")
    address = html.unescape(re.search(r'href="([^"]*specimens\.csv[^"]*)"', response.content.decode())[1])

    frame = pd.read_csv(io.BytesIO(b"".join(client.get(address))))

    told = frame[frame["outcome"] == "broke"].assign(study=frame["workshop"], y=np.log(frame["ratio_solid"]))
    found = interlab.precision(told[["study", "joint", "y"]]).shops
    own = found[found["study"] == "Shop 3"].set_index("joint")
    for which in ("h", "k"):
        rows = table(response, f"Mandel's {which}")
        shown = {row[0]: dict(zip(rows[0], row, strict=True)) for row in rows[1:]}
        for joint, name in (("butt", "Glued butt"), ("mt_blind", "Blind mortise and tenon")):
            assert float(shown[name][which]) == pytest.approx(own.loc[joint, which], rel=0.006)
            critical = float(shown[name][f"Critical value of {which}"])
            assert critical == pytest.approx(own.loc[joint, f"{which}_critical"], rel=0.006)


def test_own_score_with_many_shops_is_that_of_the_standing(monkeypatch):
    shops()
    asked = {"footing": "ratio_solid", "action": "bending", "tests": "joint", "invented": False}

    every = evidence.shop("Shop 3", **asked).own_scores.reset_index(drop=True)
    monkeypatch.setattr(evidence, "MOST_SCORED", 3)
    alone = evidence.shop("Shop 3", **asked)

    assert set(alone.scores["study"]) == {"Shop 3"}
    pd.testing.assert_frame_equal(alone.own_scores.reset_index(drop=True), every, check_dtype=False)


def test_studies_of_one_workshop_are_one_shop():
    shops(RIGS[:4])
    a_shop("Another study", workshop="Shop 0", rig=1.0)

    found = evidence.shop("Shop 0", footing="ratio_solid", action="bending", tests="joint", invented=False)

    assert found.shared["shops"].tolist() == [4, 4]
    assert found.own_mandel["n"].tolist() == [6, 6]


def test_held_specimens_count_in_the_standing_and_not_in_h_and_k():
    for study in shops(RIGS[:4]):
        series = study.series.get(label="butt")
        make_specimen(series, peak_load_n=200.0, outcome="held")
        restate(study)

    found = evidence.shop("Shop 0", footing="ratio_solid", action="bending", tests="joint", invented=False)

    own = found.own_scores.set_index("joint_name").loc["Glued butt"]
    plain = np.log((40 * 44 * 48) ** (1 / 3))
    unheld = evidence.shop("Shop 0", footing="at_joint", action="bending", tests="joint", invented=False)
    assert unheld.own_scores.iloc[0]["y"] > plain
    assert own["y"] > found.own_mandel.set_index("joint_name").loc["Glued butt", "mean"]
    assert found.own_mandel["n"].tolist() == [3, 3]


def test_joints_are_told_apart_by_what_their_axis_has_in_common(client):
    shops(RIGS[:4])
    for i in range(4):
        a_shop(f"Thick {i}", workshop=f"Shop {i}", of_series={"member_depth_mm": 60.0})

    across = evidence.shop("Shop 0", footing="ratio_solid", action="bending", tests="joint", invented=False)
    by_size = evidence.shop("Shop 0", footing="at_joint", action="bending", tests="joint", invented=False)

    assert across.shared["joint_name"].tolist() == ["Glued butt", "Blind mortise and tenon"]
    assert set(by_size.shared["joint_name"]) == {
        f"{joint}, 20 × {depth} mm" for joint in ("Glued butt", "Blind mortise and tenon") for depth in (40, 60)
    }


# what may be asked


def test_footing_and_kind_of_test_are_chosen_in_the_address(client):
    shops()
    a_shop("Bonds", workshop="Shop 0", of_series={"tests": "bond"})

    response = page(client, "Shop 0", footing="stress")
    shown = text(response)

    assert "Joints shared with three other shops or more: nominal stress, MPa" in shown
    assert "bending moment, joint tests (2 series)" in shown and "bending moment, bond tests (2 series)" in shown
    assert "Glued butt, Oak, northern red" in shown
    bonds = text(page(client, "Shop 0", tests="bond"))
    assert "Too few shops to say where this one stands: no other shop has tested any of its joints" in bonds
    assert "This shop has no accepted series of that kind" in text(page(client, "Shop 1", tests="bond"))


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ({"footing": "nonsense"}, "footing = nonsense is not one of ratio_solid, ratio_solid_matched"),
        ({"footing": "peak_load"}, "footing = peak_load never leaves its own rig"),
        ({"action": "pushing"}, "action = pushing is not one of bending, axial, shear, torsion."),
        ({"tests": "any"}, "tests = any is not one of joint, bond."),
        ({"tests": ["joint", "bond"]}, "tests = joint, bond may be given once only."),
        ({"colour": "red"}, "colour = red is no parameter here; there are footing, action, tests."),
        ({"footing": "\0"}, "is not one of ratio_solid"),
    ],
)
def test_workshop_refuses_a_parameter_by_name(client, query, said):
    shops(RIGS[:2])

    response = page(client, "Shop 0", **query)

    assert response.status_code == 400 and said in text(response)


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ({"page": "9"}, "page = 9 is not there"),
        ({"colour": "red"}, "there are q, page."),
        ({"q": "x" * 101}, "at most 100 characters"),
        ({"q": "\0"}, "Null characters are not allowed"),
    ],
)
def test_workshops_refuse_a_parameter_by_name(client, query, said):
    response = client.get(reverse("browse:workshops"), query)

    assert response.status_code == 400 and said in text(response)


# rigs and calibration


def test_workshop_shows_each_kind_of_rig_once_with_its_studies(client):
    for title, arm in (("One", 300.0), ("Two", 300.0), ("Three", 150.0)):
        study = make_study(title, workshop="Yard")
        make_specimen(make_series(study, setup=make_setup(study, arm_mm=arm, label=f"arm of {title}")))
        restate(study)

    response = page(client, "Yard")

    drawn = re.findall(r"<svg.*?</svg>", response.content.decode(), re.DOTALL)
    assert len(drawn) == 2
    assert "arm 300 mm" in drawn[0] and "arm 150 mm" in drawn[1]
    assert "Used in: One , Two ." in text(response)


def test_rigs_of_hidden_studies_are_not_shown(client):
    a_shop("Open", workshop="Yard")
    hidden = make_study("Hidden", workshop="Yard", status="draft")
    make_setup(hidden, arm_mm=777.0, label="secret rig")

    shown = page(client, "Yard").content.decode()

    assert "777" not in shown and "secret rig" not in shown


def test_workshop_says_that_no_calibration_is_recorded_and_why_it_matters(client):
    study = make_study(workshop="Yard")
    make_setup(study, label="jack", instrument_id="jack_gauge", ram_diameter_mm=42.9, notes="Ram measured twice.")

    response = page(client, "Yard")
    shown = text(response)

    assert "None is recorded. A setup names its instrument, but not when or against what that was checked" in shown
    rows = table(response, "What is recorded of how the load was read")
    row = dict(zip(*rows, strict=True))
    assert (row["Ram"], row["Rate"]) == ("42.9 mm", "not recorded")
    assert row["Such instruments are usually within"] == "1.6 to 2.5 %"
    assert "Ram measured twice." in shown and "from memory" in shown


# charts


@pytest.mark.parametrize("chart", ["z", "h", "k"])
def test_charts_of_a_workshop_are_drawn(client, chart):
    shops()
    address = reverse("browse:workshop-chart", args=[written("Shop 4"), chart, "svg"])

    response = client.get(address, {"footing": "ratio_solid", "width": "350"})
    ElementTree.fromstring(response.content)
    figure = client.get(address.replace(".svg", ".json")).json()

    assert response.headers["Content-Type"] == "image/svg+xml"
    own = next(trace for trace in figure["figure"]["data"] if trace.get("name") == "this shop")
    assert len(own["x"]) == 2
    assert address in page(client, "Shop 4").content.decode()


def test_every_chart_links_to_the_call_that_gives_its_numbers(client):
    shops()

    figures = re.findall(r"<figure.*?</figure>", page(client, "Shop 4").content.decode(), re.DOTALL)

    assert len(figures) == 3
    for figure, called in zip(figures, ("footings", "specimens", "specimens"), strict=True):
        link = html.unescape(re.search(rf'href="(/api/v1/{called}\.csv[^"]*)"', figure)[1])
        assert client.get(link).status_code == 200


def test_charts_that_cannot_be_are_not_there(client):
    shops(RIGS[:2])
    a_shop("Hidden", workshop="Secret", status="draft", contributor=make_user("owner"))
    client.force_login(make_user("owner"))

    for name, chart, kind in (("Shop 0", "z", "svg"), ("Shop 0", "other", "svg"), ("Secret", "z", "svg")):
        assert client.get(f"/workshops/{written(name)}/{chart}.{kind}").status_code == 404
    assert client.get(f"/workshops/{written('Shop 0')}/z.svg", {"footing": "x"}).status_code == 400


# cost


def test_workshop_page_asks_as_many_queries_for_many_studies_as_for_few(client):
    counts = []
    for size in (1, 6):
        for number in range(size):
            a_shop(f"Study {number} of {size}", workshop=f"Of {size}")
        with CaptureQueriesContext(connection) as caught:
            assert page(client, f"Of {size}").status_code == 200
        counts.append(len(caught))

    assert counts[0] == counts[1] <= 20
    with CaptureQueriesContext(connection) as caught:
        page(client, "Of 6")
    assert len(caught) <= 6
