"""One box for everything that has a name."""

from __future__ import annotations

import importlib
import re
import time

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from results.demo import FOLDER, load_demo
from results.models import FormDraft, Study
from results.pages.site_pages import site_pages
from results.practice.lodge import withdraw
from results.search import find, sought
from results.search.studies import FIELDS, found_studies
from results.search.words import words
from tests.factories import make_series, make_study, make_user
from tests.results.practice.plans import lodged, query

from .shops import text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]
postgresql = pytest.mark.skipif("connection.vendor != 'postgresql'", reason="full text is PostgreSQL's")


def search(client, q="", **more):
    return client.get(reverse("browse:search"), {"q": q, **more})


def titles(response, kind):
    """Titles of a group as shown, in order."""
    html = response.content.decode()
    part = re.search(rf'<section aria-labelledby="{kind}">(.*?)</section>', html, re.S)
    found = re.findall(r"<h3>(.*?)</h3>", part[1], re.S) if part else []
    return [" ".join(re.sub("<[^>]+>", "", re.sub(r'<span class="soft beside">.*', "", one)).split()) for one in found]


# what is found


@pytest.mark.parametrize(
    ("typed", "kind", "first"),
    [
        ("biscuit", "joints", "Plate joint"),
        ("floating tenon", "joints", "Loose tenon"),
        ("dado", "joints", "Housing"),
        ("Dowels", "joints", "Dowel"),
        ("bridle", "joints", "Bridle"),
        ('"half lap"', "joints", "Half-lap"),
        ("quercus rubra", "timbers", "Oak, northern red"),
        ("red oak northern", "timbers", "Oak, northern red"),
        ("hide glue", "glues", "Hide glue, hot"),
        ("D4", "glues", "PVA, class D4"),
    ],
)
def test_vocabulary_is_found_by_every_name_it_has(client, typed, kind, first):
    assert titles(search(client, typed), kind)[0] == first


def test_very_name_comes_before_names_and_names_before_texts(client):
    found = titles(search(client, "mitre", **{"in": "joints"}), "joints")

    assert found[0] == "Mitre"
    assert {"Splined mitre", "Lock mitre"} == set(found[1:3])


def test_studies_are_found_by_every_text_they_have(client):
    make_study("Rails into posts", question="Does quartersawn help?", workshop="Nordheim joinery", notes="Wet April.")
    make_study("Printed", origin="published", citation="Journal of Trusses 12, 34")

    for word in ("rails", "quartersawn", "nordheim", "april"):
        assert titles(search(client, word), "studies") == ["Rails into posts"]
    assert titles(search(client, "trusses"), "studies") == ["Printed"]


def test_studies_with_the_words_in_their_title_come_first_then_the_newest(client):
    for title, question in (("Glue lines", "About wedges"), ("Wedges, old", "x"), ("Wedges, new", "x")):
        make_study(title, question=question)

    assert titles(search(client, "wedges"), "studies") == ["Wedges, new", "Wedges, old", "Glue lines"]


def test_all_words_have_to_be_found_and_none_that_is_unwanted(client):
    make_study("Oak rails")
    make_study("Oak rails with pegs")

    assert titles(search(client, "rails oak"), "studies") == ["Oak rails with pegs", "Oak rails"]
    assert titles(search(client, "oak rails -pegs"), "studies") == ["Oak rails"]
    assert titles(search(client, "oak rails screws"), "studies") == []


def test_accents_and_case_make_no_difference(client):
    make_study("Épicéa collé à chaud", workshop="Łódź")

    for typed in ("epicea", "ÉPICÉA", "lodz", "colle"):
        assert titles(search(client, typed), "studies") == ["Épicéa collé à chaud"]


def test_workshops_are_found_with_their_public_studies(client):
    make_study("One", workshop="Shop by the weir")
    make_study("Two", workshop="Shop by the weir")
    make_study("Three", workshop="Shop of a draft", status="draft")

    shown = text(search(client, "shop weir"))

    assert "Shop by the weir 2 studies" in shown
    assert titles(search(client, "draft"), "workshops") == []


def test_lodged_plans_are_found_by_title_question_and_shop_with_what_became_of_them(client):
    first, gone = (
        lodged(title="Trestles", workshop="Mill by the weir"),
        lodged(title="Gates", question="Do xebecs hold?"),
    )
    withdraw(gone, make_user(), "No oak.")

    assert titles(search(client, "trestle"), "plans") == titles(search(client, "weir"), "plans") == ["Trestles"]
    assert titles(search(client, "xebec"), "plans") == ["Gates"]
    response = search(client, "gates")
    assert f"Plan {gone.pk}, lodged 10 March 2026 by maker" in text(response) and "withdrawn" in text(response)
    assert f'href="{first.get_absolute_url()}"' in search(client, "trestles").content.decode()


