"""Choosing a language and units; the choice is kept in cookies, and the reader goes on where they were."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_POST

from results.site.choices import LANGUAGE, LASTS_S, UNITS


# A page that is kept for everybody can't hold one reader's token, and all that a stranger could do is to change the
# units that pages are shown in.
@csrf_exempt
@require_POST
def choose(request: HttpRequest) -> HttpResponse:
    """Note what was chosen; what isn't offered counts as not chosen, see `Choices.of`."""
    back = request.POST.get("next", "")
    here = url_has_allowed_host_and_scheme(back, {request.get_host()}, require_https=request.is_secure())
    response = HttpResponseRedirect(back if here else reverse("browse:home"))
    for name in (LANGUAGE, UNITS):
        if chosen := request.POST.get(name, "")[:16]:
            response.set_cookie(
                name, chosen, max_age=LASTS_S, samesite="Lax", httponly=True, secure=settings.SESSION_COOKIE_SECURE
            )
    return response
