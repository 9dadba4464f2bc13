"""The page of all studies together where there is little or nothing to bring together, and what may stand on it."""

from __future__ import annotations

import pytest
from django.core.cache import caches
from django.urls import reverse

from .linked_book import STUDIES, a_book
from .shops import a_shop, table, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


@pytest.fixture(autouse=True)
def nothing_kept():
    """A test's data is rolled back, and so is what was kept of it."""
    caches["answers"].clear()


def get(client, query=""):
    return client.get(f"{reverse('compare:network')}{query}")


def test_network_page_of_an_empty_book_says_so(client):
    assert "The book has no accepted studies yet." in text(get(client))


def test_network_page_of_one_study_says_what_it_can_not_say(client):
    a_book(("Rails into posts", ("butt", "mt_blind", "lap_half")), ("Screws", ("screw",)))

    said = text(get(client))

    assert "Only one study here, “Rails into posts”, tested two or more of these joints side by side." in said
    assert "one study can't say what another shop would find" in said
    assert "The same choices side by side" in said


def test_network_page_of_studies_with_one_joint_each_says_that_nothing_is_linked(client):
    a_book(("One", ("butt",)), ("Two", ("dowel",)))

    assert "No study here tested two of these joints side by side" in text(get(client))


def test_network_page_of_two_shops_says_that_none_can_be_the_odd_one(client):
    a_book(("First", ("butt", "mt_blind")), ("Second", ("butt", "mt_blind")))

    said = text(get(client))

    assert "Only two studies tell on these ratios, “First” and “Second”." in said
    assert "nothing here can say which is the odd one" in said


def test_network_page_of_two_studies_that_share_one_joint_says_that_spread_can_not_be_seen(client):
    a_book(("First", ("butt", "mt_blind")), ("Second", ("butt", "lap_half")))

    response = get(client)

    said = text(response)
    assert "Each ratio here rests on one study, so how much studies differ can't be seen" in said
    assert "Whether the routes through the network agree can't be tested" in said
    assert "Blind mortise and tenon hangs on “First” alone" in said
    assert "network/influence.svg" not in response.content.decode()
    assert not any("The next shop should expect" in row for row in table(response, "Each joint as a ratio")[:1])


def test_network_page_of_bonds_tells_joints_by_their_grain(client):
    for title, rig in (("One", 1.0), ("Two", 1.2)):
        a_shop(title, rig=rig, of_series={"tests": "bond", "grain_a": "end", "grain_b": "side"})

    response = get(client, "?tests=bond&pair=mt_blind%2Bend-side,butt%2Bend-side")

    assert "Blind mortise and tenon, end-side grain against Glued butt, end-side grain" in text(response)
    assert f'href="{reverse("browse:joint", args=["mt_blind"])}"' in response.content.decode()
    typed = get(client, "?tests=bond&pair=mt_blind+end-side,butt+end-side")  # a plus as it is, not as %2B
    assert text(typed) == text(response)


def test_network_page_marks_invented_data_on_the_page_and_on_its_pictures(client, settings):
    settings.DEMO = True  # where invented studies are shown without asking
    a_book(*STUDIES[:3], invented=True)

    response = get(client)

    assert "invented All of these results are made up" in text(response)
    assert b"Invented data, for demonstration only" in client.get("/compare/network/joints.svg").content
    settings.DEMO = False
    assert "from invented studies" in text(get(client))


def test_network_page_shows_typed_markup_as_text(client):
    a_book(("<script>alert(1)</script>", ("butt", "mt_blind")), ("Second", ("butt", "mt_blind")))

    response = get(client)

    assert b"<script>alert" not in response.content
    assert "&lt;script&gt;alert(1)" in response.content.decode()
    assert b"<script>alert" not in client.get("/compare/network/influence.svg").content
