"""Charts as pictures and figures under addresses of their own."""

from __future__ import annotations

import html
import re
from xml.etree import ElementTree

import pytest
from django.utils.http import urlencode

from results.evidence import restate
from tests.factories import make_study

from .shops import a_shop, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]

STRENGTH = "/compare/chart/strength.svg"


def test_picture_has_the_size_that_its_page_keeps_free(client):
    a_shop()
    page = client.get("/compare/").content.decode()

    told = re.findall(r'(?:src|srcset)="(/compare/chart/[^"]*)" width="(\d+)" height="(\d+)"', page)

    assert len(told) == 9  # three charts, each for three widths of a window
    for address, width, height in told:
        picture = ElementTree.fromstring(client.get(html.unescape(address)).content)
        assert (picture.get("width"), picture.get("height")) == (width, height)


def test_picture_drawn_from_this_state_of_the_data_is_kept_for_good(client):
    study = a_shop()
    page = client.get("/compare/").content.decode()
    address = html.unescape(re.search(r'<img src="(/compare/chart/[^"]*)"', page)[1])

    first = client.get(address)
    held = client.get(address, headers={"If-None-Match": first.headers["ETag"]})
    assert "immutable" in first.headers["Cache-Control"]
    assert (held.status_code, held.content) == (304, b"")

    restate(study)  # the data have changed: what names the old state may not be kept as if it were the new
    study.save()
    after = client.get(address, headers={"If-None-Match": first.headers["ETag"]})
    assert after.status_code == 200
    assert "immutable" not in after.headers["Cache-Control"]


def test_picture_under_a_stable_address_is_asked_for_again(client):
    a_shop()

    assert client.get(STRENGTH).headers["Cache-Control"] == "public, max-age=300"


def test_picture_to_take_away_has_a_name_and_says_where_it_is_from(client):
    a_shop()

    taken = client.get(STRENGTH, {"download": "1"})

    assert taken.headers["Content-Disposition"] == 'attachment; filename="breakbook-strength.svg"'
    words = " ".join(ElementTree.fromstring(taken.content).itertext())
    assert "Breakbook, data of " in words and "Invented" not in words


def test_picture_of_invented_data_says_so_on_its_face(client):
    a_shop(invented=True)

    words = " ".join(ElementTree.fromstring(client.get(STRENGTH, {"invented": "with"}).content).itertext())

    assert "Invented data, for demonstration only." in words


@pytest.mark.parametrize("width", ["339", "1601", "wide", "-5", "1e3", "350.5", "９００"])
def test_picture_refuses_a_width_by_name_value_and_what_would_be_right(client, width):
    a_shop()

    response = client.get(f"{STRENGTH}?{urlencode({'width': width})}")

    assert response.status_code == 400
    assert f"width = {width} must be a whole number from 340 to 1600." in text(response)


@pytest.mark.parametrize("address", ["/compare/chart/nothing.svg", "/compare/chart/strength.png"])
def test_chart_that_there_is_not_is_not_found(client, address):
    a_shop()

    assert client.get(address).status_code == 404


def test_chart_of_nothing_is_not_found(client):
    make_study("Empty")

    assert client.get(STRENGTH).status_code == 404


def test_first_page_shows_its_chart_as_a_picture(client):
    a_shop()
    page = client.get("/").content.decode()

    address = html.unescape(re.search(r'<img src="(/chart/[^"]*)"', page)[1])

    assert client.get(address).headers["Content-Type"] == "image/svg+xml"
    assert client.get("/chart/ratios.svg").status_code == 404
