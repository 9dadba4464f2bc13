"""A study's page: where it stands beside the other studies, and the chart of that."""

from __future__ import annotations

import html
import io
import re
from xml.etree import ElementTree

import numpy as np
import pandas as pd
import pytest
from django.urls import reverse

from results.evidence import restate
from results.evidence.beside import beside
from results.evidence.study import study_view
from stats.inference import pool, sidebyside
from tests.factories import (
    make_series,
    make_specimen,
    make_study,
    make_user,
)

from .shops import a_shop, table, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def test_study_stands_beside_all_others_without_itself(client):
    studies = [a_shop(f"Shop {i}", workshop=f"Shop {i}", rig=rig) for i, rig in enumerate((1.0, 1.1, 0.9, 1.3))]

    response = client.get(studies[3].get_absolute_url())

    rows = table(response, "This study beside all others")
    found = [dict(zip(rows[0], row, strict=True)) for row in rows[1:]]
    assert [(row["Series"], row["Other studies"], row["Their specimens"]) for row in found] == [
        ("butt", "3", "9"),
        ("mt_blind", "3", "9"),
    ]
    # the three others' means are alike but for their rigs: 1.3 over the geometric mean of 1.0, 1.1 and 0.9
    assert float(found[0]["This ÷ theirs"]) == pytest.approx(1.3 / 0.99 ** (1 / 3), abs=0.006)
    assert "no verdict" in text(response)


def test_figures_beside_others_equal_the_numeric_code_on_the_api_csv(client):
    studies = [a_shop(f"Shop {i}", workshop=f"Shop {i}", rig=rig) for i, rig in enumerate((1.0, 1.1, 0.9, 1.3))]
    response = client.get(studies[1].get_absolute_url())
    address = html.unescape(re.search(r'href="([^"]*footings\.csv[^"]*)"', response.content.decode())[1])

    frame = pd.read_csv(io.BytesIO(b"".join(client.get(address))))

    assert set(frame["footing"]) == {"ratio_solid"} and frame["study_id"].nunique() == 4
    others = frame[frame["study_id"] != studies[1].pk]
    n = others["broke"].astype(float)
    series = others.assign(
        n=n,
        mean_log=others["sum_log"] / n,
        sd_log=np.sqrt((others["sum_sq_log"] - others["sum_log"] ** 2 / n) / (n - 1)),
        family=others["joint_family"],
    )
    means = sidebyside.study_means(
        sidebyside.series_estimates(series, pd.DataFrame(columns=["series_id", "value", "outcome"]))
    )
    rows = table(response, "This study beside all others")
    for row in (dict(zip(rows[0], row, strict=True)) for row in rows[1:]):
        part = means[means["joint"] == row["Series"]]
        pooled = pool.random_effects(part["y"], part["v"])
        own = frame[(frame["study_id"] == studies[1].pk) & (frame["joint"] == row["Series"])].iloc[0]
        low, high = (float(end) for end in row["Their 95 % interval"].split(" to "))
        ahead = [float(end) for end in row["The next shop should expect"].split(" to ")]
        assert float(row["This study"]) == pytest.approx(own["geometric_mean"], rel=0.005)
        assert float(row["Their mean"]) == pytest.approx(np.exp(pooled.estimate), rel=0.005)
        assert (low, high) == pytest.approx((np.exp(pooled.interval.low), np.exp(pooled.interval.high)), rel=0.005)
        assert ahead == pytest.approx([np.exp(pooled.prediction.low), np.exp(pooled.prediction.high)], rel=0.005)
        assert float(row["This ÷ theirs"]) == pytest.approx(own["geometric_mean"] / np.exp(pooled.estimate), rel=0.01)


def test_series_that_nobody_else_tested_is_said_to_stand_alone(client):
    study = a_shop()
    a_shop("Bonds", of_series={"tests": "bond"})

    shown = text(client.get(study.get_absolute_url()))

    assert "butt, mt_blind : No other study has tested this joint under bending moment yet." in shown
    assert "This study beside all others" not in shown


def test_series_tested_elsewhere_but_not_alike_says_so(client):
    study = a_shop(of_series={"timber": None})
    a_shop("Of another size", of_series={"timber": None, "member_depth_mm": 60.0})

    shown = text(client.get(study.get_absolute_url()))

    assert "One other study has tested this joint under bending moment, but not so that the figures may be" in shown


