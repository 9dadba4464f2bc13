"""Pages in another language: its files are whole, its pages are in it, and what is kept or served to programs isn't."""

from __future__ import annotations

import re
import shutil
import struct

import polib
import pytest
from django.conf import settings
from django.core.cache import caches
from django.utils import translation

from results.evidence.choices import ACTIONS
from results.models import Joint, Study
from results.pages import in_language
from results.pages.in_language import count_of, inside, named
from tests import language

OTHERS = [code for code, _ in settings.LANGUAGES if code != settings.LANGUAGE_CODE]
PLACES = re.compile(r"%\(\w+\)s|\{\w*\}")
TAGS = re.compile(r"</?\w+|href=\"[^\"]*\"")

each_language = pytest.mark.parametrize("code", OTHERS)


def entries(code):
    return polib.pofile(str(language.file_of(code)))


def forms(entry):
    return [entry.msgstr, *entry.msgstr_plural.values()]


# files


@each_language
def test_compiled_file_says_what_the_written_one_says(code):
    compiled = language.file_of(code, "mo").read_bytes()

    assert struct.unpack("<I", compiled[:4]) == (0x950412DE,)
    assert compiled == entries(code).to_binary()


@each_language
def test_every_sentence_keeps_its_places_and_marks(code):
    lost = []
    for entry in entries(code):
        for said in filter(None, forms(entry)):
            for marks in (PLACES, TAGS):
                if sorted(marks.findall(said)) != sorted(marks.findall(entry.msgid)):
                    lost.append((entry.msgid, said))

    assert lost == []


@each_language
def test_nothing_is_uncertain_sorted_apart_or_of_one_machine(code):
    po = entries(code)
    written = language.file_of(code).read_text(encoding="utf-8")

    assert [entry.msgid for entry in po if entry.fuzzy] == []
    assert [entry.msgid for entry in po] == sorted(entry.msgid for entry in po)
    assert not any("Date" in name for name in po.metadata)
    assert [place for entry in po for place, _ in entry.occurrences if place.startswith("/")] == []
    assert str(language.ROOT) not in written


@each_language
def test_half_of_a_sentence_in_two_numbers_is_not_translated_alone(code):
    assert [
        entry.msgid for entry in entries(code) if len({bool(said) for said in entry.msgstr_plural.values()}) > 1
    ] == []


@pytest.mark.skipif(not shutil.which("xgettext"), reason="the gettext tools are not here, so nothing was gathered")
def test_every_sentence_of_a_page_is_in_the_file():
    there = language.gathered()

    for code in OTHERS:
        known = {language.key_of(entry) for entry in entries(code)}
        assert (sorted(map(str, there.keys() - known)), sorted(map(str, known - there.keys()))) == ([], [])


# pages


@pytest.fixture
def german(client):
    client.cookies["language"] = "de"
    return client


def page(client, address):
    answer = client.get(address)
    assert answer.status_code == 200, address
    return answer.content.decode()


def headings(html):
    return [re.sub(r"<[^>]+>", "", one) for one in re.findall(r"<h[12][^>]*>(.*?)</h[12]>", html, re.DOTALL)]


def text_of(html, start, end):
    return " ".join(re.sub(r"<[^>]+>", " ", html.partition(start)[2].partition(end)[0]).split())


HEADINGS = {
    "/": ["Wie fest ist die Verbindung?", "Acht Fehler, die Breakbook abfangen soll"],
    "/compare/?invented=with": ["Verbindungen vergleichen", "Wie viel sie trugen"],
    "/compare/network/": ["Alle Studien zusammen"],
    "/joints/": ["Verbindungen", "Zapfen"],
    "/joints/mt_blind/": ["Zapfen, nicht durchgehend (gestemmter Zapfen)", "Was noch nicht bekannt ist"],
    "/timbers/": ["Holzarten"],
    "/timbers/oak_northern_red/": ["Roteiche", "Verbindungen darin"],
    "/studies/": ["Studien"],
    "/studies/{study}/": ["Was die Prüfungen bemerkt haben", "Neben anderen Studien"],
    "/piece/": ["Ist sie fest genug für mein Werkstück?"],
    "/plan/": ["Versuch planen"],
    "/evidence/": ["Karte der Belege"],
    "/data/": ["Daten herunterladen"],
    "/search/": ["Suche"],
    "/login/": ["Anmelden"],
    "/sign-up/": ["Registrieren"],
}


@pytest.mark.django_db
@pytest.mark.usefixtures("demo_book")
@pytest.mark.parametrize("address", HEADINGS)
def test_pages_have_headings_head_and_foot_in_german(german, address):
    html = page(german, address.format(study=Study.objects.accepted().first().pk))

    assert '<html lang="de">' in html
    assert set(HEADINGS[address]) <= set(headings(html))
    head, foot = text_of(html, "<header", "</header>"), text_of(html, "<footer>", "</footer>")
    for english in ("Compare joints", "Evidence", "My piece", "Plan a test", "Studies", "Submit results", "Log in"):
        assert english not in head
    assert "Nichts hier bescheinigt" in foot
    assert "Nothing here" not in foot
    assert "Sprache English Deutsch (zum Teil) Einheiten Newton, Millimeter Pfund, Zoll" in foot


