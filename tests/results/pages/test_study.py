"""A study's page: who sees it, its workings, its setups drawn, how it is cited, what it costs."""

from __future__ import annotations

import html
import re
from xml.etree import ElementTree

import pandas as pd
import pytest
from django.db import connection
from django.template.loader import render_to_string
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from results.evidence import Draft, restate, state
from results.evidence.study import study_view
from results.intake.save import save
from results.models import Release, Series, Setup, Specimen, Study
from results.pages import study as study_page
from results.pages import study_tables, tables
from tests.factories import (
    make_finding,
    make_joint,
    make_loading,
    make_reviewer,
    make_series,
    make_setup,
    make_specimen,
    make_study,
    make_summary,
    make_user,
)

from .shops import a_shop, table, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def a_big_study(n):
    """One series of so many specimens, saved as a submission is."""
    study = Study(title="Many", question="How do they spread?", workshop="Shop by the river")
    setup = Setup(study=study, label="arm", loading=make_loading(), arm_mm=300.0)
    series = Series(study=study, setup=setup, label="A", joint=make_joint())
    specimens = [
        Specimen(
            series=series,
            label=str(number),
            position=number,
            reading_typed="1240",
            reading_unit="N",
            peak_load_n=1240.0 + number % 7,
        )
        for number in range(n)
    ]
    draft = Draft(study, [setup], [series], {"A": specimens})
    return save(draft, make_user(), state(draft), status="accepted")


@pytest.mark.parametrize("status", ["draft", "submitted", "returned"])
def test_study_that_is_not_public_is_for_its_owner_and_reviewers(client, status):
    study = a_shop(status=status, contributor=make_user("owner"))
    address = study.get_absolute_url()

    assert client.get(address).status_code == 404
    client.force_login(make_user("stranger"))
    assert client.get(address).status_code == 404
    client.force_login(make_reviewer())
    assert client.get(address).status_code == (404 if status == "draft" else 200)
    client.force_login(make_user("owner"))
    only = "Only you can see it" if status == "draft" else "only you and reviewers can read it"
    assert only in text(client.get(address))


def test_study_withdrawn_stays_readable_with_its_reason(client):
    study = a_shop(status="withdrawn")

    shown = text(client.get(study.get_absolute_url()))

    assert "Withdrawn." in shown and "Reason: the arm was measured wrongly" in shown
    assert "butt: Glued butt" in shown


def test_study_that_is_invented_says_so(client):
    assert "invented This study is made up" in text(client.get(a_shop(invented=True).get_absolute_url()))
    assert "This study is made up" not in text(client.get(a_shop("Real").get_absolute_url()))


def test_study_shows_each_footing_with_its_working_and_what_is_missing(client):
    study = a_shop()

    shown = text(client.get(study.get_absolute_url()))

    assert "First specimen: 133.3 N × 0.300 m = 40.0 N·m" in shown.replace("\u202f", " ").replace("\xa0", " ")
    assert "M = F · a , with a = 300 mm: × 0.3000" in shown
    assert "No ratio to control : missing: a control in the same study" in shown
    assert "arm 300 mm 300 mm" in shown


def test_study_shows_the_numbers_of_a_series_with_and_without_flagged_specimens(client):
    study = a_shop()
    odd = Specimen.objects.filter(series__label="butt").last()
    Specimen.objects.filter(pk=odd.pk).update(flagged=True)

    heading, *rows = table(client.get(study.get_absolute_url()), "Series butt in numbers")

    loads = [dict(zip(heading, row, strict=True)) for row in rows if row[0] == "moment at the joint, N·m"]
    assert [(row["Specimens"], row["n"], row["Geometric mean"]) for row in loads] == [
        ("all", "3", "43.9"),  # (40 · 44 · 48)^(1/3) = 43.88
        ("without flagged", "2", "42.0"),  # (40 · 44)^(1/2) = 41.95
    ]


