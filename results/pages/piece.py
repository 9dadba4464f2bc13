"""My piece: what it asks of its worst joint, and what a joint of the book bears over that."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render

from results.models import Joint
from stats.practice.caution import caution
from stats.practice.demand import PIECES

from . import asked, drawings, errors
from .piece_shown import doors, make, sentences

SECTION = "piece"


def pieces(request: HttpRequest) -> HttpResponse:
    """All kinds of piece; a joint that a reader came with goes along to the one they choose."""
    try:
        asked.known_only(request.GET, ("joint",))
        joint = asked.one_of(request.GET, "joint", set(Joint.objects.values_list("pk", flat=True)), "")
    except errors.BadParameter as bad:
        return errors.bad_parameter(request, bad, SECTION)
    chosen = Joint.objects.filter(pk=joint).first()
    context = {"section": SECTION, "doors": doors(joint), "joint": chosen, "caution": caution()}
    return render(request, "piece/pieces.html", context)


def piece(request: HttpRequest, kind: str) -> HttpResponse:
    page = make(request.GET, _known(kind))
    wrong = bool(page.of_piece.errors or page.of_joint.errors)
    query = request.GET.urlencode()
    charts = drawings.shown(page.charts, "piece:chart", kind, query=query, invented=bool(page.how_invented))
    over = page.answer.over if page.answer else ()
    context = {
        "section": SECTION,
        "kind": PIECES[kind],
        "page": page,
        "query": query,
        "sentences": sentences(page),
        "charts": charts,
        "size_charts": [
            {"id": f"chart-{one.name}", "label": f"Margin over {one.words}", "chart": charts[one.name]} for one in over
        ],
    }
    return render(request, "piece/piece.html", context, status=400 if wrong else 200)


def piece_sizes(request: HttpRequest, kind: str) -> HttpResponse:
    """The part of the form that another joint changes; what is wrong elsewhere is said once all of it is sent."""
    return render(request, "piece/sizes.html", {"page": make(request.GET, _known(kind))})


@drawings.addressed
def piece_chart(request: HttpRequest, kind: str, name: str, form: str) -> HttpResponseBase:
    """One chart of the page, as SVG or as a figure."""
    page = make(drawings.asked_of(request.GET), _known(kind))
    return drawings.answer(request, page.charts.get(name), form, invented=bool(page.how_invented))


def _known(kind: str) -> str:
    if kind not in PIECES:
        raise Http404("There is no such kind of piece.")
    return kind
