"""The page of a plan, its sheet and its spreadsheet."""

from __future__ import annotations

import io
import re

import pytest
from django.urls import reverse
from openpyxl import load_workbook

from results.intake.examine import examine_file
from stats.practice.caution import TESTING
from tests.results.practice.plans import planned, query

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]
PLAN = "/plan/"


def text(response) -> str:
    return response.content.decode()


def plain(response) -> str:
    """What a reader reads, with blanks as single ones."""
    return " ".join(re.sub(r"<[^>]+>", " ", text(response)).split())


def test_page_without_a_question_shows_the_form_and_what_the_book_lacks(client):
    response = client.get(PLAN)

    assert response.status_code == 200
    assert response.context["planned"] is None
    assert 'class="fault"' not in text(response)
    assert "What the book lacks" in text(response)


def test_plan_is_all_on_the_page(client):
    response = client.get(f"{PLAN}?{query()}")
    page = plain(response)

    assert response.status_code == 200
    assert "3 of each joint, 12 specimens in all" in page
    assert "Which joint takes more in bending: blind mortise and tenon or dowel?" in page
    for caution in TESTING:
        assert caution in page
    assert page.index(TESTING[0]) < page.index("Order of testing")
    turns = [f"{run.series}{run.specimen}" for run in planned().order]
    assert re.findall(r"<li>([A-D]\d)</li>", text(response)) == turns
    assert "The luggage scale stops short" in page
    assert "safe" not in page.lower()


def test_form_holds_what_was_asked(client):
    page = text(client.get(f"{PLAN}?{query(arm_mm='16 in', seed=5, controls='solid')}"))

    assert 'name="arm_mm" value="16 in"' in page
    assert 'name="seed" value="5"' in page
    assert '<option value="solid" selected>solid bars</option>' in page
    assert '<option value="dowel" selected>Dowel</option>' in page


def test_lengths_asked_for_are_those_of_the_loading(client):
    page = text(client.get(f"{PLAN}?{query(loading='two_point_bending')}"))

    assert 'name="load_offset_mm"' in page and 'name="arm_mm"' not in page
    assert "Two-point bending needs the distance from a support to the nearer load" in page


def test_what_is_only_not_said_yet_is_no_bad_request(client):
    assert client.get(f"{PLAN}?joint=mt_blind&joint=dowel").status_code == 200
    assert client.get(f"{PLAN}?joint=mt_blind&joint=dowel&arm_mm=0").status_code == 400


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"arm_mm": "0"}, "0 is 0 mm"),
        ({"full_scale": "1e9 N"}, "1e9 N is 1 000 000 000 N"),
        ({"ratio": "1"}, "A ratio of 1.000 is no difference"),
        ({"joint": ["mt_blind", "<b>"]}, "&#x27;&lt;b&gt;&#x27; is no joint of the vocabulary"),
        ({"nonsense": "<i>"}, "&#x27;nonsense&#x27; is no parameter here"),
        ({"question": "x" * 2000}, "at most 1000 characters"),
        ({"title": "a\0b"}, "Null characters"),
    ],
)
def test_what_cannot_be_used_is_said_and_nothing_typed_is_lost(client, changes, words):
    response = client.get(f"{PLAN}?{query(**changes)}")

    assert response.status_code == 400
    assert words in text(response)
    assert 'name="workshop" value="Shop by the river"' in text(response)


def test_field_that_the_loading_lacks_is_shown_where_it_was_refused(client):
    page = text(client.get(f"{PLAN}?{query(expect_n='300', span_mm='0')}"))

    for name, words in (("expect_n", "give the moment to expect instead"), ("span_mm", "0 is 0 mm")):
        assert f'href="#id_{name}"' in page and f'id="id_{name}"' in page
        assert page.count(words) == 2  # above the form and at the field


@pytest.mark.parametrize(("loading", "asks"), [("torsion", "Arm"), ("centre_point_bending", "Span")])
def test_link_that_leaves_something_open_opens_without_an_error(client, loading, asks):
    """As the evidence map links: joints, loading and what is tested, and no length."""
    response = client.get(f"{PLAN}?joint=dowel&joint=butt&loading={loading}&tests=joint")
    page = text(response)

    assert response.status_code == 200
    assert f'<option value="{loading}" selected>' in page
    assert 'role="alert"' not in page and 'class="fault"' not in page and "aria-invalid" not in page
    assert f"Still to say: {asks} : " in plain(response)