def test_study_counts_held_specimens_as_at_least_this_strong(client):
    study = make_study()
    series = make_series(study, label="A")
    for load in (400, 420, 430, 450):
        make_specimen(series, peak_load_n=load)
    make_specimen(series, peak_load_n=500, outcome="held")
    restate(study)

    response = client.get(study.get_absolute_url())

    heading, first, *_ = table(response, "Series A in numbers")
    row = dict(zip(heading, first, strict=True))
    assert (row["n"], row["Held"]) == ("5", "1")
    as_read = (400 * 420 * 430 * 450 * 500) ** 0.2
    assert float(row["Geometric mean"]) > as_read
    rows = table(response, "Specimens of series A")
    assert [cells[rows[0].index("Outcome")] for cells in rows[1:]] == ["broke"] * 4 + ["held"]


def test_study_lists_findings_with_their_place(client):
    study = a_shop()
    series = study.series.get(label="butt")
    make_finding(study, series=series, specimen=series.specimens.first(), field="reading", value="12", remedy="Look.")

    shown = text(client.get(study.get_absolute_url()))

    label = series.specimens.first().label
    assert f"doubt series butt , specimen {label}, reading ( 12 ): It lies far from the others. Look." in shown


def test_study_of_10_000_specimens_shows_50_and_links_to_the_rest(client):
    study = a_big_study(10_000)
    series = study.series.get()

    response = client.get(study.get_absolute_url())

    assert len(table(response, "Specimens of series A, the first 50 of 10 000")) == 51
    assert "9 950 specimens more in the CSV of this series" in text(response).replace("\u202f", " ")
    assert f"{reverse('api:specimens', args=['csv'])}?series={series.pk}" in response.content.decode()
    assert len(response.content) < 100_000


def test_study_with_a_published_mean_says_what_was_not_stated(client):
    study = make_study(origin="published", citation="A handbook, 1998.")
    make_summary(make_series(study, label="A"))
    restate(study)

    response = client.get(study.get_absolute_url())

    assert "spread not stated, number of specimens not stated" in text(response)
    assert "taken from: A handbook, 1998." in text(response)
    row = dict(zip(*table(response, "Series A in numbers")[:2], strict=True))
    assert (row["Geometric mean"].replace("\u202f", " "), row["n"]) == ("1 000", "not stated")


def test_study_names_its_licence_and_how_to_cite_it(client):
    study = a_shop(licence="CC0-1.0")

    shown = text(client.get(study.get_absolute_url()))

    assert "Licence: CC0 1.0 (public domain)" in shown
    cited = (
        f"Shop by the river (2025). Rails into posts. Breakbook, study {study.pk}. Tested 2025-03. Licence CC0-1.0. "
    )
    assert f"{cited}http://testserver{study.get_absolute_url()}" in shown


def test_study_offers_withdrawal_to_its_owner_only(client):
    study = a_shop(contributor=make_user("owner"))
    form = f'action="{reverse("submit:withdraw", args=[study.pk])}"'

    assert form not in client.get(study.get_absolute_url()).content.decode()
    client.force_login(make_user("stranger"))
    assert form not in client.get(study.get_absolute_url()).content.decode()
    client.force_login(make_user("owner"))
    assert form in client.get(study.get_absolute_url()).content.decode()


def test_study_shows_typed_markup_as_text(client):
    study = a_shop("<b>Bold</b>", question="<script>alert(1)</script>")

    shown = client.get(study.get_absolute_url()).content.decode()

    assert "<script>alert" not in shown and "&lt;b&gt;Bold&lt;/b&gt;" in shown


def test_study_with_a_huge_number_is_not_there(client):
    assert client.get("/studies/99999999999999999999999/").status_code == 404


# workings


def first_working(response):
    return " ".join(
        html.unescape(re.search(r'class="working">.*?<code>(.*?)</code>', response.content.decode())[1]).split()
    )


