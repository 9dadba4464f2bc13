"""Beside one joint: several that share a load, short and long members, the seasons."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.http.response import HttpResponseBase
from django.shortcuts import render

from results.practice.asked import Asked
from results.practice.leverage import LeverageAsked
from results.practice.movement import MovementAsked, Season
from results.practice.share import ShareAsked
from stats.charts.chart import Chart
from stats.charts.piece_figures import leverage_curve, sharing_bounds, year_chart
from stats.footing.units import show
from stats.practice.assembly import Sharing
from stats.practice.caution import caution
from stats.practice.leverage import Leverage

from . import drawings, scale
from .wording import beside

SECTION = "piece"


@dataclass(frozen=True)
class Question:
    """A question with a page of its own: what it asks, and how its one chart is drawn."""

    form: type[Asked]
    template: str
    draw: Callable[[Any], Chart]


def _season(found: Season, units: Mapping[str, str]) -> str:
    """How the width changes over the year, as the end of a sentence."""
    return " and ".join(
        f"{'widens' if end.change_mm > 0 else 'shrinks'} by {beside(abs(end.change_mm), 'mm', units)} {when}"
        for end, when in found.ends
    )


def _bounds(found: Sharing) -> Chart:
    return sharing_bounds(found, about=f"one joint {show(found.law.mean, found.unit)} on average")


def _curve(found: Leverage) -> Chart:
    bears = show(scale.scaled(found.moment_nm, "N·m"), scale.readers("N·m"))
    return leverage_curve(found, about=f"a joint that bears {bears}", **scale.of_leverage())


def _year(found: Season) -> Chart:
    length = scale.readers("mm")
    width = show(scale.scaled(found.to_winter.width_mm, "mm"), length)
    return year_chart(found.year, about=f"{width} of {found.timber.name.lower()}", length=length)


QUESTIONS = {
    "share": Question(ShareAsked, "piece/share.html", _bounds),
    "leverage": Question(LeverageAsked, "piece/leverage.html", _curve),
    "movement": Question(MovementAsked, "piece/movement.html", _year),
}


def question(request: HttpRequest, name: str) -> HttpResponse:
    asked, found = _answered(name, request.GET)
    charts = {"chart": QUESTIONS[name].draw(found)} if found else {}
    query = request.GET.urlencode()
    context = {
        "section": SECTION,
        "form": asked,
        "found": found,
        "query": query,
        "charts": drawings.shown(charts, "piece:question-chart", name, query=query),
        "season": _season(found, asked.units_typed) if isinstance(found, Season) else "",
        "caution": caution(),
    }
    return render(request, QUESTIONS[name].template, context, status=200 if found else 400)


@drawings.addressed
def question_chart(request: HttpRequest, name: str, chart: str, kind: str) -> HttpResponseBase:
    """The page's chart, as SVG or as a figure."""
    found = _answered(name, drawings.asked_of(request.GET))[1]
    return drawings.answer(request, QUESTIONS[name].draw(found) if found and chart == "chart" else None, kind)


def _answered(name: str, query: QueryDict) -> tuple[Any, Any]:
    if name not in QUESTIONS:
        raise Http404("There is no such page.")
    asked: Any = QUESTIONS[name].form(query)
    asked.spoken = True
    return asked, asked.answer()
