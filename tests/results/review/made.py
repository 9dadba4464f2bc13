"""A study as somebody hands it in, and the same with something changed."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

from results.evidence import Draft
from results.models import Revision, Study
from results.review.document import Document, document, examined, written
from results.review.hand_in import change, hand_in, newest_number
from tests.factories import make_user
from tests.results.intake.made import examine_file, four_sheets, workbook

Sheets = dict[str, list[list[object]]]


def sent(spoil: Callable[[Sheets], None] = lambda sheets: None) -> Any:
    """A butt joint as a control and a blind mortise and tenon, four of each, examined."""
    sheets = four_sheets()
    spoil(sheets)
    return examine_file(workbook(sheets), "a.xlsx")


def said() -> Document:
    """The same as a document."""
    found = sent()
    return document(found.draft, found.noticed)


def handed_in(owner: str = "maker", **more: Any) -> Study:
    """The same, waiting for review."""
    found = sent()
    return hand_in(found.draft, make_user(owner), found.noticed, **more)


def mended(study: Study, mend: Callable[[Document], None]) -> Draft:
    """What a study says, with something changed in it."""
    now = copy.deepcopy(written(study))
    mend(now)
    return examined(now, study)[0]


def changed(study: Study, mend: Callable[[Document], None], **more: Any) -> Revision:
    """Such a change, handed in by the study's contributor."""
    now = copy.deepcopy(written(study))
    mend(now)
    draft, noticed = examined(now, study)
    fields = {"why": "the scale was read wrongly", "based_on": newest_number(study), **more}
    return change(study, draft, study.contributor, noticed, **fields)


def heavier(now: Document, by: float = 1.0) -> None:
    """Another reading for the first specimen of the tenon."""
    one = now["series"][1]["specimens"][0]
    one["reading_typed"] = str(float(one["reading_typed"]) + by)
    one["peak_load_n"] += by * 9.80665
