"""Reading the book: who sees what, what is marked, and that pages say what the records say."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from tests.factories import (
    make_study,
    make_user,
)

from .shops import a_shop, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def page(client, name, *args, **query):
    return client.get(reverse(f"browse:{name}", args=args), query)


# the first page


def test_home_counts_accepted_studies_and_draws_them(client, settings):
    settings.DEMO = True  # where invented studies are shown without asking
    a_shop("One")
    a_shop("Two", invented=True)
    a_shop("Not yet", status="draft")

    response = page(client, "home")

    assert "2 studies, 4 series, 12 specimens" in text(response)
    assert "invented Some of these results are made up" in text(response)
    assert 'data-figure="/chart/strength.json' in response.content.decode()


def test_home_of_an_empty_book_invites(client):
    response = page(client, "home")

    assert "The book is empty yet" in text(response) and "the page says at once what it understood" in text(response)
    assert "vendored/plotly" not in response.content.decode()


@pytest.mark.parametrize(
    "address", ["/studies/", "/workshops/", "/compare/", "/compare/network/", "/evidence/", "/data/"]
)
def test_pages_of_an_empty_book_say_how_it_begins(client, address):
    shown = text(client.get(address))

    assert "It begins with one study: a joint and its control, broken on one setup, five or more of each." in shown
    assert "take one away" not in shown


def test_home_opens_three_doors_beside_its_chart(client):
    a_shop("Two")

    front = page(client, "home").content.decode().split('class="front"')[1].split('aria-labelledby="more"')[0]

    assert re.findall(r"<strong>(.*?)</strong>", front) == ["Submit results", "Compare joints", "Take the data"]
    # Beside the words there is no room for the widest picture.
    assert re.findall(r"width=(\d+)&amp;v=", front) == ["760", "350"]


# studies


def test_studies_lists_accepted_and_withdrawn_ones_marked(client):
    a_shop("Counts")
    a_shop("Taken back", status="withdrawn")
    a_shop("Made up", invented=True)
    a_shop("Hidden", status="draft")

    shown = text(page(client, "studies"))

    assert "3 studies" in shown and "Hidden" not in shown
    assert "withdrawn" in shown.split("Taken back")[1].split("Counts")[0]
    assert "invented" in shown.split("Made up")[1].split("Taken back")[0]


def test_studies_are_narrowed_by_every_filter_at_once(client):
    a_shop("Oak rails", of_series={"timber": "oak_northern_red"})
    a_shop("Maple rails", of_series={"timber": "maple_sugar"})
    a_shop("Maple made up", of_series={"timber": "maple_sugar"}, invented=True)

    shown = text(page(client, "studies", q="rails", timber="maple_sugar", joint="butt", invented="without"))

    assert "1 study" in shown and "Maple rails" in shown


WAIT = "Yours that wait stand in Your studies"


@pytest.mark.parametrize("status", ["submitted", "returned"])
def test_studies_narrowed_to_nothing_lead_to_those_of_ones_own_that_wait(client, status):
    user = make_user("owner")
    make_study(status=status, contributor=user)
    make_study(status="accepted", contributor=user, title="Open to all")
    assert WAIT not in text(page(client, "studies", joint="scarf"))

    client.force_login(user)

    narrowed = page(client, "studies", joint="scarf")
    assert WAIT in text(narrowed)
    assert f'<a href="{reverse("browse:mine")}">Your studies</a>' in narrowed.content.decode()
    assert WAIT not in text(page(client, "studies"))


def test_studies_narrowed_to_nothing_name_no_waiting_ones_where_none_waits(client):
    user = make_user("owner")
    make_study(status="accepted", contributor=user)
    make_study(status="submitted")
    client.force_login(user)

    assert WAIT not in text(page(client, "studies", joint="scarf"))


def test_studies_are_paged(client):
    for number in range(26):
        make_study(f"Study number {number}")

    first, second = page(client, "studies"), page(client, "studies", page=2)

    assert "Page 1 of 2" in text(first) and "Study number 0 " not in text(first)
    assert "Study number 0 " in text(second)


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ({"joint": "nonsense"}, "joint = nonsense can't be used: there is no joint of that code"),
        ({"action": "pushing"}, "action = pushing can't be used"),
        ({"page": "abc"}, "page = abc is no page number"),
        ({"page": "7"}, "page = 7 is not there; pages run from 1 to 1"),
        ({"q": "x" * 101}, "can't be used: Ensure this value has at most 100 characters"),
        ({"q": "\0"}, "can't be used: Null characters are not allowed"),
        ({"colour": "red"}, "colour = red is no parameter here; there are q, joint,"),
    ],
)
def test_studies_refuse_a_parameter_by_name(client, query, said):
    response = page(client, "studies", **query)

    assert response.status_code == 400
    assert said in text(response)


# own studies


def test_mine_asks_to_log_in_and_then_lists_own_studies_only(client):
    a_shop("Own", contributor=make_user("owner"), status="draft")
    a_shop("Other", contributor=make_user("stranger"))

    assert page(client, "mine").status_code == 302
    client.force_login(make_user("owner"))
    shown = text(page(client, "mine"))
    assert "Own" in shown and "draft" in shown and "Other" not in shown


# how it works


def test_methods_follow_the_code_they_describe(client):
    from stats.footing.loading import LOADINGS

    response = page(client, "methods")

    shown = text(response)
    assert all(one.formula in shown and one.name in shown for one in LOADINGS.values())
    findings = text(client.get("/methods/findings/"))
    assert "At 1 % for each series, from 5 broken specimens on" in findings
    # 127 kg is 1245.4 N; at 304.8 mm that is 379.6 N·m; Z = 22.2 · 63.5² / 6 = 14 919 mm³, so 25.4 MPa.
    plain = shown.replace("\u202f", " ")
    assert "1 245 N × 0.3048 m = 380 N·m" in plain
    assert "= 25.4 MPa" in plain


def test_methods_without_a_timber_says_what_is_missing(client):
    from results.models import Timber

    Timber.objects.filter(pk="oak_northern_red").delete()

    assert "missing: the timber (timber)" in text(page(client, "methods"))


def test_data_recipes_name_the_addresses_of_the_api(client):
    shown = text(page(client, "data"))

    address = reverse("api:specimens", args=["csv"])
    assert f'pd.read_csv("http://testserver{address}")' in shown


def test_data_warns_of_invented_studies(client):
    a_shop(invented=True)

    assert "invented 1 study among them is made up" in text(page(client, "data"))


@pytest.mark.parametrize("name", ["home", "studies", "joints", "timbers", "methods", "data"])
def test_pages_hold_one_first_heading_and_no_inline_script_or_style(client, name):
    a_shop()

    page_whole = page(client, name).content.decode()

    source = re.sub(r"(<script[^>]*>).*?</script>", r"\1</script>", page_whole, flags=re.DOTALL)
    assert source.count("<h1") == 1
    assert " style=" not in source and "<style" not in source and " onclick=" not in source
    assert source.count("<script") == source.count('type="application/json"') + source.count(" defer></script>")


def test_an_address_that_is_not_there_says_where_to_go(client):
    response = client.get("/nowhere/")

    assert response.status_code == 404
    assert "There is nothing at this address" in text(response)
