"""Readings of somebody's own, climbed from reading to ratio; nothing is kept."""

from __future__ import annotations

import copy
import json
import math

import pytest
from rest_framework.authtoken.models import Token

from api.openapi.answers import NORMALISE_EXAMPLE
from results.models import Study
from tests.factories import make_user

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]
G = 9.80665  # m/s², standard acceleration of gravity (exact by definition)


def normalise(client, body: object, **headers: str):
    return client.post("/api/v1/normalise", json.dumps(body), content_type="application/json", headers=headers)


def changed(**parts: object) -> dict:
    return {**copy.deepcopy(NORMALISE_EXAMPLE), **parts}


def footing(answer: dict, code: str) -> dict:
    return next(one for one in answer["footings"] if one["code"] == code)


def test_ladder_is_climbed_with_its_working(client):
    response = normalise(client, NORMALISE_EXAMPLE)
    answer = response.json()

    assert response.status_code == 200, answer
    assert (answer["action"], answer["reads"]) == ("bending", "force")
    # 127 kg on an arm of 0.3 m, on a section of 20 by 40 mm: M = F a, Z = b h² / 6.
    force = 127 * G
    stress = force * 300 / (20 * 40**2 / 6)
    assert footing(answer, "peak_load")["values"][0] == pytest.approx(force)
    assert footing(answer, "at_joint")["values"][0] == pytest.approx(force * 0.3)
    assert footing(answer, "stress")["values"][0] == pytest.approx(stress)
    assert footing(answer, "at_joint")["unit"] == "N·m"
    assert footing(answer, "at_joint")["worked"] == "1 245 N × 0.300 m = 374 N·m"
    steps = footing(answer, "ratio_solid")["steps"]
    values = footing(answer, "ratio_solid")["values"]
    factors = [step["factor"] if isinstance(step["factor"], float) else step["factor"][0] for step in steps]
    assert math.prod(factors) * force == pytest.approx(values[0])
    assert all(step["formula"] and step["source"] for step in steps)
    assert footing(answer, "ratio_control")["missing"]
    assert Study.objects.count() == 0


def test_each_reading_comes_back_as_typed_with_its_values(client):
    readings = normalise(client, NORMALISE_EXAMPLE).json()["readings"]

    assert [(one["reading_typed"], one["reading_unit"], one["outcome"]) for one in readings] == [
        ("127 kg", "kg", "broke"),
        ("280 lbf", "lbf", "broke"),
        ("118 kg", "kg", "held"),
    ]
    assert readings[1]["footings"]["peak_load"] == pytest.approx(280 * 4.4482216152605)


def test_names_may_carry_their_unit_and_numbers_go_without(client):
    typed = normalise(client, NORMALISE_EXAMPLE).json()
    plain = normalise(
        client,
        {
            "setup": {"loading": "cantilever_arm", "instrument": "luggage_scale", "arm_mm": 300, "reading unit": "kg"},
            "series": {
                "joint": "mt_blind",
                "timber": "oak_northern_red",
                "member_thickness_mm": 20,
                "member_depth_mm": 40.0,
                "moisture_pct": 9,
            },
            "readings": [127, {"reading": "280 lbf"}, {"reading": 118, "outcome": "held"}],
        },
    ).json()

    assert footing(plain, "ratio_solid")["values"] == pytest.approx(footing(typed, "ratio_solid")["values"])


def test_length_unit_is_that_of_lengths_without_one(client):
    body = changed(length_unit="in")
    body["setup"]["arm"] = 12

    answer = normalise(client, body).json()

    assert footing(answer, "at_joint")["values"][0] == pytest.approx(127 * G * 0.3048)


def test_jack_shows_how_its_pressure_became_a_force(client):
    body = changed(readings=["10 MPa"])
    body["setup"] = {
        "loading": "cantilever_arm",
        "arm": "300 mm",
        "instrument": "jack_gauge",
        "ram diameter": "42.9 mm",
    }

    answer = normalise(client, body).json()

    (step,) = answer["reading_steps"]
    assert step["formula"] == "F = p · π · d² / 4"
    assert footing(answer, "peak_load")["values"] == [pytest.approx(10 * step["factor"])]


