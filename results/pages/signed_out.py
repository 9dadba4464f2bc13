"""What was typed into a page after its session had ended: kept while its writer logs in, and given back then."""

from __future__ import annotations

from collections.abc import Iterable

from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse

_KEPT = "typed"
# Longer than any field of these forms takes.
_MOST = 20_000


def to_login(request: HttpRequest, fields: Iterable[str]) -> HttpResponse:
    """To the login page, and back to this one."""
    if request.method != "POST":
        return redirect_to_login(request.get_full_path())
    request.session[_KEPT] = {request.path: {name: request.POST.get(name, "")[:_MOST] for name in fields}}
    return redirect_to_login(request.path)


def typed_before(request: HttpRequest) -> dict[str, str]:
    """What was typed into the form of this address before logging in; it is given back once."""
    kept = request.session.get(_KEPT)
    if not isinstance(kept, dict) or request.path not in kept:
        return {}
    del request.session[_KEPT]
    return kept[request.path]
