"""Lodging a plan in the book: what it means is said first, and once lodged it stays."""

from __future__ import annotations

import uuid

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from results.practice.lodge import AlreadyLodged, PlanError, TooMany, lodge
from results.practice.plan import plan
from results.practice.plan_asked import PlanAsked
from results.practice.plan_document import document
from results.site.requests import SomebodysRequest

from .plan import SECTION, back
from .plan_shown import sheet_of


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def lodge_page(request: SomebodysRequest) -> HttpResponse:
    """What would be lodged, read from the address; sent, it is lodged, and twice is once."""
    planned = plan(PlanAsked(request.GET))
    if planned is None:
        return back(request)
    refused, status, first = "", 200, None
    if request.method == "POST":
        try:
            return redirect(lodge(planned, request.user, uuid.UUID(request.POST.get("key", ""))))
        except AlreadyLodged as again:
            refused, status, first = str(again), 409, again.first
        except PlanError as error:
            refused, status = str(error), 429 if isinstance(error, TooMany) else 409
        except ValueError:  # no key, or what is none
            refused, status = "The page was sent without its key; lodge the plan from this page.", 400
    context = {
        "section": SECTION,
        "planned": planned,
        "sheet": sheet_of(document(planned)),
        "key": uuid.uuid4(),
        "query": planned.asked.query(),
        "refused": refused,
        "first": first,
    }
    return render(request, "plan/lodge.html", context, status=status)
