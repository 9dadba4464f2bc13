"""Where a joint can break, on a drawing."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe


@require_safe
def where(request: HttpRequest) -> HttpResponse:
    """The drawing by itself, for whoever fills in a spreadsheet."""
    return render(request, "submit/where.html", {"section": "submit"})
