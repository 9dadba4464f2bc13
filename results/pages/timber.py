"""The timbers of the vocabulary, and what is known of each."""

from __future__ import annotations

from dataclasses import replace

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, render

from results.evidence import BadChoice, Choices
from results.evidence.choices import ACTIONS
from results.evidence.stock import Stock, stock_of, stocked
from results.models import Timber
from results.models.alphabet import Alphabetical

from . import drawings, errors, known, wood
from .asked import known_only, one_of
from .browse import PER_PAGE
from .browse_forms import TimberFilter
from .in_language import named
from .timber_shown import RATIO, STRESS, shown

SECTION = "timbers"
PARAMETERS = ("action", "tests", "flagged", "invented", "level", "page")


def timbers(request: HttpRequest) -> HttpResponse:
    chosen = TimberFilter(request.GET)
    try:
        rows = chosen.narrow(Timber.objects.order_by(Alphabetical()))
    except errors.BadParameter as bad:
        return errors.bad_parameter(request, bad, SECTION)
    counted = stocked("timber", invented=settings.DEMO)
    timbers = list(rows)
    for one in timbers:
        one.n_series = counted.get(one.pk, (0, 0))[0]
    return render(request, "browse/timbers.html", {"section": SECTION, "form": chosen, "timbers": timbers})


def timber(request: HttpRequest, code: str) -> HttpResponse:
    record = get_object_or_404(Timber, pk=code)
    rows = record.series.counting().select_related("study", "joint", "setup__loading").order_by("-study_id", "id")
    try:
        choices, stock = _chosen(request, record)
        page = errors.page_of(request, rows, PER_PAGE)
    except (errors.BadParameter, BadChoice) as bad:
        return errors.bad_parameter(request, bad, SECTION)
    told = shown(record, choices)
    charts = {"strength": told.chart} if told.chart else {}
    context = {
        "section": SECTION,
        "timber": record,
        "properties": wood.properties(record),
        "choices": choices,
        "stock": stock,
        "actions": ACTIONS,
        "tests": known.TESTS,
        "action_name": named(ACTIONS[choices.action]),
        "tests_name": named(known.TESTS[choices.tests]),
        "level": f"{100 * choices.level:g} %",
        "shown": told,
        "ratio_query": told.queries.get(RATIO, ""),
        "stress_query": told.queries.get(STRESS, ""),
        "charts": drawings.shown(
            charts,
            "browse:timber-chart",
            record.pk,
            query=replace(choices, timbers=()).query(),
            invented=bool(told.invented),
        ),
        "page": page,
    }
    return render(request, "browse/timber.html", context)


@drawings.addressed
def timber_chart(request: HttpRequest, code: str, name: str, kind: str) -> HttpResponseBase:
    """The page's chart, as a picture or as a figure."""
    record = get_object_or_404(Timber, pk=code)
    try:
        choices, _ = _chosen(request, record)
    except (errors.BadParameter, BadChoice) as bad:
        return errors.bad_parameter(request, bad, SECTION)
    told = shown(record, choices)
    return drawings.answer(request, told.chart if name == "strength" else None, kind, invented=bool(told.invented))


def _chosen(request: HttpRequest, record: Timber) -> tuple[Choices, list[Stock]]:
    """What the address chooses, the best-stocked for what it leaves open; and what there is.

    Raises
    ------
    BadParameter, BadChoice
        For a parameter that can't be used.
    """
    query = request.GET
    # A chart's address names the footing too, as all comparisons' do; the page itself always shows both.
    known_only(query, (*PARAMETERS, *drawings.PARAMETERS, "footing"))
    action = one_of(query, "action", list(ACTIONS), "")
    tests = one_of(query, "tests", list(known.TESTS), "")
    rest = Choices.from_query(query, ignore=("page", *drawings.PARAMETERS))
    stock = stock_of("timber", record.pk, invented=rest.with_invented)
    action, tests, _ = known.best(stock, action, tests)
    return replace(rest, timbers=(record.pk,), action=action, tests=tests, footing=RATIO), stock
