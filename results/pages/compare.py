"""Comparing joints: the page, its charts, and a chart alone for other people's pages."""

from __future__ import annotations

from dataclasses import dataclass

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.safestring import SafeString

from results.evidence import BadChoice, Choices, Comparison
from results.kept import Answer, once, or_before, renewed
from results.site.choices import told_now
from results.site.policies import framed_anywhere

from . import anew, drawings, errors, verdict_list
from .comparison import (
    CHARTS,
    MOST_IN_MATRIX,
    Compared,
    chart_of,
    charts_of,
    emptied_by,
    page_tables,
    picker,
    reference_name,
)
from .wording import how_invented

SECTION = "compare"
SCALES = {"log": "logarithmic", "linear": "linear"}


@dataclass(frozen=True)
class Page:
    """A comparison and its part of the page: to fill in its many cells takes most of the page's time."""

    found: Comparison
    body: SafeString


def compare_page(request: HttpRequest) -> HttpResponse:
    try:
        choices, log = _asked(request.GET)
    except BadChoice as bad:
        return errors.bad_parameter(request, bad, SECTION)
    answer = _page_or_before(choices, log)
    page = answer.value
    context = {
        "section": SECTION,
        "found": page.found,
        "body": page.body,
        "as_of": answer.as_of,
        "choices": choices,
        "picker": picker(choices, before=answer.as_of is not None),
        "scales": SCALES,
        "scale": "log" if log else "linear",
    }
    return render(request, "compare/compare.html", context)


def _page(choices: Choices, log: bool) -> Page:
    """What follows from the data and the choices alone, worked out once for each state of the data."""
    if settings.DEBUG:  # a template that is being written is read anew
        return _made(choices, log)
    return once(_name(choices, log), lambda: _made(choices, log))


def _page_or_before(choices: Choices, log: bool) -> Answer[Page]:
    """The same; for a short while that of before a change."""
    if told_now():
        return Answer(_page(choices, log))
    return or_before(
        _name(choices, log), lambda: _page(choices, log), lambda: anew.ask("compare", _query(choices, log))
    )


def work_out(query: QueryDict) -> None:
    """For a worker: the page and what it offers to choose from, kept."""
    choices, log = _asked(query)
    renewed(_name(choices, log), lambda: _page(choices, log))
    picker(choices)


def _name(choices: Choices, log: bool) -> str:
    return f"compare page?{_query(choices, log)} {choices.with_invented}{told_now()}"


def _made(choices: Choices, log: bool) -> Page:
    known = Compared.of(choices)
    found, query = known.found, _query(choices, log)
    charts = charts_of(found, log=log)
    context = {
        "found": found,
        "verdicts": known.verdicts,
        "verdict_list": verdict_list.items(known.verdicts, query),
        "query": choices.query(),
        "page_query": query,
        "charts": drawings.shown(charts, "compare:chart", query=query, invented=found.invented),
        "tables": page_tables(known, charts),
        "most_in_matrix": MOST_IN_MATRIX,
        "reference": reference_name(found),
        "how_invented": how_invented(found.behind.inventions) if not found.empty else "",
        "emptied": ("", "") if found.refused or not found.empty else emptied_by(choices),
    }
    return Page(found, render_to_string("compare/found.html", context))


@drawings.addressed
def chart(request: HttpRequest, name: str, kind: str) -> HttpResponseBase:
    """One chart of the page, as a picture or as a figure."""
    try:
        choices, log = _asked(request.GET)
    except BadChoice as bad:
        return errors.bad_parameter(request, bad, SECTION)
    before = drawings.may_be_before(request)
    found = (_page_or_before(choices, log).value if before else _page(choices, log)).found
    return drawings.answer(request, chart_of(found, name, log=log), kind, invented=found.invented)


@framed_anywhere
def embed(request: HttpRequest, name: str) -> HttpResponse:
    """One chart alone, to stand in a frame of somebody else's page."""
    if name not in CHARTS:
        raise Http404("There is no such chart.")
    try:
        choices, log = _asked(request.GET)
    except BadChoice as bad:
        return errors.bad_parameter(request, bad, SECTION)
    found = _page(choices, log).found
    one = chart_of(found, name, log=log)
    query = _query(choices, log)
    charts = {name: one} if one else {}
    context = {
        "found": found,
        "chart": drawings.shown(charts, "compare:chart", query=query, invented=found.invented).get(name),
        "name": name,
        "address": request.build_absolute_uri(f"{reverse('compare:compare')}?{query}"),
    }
    return render(request, "compare/embed.html", context)


def _asked(query: QueryDict) -> tuple[Choices, bool]:
    """What to compare, and whether on a logarithmic axis.

    Raises
    ------
    BadChoice
        For a parameter that can't be used.
    """
    choices = Choices.from_query(query, ignore=("scale", *drawings.PARAMETERS))
    scale = query.get("scale") or "log"
    if scale not in SCALES:
        raise BadChoice("scale", scale, f"is no kind of axis; choose {' or '.join(SCALES)}.")
    return choices, scale == "log"


def _query(choices: Choices, log: bool) -> str:
    return choices.query() if log else f"{choices.query()}&scale=linear"
