"""More series and more rows: like the last one but for something, and pasted from a spreadsheet."""

from __future__ import annotations

import re
import uuid

import pytest

from results.intake.words import Words
from results.models import Study
from results.pages.submit_paste import paste
from results.pages.submit_typed import SPECIMENS_MOST, SeriesTyped, Typed
from tests.factories import make_user

from .forms import form, post, save, values_of
from .shops import text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]
FORM = "/submit/form/"


@pytest.fixture
def owner(client):
    user = make_user("owner")
    client.force_login(user)
    return user


# like the last one, but ...


def test_add_like_last_takes_all_but_name_specimens_and_figures(client, owner):
    data = form(series__1__timber="Ash, white", series__1__mean="40", specimen__1__1__notes="cracked")

    page = post(client, data, "add-like")

    kept = values_of(page)
    assert kept["series-count"] == "3"
    assert kept["series-2-series"] == "Tenon 2"
    same = ("joint", "control", "tenon_length", "tenon_depth", "timber", "rows")
    assert {name: kept[f"series-2-{name}"] for name in same} == {name: kept[f"series-1-{name}"] for name in same}
    assert kept["series-2-mean"] == ""
    assert not [name for name, value in kept.items() if name.startswith("specimen-2-") and value not in ("", "broke")]
    assert {name: kept[name] for name in data if name in kept and name != "series-count"} == {
        name: value for name, value in data.items() if name != "series-count"
    }


@pytest.mark.parametrize(
    ("label", "other", "new"),
    [
        ("A", "B", "B 2"),
        ("B", "A", "C"),
        ("Tenon", "Butt", "Tenon 2"),
        ("Tenon 2", "Tenon 3", "Tenon 4"),
        ("9", "x", "10"),
        ("Z", "x", "Z 2"),
    ],
)
def test_add_like_last_names_it_sensibly(label, other, new):
    typed = Typed(uuid.uuid4(), series=[SeriesTyped({"series": other}), SeriesTyped({"series": label})])

    typed.add_like_last()

    if (label, other) == ("A", "B"):  # B is taken, C is free
        new = "C"
    assert typed.series[2].values["series"] == new


@pytest.mark.parametrize(
    ("differs", "focus"),
    [
        ("", "series-2-series"),
        ("timber", "series-2-timber"),
        ("tenon_length", "series-2-tenon_length"),
        ("joint", "series-2-joint"),
    ],
)
def test_add_like_last_goes_on_in_the_field_that_differs(client, owner, differs, focus):
    page = post(client, form() | {"differs": differs}, "add-like")

    tags = re.findall(r'<(?:input|select|textarea) id="([^"]*)"[^>]* autofocus', page.content.decode())
    assert tags == [focus]
    assert focus.split("-")[-1].replace("_", " ") in [one.column for one in page.context["shown"].series[2].fields]


def test_form_offers_what_the_next_series_may_differ_in(client, owner):
    page = post(client, form(), "refresh")

    assert ("tenon_length", "tenon length") in page.context["shown"].differs
    assert ("timber", "timber") in page.context["shown"].differs


def test_add_series_has_as_many_rows_as_the_last(client, owner):
    page = post(client, form(series__1__rows="7") | {"add-joint": "dowel"}, "add-series")

    assert values_of(page)["series-2-rows"] == "7"


def test_add_stops_at_what_a_form_holds(client, owner):
    data = form() | {"series-count": "20"}

    page = post(client, data, "add-like")

    assert values_of(page)["series-count"] == "20"
    assert "A form holds no more series; send a spreadsheet for more." in text(page)


# pasted


def pasted(text_, rows=3, filled=()):
    typed = Typed(uuid.uuid4(), series=[SeriesTyped({"series": "A"}, [{} for _ in range(rows)])])
    for at in filled:
        typed.series[0].specimens[at] = {"reading": "7"}
    told = paste(typed, 0, text_, Words())
    return [row for row in typed.series[0].specimens if row], told


@pytest.mark.parametrize(
    ("copied", "rows"),
    [
        ("118\n120\n", [{"reading": "118"}, {"reading": "120"}]),
        ("118,5\r\n120,25", [{"reading": "118,5"}, {"reading": "120,25"}]),
        ("118.5 lbf\tbroke\n1/2 kN\theld", None),
        ("118\t\tbond line\t40", [{"reading": "118", "failure place": "bond_line", "wood failure": "40"}]),
        ("118\tb\twood\t40 %", [{"reading": "118", "outcome": "broke", "failure place": "wood_beside_bond",
                                 "wood failure": "40 %"}]),
        ("118;void;;;the clamp slipped", [{"reading": "118", "outcome": "void", "void reason": "the clamp slipped"}]),
        ("118\t\t3", [{"reading": "118", "failure place": "tenon_or_fastener"}]),
        ("118\tm\tm", [{"reading": "118", "outcome": "m", "failure place": "m"}]),
        ('118\t\t\t\t\t"two\nlines"', [{"reading": "118", "notes": "two\nlines"}]),
        ("Reading (lbf)\tOutcome\n118\tbroke\n120 N\theld", [
            {"reading": "118 lbf", "outcome": "broke"}, {"reading": "120 N", "outcome": "held"}]),
        ("specimen\treading\nA1\t118\n\nA2\t120", [
            {"specimen": "A1", "reading": "118"}, {"specimen": "A2", "reading": "120"}]),
    ],
)  # fmt: skip
def test_paste_fills_rows_as_typed(copied, rows):
    found, told = pasted(copied)

    if rows is None:
        rows = [{"reading": "118.5 lbf", "outcome": "broke"}, {"reading": "1/2 kN", "outcome": "held"}]
    assert found == rows
    assert told.left_out == []
    assert told.told.startswith(f"{len(rows)} row")


