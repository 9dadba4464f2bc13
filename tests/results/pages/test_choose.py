"""A reader chooses a language and units, and goes on where they were."""

from __future__ import annotations

import pytest
from django.test import Client

pytestmark = pytest.mark.django_db


def chosen(client, **said):
    return client.post("/choose/", said)


def test_what_is_chosen_is_kept_and_the_reader_goes_on(client):
    answer = chosen(client, language="de", units="imperial", next="/joints/?q=1")

    assert (answer.status_code, answer.url) == (302, "/joints/?q=1")
    assert (client.cookies["language"].value, client.cookies["units"].value) == ("de", "imperial")
    page = client.get("/joints/").content.decode()
    assert '<html lang="de">' in page
    assert '<option value="imperial" selected>' in page


def test_what_is_not_offered_counts_as_not_chosen(client):
    chosen(client, language="tlh", units="furlongs")

    page = client.get("/").content.decode()
    assert '<html lang="en">' in page
    assert '<option value="si" selected>' in page


@pytest.mark.parametrize("next_", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)", ""])
def test_nobody_is_led_elsewhere(client, next_):
    assert chosen(client, units="si", next=next_).url == "/"


def test_a_page_that_is_kept_has_the_form_and_needs_no_token_for_it():
    careful = Client(enforce_csrf_checks=True)
    assert 'action="/choose/"' in careful.get("/").content.decode()
    assert chosen(careful, units="imperial").status_code == 302


def test_the_api_answers_everybody_alike(client):
    before = client.get("/api/v1/").json()
    chosen(client, language="de", units="imperial")
    assert client.get("/api/v1/").json() == before


def test_choosing_is_asked_for_by_post(client):
    assert client.get("/choose/?units=imperial").status_code == 405


@pytest.mark.parametrize("address", ["/", "/compare/", "/studies/"])
def test_pages_with_choices_of_their_own_tell_how_they_are_told(client, vocabulary, address):
    chosen(client, language="de", units="imperial")

    page = client.get(address).content.decode()
    assert '<html lang="de">' in page
    assert '<option value="de" lang="de" selected>' in page
    assert '<option value="imperial" selected>' in page
