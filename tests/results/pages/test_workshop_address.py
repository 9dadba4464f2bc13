"""A workshop's address: any name has one, and what is no name leads to what there is."""

from __future__ import annotations

import html
import re
from urllib.parse import quote

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from results.pages.workshop_address import read, workshop_url, written

from .shops import a_shop, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


@given(st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=120))
def test_address_survives_any_name(name):
    address = written(name)

    assert re.fullmatch(r"[A-Za-z0-9_~-]*", address)
    assert not name or read(address) == name


@pytest.mark.parametrize(
    "name", ["A/B", "..", "a?b#c", "100 % Oak & Ash", "Söhne, Zürich", "under_score", "~41", "木工", "<b>", '"', "a\tb"]
)
def test_workshop_of_an_odd_name_has_a_page_of_its_own(client, name):
    a_shop("Its study", workshop=name)

    response = client.get(workshop_url(name))

    assert response.status_code == 200
    assert html.escape(name) in response.content.decode() or name in html.unescape(response.content.decode())
    assert f'href="{workshop_url(name)}"' in client.get(reverse("browse:workshops")).content.decode()


def test_name_as_it_is_leads_to_its_own_address(client):
    a_shop(workshop="Söhne / Co")

    response = client.get(f"/workshops/{quote('Söhne / Co')}/")

    assert response.status_code == 302 and response.headers["Location"] == workshop_url("Söhne / Co")


@pytest.mark.parametrize("asked", ["shop_by_the_rivr", "Shop%20by", "river", "SHOP_BY_THE_RIVER"])
def test_workshop_that_is_not_there_suggests_those_called_alike(client, asked):
    a_shop(workshop="Shop by the river")

    response = client.get(f"/workshops/{asked}/")

    assert response.status_code == 404
    assert "Called something like it: Shop by the river" in text(response)


@pytest.mark.parametrize("asked", ["%00", "~00", "~FF", "a/b/c", "~41~", "x" * 3000])
def test_address_that_is_no_name_is_not_found(client, asked):
    response = client.get(f"/workshops/{asked}/")

    assert response.status_code == 404
    assert "There is no such workshop" in text(response)
