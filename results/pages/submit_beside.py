"""The series of a draft side by side: who tested two joints sees what the two took before handing them in."""

from __future__ import annotations

from collections import Counter
from typing import Any

from results.evidence import Draft
from results.evidence.study import OnFooting, SeriesView, footings_of
from results.models import Specimen

from . import tables
from .study_sheet import numbers_of
from .study_tables import of_rows
from .wording import footing_name

# What was measured on this rig; the ratio holds beyond it.
MEASURED, ACROSS = "at_joint", "ratio_solid"
MOST = 12
"""Series beyond which nobody compares by eye; a spreadsheet may hold thousands."""


def side_by_side(draft: Draft) -> tables.Table | None:
    """What each series took, for those loaded and meant alike; None where no two are, or more than `MOST` are sent.

    Parameters
    ----------
    draft : Draft
        With its footings stated.
    """
    if len(draft.series) > MOST:
        return None
    alike: dict[tuple[str, str], list[SeriesView]] = {}
    for view in _views(draft):
        if view.footings[MEASURED].available:
            alike.setdefault((view.series.setup.loading.action, view.series.tests), []).append(view)
    views = max(alike.values(), key=len, default=[])
    if len(views) < 2:
        return None
    on = views[0].footings[MEASURED]
    return of_rows(
        [_row(one) for one in views], f"Your series side by side: {footing_name(on.info, on.stored.unit)} as tested"
    )


def _views(draft: Draft) -> list[SeriesView]:
    stored: dict[str, list] = {}
    for row in draft.footings:
        stored.setdefault(row.series.label, []).append(row)
    found = []
    for one in draft.series:
        specimens = draft.specimens.get(one.label, [])
        footings = footings_of(one, stored.get(one.label, []), specimens)
        found.append(SeriesView(one, footings, specimens, []))
    return found


def _row(view: SeriesView) -> dict[str, Any]:
    numbers = _of_all(view, view.footings[MEASURED])
    ratio = _of_all(view, view.footings[ACROSS]) if view.footings[ACROSS].available else {}
    places = Counter(one.failure_place.name for one in view.specimens if one.failure_place and _broke(one))
    return {
        # What is compared comes first: on a phone the rest is a swipe away.
        "Series": view.series.label,
        numbers["Footing"]: numbers.get("Geometric mean"),
        **{name: numbers.get(name) for name in ("95 % interval", "n")},
        "Held": numbers.get("Held") or None,
        "CV, %": numbers.get("CV, %"),
        "Ratio to solid wood": ratio.get("Geometric mean"),
        "Joint": view.series.joint.name,
        "Most broke at": f"{places.most_common(1)[0][0]} ({places.most_common(1)[0][1]})" if places else "",
    }


def _of_all(view: SeriesView, on: OnFooting) -> dict[str, Any]:
    """The figures of all its specimens, those that a check doubts included."""
    return next(iter(numbers_of(view, on)), {"Footing": ""})


def _broke(one: Specimen) -> bool:
    return one.outcome == Specimen.Outcome.BROKE
