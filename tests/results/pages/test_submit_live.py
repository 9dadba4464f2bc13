"""What the server says of a form while it is typed: readings in SI, findings at their cells, the rig drawn."""

from __future__ import annotations

import json

import pytest
from django.core.cache import caches
from django.urls import reverse

from results.models import FormDraft, Study
from results.pages import submit_live
from tests.factories import make_user

from .forms import form, post, readings
from .shops import text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


@pytest.fixture
def owner(client):
    caches["process"].clear()
    user = make_user("owner")
    client.force_login(user)
    return user


def look(client, data):
    answer = client.post(reverse("submit:check"), json.dumps({"fields": data}), content_type="application/json")
    assert answer.status_code == 200, answer.content
    return answer.json()


def codes(said):
    return {name: [one["code"] for one in found] for name, found in said["findings"].items()}


def test_check_keeps_and_saves_nothing(client, owner):
    look(client, form())

    assert not FormDraft.objects.exists() and not Study.objects.exists()


@pytest.mark.parametrize(
    ("changes", "name", "echo"),
    [
        ({"setup__arm": "11 3/4 in"}, "setup-arm", "298.45 mm"),
        ({"setup__arm": "1' 2\""}, "setup-arm", "355.6 mm"),
        ({"setup__arm": "300"}, "setup-arm", "300 mm"),
        ({"setup__arm": "300 mm"}, "setup-arm", None),
        ({"setup__arm": "12", "study__length_unit": "in"}, "setup-arm", "304.8 mm"),
        ({"shared__density": "42 lb/ft3"}, "shared-density", "672.8 kg/m³"),
        ({"shared__cure": "2 weeks"}, "shared-cure", "336 h"),
        ({"specimen__0__0__reading": "90 lbf"}, "specimen-0-0-reading", "400.3 N"),
        ({"specimen__0__0__reading": "40"}, "specimen-0-0-reading", "392.3 N"),
        ({"specimen__0__0__reading": "40", "setup__reading_unit": "N"}, "specimen-0-0-reading", None),
        ({"shared__timber": "northern red oak"}, "shared-timber", "Oak, northern red"),
        ({"study__tested_on": "14 March 2025"}, "study-tested_on", "2025-03-14"),
        ({"study__tested_on": "2025-03"}, "study-tested_on", None),
        ({"setup__arm": "far"}, "setup-arm", None),
        (
            {"setup__instrument": "jack_gauge", "setup__ram_diameter": "25", "specimen__0__0__reading": "20 bar"},
            "specimen-0-0-reading",
            "2 MPa, so 981.7 N",
        ),
    ],
)
def test_check_echoes_what_was_read(client, owner, changes, name, echo):
    assert look(client, form(**changes))["echoes"].get(name) == echo


def test_check_without_scripts_echoes_the_same(client, owner):
    page = post(client, form(setup__arm="11 3/4 in"))

    assert '<p class="echo" id="setup-arm-echo">= 298.45 mm</p>' in page.content.decode()
    assert "setup-arm-echo" in page.content.decode().split('name="setup-arm"')[1].split(">")[0]


def test_check_draws_the_rig_and_names_what_is_missing(client, owner):
    assert "arm 298.45 mm" in look(client, form(setup__arm="11 3/4 in"))["drawing"]
    assert "arm: not given" in look(client, form(setup__arm=""))["drawing"]
    unsaid = "taken as measured to the joint&#x27;s face, since it isn&#x27;t said"
    assert unsaid in look(client, form())["drawing"].replace("&#39;", "&#x27;").replace("'", "&#x27;")
    assert "since it" not in look(client, form(setup__arm_reference="face"))["drawing"]
    assert look(client, form(setup__loading=""))["drawing"] == ""
    assert "&lt;b&gt;" in look(client, form(setup__setup="<b>x</b>"))["drawing"]
    page = post(client, form(setup__arm="11 3/4 in"))
    assert "arm 298.45 mm" in page.content.decode().split("data-drawing")[1].split("</figure>")[0]


def test_check_of_a_form_with_a_blank_title_tells_of_the_numbers_all_the_same(client, owner):
    data = form(study__title="", study__question="", specimen__1__3__reading="13100")

    found = codes(look(client, data))

    assert found["specimen-1-3-reading"] == ["unit-slip"]
    assert found["study-title"] == ["missing"]


