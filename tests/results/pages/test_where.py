"""Where a joint can break: the drawing's numbers, by which every door takes a failure place."""

from __future__ import annotations

import pytest

from results.intake.examine import examine_file
from results.intake.words import Words
from stats.charts.failure_drawing import PLACES
from tests.factories import make_user
from tests.results.intake.made import flat, four_sheets, sent, workbook

from .shops import text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def test_page_shows_the_drawing_and_the_places_by_their_numbers(client):
    response = client.get("/submit/where/")

    page = response.content.decode()
    assert "<svg" in page and page.index("<ol>") < page.index("Bond line.") < page.index("Mixed.")
    for number, place in enumerate(PLACES, 1):
        assert f'data-place="{place.code}"' in page
        assert f'data-pick="{place.code}"' in page and f"Pick {number}" in text(response)
    assert client.post("/submit/where/").status_code == 405


@pytest.mark.parametrize("number", range(1, 7))
def test_number_names_the_place_that_the_drawing_shows(number):
    (found,) = Words().find("FailurePlace", f" {number} ")

    assert found.pk == PLACES[number - 1].code
    assert Words().find("FailurePlace", found.pk) == Words().find("FailurePlace", found.name) == [found]


@pytest.mark.parametrize("text", ["0", "7", "1.5", "-1", "1 2"])
def test_other_numbers_name_none(text):
    assert Words().find("FailurePlace", text) == []


def test_numbers_name_nothing_in_other_vocabularies():
    assert Words().find("Joint", "1") == Words().find("Loading", "1") == []


def test_spreadsheets_take_the_number_as_text_and_as_a_number():
    numbers = ["1", "3 ", "tenon_or_fastener", "Mixed", "6"]
    codes = ["bond_line", "tenon_or_fastener", "tenon_or_fastener", "mixed", "mixed"]

    examined = sent(flat(*({"specimen failure place": one} for one in numbers)))

    assert [one.failure_place_id for one in examined.draft.specimens["A"]] == codes
    sheets = four_sheets()
    heading, *rows = sheets["specimens"]
    at = heading.index("failure place") if "failure place" in heading else len(heading)
    sheets["specimens"] = [[*heading[:at], "failure place", *heading[at + 1 :]]]
    sheets["specimens"] += [[*(row + [None] * at)[:at], 4, *row[at + 1 :]] for row in rows]
    book = examine_file(workbook(sheets), "tests.xlsx")
    found = {one.failure_place_id for of in book.draft.specimens.values() for one in of}
    assert found == {"socket_wall"}


def test_number_that_is_no_place_is_refused_at_its_cell():
    examined = sent(flat({"specimen failure place": "7"}))

    (error,) = [one for one in examined.noticed if one.severity == "error"]
    assert (error.code, error.field, error.value) == ("unknown-word", "failure place", "7")


def test_form_lists_the_places_by_their_numbers(client):
    client.force_login(make_user())

    page = client.get("/submit/form/?loading=cantilever_arm&joint=butt&specimens=2").content.decode()

    assert '<option value="bond_line">1 Bond line</option>' in page
    assert '<option value="mixed">6 Mixed</option>' in page
    assert page.count('id="where-it-broke"') == 1