@pytest.mark.parametrize("who", ["anonymous", "maker", "other"])
def test_plan_that_nobody_lodged_is_found_by_nobody(client, who):
    """Nor a form that somebody began."""
    if who != "anonymous":
        client.force_login(make_user(who))
    client.get(f"/plan/?{query(title='Xylophone keys')}")
    FormDraft.objects.create(user=make_user(), typed={"study": {"title": "Xylophone keys"}, "key": "x"})

    assert "Nothing in the book has this word." in text(search(client, "xylophone"))


@pytest.mark.parametrize(
    ("typed", "first", "address"),
    [
        ("my piece", "My piece", "/piece/"),
        ("plan a test", "Plan a test", "/plan/"),
        ("methods", "Methods", "/methods/"),
        ("download", "Take the data", "/data/"),
        ("evidence map", "Evidence map", "/evidence/"),
        ("leverage", "Short and long members", "/piece/leverage/"),
        ("measurement uncertainty", "Methods: Measurement uncertainty", "/methods/uncertainty/"),
        ("bed rail", "My piece: Bed rail", "/piece/bed_rail/"),
    ],
)
def test_pages_of_the_site_are_found(client, typed, first, address):
    response = search(client, typed)

    assert titles(response, "pages")[0] == first
    assert f'<h3><a href="{address}">' in response.content.decode()


def test_every_page_told_of_is_there(client):
    for one in site_pages():
        if not one.address.startswith("/methods/"):  # which take their time, and have tests of their own
            assert client.get(one.address).status_code in (200, 302), one.address


# who sees what


@pytest.mark.parametrize("status", ["draft", "submitted"])
@pytest.mark.parametrize("who", ["anonymous", "owner", "other"])
def test_hidden_study_is_found_by_nobody(client, status, who):
    make_study("Xylophone keys", workshop="Xylophone shop", status=status, contributor=make_user("owner"))
    if who != "anonymous":
        client.force_login(make_user(who))

    response = search(client, "xylophone")

    assert "Xylophone" not in response.content.decode().replace("xylophone", "")
    assert "Nothing in the book has this word." in text(response)


def test_withdrawn_study_is_found_and_marked(client):
    make_study("Taken back", status="withdrawn")
    make_study("Made up", invented=True)

    assert "Taken back Which joint takes more? Shop by the river, 2025-03 · withdrawn" in text(search(client, "taken"))
    assert "invented" in text(search(client, '"made up"')).split("Made up")[-1]


# what is shown


def test_words_are_marked_in_name_and_text_and_markup_is_no_markup(client):
    make_study("Rails <b>& posts</b>", question="Do <script>rails</script> hold?")

    html = search(client, "rails posts").content.decode()

    assert "<mark>Rails</mark> &lt;b&gt;&amp; <mark>posts</mark>&lt;/b&gt;" in html
    assert "&lt;script&gt;<mark>rails</mark>&lt;/script&gt;" in html


def test_snippet_shows_the_text_that_has_the_word(client):
    make_study("Rails", question="Which takes more?", notes="Broken on a wet day with a borrowed dynamometer.")

    assert "borrowed <mark>dynamometer</mark>" in search(client, "dynamometer").content.decode()


def test_groups_show_their_first_and_lead_to_all(client):
    for number in range(30):
        make_study(f"Trestle {number:02}")

    first = search(client, "trestle")
    second = search(client, "trestle", **{"in": "studies", "page": 2})

    assert len(titles(first, "studies")) == 5 and "Studies (30)" in text(first)
    assert "?q=trestle&amp;in=studies" in first.content.decode()
    assert titles(second, "studies") == [f"Trestle {number:02}" for number in (4, 3, 2, 1, 0)]
    assert "Page 2 of 2" in text(second) and "30 in studies" in text(second)


def test_group_without_anything_says_where_the_rest_is(client):
    assert "0 in studies" in text(search(client, "biscuit", **{"in": "studies"}))


# nothing asked, nothing found


def test_nothing_asked_shows_how(client):
    assert "For instance: biscuit" in text(search(client))
    assert "For instance: biscuit" in text(client.get(reverse("browse:search")))


@pytest.mark.parametrize("typed", ["???", "-", '""', "   ... "])
def test_no_word_in_what_was_typed_is_said(client, typed):
    assert "to look for: type letters or digits" in text(search(client, typed))


@pytest.mark.parametrize(
    ("typed", "meant"), [("biscut", "biscuit"), ("qercus", "quercus"), ("miter", "mitre"), ("dovtail", "dovetail")]
)
def test_nothing_found_offers_the_nearest_which_is_there(client, typed, meant):
    response = search(client, typed)

    assert f"Did you mean {meant}" in text(response)
    assert find(sought(meant)).count


