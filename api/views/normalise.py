"""Readings of somebody's own, normalised as the book does it; nothing is kept."""

from __future__ import annotations

from typing import Any

from rest_framework.request import Request
from rest_framework.response import Response

from ..bodies import JSONBody
from ..errors import Findings
from ..normalising import answer, examined, findings
from ..renderers import JSONRenderer
from ..tokens import BearerToken
from .open import OpenView


class Normalise(OpenView):
    """The ladder of a series that is sent along, with its working."""

    about = "Readings of your own, sent along, climbed from reading to ratio with the working of every step."
    http_method_names = ["post", "options"]
    # Nothing is anybody's own here, so a session is not looked at.
    authentication_classes = [BearerToken]
    parser_classes = [JSONBody]
    renderer_classes = [JSONRenderer]

    def post(self, request: Request, **kwargs: Any) -> Response:
        self.check_names()
        found = examined(request.data)
        if found.draft is None or not found.may_be_saved:
            told = findings(found.noticed)
            raise Findings(f"What was sent can't be normalised: {_first(told)}", told)
        return Response(answer(found.draft, found.noticed))


def _first(told: list[dict[str, Any]]) -> str:
    errors = [one for one in told if one["severity"] == "error"]
    more = f" There are {len(errors) - 1} more errors." if len(errors) > 1 else ""
    return f"{errors[0]['message']}{more}"