def test_check_points_pounds_typed_as_newtons_at_the_cell(client, owner):
    data = form(setup__reading_unit="N") | readings(1, ["1180", "1200", "270", "1310"])

    found = look(client, data)["findings"]["specimen-1-2-reading"]

    assert [one["code"] for one in found] == ["unit-slip"]
    assert "lbf read as N" in found[0]["message"] or "pound" in found[0]["message"]
    assert not found[0]["later"]


def test_check_says_that_a_reading_is_more_than_the_timber_takes(client, owner):
    data = form() | readings(1, ["1180", "1200", "1250", "1310"])

    found = look(client, data)["findings"]

    told = [one for each in found.values() for one in each if one["code"] in ("impossible", "unit-slip-series")]
    assert told
    assert {"setup-reading_unit", "specimen-1-0-reading"} & set(found)


def test_check_points_at_the_blank_arm(client, owner):
    found = look(client, form(setup__arm=""))["findings"]["setup-arm"]

    assert {one["code"] for one in found} == {"footing-missing"}
    assert "moment or force at the joint can't be had, since this is missing" in found[0]["message"]


@pytest.mark.parametrize(
    ("changes", "name"),
    [
        ({"shared__member_depth": ""}, "shared-member_depth"),
        ({"shared__timber": ""}, "shared-timber"),
    ],
)
def test_check_points_at_what_the_next_footing_lacks(client, owner, changes, name):
    assert "footing-missing" in codes(look(client, form(**changes)))[name]


def test_check_points_a_missing_control_at_its_list_and_says_why_one_helps(client, owner):
    data = form(series__0__joint="mt_through", series__1__control="")

    found = look(client, data)["findings"]["series-0-control"]

    assert [one["code"] for one in found] == ["no-control"]
    assert "would let others compare whatever the rig reads" in found[0]["message"]


def test_check_marks_what_only_is_not_typed_yet(client, owner):
    data = form(study__title="") | readings(0, ["40", "", "", ""])
    said = look(client, data)

    later = {one["code"]: one["later"] for found in said["findings"].values() for one in found}
    assert later["missing"] and later["few-specimens"]
    assert codes(said)["specimen-0-1-reading"] == ["few-specimens"]


def test_check_says_nothing_of_series_that_can_not_be_read(client, owner):
    data = form(series__0__joint="", series__1__tenon_length="far")

    found = codes(look(client, data))

    assert found["series-0-joint"] == ["missing"]
    assert found["series-1-tenon_length"] == ["not-a-number"]


def test_check_survives_a_form_of_nothing_and_of_nonsense(client, owner):
    assert look(client, {})["echoes"] == {}
    look(client, dict.fromkeys(form(), "\x00=1+1"))
    look(client, dict.fromkeys(form(), "1e999") | {"series-count": "2", "series-0-rows": "3"})


def test_check_is_asked_so_often_and_no_more(client, owner, monkeypatch):
    monkeypatch.setattr(submit_live, "LOOKS_MOST", 3)
    url, body = reverse("submit:check"), json.dumps({"fields": form()})

    answers = [client.post(url, body, content_type="application/json") for _ in range(5)]

    assert [one.status_code for one in answers][:3] == [200, 200, 200]
    assert answers[-1].status_code == 429
    assert answers[-1].headers["Retry-After"] == "20"


def test_check_and_the_page_find_the_same(client, owner):
    data = form(setup__arm="6", specimen__1__3__reading="13100")

    page = post(client, data)

    shown = {(one.code, one.place.sheet) for one, anchor in page.context["findings"] if anchor}
    live = {(code, name) for name, found in codes(look(client, data)).items() for code in found}
    assert shown == live


def test_fields_say_why_they_are_asked(client, owner):
    page = client.get("/submit/form/?loading=cantilever_arm&instrument=luggage_scale&joint=butt&joint=dowel")

    shown = page.context["shown"]
    first = [*shown.study.fields, *shown.setup.fields, *shown.shared.fields, *shown.series[1].fields]
    assert [one.column for one in first if not one.help] == []
    assert "a load means little without it" in text(page)
    assert "A pound taken for a newton is 4.4 times wrong." in text(page)
