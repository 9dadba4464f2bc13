"""Reading the book: who sees what, what is marked, and that pages say what the records say."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from results.evidence import Draft, restate, state
from results.intake.save import save
from results.models import Series, Setup, Specimen, Study
from tests.factories import (
    make_finding,
    make_joint,
    make_loading,
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
    return save(draft, make_user(), state(draft))


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
    assert 'data-chart="chart-home"' in response.content.decode()


def test_home_of_an_empty_book_invites(client):
    response = page(client, "home")

    assert "Be the first to submit a study." in text(response)
    assert "vendored/plotly" not in response.content.decode()


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


# one study


@pytest.mark.parametrize("status", ["draft", "submitted"])
def test_study_that_is_not_public_is_for_its_owner_alone(client, status):
    study = a_shop(status=status, contributor=make_user("owner"))
    address = study.get_absolute_url()

    assert client.get(address).status_code == 404
    client.force_login(make_user("stranger"))
    assert client.get(address).status_code == 404
    client.force_login(make_user("owner"))
    assert "only you can see it" in text(client.get(address))


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

    assert "First specimen: 133 N × 0.300 m = 40.0 N·m" in shown.replace("\u202f", " ").replace("\xa0", " ")
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
    assert f"Shop by the river (2025). Rails into posts. Breakbook, study {study.pk}. http://testserver/" in shown


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


# own studies


def test_mine_asks_to_log_in_and_then_lists_own_studies_only(client):
    a_shop("Own", contributor=make_user("owner"), status="draft")
    a_shop("Other", contributor=make_user("stranger"))

    assert page(client, "mine").status_code == 302
    client.force_login(make_user("owner"))
    shown = text(page(client, "mine"))
    assert "Own" in shown and "draft" in shown and "Other" not in shown


# joints and timbers


def test_joints_count_what_stands_behind_each(client):
    a_shop("One")
    a_shop("Hidden", status="draft")

    shown = text(page(client, "joints"))

    assert "Glued butt (end butt) : 1 series in 1 study" in shown
    assert "nothing yet" in shown


def test_joint_shows_its_rule_its_dimensions_and_a_mean_where_one_means_something(client, settings):
    settings.DEMO = True  # where invented studies are shown without asking
    a_shop("One", invented=True)

    response = page(client, "joint", "mt_blind")

    shown = text(response)
    assert "A = 2 · n · l · d" in shown and "Source: derived from geometry" in shown
    assert ["tenon_length_mm", "the length of the tenon in the mortise", "for the stress and the ratios"] in table(
        response, "Dimensions that say something"
    )
    rows = {row[1]: row for row in table(response, "What stands on each footing")[1:]}
    assert rows["ratio to solid wood (handbook)"][4] != ""
    assert rows["peak load, N"][4:6] == ["", ""]
    assert "invented All of these results are made up" in shown


def test_joint_that_is_unknown_is_not_there(client):
    assert page(client, "joint", "nonsense").status_code == 404


def test_timbers_are_found_by_common_and_scientific_name(client):
    by_common, by_scientific = page(client, "timbers", q="red oak"), page(client, "timbers", q="quercus rubra")

    assert "Oak, northern red" in text(by_common)
    assert "1 timber, strengths in MPa" in text(by_scientific)
    assert "No timber matches" in text(page(client, "timbers", q="plastic"))
    assert page(client, "timbers", group="metal").status_code == 400


def test_timber_shows_properties_with_their_source_and_provenance(client):
    a_shop(invented=True)

    response = page(client, "timber", "oak_northern_red")

    rows = table(response, "Averages of clear")
    assert ["modulus of rupture (bending strength)", "MPa", "57.2", "99.0"] in rows
    shown = text(response)
    assert "Wood Handbook, FPL-GTR-190 (2010), Table 5-3a" in shown
    assert "the table itself was not opened" in shown
    assert "2 series of accepted studies" in shown and "invented" in shown


# how it works


def test_methods_follow_the_code_they_describe(client):
    from stats.footing.loading import LOADINGS

    response = page(client, "methods")

    shown = text(response)
    assert all(one.formula in shown and one.name in shown for one in LOADINGS.values())
    assert "test on logs at 1 %, for series of 5 broken specimens or more" in shown
    # 127 kg is 1245.4 N; at 304.8 mm that is 379.6 N·m; Z = 22.2 · 63.5² / 6 = 14 919 mm³, so 25.4 MPa.
    plain = shown.replace("\u202f", " ")
    assert "1 250 N × 0.305 m = 380 N·m" in plain
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


def test_study_page_asks_as_many_queries_for_many_series_as_for_few(client, django_assert_max_num_queries):
    study = make_study()
    setup = make_setup(study)
    for label in "ABCDEFGHIJ":
        series = make_series(study, setup=setup, label=label)
        for load in (400, 420, 430):
            make_specimen(series, peak_load_n=load)
    restate(study)

    with django_assert_max_num_queries(12):
        client.get(study.get_absolute_url())
