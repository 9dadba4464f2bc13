"""The evidence map: how much is known of which joint, how surely, and where the gaps are."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render

from results.evidence import Choices, compare
from results.evidence.choices import ACTIONS, TESTS
from results.evidence.extent import BY, Counts, counts
from results.evidence.frames import ACTION_CODES
from results.evidence.grades import levels
from results.evidence.sureness import LOW_FROM, MODERATE_FROM, MOST_DOUBTED
from results.kept import once, or_before, renewed
from results.models import JointFamily

from . import anew, errors
from .comparison import reference_name
from .evidence_grid import BIES, MARKS, Asked, Grades, Grid, grid_of
from .in_language import named
from .wording import how_invented

SECTION = "evidence"


def evidence(request: HttpRequest) -> HttpResponse:
    families = _families()
    try:
        asked = Asked.of(request.GET, families)
    except errors.BadParameter as bad:
        return errors.bad_parameter(request, bad, SECTION)
    answer = or_before(
        _name(asked), partial(_map, asked, families), lambda: anew.ask("evidence", request.GET.urlencode())
    )
    asked, grid = answer.value
    context = {
        "section": SECTION,
        "as_of": answer.as_of,
        "asked": asked,
        "grid": grid,
        "bies": BIES,
        "kinds": {code: words for code, words in TESTS.items() if code != "any"},
        "actions": ACTIONS,
        "action_name": named(ACTIONS[asked.action]),
        "family_names": families,
        "marks": MARKS,
        "rule": {"moderate": MODERATE_FROM, "low": LOW_FROM, "doubted": MOST_DOUBTED * 100},
        "how_invented": how_invented(grid.flags),
    }
    return render(request, "browse/evidence.html", context)


def work_out(query: QueryDict) -> None:
    """For a worker: the map, kept."""
    families = _families()
    asked = Asked.of(query, families)
    renewed(_name(asked), partial(_map, asked, families))


def _families() -> dict[str, str]:
    return dict(JointFamily.objects.order_by("position").values_list("code", "name"))


def _name(asked: Asked) -> str:
    return f"evidence map {asked} {asked.with_invented}"


def _map(asked: Asked, families: dict[str, str]) -> tuple[Asked, Grid]:
    """The map, once for each state of the data."""
    # Not within the map's own answer: one that is kept may not wait for another.
    graded = grades(asked.tests, invented=asked.with_invented) if asked.by == "action" else {}
    return once(_name(asked), lambda: _worked_out(asked, families, graded))


def _worked_out(asked: Asked, families: dict[str, str], graded: dict[str, Grades]) -> tuple[Asked, Grid]:
    """The map, and what was asked with the action filled in."""
    found, flags = counts(asked.tests, invented=asked.with_invented)
    asked = replace(asked, action=asked.action or _best_stocked(found))
    if asked.by in BY:
        found = found.take(found.action == ACTION_CODES.index(asked.action))
    return asked, grid_of(asked, found, families, flags, graded)


def _best_stocked(found: Counts) -> str:
    """The action with the most series behind it."""
    return ACTION_CODES[int(np.argmax(np.bincount(found.action, minlength=len(ACTION_CODES))))]


def grades(tests: str, *, invented: bool) -> dict[str, Grades]:
    """By action, what the comparison of all joints says of how sure each ratio is; once for each state of the data."""

    def work_out() -> dict[str, Grades]:
        found, _ = counts(tests, invented=invented)
        tested = {ACTION_CODES[at] for at in np.unique(found.action).tolist()}
        return {action: _grade(action, tests, invented) for action in ACTIONS if action in tested}

    return once(f"grades {tests} {invented}", work_out)


def _grade(action: str, tests: str, invented: bool) -> Grades:
    found = compare(Choices(action=action, tests=tests, invented=invented))
    if not len(found.ratios):
        return Grades("", "", {})
    # A cell is about the joint itself; its soaked and cycled kinds are graded on the comparison's own page.
    # A cell is about the joint itself; its soaked and cycled kinds are graded on the comparison's own page.
    known = levels(found)
    code = found.behind.side.codes()[found.reference]
    return Grades(code, reference_name(found), {joint: level for joint, level in known.items() if "+" not in joint})
