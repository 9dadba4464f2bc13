"""How the numbers are made: pages that follow the code they describe."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from results.kept import code, once
from results.models import Timber

from .methods import PARTS, Part, checks, parts

# The timber of the rail that one example takes up the whole ladder.
RAIL = "oak_northern_red"


def methods(request: HttpRequest) -> HttpResponse:
    """All methods by name and formula; each leads to its part."""
    found = _parts()
    ladder = next(part for part in found if part.code == "footings")
    context = {"section": "methods", "parts": found, "ladder": ladder, "checked": checks()}
    return render(request, "browse/methods.html", context)


def methods_part(request: HttpRequest, part: str) -> HttpResponse:
    """The methods of one part, each with its symbols, source, checks and an example."""
    if part not in PARTS:
        raise Http404(f"There is no part {part!r} of the methods.")
    found, at = _parts(), PARTS.index(part)
    context = {
        "section": "methods",
        "part": found[at],
        "before": found[at - 1] if at else None,
        "after": found[at + 1] if at + 1 < len(found) else None,
    }
    return render(request, "browse/methods_part.html", context)


def _parts() -> tuple[Part, ...]:
    """All parts, worked out once for each version of the program and the timber they take."""
    timber = Timber.objects.filter(pk=RAIL).first()
    wood = timber.wood if timber else None
    return once(f"methods {wood!r}", lambda: parts(wood), state=code().mark)
