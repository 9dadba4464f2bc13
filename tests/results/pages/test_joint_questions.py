"""What a joint's page says isn't known yet: real gaps of the data, gone once somebody fills them."""

from __future__ import annotations

import pytest
from django.urls import reverse

from results.evidence import restate
from tests.factories import make_series, make_setup, make_specimen, make_study

from .shops import a_shop, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def page(client, code="mt_blind", **query):
    return client.get(reverse("browse:joint", args=[code]), query)


def plain(response):
    return text(response).replace("\u202f", " ").replace("\xa0", " ")


def test_open_questions_name_the_gaps_and_what_would_fill_them(client):
    a_shop("One")
    other = make_series(make_study("Other"), joint="dowel", timber="cherry_black")
    make_specimen(other)
    restate(other.study)

    response = page(client)

    shown = plain(response).split("What isn't known yet")[-1].split("How it is measured")[0]
    assert "Under bending moment all of its results are one shop's (Shop by the river)" in shown
    assert "No series of it has 5 specimens told one by one" in shown
    assert "Nobody has tested it under shear." in shown and "Nobody has tested it under torsion." in shown
    assert "Nobody has tested it in Cherry, black, in which 1 study tested other joints." in shown
    assert "no series went through damp and dry before the test" in shown
    assert "No study tested it beside solid bars" not in shown
    assert (
        "/submit/form/?loading=lap_shear&amp;joint=mt_blind&amp;joint=butt&amp;specimens=5" in response.content.decode()
    )


def test_open_questions_that_were_answered_are_gone(client):
    for number, workshop in enumerate(("Hill shop", "Yard")):
        study = make_study(f"Study {number}", workshop=workshop)
        setup = make_setup(study)
        for joint in ("mt_blind", "butt"):
            series = make_series(study, setup=setup, joint=joint, conditioning="cycled", cycles=1000)
            for load in (400, 410, 420, 430, 440):
                make_specimen(series, peak_load_n=load)
        restate(study)

    shown = plain(page(client)).split("What isn't known yet")[-1].split("How it is measured")[0]

    for gone in ("one shop's", "5 specimens told one by one", "under bending", "went through damp", "again and again"):
        assert gone not in shown


def test_a_joint_of_which_only_the_bond_was_tested_says_so(client):
    a_shop(of_series={"tests": "bond", "grain_a": "end", "grain_b": "side"})

    response = page(client, "butt")

    assert "Only its glue bond was tested by itself, never the joint as it is used." in plain(response)
    assert '<option value="bond" selected>' in response.content.decode()  # the best-stocked, since there is no other