def test_study_carries_one_line_through_the_numbers(client):
    study = make_study()
    series = make_series(study, member_thickness_mm=20.0, member_depth_mm=40.0, moisture_pct=12.0)
    make_specimen(series, peak_load_n=1247.0)
    restate(study)

    # Z = 20 · 40² / 6 = 5 333 mm³; handbook 99 MPa, which its depth and moisture leave as it is but for size
    line = first_working(client.get(study.get_absolute_url()))

    steps = line.split("; ")
    assert steps[0] == "1 247 N × 0.300 m = 374 N·m"
    assert steps[1] == "374.1 N·m ÷ 5 333 mm³ = 70.1 MPa"
    assert re.fullmatch(r"70\.14 MPa ÷ [\d.]+ MPa = 0\.\d{3}", steps[2])
    divisor, ratio = map(float, re.findall(r"[\d.]+", steps[2])[1:])
    assert 70.14 / divisor == pytest.approx(ratio, abs=0.0006)


def test_study_begins_its_line_with_what_was_typed_in_another_unit(client):
    study = make_study()
    series = make_series(study)
    make_specimen(series, peak_load_n=1245.5, reading_typed="280", reading_unit="lbf")
    restate(study)

    line = first_working(client.get(study.get_absolute_url()))

    assert line.startswith("280 lbf read = 1 246 N; 1 246 N × 0.300 m = 374 N·m; ")


def test_study_says_a_unit_once_where_it_was_typed_with_the_number(client):
    study = make_study()
    make_specimen(make_series(study, label="A"), peak_load_n=510.0, reading_typed="52 kg", reading_unit="kg")
    restate(study)

    response = client.get(study.get_absolute_url())

    assert first_working(response).startswith("52 kg read = 510.0 N; 510 N × 0.300 m = 153 N·m; ")
    assert table(response, "Specimens of series A")[1][1] == "52 kg"


def test_study_breaks_no_number_over_lines(client):
    study = make_study()
    make_specimen(make_series(study), peak_load_n=12470.0)
    restate(study)

    page = client.get(study.get_absolute_url()).content.decode()

    assert "12\xa0470 N" in page


def test_tables_written_out_are_those_of_the_template():
    columns = {
        "Name": ["<b>one</b>", "two & three", "a text so long that it needs a wide column"],
        "Value": [1.23456, None, 12.0],
        "Count": [3, 10_000, 5],
        "Nothing": ["", None, ""],
    }

    quick = study_tables.of_columns(columns, "A <caption>")

    assert quick == tables.of_frame(pd.DataFrame(columns), "A <caption>")
    written, expected = study_tables.markup(quick), render_to_string("includes/table.html", {"table": quick})
    assert re.sub(r">\s+<", "><", written) == re.sub(r">\s+<", "><", expected).strip()


# setups


def drawings_of(response):
    page = response.content.decode()
    found = re.findall(r'<div class="setup-drawing">(<svg.*?</svg>)</div>', page, re.DOTALL)
    return [ElementTree.fromstring(svg) for svg in found]


def labels(svg):
    return " ".join(one.text or "" for one in svg.iter("{http://www.w3.org/2000/svg}text"))


def test_study_draws_each_setup_with_its_own_lengths(client):
    study = a_shop()
    make_setup(study, label="two supports", loading="centre_point_bending", arm_mm=None, span_mm=610.5)
    make_setup(study, label="twelve <inches>", loading="two_point_bending", arm_mm=None)

    drawn = drawings_of(client.get(study.get_absolute_url()))

    assert len(drawn) == 3
    assert "arm 300 mm" in labels(drawn[0]) and "Members 20 × 40 mm." in labels(drawn[0])
    assert "span 610.5 mm" in labels(drawn[1])
    assert "to load: not given" in labels(drawn[2]) and "Not to scale." in labels(drawn[2])
    titles = [svg.find("{http://www.w3.org/2000/svg}title") for svg in drawn]
    assert titles[2].text.startswith("twelve <inches>: ")
    assert len({title.attrib["id"] for title in titles}) == 3


def test_setup_is_drawn_with_the_sizes_that_its_series_share(client):
    study = make_study()
    setup = make_setup(study)
    for depth in (40.0, 60.0):
        make_specimen(make_series(study, setup=setup, member_depth_mm=depth))
    restate(study)

    drawn = drawings_of(client.get(study.get_absolute_url()))

    assert "Members" not in labels(drawn[0]) and "members not to scale" in labels(drawn[0])


