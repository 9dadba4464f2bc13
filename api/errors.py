"""Every refusal in one shape: a problem as RFC 9457 describes it."""

from __future__ import annotations

import difflib
import logging
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from http import HTTPStatus
from math import ceil
from typing import Any

from django.core.exceptions import PermissionDenied, SuspiciousOperation
from django.db import InterfaceError, OperationalError
from django.http import Http404, HttpResponse, HttpResponseNotModified, JsonResponse
from django.urls import reverse
from rest_framework import exceptions

from results.evidence import BadChoice
from results.site.replicas import is_read_only
from results.site.watch import request_id

log = logging.getLogger(__name__)
AWAY_S = 30
# Kind of problem -> title, and what it means. The kind is stable; a reader's program may branch on it.
PROBLEMS = {
    "unknown-parameter": (
        "Unknown parameter",
        "The address has a parameter that this table doesn't know. It is refused, because a filter that is "
        "silently ignored gives the wrong rows.",
    ),
    "bad-value": (
        "Value not usable",
        "A parameter holds a value that can't be used: of the wrong kind, unknown or out of range.",
    ),
    "not-comparable": (
        "Not comparable",
        "What was asked for is not set side by side, because the results do not share a footing.",
    ),
    "too-thin": (
        "Evidence too thin",
        "What the book holds is so little that a figure drawn from it would say more than anybody knows; the reasons "
        "say what is missing.",
    ),
    "not-found": ("Not found", "There is no such table, page or record that you may read."),
    "read-only": (
        "Method not taken",
        "This address doesn't take this method; the Allow header has those it takes. Nearly all of them only read.",
    ),
    "no-such-format": (
        "No such format",
        "The Accept header allows none of the formats there are: JSON, CSV, a JSON object a line, and Parquet for "
        "tables; JSON for everything else.",
    ),
    "malformed": ("Body not readable", "The body can't be read as what its Content-Type says it is."),
    "wrong-media-type": (
        "Media type not taken",
        "The body is of a kind that isn't taken here; the detail has those that are.",
    ),
    "too-large": ("Too large", "The body is larger than is taken here."),
    "findings": (
        "Findings stand in the way",
        "The checks found errors in what was sent, so nothing was computed or saved; each finding has its place.",
    ),
    "key-taken": (
        "Key taken",
        "The Idempotency-Key was used before by somebody else; make a new one for each study.",
    ),
    "token-needed": (
        "Token needed",
        "Writing needs somebody to write for: send a token as Authorization: Bearer, one that is known.",
    ),
    "refused": ("Refused", "The request was refused; the detail says why."),
    "too-many-requests": (
        "Too many requests",
        "More requests came in a minute than are answered; Retry-After has the seconds to wait. "
        "A download of a whole table counts as one.",
    ),
    "not-available": (
        "Not available",
        "The book's database can't be reached at the moment; Retry-After has the seconds to wait. Nothing was half "
        "saved, and a study that is sent again with its Idempotency-Key is saved once.",
    ),
}
_SHOWN = 80


@dataclass(frozen=True)
class Fault:
    """One thing wrong with an address.

    Parameters
    ----------
    parameter, value : str
        The parameter, and what it held.
    detail : str
        What is wrong with it and what would be right.
    kind : str
        A key of `PROBLEMS`.
    """

    parameter: str
    value: str
    detail: str
    kind: str = "bad-value"

    def to_dict(self) -> dict[str, str]:
        return {"parameter": self.parameter, "value": shorten(self.value), "detail": self.detail}


class BadParameters(exceptions.APIException):
    """An address that can't be used; it carries every fault, not only the first."""

    status_code = HTTPStatus.BAD_REQUEST

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__(" ".join(fault.detail for fault in faults))


class PageNotThere(BadParameters):
    """A page past the end."""

    status_code = HTTPStatus.NOT_FOUND


class NotComparable(exceptions.APIException):
    """A table of a comparison that is refused, with the comparisons that would do instead."""

    status_code = HTTPStatus.UNPROCESSABLE_ENTITY

    def __init__(self, detail: str, alternatives: Sequence[dict[str, str]]) -> None:
        self.alternatives = list(alternatives)
        super().__init__(detail)


class TooThinToSay(exceptions.APIException):
    """A figure that is not given, since the evidence is too thin, with the reasons."""

    status_code = HTTPStatus.UNPROCESSABLE_ENTITY

    def __init__(self, reasons: Sequence[str]) -> None:
        self.reasons = list(reasons)
        super().__init__(f"No figure is given: {' '.join(reasons)}")


class Findings(exceptions.APIException):
    """What was sent has errors; all that the checks noticed goes with it."""

    status_code = HTTPStatus.UNPROCESSABLE_ENTITY

    def __init__(self, detail: str, findings: Sequence[dict[str, Any]]) -> None:
        self.findings = list(findings)
        super().__init__(detail)


