"""What a sent form says of itself: numbers that are none, in any digits, break nothing and lose nothing."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from results.models import Study
from tests.factories import make_user

from .forms import form, post, save, values_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


@pytest.fixture
def owner(client):
    user = make_user("owner")
    client.force_login(user)
    return user


@pytest.mark.parametrize("digit", ["²", "٣", "1" * 5000, "-1", ""])
def test_form_takes_for_a_number_only_what_is_one(client, owner, digit):
    data = form(series__1__control=digit)

    looked = post(client, data)
    assert looked.status_code == (200 if digit == "" else 422)
    for name in ("series-count", "series-0-rows", "change", "based_on", "rig"):
        assert post(client, data | {name: digit}, "refresh").status_code == 200, name
    for do in ("rows", "drop", "paste"):
        page = post(client, data, f"{do}-{digit}")
        assert page.status_code == 200
        assert (values_of(page)["series-count"], values_of(page)["series-0-rows"]) == ("2", "6")


def test_form_keeps_what_is_no_number_for_a_control_when_a_series_goes(client, owner):
    page = post(client, form(series__1__control="²"), "drop-0")

    assert values_of(page)["series-count"] == "1"
    assert page.context["shown"].typed.series[0].values["control"] == "²"


def test_size_not_known_in_one_series_is_not_the_one_that_all_share(client, owner):
    data = form(series__1__member_depth="not known")
    assert values_of(post(client, data))["series-1-member_depth"] == "not known"

    save(client, data)

    butt, tenon = Study.objects.get().series.order_by("label")
    assert (butt.member_depth_mm, tenon.member_depth_mm) == (40, None)
    assert tenon.typed["member_depth_mm"] == "not known"
    again = values_of(client.get(reverse("submit:form"), {"from": tenon.study_id}))
    assert (again["series-0-member_depth"], again["series-1-member_depth"]) == ("40 mm", "not known")


def test_size_not_known_for_all_series_is_missing_in_each(client, owner):
    save(client, form(shared__member_depth="?"))

    assert set(Study.objects.get().series.values_list("member_depth_mm", flat=True)) == {None}


def test_bare_inches_are_doubted_once_beside_the_unit_of_lengths(client, owner):
    inches = {"setup-arm": "12", "shared-member_thickness": ".75", "series-1-tenon_length": "1.25"}
    page = post(client, form() | inches | {"shared-member_depth": "1.5"})

    (found,) = (one for one, _ in page.context["findings"] if one.code == "maybe-inches")
    assert found.place.sheet == "study-length_unit"
    assert 'id="study-length_unit-found"' in page.content.decode()
    assert found.message.startswith("4 lengths have no unit")
    assert 'set "length unit" of the study to in;' in found.remedy


@pytest.mark.parametrize(
    ("row", "needed"),
    [
        ({"outcome": "void"}, True),
        ({"outcome": "void", "void_reason": "the rig gave way"}, True),
        ({"outcome": "broke"}, True),  # out of sight until void is chosen
        ({"outcome": "broke", "void_reason": "the rig gave way"}, False),
    ],
)
def test_reason_of_a_void_specimen_is_marked_as_needed_and_says_what_it_may_be(client, owner, row, needed):
    data = form(**{f"specimen__0__0__{name}": value for name, value in row.items()})

    markup = post(client, data, "refresh").content.decode()

    label = re.search(r'<label for="specimen-0-0-void_reason">.*?</label>', markup)[0]
    field = re.search(r'<input id="specimen-0-0-void_reason"[^>]*>', markup)[0]
    assert ("needed" in label) is ('aria-required="true"' in field) is needed
    assert 'placeholder="it slipped, the rig gave way"' in field
    assert "If void: it slipped, the rig gave way. So that none is dropped" in markup


def test_a_phone_shows_figures_alone_where_nothing_else_can_be_typed(client):
    client.force_login(make_user())
    page = post(client, form()).content.decode()

    keys = dict(re.findall(r'<input id="([^"]+)" name="\1"[^>]*?inputmode="(\w+)"', page))
    assert keys["specimen-0-0-reading"] == "decimal"
    for name in ("setup-arm", "shared-member_depth", "series-1-tenon_length"):
        assert f'name="{name}"' in page and name not in keys  # "not known", and fractions, can be typed
