"""The data page: its recipes run as printed, and what it says of the data is so; the change feed."""

from __future__ import annotations

import html
import json
import re
import shutil
import subprocess
import urllib.request
import xml.etree.ElementTree as ET
from datetime import datetime, timedelta

import duckdb
import pandas as pd
import pytest

from results.models import Specimen, Study
from results.pages import changes_feed
from results.vocabulary import load_vocabulary
from tests.factories import accept, make_study
from tests.results.releases.books import ACCEPTED_AT, a_published, a_study, folder, released

from .handed_in import accepted, changed
from .shops import a_shop, table, text

ATOM = {"a": "http://www.w3.org/2005/Atom"}


@pytest.fixture(autouse=True)
def data_dir(settings, tmp_path):
    settings.DATA_DIR = tmp_path


# recipes


def recipes(page: str) -> dict[str, list[tuple[str, str]]]:
    """Each tool's printed lines by section: of the read API, of a release."""
    found: dict[str, list[tuple[str, str]]] = {}
    for part, name in zip(page.split('<section aria-labelledby="')[1:3], ("now", "release"), strict=True):
        assert part.startswith(name)
        blocks = re.findall(r'<h3>(.*?)</h3>\s*<pre[^>]*><code data-language="(\w+)">(.*?)</code></pre>', part, re.S)
        found[name] = [(f"{tool}:{language}", html.unescape(code)) for tool, language, code in blocks]
    return found


@pytest.fixture
def book(live_server):
    """A served book with a release, and its recipes by section and tool."""
    load_vocabulary()
    a_study()
    a_shop("Another")
    release = released()
    with urllib.request.urlopen(f"{live_server.url}/data/") as response:
        printed = recipes(response.read().decode())
    return release, {name: dict(blocks) for name, blocks in printed.items()}


def run(code: str) -> dict:
    """What the lines leave behind."""
    left: dict = {}
    exec(compile(code, "recipe", "exec"), left)
    return left


