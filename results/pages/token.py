"""A reader's token: what a program of theirs says to be known to the read API."""

from __future__ import annotations

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_http_methods
from rest_framework.authtoken.models import Token

from results.site.requests import SomebodysRequest

END = "end"


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
@cache_control(no_store=True, private=True)
def token(request: SomebodysRequest) -> HttpResponse:
    """Show the reader's token; make a new one, after which the one before is known no more; or end it."""
    mine = Token.objects.filter(user=request.user)
    if request.method == "POST":
        with transaction.atomic():
            mine.delete()
            if request.POST.get("do") != END:
                Token.objects.create(user=request.user)
        return redirect("data:token")
    context = {
        "section": "data",
        "token": mine.first(),
        "with_token": settings.API_TOKEN_PER_MINUTE,
        "without": settings.API_ANONYMOUS_PER_MINUTE,
        "address": request.build_absolute_uri(reverse("api:studies")),
    }
    return render(request, "browse/token.html", context)