@pytest.mark.django_db
@pytest.mark.usefixtures("demo_book")
def test_picker_is_in_german_and_asks_in_english(german):
    html = page(german, "/compare/")
    form = html.partition('class="sheet picker"')[2].partition("</form>")[0]

    labels = re.findall(r"<label for=\"\w+\">(.*?)</label>", form)
    assert labels == [
        *("Gemessen als", "Belastet auf", "Geprüft", "Bezogen auf", "Auffällige", "Erfundene", "Intervalle"),
        *("Achse", "Verbindung suchen"),
    ]
    assert re.search(r'<option value="bending" selected>Biegemoment \(\d+\)</option>', form)
    assert re.search(r'value="mt_blind"[^>]*> Zapfen, nicht durchgehend', form)


@pytest.mark.django_db
@pytest.mark.usefixtures("demo_book")
def test_form_asks_in_german_for_what_records_hold_in_english(german, django_user_model):
    german.force_login(django_user_model.objects.create_user("anna"))
    html = page(german, "/submit/form/?loading=cantilever_arm&instrument=luggage_scale&joint=butt&joint=dowel")

    assert {"Ergebnisse einreichen"} <= set(headings(html))
    for words in ("Die Vorrichtung", "Was alle Serien gemeinsam haben", "Bruchstelle", "Hebelarm", "Holzart"):
        assert words in html
    assert '<option value="cantilever_arm" selected>Kragarm</option>' in html
    assert '<option value="mt_blind">Zapfen, nicht durchgehend (gestemmter Zapfen)</option>' in html


@pytest.mark.django_db
@pytest.mark.usefixtures("demo_book")
def test_what_was_kept_for_one_reader_is_not_told_another_in_a_language_not_theirs(client):
    study = Study.objects.accepted().first().get_absolute_url()
    addresses = [
        "/compare/?invented=with",
        "/joints/mt_blind/",
        "/timbers/oak_northern_red/",
        study,
        "/compare/network/",
    ]
    caches["answers"].clear()
    before = {}
    for code in ("de", "en", "de", "en"):
        client.cookies["language"] = code
        for address in addresses:
            html = page(client, address)
            assert f'<html lang="{code}">' in html
            assert before.setdefault((code, address), headings(html)) == headings(html)
    for address in addresses:
        assert before["de", address] != before["en", address]


@pytest.mark.django_db
@pytest.mark.usefixtures("demo_book")
def test_api_answers_in_english_whatever_was_chosen(client):
    address = "/api/v1/joints.json"
    plain = client.get(address).content
    client.cookies["language"] = "de"

    assert client.get(address).content == plain
    assert Joint.objects.get(pk="mt_blind").name in plain.decode()


@pytest.mark.django_db
def test_forms_of_the_framework_say_what_is_wrong_in_german(german):
    answer = german.post("/login/", {"login": "nobody", "password": ""})

    assert "Dieses Feld ist zwingend erforderlich." in answer.content.decode()


@pytest.mark.django_db
def test_what_is_not_there_is_said_in_german(german):
    answer = german.get("/nowhere/")

    assert (answer.status_code, headings(answer.content.decode())) == (404, ["Unter dieser Adresse gibt es nichts"])


# figures


@pytest.mark.django_db
@pytest.mark.usefixtures("demo_book")
def test_numbers_of_tables_and_figures_have_the_languages_decimal_sign(client, settings):
    settings.DEMO = True
    told = {}
    for code in ("en", "de"):
        client.cookies["language"] = code
        html = page(client, "/compare/?action=bending")
        rows = re.search(r"<tbody>(.*?)</tbody>", html, re.DOTALL)[1]
        told[code] = [re.sub(r"<[^>]+>", "", cell).strip() for cell in re.findall(r"<td.*?</td>", rows, re.DOTALL)]

    assert any("." in cell for cell in told["en"]) and any(" to " in cell for cell in told["en"])
    figures = re.compile(r"[\d\s.()−-]+( to [\d\s.()−-]+)?")
    in_german = [
        cell.replace(".", ",").replace(" to ", " bis ") if figures.fullmatch(cell) else None for cell in told["en"]
    ]
    assert [one for one, theirs in zip(told["de"], in_german, strict=True) if theirs is not None] == [
        theirs for theirs in in_german if theirs is not None
    ]


@pytest.mark.parametrize("typed", ["2.5 in", "1.2", "moved to 1.2", "to 1.2", "a to b"])
def test_what_somebody_wrote_is_not_taken_for_an_interval(typed):
    with translation.override("de"):
        assert in_language.interval(typed) == typed
        assert in_language.interval("0.21 to 0.25") == "0,21 bis 0,25"
        assert in_language.interval("2.1 (1.5 to 1 003.0)") == "2,1 (1,5 bis 1 003,0)"


# words


def test_names_and_counts_follow_the_language():
    for code, expected in {
        "en": ("Half-lap", "half-lap", "1 study", "12 345 studies"),
        "de": ("Überblattung", "Überblattung", "1 Studie", "12 345 Studien"),
    }.items():
        with translation.override(code):
            counts = [count_of(n, "study").replace("\u202f", " ") for n in (1, 12_345)]
            assert (named("Half-lap"), inside("Half-lap"), *counts) == expected


@each_language
def test_every_action_footing_and_joint_has_a_name(code):
    said = {entry.msgid for entry in entries(code) if entry.msgctxt == "vocabulary" and entry.msgstr}

    assert set(ACTIONS.values()) <= said


# numbers


@pytest.mark.django_db
@pytest.mark.usefixtures("demo_book")
@pytest.mark.parametrize("address", ["/joints/mt_blind/", "/timbers/oak_northern_red/"])
def test_what_a_form_sends_on_is_read_again(german, address):
    assert '<input type="hidden" name="level" value="0.9">' in page(german, f"{address}?level=0.9&invented=with")