def test_form_sent_without_a_length_says_so_as_an_error(client):
    page = text(client.get(f"{PLAN}?joint=dowel&joint=butt&loading=torsion&arm_mm="))

    assert 'role="alert"' in page and "Torsion needs the distance" in page and "Still to say" not in page


def test_what_the_sheet_says_of_loads_and_rig_is_what_the_page_says(client):
    asked = query(expect_nm="100", full_scale="50 kg")
    page, sheet = (plain(client.get(f"{address}?{asked}")) for address in (PLAN, reverse("plan:sheet")))

    for words in (
        "The luggage scale stops short",
        "No one arm lets it read every series",
        "328 N (33.5 kgf, 73.8 lbf)",
    ):
        assert words in page.replace("\u202f", " ") and words in sheet.replace("\u202f", " ")


def test_spreadsheet_tells_the_loads_and_has_a_setup_for_every_arm_that_is_needed(client):
    """A solid bar needs a longer arm than its scale takes at 12 in; the others are read at 12 in."""
    asked = query(expect_nm="40", full_scale="50 kg", controls="solid")

    book = load_workbook(io.BytesIO(client.get(reverse("plan:spreadsheet") + f"?{asked}").content))

    said = " ".join(str(row[0].value) for row in book["readme"].iter_rows() if row[0].value)
    assert "The luggage scale stops short" in said and "No one arm lets it read every series" in said
    assert "A, blind mortise and tenon: 131 N; " in said
    heads = [cell.value for cell in book["setups"][1]]
    setups = {
        row[0].value: row[heads.index("arm")].value for row in book["setups"].iter_rows(min_row=2) if row[0].value
    }
    assert setups == {"rig": "12 in", "longer arm": None}
    at = [cell.value for cell in book["series"][1]]
    of = {row[0].value: row[at.index("setup")].value for row in book["series"].iter_rows(min_row=2) if row[0].value}
    assert of == {"A": "rig", "B": "rig", "C": "longer arm"}


def test_power_chart_is_drawn_and_another_is_not_there(client):
    svg = client.get(reverse("plan:chart", args=["power", "svg"]) + f"?{query()}&width=760")

    assert svg.headers["Content-Type"] == "image/svg+xml"
    assert "How many specimens" in text(svg)
    assert client.get(reverse("plan:chart", args=["nonsense", "svg"]) + f"?{query()}").status_code == 404
    assert client.get(reverse("plan:chart", args=["power", "svg"]) + "?joint=x").status_code == 404


def test_another_order_is_a_link_away(client):
    response = client.get(f"{PLAN}?{query(seed=5)}")

    assert f"{response.context['another']}" == planned(seed=5).asked.query(seed=6)
    assert "seed=6" in response.context["another"]


def test_sheet_has_a_row_for_every_turn_and_the_cautions(client):
    response = client.get(reverse("plan:sheet") + f"?{query(blocks=2)}")
    page = text(response)

    turns = re.findall(r"<td>(\d+)</td><td>(\d+)</td><th scope=\"row\">([A-D]\d)</th>", page)
    assert [label for _, _, label in turns] == [f"{run.series}{run.specimen}" for run in planned(blocks=2).order]
    assert {block for _, block, _ in turns} == {"1", "2"}
    for caution in TESTING:
        assert caution in page
    assert "12 in = 304.8 mm" in page


@pytest.mark.parametrize("name", ["sheet", "spreadsheet"])
def test_what_cannot_be_planned_leads_back_to_the_page(client, name):
    response = client.get(reverse(f"plan:{name}") + f"?{query(arm_mm='0')}")

    assert response.status_code == 302
    assert response.headers["Location"].startswith(f"{PLAN}?")


def test_spreadsheet_reads_back_with_nothing_missing_but_the_loads(client):
    response = client.get(reverse("plan:spreadsheet") + f"?{query()}")

    found = examine_file(response.content, "plan.xlsx")
    assert {(one.code, one.field) for one in found.noticed} == {("missing", "reading")}
    assert len(found.noticed) == 12
    notes = [row[-1].value for row in load_workbook(io.BytesIO(response.content))["specimens"].iter_rows(min_row=2)]
    assert sorted(int(note.rpartition(" ")[2]) for note in notes) == list(range(1, 13))


def test_pages_only_read(client):
    for name in ("plan:plan", "plan:sheet", "plan:spreadsheet"):
        assert client.post(reverse(name)).status_code == 405
