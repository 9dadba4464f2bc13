"""What all answers share: anybody may read them from anywhere, and how long they stay fresh."""

from __future__ import annotations

from typing import Any

from django.http.response import HttpResponseBase
from rest_framework.request import Request
from rest_framework.views import APIView

from ..errors import BadParameters
from ..filters import unknown_names
from ..renderers import Negotiation

FRESH_SECONDS = 60


class OpenView(APIView):
    """A view that only reads."""

    http_method_names = ["get", "head", "options"]
    content_negotiation_class = Negotiation
    # Parameters the view takes; one that filters a table says so itself.
    parameters: tuple[str, ...] = ("format",)

    def check_names(self) -> None:
        """Refuse parameters that this view doesn't take."""
        if faults := unknown_names(self.request.query_params, self.parameters):
            raise BadParameters(faults)

    @property
    def as_csv(self) -> bool:
        return self.request.accepted_renderer.format == "csv"

    def finalize_response(
        self, request: Request, response: HttpResponseBase, *args: Any, **kwargs: Any
    ) -> HttpResponseBase:
        """Let any page's script read the answer, and caches keep what is the same for everybody.

        With ``*`` browsers send no session along, so a script elsewhere never sees what only an owner may.
        """
        response = super().finalize_response(request, response, *args, **kwargs)
        response.headers["Access-Control-Allow-Origin"] = "*"
        if response.status_code >= 400:
            response.headers["Cache-Control"] = "no-store"
        elif getattr(request, "user", None) and request.user.is_authenticated:
            response.headers["Cache-Control"] = "private, no-cache"
        else:
            response.headers["Cache-Control"] = f"public, max-age={FRESH_SECONDS}"
        return response
