"""A reader chooses a language and units, and goes on where they were."""

from __future__ import annotations

import pytest
from django.test import Client, RequestFactory

from results.models import SeriesFooting, Study
from results.pages.wording import beside
from results.site.choices import AsChosen
from tests.factories import make_user

from .forms import form, save, values_of

pytestmark = pytest.mark.django_db
FIELDS = ("code", "unit", "n", "sum_log", "sum_sq_log", "factor", "basis", "steps", "worked", "missing")


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


# -- units -----------------------------------------------------------------------------------------
ARM = "/piece/arm/?load_n=300+N&arm_mm=400"


@pytest.mark.usefixtures("vocabulary")
def test_figures_have_the_units_that_were_chosen_beside_them(client):
    plain = client.get(ARM).content.decode()
    chosen(client, units="imperial")
    told = client.get(ARM).content.decode()

    assert "120 N·m" in plain and "ft·lbf" not in plain
    # 1 ft·lbf is 1.355 817 948 N·m (NIST Special Publication 811, appendix B.8): 120 N·m are 88.5.
    assert "120 N·m (88.5 ft·lbf)" in told


def test_what_was_typed_goes_before_what_was_chosen():
    told = []
    asked = RequestFactory().get("/", HTTP_COOKIE="units=imperial")

    AsChosen(lambda request: told.extend([beside(300.0, "N", {}), beside(300.0, "N", {"force": "kgf"})]))(asked)

    assert told == ["300 N (67.4 lbf)", "300 N (30.6 kgf)"]
    assert beside(300.0, "N", {}) == "300 N"  # for whoever asks next


@pytest.mark.usefixtures("vocabulary")
def test_a_new_form_is_laid_out_in_inches_and_what_is_stored_is_the_same(client):
    client.force_login(make_user())
    stored = []
    for units in ("si", "imperial"):
        chosen(client, units=units)
        page = client.get("/submit/form/?loading=cantilever_arm&instrument=luggage_scale&joint=butt&joint=mt_blind")
        assert values_of(page)["study-length_unit"] == {"si": "mm", "imperial": "in"}[units]
        save(client, form())
        study = Study.objects.latest("id")
        stored.append(
            [
                list(
                    SeriesFooting.objects.filter(series__study=study)
                    .order_by("series__label", "code")
                    .values_list(*FIELDS)
                ),
                list(study.findings.order_by("id").values_list("code", "message", "remedy")),
            ]
        )

    assert stored[0] == stored[1]
    assert stored[0][0]
