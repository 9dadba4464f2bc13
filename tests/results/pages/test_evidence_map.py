"""The evidence map: the API's own counts, how sure by a rule that stands on the page, and gaps that lead somewhere."""

from __future__ import annotations

import html
import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from results.evidence import Choices, compare, restate, verdicts
from results.evidence.extent import Tally
from results.evidence.sureness import by_count
from results.models import Joint
from tests.factories import make_series, make_setup, make_specimen, make_study, make_summary

from .shops import a_shop, table, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def get(client, query=""):
    return client.get(f"{reverse('browse:evidence')}{query}")


@pytest.fixture
def book():
    """Three shops' butts and tenons in bending, in two timbers; dowels pulled out; a bond; a published mean."""
    a_shop("One", workshop="River")
    a_shop("Two", workshop="Hill", rig=1.1)
    a_shop("Three", workshop="Yard", of_series={"timber": "ash_white", "adhesive": "epoxy"})
    study = make_study("Pulled")
    series = make_series(study, setup=make_setup(study, loading="withdrawal", arm_mm=None), joint="dowel", timber=None)
    for load in (4000, 4100):
        make_specimen(series, peak_load_n=load)
    make_specimen(series, outcome="void")
    restate(study)
    bond = make_study("Bond")
    series = make_series(
        bond, setup=make_setup(bond, loading="lap_shear", arm_mm=None), joint="lap_plain", tests="bond"
    )
    make_specimen(series, peak_load_n=3000)
    restate(bond)
    published = make_study("Published", origin="published", citation="A handbook, 1998.")
    make_summary(make_series(published, joint="mitre"), n=7)
    restate(published)


def cells(response):
    """Studies and specimens of each cell that has any, by joint and column, as the page's table says."""
    heading, *rows = table(response, "")
    found = {}
    for name, *row in rows:
        for column, told in zip(heading[1:], row, strict=True):
            match = re.search(r"(\d+) stud(?:y|ies), (?:(\d+) specimens?|number not told)", told)
            if match:
                found[name, column] = (int(match.group(1)), int(match.group(2) or 0))
    return found


def given(client, response, by=None):
    """The same from the address that the page links to."""
    link = re.search(r'href="(/api/v1/evidence\.json[^"]*)"', response.content.decode())
    rows = client.get(html.unescape(link.group(1))).json()["results"]
    names = dict(Joint.objects.values_list("pk", "name"))
    words = {"bending": "Bending moment", "axial": "Axial force", "shear": "Shear", "torsion": "Torsion"}
    words |= {"oak_northern_red": "Oak, northern red", "ash_white": "Ash, white", None: "Not recorded"}
    words |= {"pva": "PVA, general purpose", "epoxy": "Epoxy, two part"}
    return {(names[row["joint"]], words[row[by or "action"]]): (row["studies"], row["specimens"]) for row in rows}


@pytest.mark.parametrize(
    ("query", "by"),
    [
        ("", None),
        ("?tests=bond", None),
        ("?by=timber", "timber"),
        ("?by=timber&action=axial", "timber"),
        ("?by=adhesive", "adhesive"),
        ("?family=mortise_tenon", None),
    ],
)
def test_map_counts_what_the_api_counts(client, book, query, by):
    response = get(client, query)

    told = cells(response)
    assert {key: value for key, value in told.items() if "All" not in key and "All joints" not in key} == given(
        client, response, by
    )
    assert given(client, response, by)


def test_map_totals_count_a_study_once(client, book):
    told = cells(get(client))

    assert told["All joints", "Bending moment"] == (4, 3 * 6 + 7)
    assert told["All joints", "All"] == (5, 3 * 6 + 7 + 2)
    assert told["Dowel", "All"] == (1, 2)


def test_map_shows_every_joint_and_leads_from_a_gap_to_the_form(client, book):
    source = get(client).content.decode()

    for name in Joint.objects.values_list("name", flat=True):
        assert f">{html.escape(name)}</a></th>" in source
    gap = f"{reverse('plan:plan')}?joint=dowel&amp;joint=butt&amp;loading=torsion&amp;tests=joint"
    assert f'<td class="gap"><a href="{gap}"><span class="unseen">Dowel, torsion: </span>no tests</a>' in source


def test_map_leads_from_a_cell_to_its_comparison_which_has_it(client, book):
    source = get(client).content.decode()

    addresses = re.findall(r'<td class="sure-[a-z-]+"><a href="([^"]*)"', source)
    assert len(addresses) == 4
    for address in addresses:
        response = client.get(html.unescape(address))
        assert response.status_code == 200
        assert "Nothing to show" not in text(response)


