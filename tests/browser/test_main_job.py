"""The main job walked through as people do it: submit, be checked, compare, take the data."""

from __future__ import annotations

import csv
import io
import re

import pandas as pd
import pytest

from results.models import Study
from results.vocabulary import load_vocabulary
from tests.factories import accept, make_user

from .conftest import log_in, turn_to_chart

pytestmark = pytest.mark.django_db(transaction=True)

LBF_N = 4.4482216152605


@pytest.fixture
def people():
    load_vocabulary()
    return make_user("maker")


def fill(page, **values: str) -> None:
    """Fill fields by name; underscores after the first word stand for the names' own dashes."""
    for name, value in values.items():
        field = page.locator(f"[name='{name}']")
        if field.evaluate("one => one.tagName") == "SELECT":
            field.select_option(value)
        else:
            field.fill(value)


def fill_study(page, loads: dict[int, list[str]]) -> None:
    fill(
        page,
        **{
            "study-title": "Rails into posts",
            "study-question": "What does a tenon add to a plain glued rail?",
            "study-workshop": "Shop by the river",
            "study-tested_on": "2025-03",
            "study-licence": "CC-BY-4.0",
            "setup-reading_unit": "lbf",
            "setup-arm": "12 in",
            "setup-arm_reference": "face",
            "shared-timber": "oak_northern_red",
            "shared-adhesive": "pva",
            "shared-member_thickness": '3/4"',
            "shared-member_depth": "1 1/2 in",
            "series-1-control": "Glued butt",
            "series-2-control": "Glued butt",
        },
    )
    for series, readings in loads.items():
        for row, reading in enumerate(readings):
            fill(page, **{f"specimen-{series}-{row}-reading": reading})
            fill(page, **{f"specimen-{series}-{row}-failure_place": "bond_line"})


LOADS = {0: ["30", "33", "28", "31", "35"], 1: ["64", "71", "60", "66", "69"], 2: ["52", "47", "55", "50", "58"]}


@pytest.mark.parametrize(("size", "javascript"), [("desk", True), ("phone", False)])
def test_a_form_of_three_series_becomes_a_study_a_chart_and_a_csv(people, open_page, live_server, size, javascript):
    page = open_page("/login/", size=size, javascript=javascript)
    log_in(page, "maker", "sawdust")
    page.goto("/submit/")
    page.locator("[name=loading]").select_option("cantilever_arm")
    page.locator("[name=instrument]").select_option("luggage_scale")
    for number, joint in enumerate(["butt", "mt_blind", "dowel"]):
        page.locator("[name=joint]").nth(number).select_option(joint)
    page.get_by_role("button", name="Go to the form").click()

    # A slip first: nothing typed is lost, and the page points at the field.
    fill_study(page, LOADS)
    fill(page, **{"setup-arm": "12 lbf"})
    page.get_by_role("button", name="Check it").click()
    assert page.locator("[name='setup-arm']").get_attribute("aria-invalid") == "true"
    assert page.locator("[name='setup-arm']").input_value() == "12 lbf"
    assert page.locator("[name='specimen-2-4-reading']").input_value() == "58"

    fill(page, **{"setup-arm": "12 in"})
    page.get_by_role("button", name="Check it").click()
    assert not Study.objects.exists()  # it is shown first
    page.get_by_role("button", name=re.compile("^Hand in")).click()
    page.wait_for_url("**/studies/*/")

    study = accept(Study.objects.get())
    page.reload()
    assert page.url == f"{live_server.url}/studies/{study.pk}/"
    assert "Rails into posts" in page.locator("h1").inner_text()
    assert "30 lbf" in page.content()
    # 30 lbf on 12 in: 40.7 N·m, worked on the page.
    assert "40.7 N·m" in page.content()

    page.goto("/compare/")
    rows = page.locator("table", has_text="The chart in numbers").locator("tbody tr")
    assert rows.first.inner_text().split("\t")[0].strip() == "Blind mortise and tenon"
    if javascript:
        assert "Blind mortise" in turn_to_chart(page)
    assert page.faults == []

    frame = pd.read_csv(f"{live_server.url}/api/v1/specimens.csv")
    assert len(frame) == 15
    tenons = frame[frame["joint"] == "mt_blind"]
    assert tenons["peak_load_n"].tolist() == pytest.approx([load * LBF_N for load in (64, 71, 60, 66, 69)])
    assert (tenons["moment_nm"] / tenons["peak_load_n"]).tolist() == pytest.approx([0.3048] * 5)
    assert tenons["ratio_control"].mean() == pytest.approx(2.1, abs=0.05)


