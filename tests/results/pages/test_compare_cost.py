"""What the comparison page costs: queries, marks, and the size of its charts before they are drawn."""

from __future__ import annotations

import json
import re
from html import unescape

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from results.evidence import Choices, compare
from results.models import Series, SeriesFooting, Specimen, Study
from results.pages.comparison import chart_of, charts_of
from stats.charts.look import MOST_MARKS
from tests.bench.evidence_book import fill
from tests.factories import make_specimen
from tests.results.pages.shops import a_shop, text

pytestmark = [pytest.mark.story, pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]
# Everything in all: one for the data version, one for each vocabulary, two for what is packed and so on.
MOST_COLD, MOST_WARM = 30, 14


def asked(client, address: str) -> int:
    """Queries of a page."""
    with CaptureQueriesContext(connection) as queries:
        assert client.get(address).status_code == 200
    return len(queries)


@pytest.mark.parametrize("query", ["", "?joint=mt_blind", "?footing=stress", "?footing=at_joint&flagged=without"])
def test_page_asks_as_many_queries_for_many_studies_as_for_few(client, query):
    address = reverse("compare:compare") + query
    for number in range(2):
        a_shop(f"Shop {number}")
    client.get(address)  # what a process asks but once
    few = asked_cold(client, address)
    for number in range(8):
        a_shop(f"Another {number}", rig=1 + number / 50)

    many, again = asked_cold(client, address), asked(client, address)

    assert many <= few <= MOST_COLD
    assert again <= MOST_WARM


def asked_cold(client, address: str) -> int:
    Study.objects.first().save()  # raises the data version
    return asked(client, address)


def test_charts_have_the_size_that_they_have_when_they_are_drawn():
    study = a_shop("One")
    a_shop("Two", rig=1.2)
    make_specimen(study.series.first(), peak_load_n=200.0, outcome="held")
    found = compare(Choices())

    outlines = charts_of(found)

    assert set(outlines) == {"strength", "ratios", "failures"}
    for name, outline in outlines.items():
        whole = chart_of(found, name)
        for width in (350, 760):
            assert outline.size(width, "foot") == whole.size(width, "foot")
        assert outline.summary == whole.summary
        assert outline.table.equals(whole.table)
        assert len(json.dumps(outline.to_json())) <= len(json.dumps(whole.to_json()))


@pytest.fixture
def large() -> dict[str, int]:
    """A generated book with more specimens in one comparison than a chart draws."""
    Study.objects.all().delete()
    return fill(60)


def test_a_generated_book_holds_together(large):
    assert large["series"] == Series.objects.count() == 20 * 60
    for code, name in (("stress", "stress_mpa"), ("ratio_solid", "ratio_solid")):
        for footing in SeriesFooting.objects.filter(code=code, sum_log__isnull=False, series__summary=None)[:40]:
            told = Specimen.objects.told().filter(series=footing.series)
            logs = np.log([getattr(one, name) for one in told.filter(outcome="broke")])
            kept = np.log([getattr(one, name) for one in told.filter(outcome="broke", flagged=False)])
            assert (footing.n, footing.kept_n) == (len(logs), len(kept))
            assert footing.sum_log == pytest.approx(logs.sum())
            assert footing.kept_sum_sq_log == pytest.approx((kept**2).sum())
            assert footing.held == told.filter(outcome="held").count()


def test_a_chart_of_too_many_marks_draws_ranges_and_says_so(client, large):
    found = compare(Choices())
    assert found.behind.count + found.behind.specimens > MOST_MARKS

    response = client.get(reverse("compare:compare"))

    assert "too many to tell apart, so each joint's are drawn as a thin line over their whole range" in text(response)
    for address in re.findall(r'data-figure="([^"]+)"', response.content.decode()):
        figure = client.get(unescape(address)).json()["figure"]
        assert sum(len(trace.get("x") or []) for trace in figure["data"]) <= MOST_MARKS
    ranges = found.behind.ranges.set_index("joint")
    points = found.points.groupby("joint")["value"]
    assert ranges["lowest"].to_dict() == points.min().to_dict()
    assert ranges["high"].to_dict() == pytest.approx(points.quantile(0.9).to_dict())