def test_control_on_the_same_rig_is_divided_by(client):
    series = {"joint": "butt", "timber": "oak_northern_red", "member thickness": "20 mm", "member depth": "40 mm"}
    body = changed(control={"series": series, "readings": ["40 kg", "40 kg"]})

    answer = normalise(client, body).json()

    assert footing(answer, "ratio_control")["values"][0] == pytest.approx(127 / 40)


def test_void_reading_has_no_values(client):
    body = changed(readings=["127 kg", {"outcome": "void", "void reason": "the clamp slipped"}])

    answer = normalise(client, body).json()

    assert footing(answer, "peak_load")["values"] == [pytest.approx(127 * G), None]


@pytest.mark.parametrize(
    ("where", "name", "value", "pointer", "code"),
    [
        ("setup", "arm", "12 furlongs", "/setup/arm", "unknown-unit"),
        ("setup", "loading", "cantilever_arn", "/setup/loading", "unknown-word"),
        ("setup", "arms", "300 mm", "/setup/arms", "unknown-heading"),
        ("series", "joint", "mt_blnd", "/series/joint", "unknown-word"),
        ("series", "moisture", "900 %", "/series/moisture", "out-of-range"),
        ("readings", 1, "twelve", "/readings/1", ""),
        ("readings", 0, {"reading": "5 mm"}, "/readings/0/reading", ""),
        ("readings", 2, "", "/readings/2", ""),
    ],
)
def test_errors_are_findings_that_point_at_what_was_sent(client, where, name, value, pointer, code):
    body = changed()
    body[where][name] = value

    response = normalise(client, body)
    answer = response.json()

    assert (response.status_code, answer["type"]) == (422, "/api/v1/problems/findings")
    errors = [one for one in answer["findings"] if one["severity"] == "error"]
    assert [one["pointer"] for one in errors] == [pointer]
    assert not code or errors[0]["code"] == code
    assert errors[0]["message"] in answer["detail"]
    assert errors[0]["remedy"]


def test_all_errors_are_told_at_once(client):
    body = changed(readings=["x", "y"])
    body["series"]["joint"] = "nothing"

    errors = [one for one in normalise(client, body).json()["findings"] if one["severity"] == "error"]

    assert {one["pointer"] for one in errors} == {"/series/joint", "/readings/0", "/readings/1"}


@pytest.mark.parametrize(
    ("body", "parameter"),
    [
        ([], "/"),
        ("text", "/"),
        (None, "/"),
        ({"setups": {}}, "/setups"),
        ({"setup": []}, "/setup"),
        ({"setup": {"arm": [1]}}, "/setup/arm"),
        ({"setup": {"arm": "1 m", "arm_mm": 1000}}, "/setup/arm_mm"),
        ({"setup": {}, "series": {}, "readings": "280 lbf"}, "/readings"),
        ({"setup": {}, "series": {}, "readings": ["1 kg"] * 2001}, "/readings"),
        ({"setup": {}, "series": {}, "readings": [[1]]}, "/readings/0"),
        ({"control": 1}, "/control"),
        ({"control": {"setup": {}}}, "/control/setup"),
        ({"setup": {"a/b~c": [1]}}, "/setup/a~1b~0c"),
    ],
)
def test_body_of_another_make_is_refused_with_the_place(client, body, parameter):
    response = normalise(client, body)

    assert (response.status_code, response.json()["parameter"]) == (400, parameter)


def test_token_is_taken_and_a_wrong_one_refused(client):
    token = Token.objects.create(user=make_user()).key

    assert normalise(client, NORMALISE_EXAMPLE, Authorization=f"Bearer {token}").status_code == 200
    assert normalise(client, NORMALISE_EXAMPLE, Authorization="Bearer nonsense").status_code == 401


def test_script_elsewhere_may_ask_to_post(client):
    told = client.options("/api/v1/normalise", headers={"Origin": "https://example.org"}).headers

    assert told["Access-Control-Allow-Methods"] == "POST, OPTIONS"
    assert "Content-Type" in told["Access-Control-Allow-Headers"]