def spreadsheet(**changes: str) -> bytes:
    """A flat table of two series of three, with the changes put into the cells they name: ``row2_specimen reading``."""
    head = {
        "study title": "Sheet of tenons",
        "study question": "Does a tenon help?",
        "study workshop": "Saturday class",
        "study licence": "CC0-1.0",
        "setup": "bench rig",
        "setup loading": "cantilever_arm",
        "setup arm": "300 mm",
    }
    rows = []
    for series, joint, loads in (("A", "butt", (210, 230, 221)), ("B", "mt_blind", (480, 455, 502))):
        for number, load in enumerate(loads, start=1):
            rows.append(
                {
                    **(head if not rows else dict.fromkeys(head, "")),
                    "series": series,
                    "series joint": joint if number == 1 else "",
                    "series timber": "ash_white",
                    "series control": "" if series == "A" else "A",
                    "series member thickness": "20 mm",
                    "series member depth": "40 mm",
                    "specimen": f"{series}{number}",
                    "specimen reading": f"{load} N",
                    "specimen outcome": "broke",
                }
            )
    for where, value in changes.items():
        row, column = where.removeprefix("row").split("_", 1)
        rows[int(row)][column] = value
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, fieldnames=list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode()


def send(page, data: bytes, name: str = "tenons.csv") -> None:
    page.goto("/submit/")
    page.locator("input[type=file]").set_input_files({"name": name, "mimeType": "text/csv", "buffer": data})
    page.get_by_role("button", name="Send and look at it").click()


def test_a_spreadsheet_with_three_mistakes_is_mended_and_found_again(people, open_page, live_server):
    page = open_page("/login/")
    log_in(page, "maker", "sawdust")
    wrong = {
        "row1_specimen reading": "-230 N",
        "row3_series joint": "mt_blnd",
        "row5_specimen reading": "502 mm",
    }

    send(page, spreadsheet(**wrong))

    text = page.locator("main").inner_text()
    assert "-230" in text and "mt_blnd" in text and "mt_blind" in text and "502 mm" in text
    assert page.get_by_role("button", name="Hand in").count() == 0
    assert not Study.objects.exists()
    with page.expect_download() as sent_back:
        page.get_by_role("link", name="findings").first.click()
    with open(sent_back.value.path(), newline="", encoding="utf-8-sig") as file:
        back = list(csv.reader(file))
    assert back[0][-1] == "findings"
    assert [bool(row[-1]) for row in back[1:]] == [False, True, False, True, False, True]
    assert back[2][back[0].index("specimen reading")] == "-230 N"

    send(page, spreadsheet())
    page.get_by_role("button", name="Hand in").first.click()
    page.wait_for_url("**/studies/*/")

    study = accept(Study.objects.get())
    assert page.url == f"{live_server.url}/studies/{study.pk}/"
    page.goto("/compare/?joint=mt_blind&joint=butt")
    chart = turn_to_chart(page)
    assert "Blind mortise" in chart and "3 specimens" in chart
    frame = pd.read_csv(f"{live_server.url}/api/v1/specimens.csv?study={study.pk}")
    assert frame["specimen"].tolist() == ["A1", "A2", "A3", "B1", "B2", "B3"]
    assert frame.loc[4, "moment_nm"] == pytest.approx(455 * 0.3)
    assert page.faults == []
