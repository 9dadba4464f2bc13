"""Two published oak series typed into the form as means.

Source: Eckelman, Uysal and Haviarova, "Statistical lower tolerance limits for rectangular mortise and tenon
joints", BioResources 11(3) 7162-7171 (2016): T-joints of 22.2 x 63.5 mm rails, tenons 32 mm long, 38 mm deep
and 9.5 mm thick, PVA; red oak n 215, mean 353 N·m, sd 48; white oak n 140, mean 358 N·m, sd 62. The modulus of
rupture of the timbers is the Wood Handbook's (table 5-3a, 12 %).
"""

from __future__ import annotations

import uuid

import pytest
from django.urls import reverse

from results.evidence import Choices, compare
from results.models import Study, Timber
from tests.factories import accept, make_user

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]

FORM = {
    "do": "save",
    "series-count": "2",
    "study-title": "Rectangular mortise and tenon T-joints in oak",
    "study-question": "What lower limits do large samples of one joint give?",
    "study-workshop": "As published",
    "study-origin": "published",
    "study-citation": "Eckelman, Uysal, Haviarova, BioResources 11(3) 7162-7171 (2016)",
    "study-tested_on": "2016",
    "study-licence": "CC-BY-4.0",
    "setup-loading": "cantilever_arm",
    "setup-reads": "moment",
    "setup-reading_unit": "N·m",
    "shared-adhesive": "pva",
    "shared-member_thickness": "22.2 mm",
    "shared-member_depth": "63.5 mm",
}
SERIES = [("red oak", "oak_northern_red", "353 N·m", "48 N·m", "215"), ("white oak", "oak_white", "358", "62", "140")]


@pytest.fixture
def oak(client):
    client.force_login(make_user("reader"))
    data = FORM | {"key": str(uuid.uuid4())}
    for at, (label, timber, mean, sd, n) in enumerate(SERIES):
        data |= {
            f"series-{at}-series": label,
            f"series-{at}-joint": "mt_blind",
            f"series-{at}-timber": timber,
            f"series-{at}-tenon_length": "32 mm",
            f"series-{at}-tenon_depth": "38 mm",
            f"series-{at}-tenon_thickness": "9.5 mm",
            f"series-{at}-results": "mean",
            f"series-{at}-mean": mean,
            f"series-{at}-sd": sd,
            f"series-{at}-n": n,
        }
    answer = client.post(reverse("submit:form"), data)
    if answer.status_code == 200:  # it wants what it remarked on to be seen first
        answer = client.post(reverse("submit:form"), data | {"seen": answer.context["seen"]})
    assert answer.status_code == 302, [one.message for one, _ in answer.context["findings"]]
    return accept(Study.objects.get())


def test_red_oak_joints_take_about_a_quarter_of_the_solid_rail(oak):
    red = oak.series.get(label="red oak")

    row = red.footings.get(code="ratio_solid")

    # 353 N·m over 99 MPa x 22.2 x 63.5^2 / 6 mm^3 = 1477 N·m, worked by hand.
    assert row.factor * 353 == pytest.approx(353 / 1477, rel=2e-3)
    assert row.factor * 353 == pytest.approx(0.24, abs=0.005)
    assert (row.n, red.summary.mean_typed, red.summary.sd_typed) == (215, "353 N·m", "48 N·m")


def test_white_oak_joints_by_the_timber_table(oak):
    row = oak.series.get(label="white oak").footings.get(code="ratio_solid")

    modulus = 22.2 * 63.5**2 / 6
    assert row.factor * 358 == pytest.approx(358e3 / modulus / Timber.objects.get(pk="oak_white").mor_12_mpa)


def test_published_spread_is_kept_in_the_comparison(oak):
    found = compare(Choices(footing="at_joint")).series.set_index("series")

    # Coefficients of variation as published: 13.6 % and 17.3 %.
    assert found["sd_log"].to_dict() == pytest.approx({"red oak": 0.1354, "white oak": 0.1719}, abs=1e-3)
    assert not found["imputed"].any()
    assert found["summary_only"].all()