class TooLarge(exceptions.APIException):
    """A body above the limit."""

    status_code = HTTPStatus.REQUEST_ENTITY_TOO_LARGE


class KeyTaken(exceptions.APIException):
    """A key that somebody else used before."""

    status_code = HTTPStatus.CONFLICT
    default_detail = "This Idempotency-Key was used before by somebody else; make a new one for each study."


class NotAvailable(exceptions.APIException):
    """The database is away."""

    status_code = HTTPStatus.SERVICE_UNAVAILABLE
    default_detail = "The book's database can't be reached at the moment; nothing was half saved. Ask again."


class NotModified(Exception):
    """The reader holds this very answer already."""


def shorten(value: str) -> str:
    """A value as a message shows it."""
    return value if len(value) <= _SHOWN else value[: _SHOWN - 1] + "…"


def nearest(value: str, known: Iterable[str]) -> str:
    """What was probably meant, as a sentence; else what there is, if that is short enough to read."""
    words = {word.lower(): word for word in known}
    close = difflib.get_close_matches(value[:_SHOWN].lower(), words, n=3, cutoff=0.6)
    if close:
        return f"Did you mean {' or '.join(words[word] for word in close)}?"
    if not words:
        return "There are none yet."
    if len(words) <= 30:
        return f"Known: {', '.join(words.values())}."
    return f"There are {len(words)} known."


def problem(kind: str, status: int, detail: str, **more: Any) -> HttpResponse:
    """An answer that says what went wrong.

    Parameters
    ----------
    kind : str
        A key of `PROBLEMS`.
    status : int
        HTTP status.
    detail : str
        What was found in this request and what would be right.
    **more
        Further members, such as ``parameter``.
    """
    title, _ = PROBLEMS[kind]
    body = {
        "type": reverse("api:problem", args=[kind]),
        "title": title,
        "status": int(status),
        "detail": detail,
        **more,
    }
    if name := request_id():
        body["request_id"] = name
    return JsonResponse(body, status=status, content_type="application/problem+json")


_KINDS: tuple[tuple[type[exceptions.APIException], str], ...] = (
    (exceptions.NotFound, "not-found"),
    (exceptions.MethodNotAllowed, "read-only"),
    (exceptions.NotAcceptable, "no-such-format"),
    (exceptions.ParseError, "malformed"),
    (exceptions.UnsupportedMediaType, "wrong-media-type"),
    (exceptions.Throttled, "too-many-requests"),
    (exceptions.NotAuthenticated, "token-needed"),
    (exceptions.AuthenticationFailed, "token-needed"),
    (TooLarge, "too-large"),
    (KeyTaken, "key-taken"),
    (NotAvailable, "not-available"),
)


def handler(error: Exception, context: dict[str, Any]) -> HttpResponse | None:
    """Turn what a view raised into a problem; what is no refusal but a fault of ours goes on as it is."""
    if isinstance(error, NotModified):
        return HttpResponseNotModified()
    if isinstance(error, BadChoice):
        error = BadParameters([Fault(error.field, str(error.value), str(error))])
    if isinstance(error, Http404):
        error = exceptions.NotFound(str(error) or None)
    if isinstance(error, PermissionDenied):
        error = exceptions.PermissionDenied()
    if isinstance(error, SuspiciousOperation):
        error = exceptions.ParseError(f"The request can't be read: {error}")
    if isinstance(error, OperationalError | InterfaceError) or is_read_only(error):
        log.error("The database is away: %s", error)
        error = NotAvailable()
    if not isinstance(error, exceptions.APIException):
        return None
    response = _answer(error)
    if isinstance(error, exceptions.MethodNotAllowed):
        response.headers["Allow"] = ", ".join(context["view"].allowed_methods)
    if isinstance(error, NotAvailable):
        response.headers["Retry-After"] = str(AWAY_S)
    if isinstance(error, exceptions.Throttled):
        response.headers["Retry-After"] = str(ceil(getattr(error, "wait", None) or 1))
    if challenge := getattr(error, "auth_header", None):
        response.headers["WWW-Authenticate"] = challenge
    return response


def _answer(error: exceptions.APIException) -> HttpResponse:
    if isinstance(error, BadParameters):
        first = error.faults[0]
        faults = [fault.to_dict() for fault in error.faults]
        more = {"parameter": first.parameter, "value": shorten(first.value), "errors": faults}
        return problem(first.kind, error.status_code, str(error.detail), **more)
    if isinstance(error, NotComparable):
        return problem("not-comparable", error.status_code, str(error.detail), alternatives=error.alternatives)
    if isinstance(error, TooThinToSay):
        return problem("too-thin", error.status_code, str(error.detail), reasons=error.reasons)
    if isinstance(error, Findings):
        return problem("findings", error.status_code, str(error.detail), findings=error.findings)
    kind = next((kind for sort, kind in _KINDS if isinstance(error, sort)), "refused")
    return problem(kind, error.status_code, str(error.detail))
