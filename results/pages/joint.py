"""The joints of the vocabulary, and what is known of each."""

from __future__ import annotations

from dataclasses import replace

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, render

from results.evidence import BadChoice, Choices
from results.evidence.choices import ACTIONS
from results.evidence.stock import Stock, stock_of, stocked, studies_with
from results.models import Joint, JointFamily, Study
from stats.footing.ladder import FOOTINGS

from . import drawings, errors, known
from .asked import known_only, one_of
from .browse import PER_PAGE
from .in_language import named
from .joint_shown import chart, shown

SECTION = "joints"
PARAMETERS = ("action", "footing", "tests", "flagged", "invented", "level", "page")


def joints(request: HttpRequest) -> HttpResponse:
    counted = stocked("joint", invented=settings.DEMO)
    rows = Joint.objects.select_related("family")
    families: dict[str, list[Joint]] = {}
    for row in rows.order_by("family__position", "position", "code"):
        n_series, n_studies = counted.get(row.pk, (0, 0))
        row.__dict__.update(n_series=n_series, n_studies=n_studies)  # for the page alone: no columns
        families.setdefault(row.family_id, []).append(row)
    of = JointFamily.objects.in_bulk()
    grouped = [(of[code], members) for code, members in families.items()]
    return render(request, "browse/joints.html", {"section": SECTION, "families": grouped})


def joint(request: HttpRequest, code: str) -> HttpResponse:
    record = get_object_or_404(Joint.objects.select_related("family"), pk=code)
    try:
        choices, stock = _chosen(request, record)
        page = errors.page_of(request, studies_with(code), PER_PAGE)
    except (errors.BadParameter, BadChoice) as bad:
        return errors.bad_parameter(request, bad, SECTION)
    told = shown(record, choices, stock)
    context = {
        "section": SECTION,
        "joint": record,
        "shown": told,
        "stock": stock,
        "choices": choices,
        "query": choices.query(),
        "level": f"{100 * choices.level:g} %",
        "action_name": named(ACTIONS[choices.action]),
        "tests_name": named(known.TESTS[choices.tests]),
        "actions": ACTIONS,
        "footings": FOOTINGS,
        "tests": known.TESTS,
        "elsewhere": _elsewhere(stock, choices),
        "charts": drawings.shown(
            told.charts,
            "browse:joint-chart",
            record.pk,
            query=replace(choices, joints=()).query(),
            invented=bool(told.invented),
        ),
        "rules": known.rules_of(record),
        "dims": known.dims_of(record),
        "page": page,
        "studies": _studies(page.object_list),
    }
    return render(request, "browse/joint.html", context)


def _studies(listed: list[tuple[int, int]]) -> list[tuple[Study, int]]:
    """Studies of which keys are listed, each with the number beside its key."""
    found = Study.objects.in_bulk([key for key, _ in listed])
    return [(found[key], number) for key, number in listed if key in found]


@drawings.addressed
def joint_chart(request: HttpRequest, code: str, name: str, kind: str) -> HttpResponseBase:
    """One of the page's charts, as a picture or as a figure."""
    record = get_object_or_404(Joint, pk=code)
    try:
        choices, stock = _chosen(request, record)
    except (errors.BadParameter, BadChoice) as bad:
        return errors.bad_parameter(request, bad, SECTION)
    told = shown(record, choices, stock)
    one = chart(record, choices, name) if name in told.charts else None
    return drawings.answer(request, one, kind, invented=bool(told.invented))


def _chosen(request: HttpRequest, record: Joint) -> tuple[Choices, list[Stock]]:
    """What the address chooses of the joint, the best-stocked for what it leaves open; and what there is.

    Raises
    ------
    BadParameter, BadChoice
        For a parameter that can't be used.
    """
    query = request.GET
    known_only(query, (*PARAMETERS, *drawings.PARAMETERS))
    action = one_of(query, "action", list(ACTIONS), "")
    tests = one_of(query, "tests", list(known.TESTS), "")
    footing = one_of(query, "footing", list(FOOTINGS), "")
    rest = Choices.from_query(query, ignore=("page", *drawings.PARAMETERS))
    stock = stock_of("joint", record.pk, invented=rest.with_invented)
    action, tests, footing = known.best(stock, action, tests, footing)
    return replace(rest, joints=(record.pk,), action=action, tests=tests, footing=footing), stock


def _elsewhere(stock: list[Stock], choices: Choices) -> list[tuple[str, str, int, int]]:
    """Other actions and kinds of test that it was tested in: words, parameters, studies, series."""
    most: dict[tuple[str, str], Stock] = {}
    for one in stock:
        here = (one.action, one.tests)
        if here != (choices.action, choices.tests) and one.series > (most[here].series if here in most else 0):
            most[here] = one
    chosen = replace(choices, joints=())
    found = []
    for (action, tests), one in most.items():
        _, _, footing = known.best(stock, action, tests)
        words = f"{named(ACTIONS[action])}, {named(known.TESTS[tests])}"
        found.append((words, chosen.query(action=action, tests=tests, footing=footing), one.studies, one.series))
    return sorted(found, key=lambda row: (-row[2], row[0]))
