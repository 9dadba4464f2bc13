"""Charts, tables and figures in the units that a reader chose: the same numbers, each times one factor."""

from __future__ import annotations

import re

import pandas as pd
import pytest

from results.models import Study
from results.pages import scale
from results.site.choices import Choices, told

# Factors of NIST Special Publication 811 (2008), appendix B.8: one of each in SI.
NIST = {"N": ("lbf", 4.448222), "mm": ("in", 25.4), "N·m": ("ft·lbf", 1.355818), "MPa": ("psi", 6.894757e-3)}
pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("demo_book")]


@pytest.fixture(autouse=True)
def demonstration(settings):
    """Where invented studies are shown without asking."""
    settings.DEMO = True


# Pages with tables in units; how many columns of numbers in such they have at least.
PAGES = [
    ("/compare/?action=bending&footing=at_joint", 4),
    ("/compare/?action=bending&footing=stress&timber=oak_northern_red", 4),
    ("/joints/mt_blind/?footing=at_joint", 4),
    ("/timbers/oak_northern_red/", 1),
    ("/piece/chair_leaned/?joint=mt_blind&timber=oak_northern_red", 4),
    ("/piece/leverage/?moment_nm=120+N·m", 2),
    ("/piece/movement/?width_mm=300+mm&timber=oak_northern_red", 1),
    ("a study", 8),
]


def both(client, address: str) -> tuple[str, str]:
    """A page as nobody chose, and in pounds and inches."""
    if address == "a study":
        address = Study.objects.accepted().get(title="Rails into posts").get_absolute_url()
    client.cookies.pop("units", None)
    plain = client.get(address)
    client.cookies["units"] = "imperial"
    other = client.get(address)
    assert plain.status_code == other.status_code == 200
    return plain.content.decode(), other.content.decode()


def numbers(text: str) -> list[float]:
    """The numbers of a text, whose thousands are set apart by a space."""
    return [float(one.replace(" ", "").replace("−", "-")) for one in re.findall(r"[-−]?\d+(?: \d{3})*(?:\.\d+)?", text)]


def tables(page: str) -> list[tuple[list[str], list[list[str]]]]:
    """Headings and rows of each table."""
    found = []
    for whole in re.findall(r"<table.*?</table>", page, re.DOTALL):
        head, _, body = whole.partition("</thead>")
        rows = re.findall(r"<tr>(.*?)</tr>", body, re.DOTALL)
        cells = [re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row, re.DOTALL) for row in rows]
        found.append(
            (
                [plain(one) for one in re.findall(r"<th[^>]*>(.*?)</th>", head, re.DOTALL)],
                [[plain(one) for one in row] for row in cells],
            )
        )
    return found


def plain(marked: str) -> str:
    return re.sub(r"<[^>]+>", "", marked).strip()


# -- factors ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("unit", NIST)
def test_a_column_and_a_number_have_the_factor_of_the_table(unit):
    other, factor = NIST[unit]
    with told(Choices(units="imperial")):
        assert scale.readers(unit) == other
        assert scale.scaled(1000.0, unit) == pytest.approx(1000 / factor, rel=1e-6)
        frame = scale.frame(pd.DataFrame({"value": [1.0, None], "n": [3, 4], "low": [0.5, 2]}), unit)
    assert frame["value"].tolist()[0] == pytest.approx(1 / factor, rel=1e-6)
    assert frame["value"].isna().tolist() == [False, True] and frame["n"].tolist() == [3, 4]
    assert frame["low"].tolist() == pytest.approx([0.5 / factor, 2 / factor], rel=1e-6)


def test_a_ratio_and_what_nobody_chose_stay_as_they_are():
    rows = pd.DataFrame({"value": [1.0]})

    with told(Choices(units="imperial")):
        assert scale.frame(rows, "") is rows and scale.readers("") == "" and scale.readers("%") == "%"
    assert scale.frame(rows, "N") is rows and scale.readers("N") == "N"


# -- pages -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("address", "least"), PAGES)
def test_every_column_with_a_unit_is_the_same_times_the_factor(client, address, least):
    before, after = both(client, address)

    columns = 0
    for (headings, rows), (headings_2, rows_2) in zip(tables(before), tables(after), strict=True):
        for at, heading in enumerate(headings):
            name, _, unit = heading.rpartition(", ")
            if unit not in NIST:
                continue
            other, factor = NIST[unit]
            assert headings_2[at] == f"{name}, {other}"
            for row, row_2 in zip(rows, rows_2, strict=True):
                assert row[0] == row_2[0] or headings[0].endswith(tuple(NIST))
                told_2, expected = numbers(row_2[at]), [one / factor for one in numbers(row[at])]
                assert told_2 == pytest.approx(expected, rel=0.012, abs=0.006), (heading, row[0])
            columns += 1
    assert columns >= least


@pytest.mark.parametrize(
    ("address", "unit"),
    [
        ("/", ""),
        ("/compare/?action=bending&footing=at_joint", "ft·lbf"),
        ("/joints/mt_blind/?footing=at_joint", "ft·lbf"),
        ("/timbers/oak_northern_red/", ""),
        ("/piece/chair_leaned/?joint=mt_blind&timber=oak_northern_red", "in"),
        ("/piece/leverage/?moment_nm=120+N·m", "lbf"),
        ("/piece/movement/?width_mm=300+mm&timber=oak_northern_red", "in"),
        ("a study", ""),
    ],
)
def test_charts_say_in_their_address_what_they_are_in_and_everybody_gets_the_same(client, address, unit):
    before, after = both(client, address)

    charts = [one.replace("&amp;", "&") for one in re.findall(r'[^" ]*\.svg\?[^" ]*', after)]
    assert charts and all("units=imperial" in one for one in charts)
    assert "units=imperial" not in before
    for chart in charts[:2]:
        with_cookie = client.get(chart)
        client.cookies.pop("units", None)
        without = client.get(chart)
        client.cookies["units"] = "imperial"
        assert with_cookie.status_code == 200 and with_cookie.content == without.content
        assert "public" in without.headers["Cache-Control"]
        assert re.search(rf"\b{unit}\b", without.content.decode())
        plain_one = client.get(chart.replace("&units=imperial", "").replace("units=imperial&", ""))
        assert plain_one.status_code == 200
        assert (plain_one.content == without.content) is (not unit)


def test_units_that_there_are_not_are_told(client):
    answer = client.get("/compare/chart/strength.svg?action=bending&footing=at_joint&units=cubits")

    assert answer.status_code == 400
    assert "cubits" in answer.content.decode() and "si, imperial" in answer.content.decode()


def test_programs_get_si_whatever_a_browser_chose(client):
    address = "/api/v1/compare.json?action=bending&footing=at_joint"
    plain_answer = client.get(address).json()
    client.cookies["units"] = "imperial"

    assert client.get(address).json() == plain_answer