@pytest.mark.parametrize(
    "typed",
    ["'; DROP TABLE results_study; --", "a & b | !c", "x:*", "%_\\", "<script>alert(1)</script>", "🪵 oak",
     "\u202e oak", "(((((", "''", "\\", "ﬁ ½ ² ß", "дуб", "樫", "a\u0301", "1e5 0x1f 2x4 1/2", "-" * 90, '"' * 90],
)  # fmt: skip
def test_odd_characters_are_no_trouble(client, typed):
    make_study("Oak, plain", notes="1e5 0x1f 2x4 1/2 дуб 樫 ½")

    response = search(client, typed)

    assert response.status_code == 200
    assert "<script>alert" not in response.content.decode()


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ({"q": "x" * 101}, "is too long: 101 characters, where 100 are the most"),
        ({"q": "oak\0"}, "q = oak� holds a character that no text has"),
        ({"q": "oak", "in": "nonsense"}, "in = nonsense is nothing that can be searched; there are joints"),
        ({"q": "oak", "page": "2"}, "page = 2 needs in"),
        ({"q": "oak", "in": "joints", "page": "x"}, "page = x is no page number"),
        ({"q": "oak", "in": "timbers", "page": "99"}, "page = 99 is not there"),
        ({"q": "oak", "sort": "name"}, "sort = name is no parameter here; there are q, in, page"),
    ],
)
def test_bad_parameter_is_named(client, query, said):
    response = client.get(reverse("browse:search"), query)

    assert response.status_code == 400
    assert said in text(response)


# both databases alike, and quick


@pytest.fixture
def demo(tmp_path, settings):
    settings.DEMO, settings.DATA_DIR = True, tmp_path / "kept"
    for name in sorted(path.name for path in FOLDER.glob("*.csv"))[:6]:
        (tmp_path / name).write_bytes((FOLDER / name).read_bytes())
    load_demo(tmp_path)


@postgresql
def test_full_text_finds_what_reading_through_finds(demo):
    make_study("Épicéa 2x4, 1e5 N & 1/2 in; O'Neil's", notes="half-lap_joint ½ x² naïve.co.uk/path a.b@c.de 12.5 -3")
    asked = {word for study in Study.objects.public() for name in FIELDS for word in words(getattr(study, name))}
    asked |= {word[:3] for word in asked} | {"oak -rail", '"rails into"', "which joint takes", "joint -glue"}

    assert len(asked) > 150
    for typed in sorted(asked):
        (count, some), (told, told_some) = (found_studies(sought(typed), postgresql=one) for one in (True, False))
        assert (count, some(0, 99)) == (told, told_some(0, 99)), typed


def test_demo_book_is_searched_by_word(client, demo):
    studies = Study.objects.public()
    for study in studies:
        longest = max(words(study.title), key=len)
        expected = [
            one for one in studies if any(w.startswith(longest) for n in FIELDS for w in words(getattr(one, n)))
        ]
        found = titles(search(client, longest, **{"in": "studies"}), "studies")
        assert study.title in found and set(found) == {one.title for one in expected}


@pytest.mark.parametrize("typed", ["trestle", "dowel", "zzz", "oak"])
def test_number_of_queries_does_not_grow_with_the_book(client, typed):
    def asked():
        with CaptureQueriesContext(
            connection,
        ) as queries:
            search(client, typed)
        return len(queries)

    make_series(make_study("Trestle of oak, with a dowel"))
    small = asked()
    for number in range(40):
        make_series(make_study(f"Trestle of oak, with a dowel {number}", workshop=f"Oak shop {number}"))

    assert asked() == small <= 8


@postgresql
def test_full_text_can_go_by_its_index():
    make_study("Xylophone keys")
    with CaptureQueriesContext(connection) as queries:
        count, _ = found_studies(sought("xylophone"), postgresql=True)
    with connection.cursor() as cursor:
        # In so small a book reading all of it would be the quicker way.
        cursor.execute("SET LOCAL enable_seqscan = off")
        cursor.execute("EXPLAIN " + queries[0]["sql"])
        plan = "\n".join(row[0] for row in cursor.fetchall())

    assert count == 1
    assert "study_search_words" in plan, plan


@postgresql
def test_search_can_be_taken_out_and_put_back():
    migration = importlib.import_module("results.migrations.0006_search")
    with connection.schema_editor() as editor:
        migration.unmake(None, editor)
        migration.make(None, editor)
    make_study("Xylophone keys")

    assert found_studies(sought("xylophone"), postgresql=True)[0] == 1


def test_thousand_studies_are_searched_in_a_moment(client):
    Study.objects.bulk_create(
        Study(title=f"Study {n}, rails into posts", question="Which joint takes more?" * 5, workshop=f"Shop {n % 300}",
              notes="Tested in the spring. " * 10, status="accepted", accepted_at="2025-01-01T00:00Z")
        for n in range(1000)
    )  # fmt: skip
    search(client, "rails")
    begun = time.perf_counter()
    response = search(client, "rails")

    assert "Studies (1000)" in text(response)
    assert time.perf_counter() - begun < 1.5  # a tenth of it on an idle machine
