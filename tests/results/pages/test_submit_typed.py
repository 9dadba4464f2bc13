"""What a sent form says of itself: numbers that are none, in any digits, break nothing and lose nothing."""

from __future__ import annotations

import pytest

from tests.factories import make_user

from .forms import form, post, values_of

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
