"""The seasons, from the timbers' table.

Source: Wood Handbook FPL-GTR-282, Table 4-2 (equilibrium moisture, 21.1 °C: 30 % gives 6.2 %, 65 % gives 12.0 %); and
FPL-GTR-190, Table 13-5 (white oak: tangential 0.00365, radial 0.00180 for each percent).
"""

from __future__ import annotations

import pytest
from django.core.cache import caches
from django.http import QueryDict

from results.practice.movement import MovementAsked

from .oak_book import a_book

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]
AIR = "winter_c=70+°F&winter_rh_pct=30&summer_c=70+°F&summer_rh_pct=65"


@pytest.fixture(autouse=True)
def nothing_kept():
    caches["answers"].clear()
    yield


def season(query: str):
    form = MovementAsked(QueryDict(query))
    found = form.answer()
    assert found, form.errors
    return found


@pytest.mark.parametrize(("sawn", "per_pct"), [("flat", 0.00365), ("quarter", 0.00180)])
def test_a_year_by_the_tables(sawn, per_pct):
    found = season(f"timber=oak_white&sawn={sawn}&width_mm=300&glued_pct=8&{AIR}")

    assert found.winter_pct == pytest.approx(6.2, abs=0.1)
    assert found.summer_pct == pytest.approx(12.0, abs=0.1)
    assert found.coefficient_per_pct == pytest.approx(per_pct, abs=5e-6)
    assert found.to_summer.change_mm == pytest.approx(300 * per_pct * (12.0 - 8), abs=0.12)
    assert found.year["change_mm"].max() == pytest.approx(found.to_summer.change_mm)
    assert found.year["change_mm"].min() == pytest.approx(found.to_winter.change_mm)


def test_glued_half_way_the_shrinking_end_is_what_is_held():
    found = season(f"timber=oak_white&{AIR}")

    assert found.glued_pct == pytest.approx((found.winter_pct + found.summer_pct) / 2)
    assert found.to_winter.change_mm < 0 and found.ends[0] == (found.to_winter, "until winter")
    assert not any("swells" in note for note in found.cross_grain.notes)
    assert found.cross_grain.free_mm == pytest.approx(-found.to_winter.change_mm)


def test_the_evidence_says_what_it_lived_through():
    a_book(2)
    assert season("joint=dowel").fresh.series == 2
    assert season("").fresh.series == 6
    assert "None of 6 series" in season("").fresh.words


@pytest.mark.parametrize(
    ("query", "field"),
    [("width_mm=0", "width_mm"), ("winter_rh_pct=120", "winter_rh_pct"), ("timber=plastic", "timber"),
     ("sawn=", "sawn"), ("summer_c=warm", "summer_c"), ("glued_pct=80", "glued_pct"), ("joint=nail", "joint")],
)  # fmt: skip
def test_what_cannot_be_is_said_at_its_field(query, field):
    form = MovementAsked(QueryDict(query))

    assert form.answer() is None
    assert field in form.errors