def test_study_whose_wrench_reads_the_moment_needs_no_arm(client):
    study = make_study()
    make_setup(study, reads="moment", arm_mm=None, instrument_id="torque_wrench")

    drawn = drawings_of(client.get(study.get_absolute_url()))

    assert "M, as read" in labels(drawn[0]) and "not given" not in labels(drawn[0])


# citing


def test_citation_names_the_release_that_holds_the_study(client):
    study = a_shop()
    later = study.accepted_at
    Release.objects.create(date="2020-01-01", number=1, as_of="2020-01-01T00:00:00Z", data_hash="0" * 64)
    assert ", release" not in text(client.get(study.get_absolute_url()))

    Release.objects.create(date="2031-02-03", number=2, as_of=later, data_hash="1" * 64)

    assert f"Breakbook, study {study.pk}, release 2031-02-03-2." in text(client.get(study.get_absolute_url()))


def test_citation_is_there_for_bibtex_with_its_signs_escaped(client):
    study = a_shop("50 % more & better_{joints}", workshop="Söhne & Co", invented=True)

    shown = client.get(study.get_absolute_url()).content.decode()

    entry = html.unescape(re.search(r"<code>(@misc.*?)</code>", shown, re.DOTALL)[1])
    assert entry.startswith(f"@misc{{breakbook-study-{study.pk},\n")
    assert r"title = {{50 \% more \& better\_\{joints\}}}" in entry
    assert r"author = {{Söhne \& Co}}" in entry
    assert "Invented data." in entry and entry.count("{") - entry.count(r"\{") == entry.count("}") - entry.count(r"\}")


# cost


def test_study_page_asks_as_many_queries_for_many_series_as_for_few(client, django_assert_num_queries):
    a_shop("Other")
    counts = []
    for size in (2, 20):
        study = make_study(f"Of {size}")
        setup = make_setup(study)
        for label in range(size):
            series = make_series(study, setup=setup, label=str(label), joint="butt" if label % 2 else "mt_blind")
            for load in (400, 420, 430):
                make_specimen(series, peak_load_n=load)
        restate(study)
        with CaptureQueriesContext(connection) as caught:
            assert client.get(study.get_absolute_url()).status_code == 200
        counts.append(len(caught))

    assert counts[0] == counts[1] <= 22
    # The study, the version of the data; its revisions, photos and questions, which are no data; and what is kept.
    with django_assert_num_queries(7):
        client.get(study.get_absolute_url())


def test_study_page_that_is_public_is_worked_out_once(client, monkeypatch):
    study = a_shop()
    worked = []
    monkeypatch.setattr(study_page, "study_view", lambda record: worked.append(record.pk) or study_view(record))

    client.get(study.get_absolute_url())
    client.get(study.get_absolute_url())
    assert worked == [study.pk]

    make_finding(study)
    assert "It lies far from the others." in text(client.get(study.get_absolute_url()))
    assert worked == [study.pk] * 2


def test_what_is_noticed_of_several_series_alike_is_said_once_with_a_link_to_each(client):
    study = make_study(status="accepted")
    one, two = (make_series(study, label=label) for label in ("Butt", "Tenon"))
    for series in (one, two):
        words = f"Series {series.label}: the arm (50.0 mm) is short."
        make_finding(study, series=series, code="short-arm", severity="remark", message=words)
    make_finding(study, series=two, code="short-arm", severity="remark", message="Series Tenon: the arm is long.")

    page = client.get(study.get_absolute_url()).content.decode()
    noticed = page.partition('class="findings"')[2].partition("</ul>")[0]

    assert noticed.count("The arm (50.0 mm) is short.") == 1 and noticed.count("<li>") == 2
    assert noticed.count(f'href="#series-{one.pk}"') == 1 and noticed.count(f'href="#series-{two.pk}"') == 2
