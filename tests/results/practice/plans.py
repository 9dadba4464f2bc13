"""Plans as people make them, and the spreadsheets of theirs filled in."""

from __future__ import annotations

import io
import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any
from urllib.parse import urlencode

from django.http import QueryDict
from openpyxl import load_workbook

from results.intake.examine import Examination, examine
from results.intake.read import read_rows
from results.models import Plan, Study
from results.practice.lodge import lodge
from results.practice.plan import PlannedTest, plan
from results.practice.plan_asked import PlanAsked
from results.practice.plan_book import plan_xlsx
from results.review.hand_in import hand_in
from tests.factories import make_user

ASKED = {
    "joint": ["mt_blind", "dowel"],
    "loading": "cantilever_arm",
    "arm_mm": "12 in",
    "timber": "oak_northern_red",
    "adhesive": "pva",
    "member_thickness_mm": "20",
    "member_depth_mm": "40 mm",
    "cv_pct": "15",
    "instrument": "luggage_scale",
    "full_scale": "150 kg",
    "workshop": "Shop by the river",
    "afford": "3",
}
LODGED_AT = datetime(2026, 3, 10, 15, tzinfo=UTC)


def query(**changes: Any) -> str:
    """An address's parameters that ask for a plan; what is changed to None is left out."""
    asked = {name: value for name, value in {**ASKED, **changes}.items() if value is not None}
    return urlencode(asked, doseq=True)


def asked(**changes: Any) -> PlanAsked:
    return PlanAsked(QueryDict(query(**changes)))


def planned(**changes: Any) -> PlannedTest:
    """A plan that can be made."""
    form = asked(**changes)
    found = plan(form)
    assert found is not None, form.faults
    return found


def lodged(username: str = "maker", at: datetime = LODGED_AT, **changes: Any) -> Plan:
    """A plan that somebody lodged on 10 March 2026."""
    made = lodge(planned(**changes), make_user(username), uuid.uuid4())
    Plan.objects.filter(pk=made.pk).update(lodged_at=at)
    made.refresh_from_db()
    return made


def filled(made: Plan, **changes: Any) -> bytes:
    """The plan's spreadsheet with readings in it."""
    return fill(plan_xlsx(made.planned, made.pk), **changes)


def fill(data: bytes, *, tested_on: str = "2026-04-02", change: Callable[[Any], None] | None = None) -> bytes:
    """A plan's spreadsheet with the day of testing, readings, and whatever else is changed."""
    book = load_workbook(io.BytesIO(data))
    for row in book["study"].iter_rows(min_row=2):
        if row[0].value == "tested on":
            row[1].value = tested_on
    sheet = book["specimens"]
    reading = [cell.value for cell in sheet[1]].index("reading")
    for at, row in enumerate(sheet.iter_rows(min_row=2, max_row=sheet.max_row)):
        if row[0].value:
            row[reading].value = f"{40 + at} kg"
    if change is not None:
        change(book)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def looked_at(data: bytes, username: str = "maker") -> Examination:
    """What the intake makes of a workbook that somebody sends."""
    return examine(read_rows(data, "xlsx"), by=make_user(username))


def followed_up(made: Plan, **changes: Any) -> Study:
    """A study of the plan's contributor that follows it, handed in."""
    found = looked_at(filled(made, **changes))
    assert found.draft is not None, found.noticed
    return hand_in(found.draft, make_user(), found.noticed)
