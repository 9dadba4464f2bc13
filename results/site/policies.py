"""What browsers are told that pages of this site may do: run, load, frame and use."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import wraps

from django.conf import settings
from django.http import HttpRequest
from django.http.response import HttpResponseBase

CONTENT = "Content-Security-Policy"
PERMISSIONS = "Permissions-Policy"

View = Callable[..., HttpResponseBase]


class Policies:
    """Put the policies on every answer that has none of its own.

    They are written down once: most answers here are short, and to build the same line for each takes a good part of
    the time of one.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response
        self.headers = {CONTENT: content_policy(_own_policy()), PERMISSIONS: permissions()}

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        for name, value in self.headers.items():
            response.headers.setdefault(name, value)
        return response


def _own_policy() -> dict[str, list[str] | bool]:
    own: dict[str, list[str] | bool] = settings.SECURE_CSP
    return own


def content_policy(directives: Mapping[str, list[str] | bool]) -> str:
    """A content policy as its header has it; a directive that is only on or off has no values."""
    given = ((name, values) for name, values in directives.items() if values is not False)
    return "; ".join(name if values is True else f"{name} {' '.join(values)}" for name, values in given)


def permissions() -> str:
    """No page may use any of these, and neither may what is framed in one."""
    return ", ".join(f"{feature}=()" for feature in settings.PERMISSIONS_DENIED)


def framed_anywhere(view: View) -> View:
    """Let a view's page stand in a frame of anybody's page; everything else is as strict as elsewhere."""

    @wraps(view)
    def framed(*args: object, **kwargs: object) -> HttpResponseBase:
        response = view(*args, **kwargs)
        response.headers[CONTENT] = content_policy({**_own_policy(), "frame-ancestors": ["*"]})
        setattr(response, "xframe_options_exempt", True)  # noqa: B010 - which the framework looks for
        return response

    return framed