def test_paste_goes_into_blank_rows_and_new_ones_and_replaces_nothing():
    found, told = pasted("1\n2\n3\n4", rows=3, filled=[1])

    assert [row["reading"] for row in found] == ["1", "7", "2", "3", "4"]
    assert (told.rows, told.added) == (4, 2)
    assert told.told == "4 rows filled in, 2 of them new, read as reading."


@pytest.mark.parametrize(
    ("copied", "left_out"),
    [
        ("load\tend\n118\tbroke", "Row 1 looks like headings: 'load | end'."),
        ("118\tbroke\tmember\t4\t\t\textra", "Row 1, column 7: 'extra' has no column to go to."),
        ("reading\tcolour\n118\tred", "Column 'colour': a specimen has no such field."),
        ("\n".join(["118"] * 103), "Rows 101 to 103 were left out: the form holds 100 specimens of a series"),
        ("\n".join(["118"] * 101), "Row 101 was left out: the form holds 100 specimens of a series"),
    ],
)
def test_paste_says_what_it_left_out(copied, left_out):
    found, told = pasted(copied)

    assert [one for one in told.left_out if one.startswith(left_out)], told.left_out
    assert len(found) <= SPECIMENS_MOST


@pytest.mark.parametrize("copied", ["", "\n\n", "\t\t", "\x00"])
def test_paste_of_nothing_says_so(copied):
    found, told = pasted(copied)

    assert found == [] or copied == "\x00"
    assert told.told == "Nothing was put into the grid." or copied == "\x00"


def test_paste_without_scripts_shows_the_rows_and_what_was_left_out(client, owner):
    data = form() | {"series-1-paste": "reading\tcolour\n140\tred\n150\tblue\n160\t"}

    page = post(client, data, "paste-1")

    kept = values_of(page)
    assert [kept[f"specimen-1-{row}-reading"] for row in range(7)] == ["118", "120", "125", "131", "140", "150", "160"]
    assert "3 rows filled in, 1 of them new, read as reading." in text(page)
    assert "a specimen has no such field" in text(page)
    assert post(client, data | {"series-1-paste": "1"}, "paste-9").status_code == 200


# figures from a publication


def test_published_form_asks_citation_first_and_means_instead_of_specimens(client, owner):
    page = client.get(FORM + "?figures=published&loading=cantilever_arm&joint=butt&joint=dowel&specimens=3")

    shown = page.context["shown"]
    assert [one.column for one in shown.study.fields][:3] == ["citation", "source url", "title"]
    assert shown.study.fields[0].required
    assert [one.by_mean for one in shown.series] == [True, True]
    assert "reads" in [one.column for one in shown.setup.fields]
    kept = values_of(page)
    assert (kept["study-origin"], kept["series-0-results"]) == ("published", "mean")
    assert "without n the mean weighs as a single specimen" in text(page)


def published(**changes):
    data = {name: value for name, value in form().items() if not name.startswith("specimen-")}
    data |= {"study-origin": "published", "study-citation": "A. Author, Joints, 1999"}
    data |= {f"series-{at}-results": "mean" for at in (0, 1)}
    data |= {"series-0-mean": "40", "series-0-sd": "4", "series-0-n": "10", "series-1-mean": "120"}
    return data | changes


def test_published_means_without_count_or_spread_are_taken_and_what_follows_is_said(client, owner):
    page = post(client, published())

    assert page.status_code == 200
    found = {one.code: (one.message, anchor) for one, anchor in page.context["findings"]}
    assert found["no-spread"] == (
        "Series Tenon: a mean without a standard deviation; its spread is borrowed from like series, "
        "and it carries less weight.",
        "series-1-sd",
    )
    assert found["no-count"] == (
        "Series Tenon: a mean without a count; it weighs as a single specimen.",
        "series-1-n",
    )
    save(client, published(key=str(uuid.uuid4())))
    study = Study.objects.get()
    assert (study.origin, study.citation) == ("published", "A. Author, Joints, 1999")
    assert [(one.summary.n, one.summary.sd_typed) for one in study.series.all()] == [(10, "4 kg"), (None, "")]


@pytest.mark.parametrize(
    ("changes", "anchor", "code"),
    [
        ({"study-citation": ""}, "study-citation", "missing"),
        ({"series-1-mean": ""}, "series-1-mean", "no-results"),
        ({"series-0-mean": ""}, "series-0-sd", "spread-without-mean"),
        ({"series-0-n": "1"}, "series-0-sd", "spread-of-one"),
        ({"series-0-n": "2.5"}, "series-0-n", "not-whole"),
        ({"series-0-sd": "400"}, "series-0-sd", "spread-above-mean"),
        ({"series-0-mean": "40 mm"}, "series-0-mean", "wrong-unit-kind"),
        ({"study-source_url": "javascript:alert(1)"}, "study-source_url", "not-a-url"),
    ],
)
def test_published_form_points_at_what_is_wrong(client, owner, changes, anchor, code):
    page = post(client, published(**changes))

    assert (anchor, code) in [(where, one.code) for one, where in page.context["findings"]]


def test_published_series_like_the_last_is_a_mean_too(client, owner):
    page = post(client, published(), "add-like")

    assert values_of(page)["series-2-results"] == "mean"
    assert values_of(page)["series-2-mean"] == ""