def test_series_without_a_timber_stands_beside_those_of_its_size(client):
    study = a_shop(of_series={"timber": None})
    a_shop("Of this size", of_series={"timber": None}, rig=0.5)
    a_shop("Of another size", of_series={"timber": None, "member_depth_mm": 60.0})

    found = beside(study_view(study), invented=False)

    assert found.rows["footing"].tolist() == ["at_joint", "at_joint"]
    assert found.rows["axis"].tolist() == ["20 × 40 mm"] * 2
    assert found.rows["studies"].tolist() == [1, 1]
    assert found.rows["ratio"].tolist() == pytest.approx([2.0, 2.0])


def test_hidden_and_withdrawn_studies_stand_beside_nobody(client):
    study = a_shop()
    a_shop("Draft", status="draft", rig=3.0)
    a_shop("Withdrawn", status="withdrawn", rig=3.0)

    assert beside(study_view(study), invented=False).rows.empty
    a_shop("Open", rig=2.0)
    assert beside(study_view(study), invented=False).rows["studies"].tolist() == [1, 1]


def test_invented_studies_stand_beside_others_in_a_demonstration_only(client, settings):
    study = a_shop()
    a_shop("Made up", invented=True)

    settings.DEMO = False
    assert "No other study has tested" in text(client.get(study.get_absolute_url()))
    settings.DEMO = True
    shown = text(client.get(study.get_absolute_url()))
    assert "invented Some of the other studies are made up" in shown


def test_draft_shows_its_owner_how_it_would_stand_and_changes_nothing_for_others(client):
    open_study = a_shop("Open")
    draft = a_shop("Draft", status="draft", rig=2.0, contributor=make_user("owner"))

    assert "No other study has tested" in text(client.get(open_study.get_absolute_url()))
    client.force_login(make_user("owner"))
    response = client.get(draft.get_absolute_url())
    assert "As it would stand: this study doesn't count yet." in text(response)
    assert [row[4] for row in table(response, "This study beside all others")[1:]] == ["1", "1"]


def test_withdrawn_study_is_set_beside_no_other(client):
    study = a_shop(status="withdrawn")
    a_shop("Open")

    shown = text(client.get(study.get_absolute_url()))

    assert "A withdrawn study is set beside no other." in shown
    assert "This study beside all others" not in shown


def test_series_that_held_throughout_is_not_set_beside_others(client):
    a_shop("Open")
    study = make_study()
    series = make_series(study, joint="butt", label="all held")
    for load in (300, 320, 340):
        make_specimen(series, peak_load_n=load, outcome="held")
    restate(study)

    shown = text(client.get(study.get_absolute_url()))

    assert "all held : Too little is known of this series itself to set it beside others." in shown


# its chart


def test_chart_of_a_study_is_drawn_and_carries_its_numbers(client):
    study = a_shop()
    a_shop("Other", rig=2.0)
    address = reverse("browse:study-chart", args=[study.pk, "beside", "svg"])

    svg = client.get(address)
    figure = client.get(reverse("browse:study-chart", args=[study.pk, "beside", "json"])).json()

    assert svg.headers["Content-Type"] == "image/svg+xml"
    assert "public" in svg.headers["Cache-Control"]
    ElementTree.fromstring(svg.content)
    own = next(trace for trace in figure["figure"]["data"] if trace.get("name") == "this study")
    assert own["x"] == pytest.approx([0.5, 0.5])
    assert address in client.get(study.get_absolute_url()).content.decode()


@pytest.mark.parametrize(("name", "kind"), [("other", "svg"), ("beside", "exe")])
def test_chart_that_is_not_there_is_not_found(client, name, kind):
    study = a_shop()
    a_shop("Other")

    assert client.get(f"/studies/{study.pk}/{name}.{kind}").status_code == 404


def test_chart_of_a_draft_is_for_its_owner_and_for_no_cache(client):
    a_shop("Open")
    draft = a_shop("Draft", status="draft", contributor=make_user("owner"))
    address = reverse("browse:study-chart", args=[draft.pk, "beside", "svg"])

    assert client.get(address).status_code == 404
    client.force_login(make_user("stranger"))
    assert client.get(address).status_code == 404
    client.force_login(make_user("owner"))
    response = client.get(address)
    assert response.status_code == 200
    assert response.headers["Cache-Control"] == "private, no-store"


def test_chart_refuses_a_width_that_cannot_be(client):
    study = a_shop()
    a_shop("Open")

    response = client.get(reverse("browse:study-chart", args=[study.pk, "beside", "svg"]), {"width": "wide"})

    assert response.status_code == 400 and "width = wide must be a whole number" in text(response)