def in_shell(code: str, folder) -> str:
    found = subprocess.run(
        ["bash", "-e", "-o", "pipefail", "-c", code],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert found.returncode == 0, found.stderr
    return found.stdout


@pytest.mark.django_db(transaction=True)
def test_recipes_in_python_run_as_printed(book, capsys):
    release, printed = book
    now, of_release = printed["now"], printed["release"]
    count = Specimen.objects.count()
    joints = {"butt", "mt_blind"}

    assert [*now] == ["pandas:python", "polars:python", "DuckDB:python", "R:r", "curl:shell"] == [*of_release]
    assert run(now["pandas:python"])["specimens"]["peak_load_n"].count() == count - 1  # all but the void one
    assert run(now["polars:python"])["specimens"].height == count
    run(now["DuckDB:python"])
    assert joints <= set(re.findall(r"\w+", capsys.readouterr().out))

    frame = run(of_release["pandas:python"])["specimens"]
    assert (len(frame), list(frame.columns)) == (count, ["joint", "ratio_solid"])
    run(of_release["polars:python"])
    assert joints <= set(re.findall(r"\w+", capsys.readouterr().out))


@pytest.mark.django_db(transaction=True)
def test_duckdb_reads_the_release_in_place_as_printed(book, capsys):
    release, printed = book
    code = printed["release"]["DuckDB:python"]
    address = re.search(r"'(http[^']+)'", code)[1]

    # The query itself, on the very file.
    run(code.replace(address, str(folder(release) / "specimens.parquet")))
    assert {"butt", "mt_blind"} <= set(re.findall(r"\w+", capsys.readouterr().out))

    try:
        duckdb.execute("LOAD httpfs")
    except duckdb.Error:
        pytest.skip("DuckDB's extension httpfs is not installed here, so the recipe ran on the file, not over HTTP")
    run(code)
    assert {"butt", "mt_blind"} <= set(re.findall(r"\w+", capsys.readouterr().out))


@pytest.mark.django_db(transaction=True)
def test_recipes_in_a_shell_run_as_printed(book, tmp_path):
    if not shutil.which("curl"):
        pytest.skip("curl is missing, so its recipes were not run")
    release, printed = book
    for name in ("now", "release"):
        (tmp_path / name).mkdir()

    compared = in_shell(printed["now"]["curl:shell"], tmp_path / "now")
    checked = in_shell(printed["release"]["curl:shell"], tmp_path / "release")

    assert len(pd.read_csv(tmp_path / "now" / "specimens.csv")) == Specimen.objects.count()
    assert {row["joint"] for row in json.loads(compared)["groups"]} == {"mt_blind"}
    assert checked == "specimens.parquet: OK\n"
    kept = folder(release) / "specimens.parquet"
    assert (tmp_path / "release" / "specimens.parquet").read_bytes() == kept.read_bytes()


@pytest.mark.django_db(transaction=True)
def test_recipes_in_r_are_well_formed_and_name_what_answers(book, live_server, client):
    from pygments.lexers import SLexer
    from pygments.token import Error

    _, printed = book
    for code in (printed["now"]["R:r"], printed["release"]["R:r"]):
        assert not [text for kind, text in SLexer().get_tokens(code) if kind is Error]
        assert code.count("(") == code.count(")") and code.count('"') % 2 == 0
        address = re.search(r'"(http[^"]+)"', code)[1]
        assert client.head(address.removeprefix(live_server.url)).status_code == 200


@pytest.mark.django_db(transaction=True)
def test_recipes_in_r_run_as_printed(book, tmp_path):
    if not shutil.which("Rscript"):
        pytest.skip("Rscript is missing, so the recipes in R were only checked for their form")
    _, printed = book
    count = Specimen.objects.count()
    codes = [printed["now"]["R:r"]]
    has_arrow = subprocess.run(["Rscript", "-e", "library(arrow)"], capture_output=True, check=False).returncode == 0
    if has_arrow:
        codes.append(printed["release"]["R:r"])
    for code in codes:
        (tmp_path / "recipe.R").write_text(code + "\ncat(nrow(specimens))\n")
        assert in_shell("Rscript recipe.R", tmp_path).endswith(str(count))
    if not has_arrow:
        pytest.skip("R's package arrow is missing, so the recipe for a release was only checked for its form")


# the page


@pytest.mark.django_db
@pytest.mark.usefixtures("vocabulary")
def test_page_of_an_empty_book_has_no_release_yet(client):
    page = text(client.get("/data/"))

    assert "0 accepted studies" in page
    assert "There is none yet" in page


@pytest.mark.django_db
@pytest.mark.usefixtures("vocabulary")
def test_page_counts_marks_invented_and_tells_licences_and_the_latest_release(client):
    a_study(invented=True)
    a_published()
    make_study("Not yet", status="draft")
    release = released()

    response = client.get("/data/")
    page = text(response)

    assert "2 accepted studies, 3 series, 6 specimens" in page
    assert "invented 1 study among them is made up" in page
    assert "CC0 1.0 (public domain) : 1 study CC BY 4.0 (use with credit) : 1 study" in page
    assert f"The latest is release {release.name} with 2 studies and 6 specimens" in page
    assert f'<a href="{release.get_absolute_url()}">' in response.content.decode()
    assert '<link rel="alternate" type="application/atom+xml"' in response.content.decode()


@pytest.mark.django_db
@pytest.mark.usefixtures("vocabulary")
def test_page_has_unit_and_meaning_of_every_column(client):
    response = client.get("/data/")

    assert ["moment_nm", "number", "N·m", "moment at the joint, for bending and torsion"] in table(
        response, "Columns of specimens"
    )
    assert ["steps", "list", "", "the derivation: each step's formula, inputs, factor and source"] in table(
        response, "Columns of footings"
    )


@pytest.mark.django_db
@pytest.mark.usefixtures("vocabulary")
def test_every_address_on_the_page_answers(client):
    a_study()
    released()
    page = client.get("/data/").content.decode()

    for link in set(re.findall(r'href="(/(?!static/)[^"]*)"', page)):
        assert client.get(html.unescape(link), follow=True).status_code == 200, link


# figures and the calls that give the same numbers


@pytest.mark.django_db
@pytest.mark.usefixtures("vocabulary")
@pytest.mark.parametrize(
    "path", ["/", "/compare/", "/joints/mt_blind/", "/studies/{study}/", "/timbers/oak_northern_red/"]
)
def test_every_figure_links_to_the_call_that_gives_its_numbers(client, path):
    study = a_shop()
    a_shop("Another", rig=1.1)
    page = client.get(path.format(study=study.pk)).content.decode()
    links = {html.unescape(link) for link in re.findall(r'href="(/api/v1/[^"]*)"', page)}

    for figure in re.findall(r"<figure.*?</figure>", page, re.S):
        assert re.search(r'href="/api/v1/(compare\.json\?[^"]*table=\w+|footings\.csv\?[^"]*)"', figure), figure
    assert links
    for link in links:
        assert client.get(link).status_code == 200, link


@pytest.mark.django_db
@pytest.mark.usefixtures("vocabulary")
def test_numbers_of_a_figure_are_those_of_its_call(client):
    a_shop()
    a_shop("Another", rig=1.1)
    response = client.get("/compare/")
    call = re.search(r'href="(/api/v1/compare\.json\?[^"]*table=groups)"', response.content.decode())[1]

    rows = client.get(html.unescape(call)).json()["results"]

    shown = table(response, "The chart in numbers")
    mean = next(i for i, heading in enumerate(shown[0]) if heading.startswith("Geometric mean"))
    assert [row[mean] for row in shown[1:]] == [f"{row['geometric_mean']:.3g}" for row in rows]


# the change feed


def entries(client):
    response = client.get("/data/changes.atom")
    assert response.status_code == 200
    assert response.headers["Content-Type"] == "application/atom+xml; charset=utf-8"
    return ET.fromstring(response.content).findall("a:entry", ATOM)


def said(entry, name):
    return entry.find(f"a:{name}", ATOM).text


@pytest.mark.django_db
def test_feed_tells_of_accepted_and_withdrawn_studies_the_latest_first(client):
    first = make_study("First", accepted_at=ACCEPTED_AT)
    make_study("Second", accepted_at=ACCEPTED_AT + timedelta(days=2), invented=True)
    Study.objects.filter(pk=first.pk).update(
        status="withdrawn", withdrawn_reason="the arm was wrong", changed_at=ACCEPTED_AT + timedelta(days=5)
    )
    for status in ("draft", "submitted"):
        make_study(f"Hidden {status}", status=status)

    found = entries(client)

    assert [said(entry, "title") for entry in found] == [
        "Withdrawn: First",
        "Accepted: Second (invented)",
        "Accepted: First",
    ]
    assert said(found[0], "summary") == "It no longer counts. Reason: the arm was wrong"
    assert [datetime.fromisoformat(said(entry, "updated")) - ACCEPTED_AT for entry in found] == [
        timedelta(days=5),
        timedelta(days=2),
        timedelta(0),
    ]
    assert found[0].find("a:link", ATOM).get("href") == f"http://testserver/studies/{first.pk}/#withdrawn"
    # A reader knows an entry by its id, so no two may share one.
    assert len({said(entry, "id") for entry in found}) == 3


@pytest.mark.django_db
def test_feed_tells_of_changes_that_were_accepted(client):
    study = accepted("Rails into posts")
    changed(study, why="the scale was read <wrongly>")
    assert [said(entry, "title") for entry in entries(client)] == ["Accepted: Rails into posts"]

    accept(study)

    found = entries(client)
    assert [said(entry, "title") for entry in found] == ["Changed: Rails into posts", "Accepted: Rails into posts"]
    assert said(found[0], "summary") == "Revision 2 was accepted. Reason: the scale was read &lt;wrongly&gt;"
    assert found[0].find("a:link", ATOM).get("href") == f"http://testserver/studies/{study.pk}/revisions/2/"


@pytest.mark.django_db
def test_feed_has_what_atom_asks_for_even_of_an_empty_book(client):
    feed = ET.fromstring(client.get("/data/changes.atom").content)

    assert {"id", "title", "updated", "author"} <= {child.tag.split("}")[1] for child in feed}
    assert feed.find("a:link[@rel='self']", ATOM).get("href") == "http://testserver/data/changes.atom"


@pytest.mark.django_db
def test_feed_gives_peoples_words_as_words(client):
    make_study("Tenons <b>& more</b>\x0b", question="<script>alert(1)</script> or & not\x07?", workshop="A & B\x1b")

    (entry,) = entries(client)

    assert said(entry, "title") == "Accepted: Tenons <b>& more</b>"
    # Its type is HTML, so the words' own signs are written out.
    assert entry.find("a:summary", ATOM).get("type") == "html"
    assert said(entry, "summary") == "&lt;script&gt;alert(1)&lt;/script&gt; or &amp; not?"
    assert entry.find("a:author/a:name", ATOM).text == "A & B"


@pytest.mark.django_db
def test_feed_is_short():
    for number in range(4):
        make_study(f"Study {number}", accepted_at=ACCEPTED_AT + timedelta(days=number))

    assert [change.study.title for change in changes_feed.newest(3)] == ["Study 3", "Study 2", "Study 1"]
