"""The page of a piece before a joint is chosen: those that fit at the place, side by side."""

from __future__ import annotations

import html
import re

import pytest

from tests.results.practice.oak_book import a_book

from .test_piece import LOAD, nothing_kept, words  # noqa: F401  # the fixture is used by itself

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]
OPEN = f"{LOAD}&timber=oak_northern_red"


def cells_of(page) -> list[list[str]]:
    """The first table's rows."""
    table = re.search(r"<table.*?</table>", page.content.decode(), re.S).group()
    rows = re.findall(r"<tr.*?</tr>", table, re.S)[1:]
    return [
        [re.sub(r"<[^>]+>", "", cell).strip() for cell in re.findall(r"<t[hd].*?</t[hd]>", row, re.S)] for row in rows
    ]


def test_without_a_joint_those_that_fit_are_set_side_by_side_and_each_leads_to_its_own(client):
    a_book()

    page = client.get(f"/piece/arm/?{OPEN}&glue=&joint=")

    assert page.status_code == 400  # glue is nothing that is asked
    page = client.get(f"/piece/arm/?{OPEN}&joint=&adhesive=")
    told = words(page)
    assert "Which joint there" in told and "all sizes as tested" in told and "All of these results" not in told
    rows = cells_of(page)
    margins = [float(row[1]) for row in rows]
    assert margins == sorted(margins, reverse=True)
    link = re.search(r'href="(\?[^"]*joint=mt_blind[^"]*)#result"', page.content.decode()).group(1)
    assert "adhesive" not in link  # what was left empty isn't taken along
    own = words(client.get("/piece/arm/" + html.unescape(link)))
    (row,) = [row for row in rows if row[0] == "Blind mortise and tenon"]
    assert float(re.search(r"Margin: ([\d.]+)", own).group(1)) == pytest.approx(float(row[1]), rel=0.05)
    assert "Without a figure" in told and "dovetail" not in told.partition("Which joint there")[2].lower()


def test_members_said_are_those_of_every_joint(client):
    a_book()

    asked = f"{OPEN}&member_thickness_mm=20&member_depth_mm=50"
    page = client.get(f"/piece/arm/?{asked}")

    assert {row[3] for row in cells_of(page)} == {"20 × 50"}
    assert "its members as you said" in words(page)
    link = html.unescape(re.search(r'href="(\?[^"]*joint=mt_blind[^"]*)#result"', page.content.decode()).group(1))
    assert "member_depth_mm=50" in link


def test_an_empty_book_has_no_joint_to_set_beside_another(client):
    told = words(client.get(f"/piece/arm/?{OPEN}"))

    assert "Which joint there" in told and "Without a figure" in told
