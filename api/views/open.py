"""What all answers share: anybody may read them from anywhere, and is told how long they stay fresh."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, ClassVar, TypeVar, cast

from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.utils.cache import patch_vary_headers
from rest_framework.exceptions import AuthenticationFailed, Throttled
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from results.kept import once

from ..allowance import Allowance
from ..conditional import Validators
from ..errors import BadParameters, NotModified
from ..filters import misnamed
from ..formats import Table
from ..openapi.operations import Schema31
from ..renderers import Negotiation

T = TypeVar("T")
FRESH_SECONDS = 60
# What a page's script elsewhere may send along and may read.
SENT = "Accept, Authorization, Content-Type, If-Modified-Since, If-None-Match"
SHOWN = "Content-Disposition, ETag, Last-Modified, Link, RateLimit, RateLimit-Policy, Retry-After"


class OpenView(APIView):
    """A view that only reads, unless it says otherwise."""

    http_method_names = ["get", "head", "options"]
    content_negotiation_class = Negotiation
    schema = Schema31()
    # Parameters the view takes; one that filters a table says so itself.
    parameters: tuple[str, ...] = ("format",)
    body_most = 1_000_000
    # What it is, for the page of all that can be read.
    about: ClassVar[str] = ""
    validators: Validators | None = None

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Find out who asks, count the request, and see whether the answer is held already."""
        self.allowance = Allowance()
        try:
            super().initial(request, *args, **kwargs)
        except AuthenticationFailed:
            # Else tokens could be tried out without end.
            if not self.allowance.take_anonymous(request):
                raise Throttled(self.allowance.wait()) from None
            raise
        if request.method in ("GET", "HEAD"):
            self.validators = Validators.of(request, request.accepted_renderer.format)
            if self.validators.held_by(request):
                raise NotModified

    def get_throttles(self) -> list[Allowance]:
        return [self.allowance]

    def options(self, request: Request, *args: Any, **kwargs: Any) -> HttpResponse:
        """Which methods there are; what a browser asks before a page's script may send more than a plain request."""
        return HttpResponse(status=204)

    def once(self, name: str, make: Callable[[], T]) -> T:
        """An answer that costs much, worked out once for each state of the data."""
        assert self.validators is not None  # every answer that is read has them
        return once(name, make, self.validators.state)

    def in_memory(self, table: Table, headers: dict[str, str] | None = None) -> HttpResponse:
        """A table that is in memory, in the format asked for; one without rows has its type all the same."""
        renderer = self.request.accepted_renderer
        kind = renderer.media_type + (f"; charset={renderer.charset}" if renderer.charset else "")
        return HttpResponse(renderer.render(table), content_type=kind, headers=headers)

    def check_names(self) -> None:
        """Refuse parameters that this view doesn't take."""
        if faults := misnamed(self.request.query_params, self.parameters):
            raise BadParameters(faults)

    @property
    def form(self) -> str:
        """The format of the answer."""
        return str(self.request.accepted_renderer.format)

    @property
    def as_table(self) -> bool:
        """Whether the answer is a table and nothing else."""
        return self.form != "json"

    def finalize_response(
        self, request: Request, response: HttpResponseBase, *args: Any, **kwargs: Any
    ) -> HttpResponseBase:
        """Let any page's script read the answer, and caches keep what is the same for everybody.

        With ``*`` browsers send no session along, so a script elsewhere never sees what only an owner may.
        """
        response = super().finalize_response(request, cast(Response, response), *args, **kwargs)
        headers = {
            "Access-Control-Allow-Origin": "*",
            "Access-Control-Expose-Headers": SHOWN,
            **getattr(self, "allowance", Allowance()).headers,
        }
        if request.method == "OPTIONS":
            methods = ", ".join(self.allowed_methods)
            headers |= {
                "Allow": methods,
                "Access-Control-Allow-Methods": methods,
                "Access-Control-Allow-Headers": SENT,
                "Access-Control-Max-Age": "86400",
            }
        if response.status_code >= 400 or request.method not in ("GET", "HEAD"):
            headers["Cache-Control"] = "no-store"
        else:
            signed_in = getattr(request, "user", None) and request.user.is_authenticated
            headers["Cache-Control"] = "private, no-cache" if signed_in else f"public, max-age={FRESH_SECONDS}"
            headers |= self.validators.headers if self.validators else {}
        for name, value in headers.items():
            response.headers[name] = value
        patch_vary_headers(response, ["Accept", "Authorization", "Cookie"])
        return response