def test_map_grades_a_cell_as_its_comparison_is_graded(client, book):
    source = get(client).content.decode()

    (told,) = [one for one in verdicts(compare(Choices())) if one.joint == "mt_blind"]
    row = source.split(">Blind mortise and tenon</a></th>")[1].split("</td>")[0]
    assert row.startswith(f'<td class="sure-{told.certainty.level.replace(" ", "-")}">')
    assert f"</span> {told.certainty.level}</span>" in row
    assert "glued butt in bending moment" in text(get(client))


def test_map_says_by_which_rule_it_counts(client, book):
    shown = text(get(client))

    assert "very low, count" in shown  # dowels: one study, and nothing to set them against
    assert "3 studies and 20 specimens or more, of which less than 25 % are doubted" in shown.replace("\u202f", " ")
    assert "2 studies and 10 specimens or more" in shown


@pytest.mark.parametrize(
    ("studies", "specimens", "doubted", "level"),
    [
        (1, 1000, 0, "very low"),
        (2, 9, 0, "very low"),
        (2, 10, 10, "low"),
        (3, 19, 0, "low"),
        (3, 20, 4, "moderate"),
        (3, 20, 5, "low"),
        (50, 5000, 0, "moderate"),
    ],
)
def test_counting_never_makes_more_than_moderate(studies, specimens, doubted, level):
    assert by_count(Tally(studies, studies, specimens, doubted)) == level


def test_map_tells_certainty_by_word_and_mark_beside_colour(client, book):
    for cell in re.findall(r'<td class="sure-([a-z-]+)">(.*?)</td>', get(client).content.decode()):
        assert cell[0].replace("-", " ") in cell[1] and "●" in cell[1]


def test_map_by_timber_narrows_the_comparison_to_it(client, book):
    source = get(client, "?by=timber").content.decode()

    assert "action=bending&amp;footing=ratio_solid&amp;tests=joint&amp;timber=ash_white&amp;reference=butt" in source


def test_map_of_what_was_not_recorded_is_no_gap(client, book):
    response = get(client, "?by=timber&action=axial")

    assert cells(response)["Dowel", "Not recorded"] == (1, 2)
    assert "timber=None" not in response.content.decode()


@pytest.mark.parametrize("status", ["draft", "submitted", "withdrawn"])
def test_map_counts_no_hidden_study(client, status):
    a_shop("Counts")
    a_shop("Doesn't", status=status)

    assert cells(get(client))["Glued butt", "Bending moment"] == (1, 3)


def test_map_leaves_invented_studies_out_unless_asked(client):
    a_shop("Real")
    a_shop("Made up", invented=True)

    assert cells(get(client))["Glued butt", "Bending moment"] == (1, 3)
    asked = get(client, "?invented=with")
    assert (
        cells(asked)["Glued butt", "Bending moment"] == (2, 6) == given(client, asked)["Glued butt", "Bending moment"]
    )
    assert "invented Some of these results are made up" in text(asked)


def test_map_of_an_empty_book_is_all_gaps(client):
    response = get(client)

    assert "Nobody has made such tests yet: joint tests." in text(response)
    assert cells(response) == {}


def test_map_of_a_family_without_tests_offers_all(client, book):
    assert "Nobody has made such tests yet: joint tests, scarf. All families" in text(get(client, "?family=scarf"))


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("?by=timbre", "by = timbre is not known. Did you mean timber?"),
        ("?tests=any", "tests = any is not known. Known: bond, joint."),
        ("?family=dovetial", "family = dovetial is not known. Did you mean dovetail or dowel?"),
        ("?action=bend", "action = bend is not known. Did you mean bending?"),
        ("?faimly=lap", "faimly = lap is no parameter here. Did you mean family?"),
        ("?by=timber&by=action", "by = timber, action may be given once only."),
        ("?invented=maybe", "invented = maybe is not known."),
        ("?family=%00", "is not known"),
        ("?family=<script>alert(1)</script>", "is not known"),
    ],
)
def test_map_refuses_a_parameter_with_what_would_be_right(client, query, said):
    response = get(client, query)

    assert response.status_code == 400
    assert said in text(response)
    assert b"<script>alert" not in response.content


@pytest.mark.parametrize("query", ["", "?by=timber"])
def test_map_asks_as_many_queries_for_a_large_book_as_for_a_small(client, query):
    counts = []
    for shops in (2, 8):
        for number in range(shops):
            a_shop(f"Study {shops} {number}")
        with CaptureQueriesContext(connection) as asked:
            get(client, query)
        with CaptureQueriesContext(connection) as again:
            get(client, query)
        counts.append((len(asked), len(again)))

    assert counts[0] == counts[1]
    assert counts[1][1] <= 4, [one["sql"][:120] for one in again]
