"""Comparing joints: the page, and its figures as JSON."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render

from results.evidence import BadChoice, Choices, compare

from . import errors
from .comparison import charts_of, emptied_by, page_tables, picker, reference_name
from .wording import how_invented

SECTION = "compare"


def compare_page(request: HttpRequest) -> HttpResponse:
    try:
        choices = Choices.from_query(request.GET)
    except BadChoice as bad:
        return errors.bad_parameter(request, bad, SECTION)
    found = compare(choices)
    context = {
        "section": SECTION,
        "found": found,
        "choices": choices,
        "picker": picker(choices),
        "query": choices.query(),
        "charts": charts_of(found),
        "tables": page_tables(found),
        "reference": reference_name(found),
        "how_invented": how_invented(found.series["invented"]) if not found.empty else "",
        "emptied": "" if found.refused or not found.empty else emptied_by(choices),
    }
    return render(request, "compare/compare.html", context)


def figure(request: HttpRequest) -> JsonResponse:
    """The figures of the page, for whoever wants to draw them elsewhere."""
    try:
        choices = Choices.from_query(request.GET)
    except BadChoice as bad:
        fault = {"field": bad.field, "value": bad.value, "message": bad.message}
        return JsonResponse({"error": fault}, status=400)
    found = compare(choices)
    drawn = {name: {"figure": c["json"], "summary": c["summary"]} for name, c in charts_of(found).items()}
    return JsonResponse({"query": choices.query(), "refused": found.refused, "charts": drawn})
