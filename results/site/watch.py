"""Each request has a name and is timed, its queries are counted, and slow ones told."""

from __future__ import annotations

import logging
import re
import uuid
from collections.abc import Callable
from contextlib import suppress
from contextvars import ContextVar
from time import perf_counter
from typing import Any

from django.conf import settings
from django.db.backends.signals import connection_created
from django.dispatch import receiver
from django.http import HttpRequest
from django.http.response import HttpResponseBase

from results import measured

from . import probes
from .requests import Request

HEADER = "X-Request-ID"
UNMATCHED = "none"
_WELL_FORMED = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{7,63}", re.ASCII)
_SQL_SHOWN = 1_000
_BLOCK, _REST_MOST = 1 << 16, 100 << 20

requests = logging.getLogger("breakbook.requests")
slow = logging.getLogger("breakbook.queries")


class Asked:
    """A request that is being answered, and what it has asked of the database."""

    __slots__ = ("id", "queries")

    def __init__(self, name: str) -> None:
        self.id, self.queries = name, 0


_asked: ContextVar[Asked | None] = ContextVar("asked", default=None)


def request_id() -> str:
    """The name of the request that is being answered here; empty outside of one."""
    asked = _asked.get()
    return asked.id if asked is not None else ""


def name_of(given: str | None) -> str:
    """A request's name: the one given from outside if it is well formed, else a new one."""
    return given if given is not None and _WELL_FORMED.fullmatch(given) else uuid.uuid4().hex


class Watch:
    """First of all, so that every answer has its name and its whole time is taken.

    What programs ask that watch over the site is answered here: they come by any host name and without HTTPS.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: Request) -> HttpResponseBase:
        probe = probes.VIEWS.get(request.path_info)
        if probe is not None and (answer := probe(request)) is not None:
            return answer
        asked = Asked(name_of(request.META.get("HTTP_X_REQUEST_ID")))
        # Not taken back: what is logged while the answer goes out belongs to it too.
        _asked.set(asked)
        request.request_id = asked.id
        start = perf_counter()
        response = self.get_response(request)
        seconds = perf_counter() - start
        if response.status_code >= 400:
            _read_to_its_end(request)
        response.headers[HEADER] = asked.id
        match = request.resolver_match
        view = (match.view_name if match is not None else None) or UNMATCHED
        measured.answered(view, request.method or "", response.status_code, seconds, asked.queries)
        if requests.isEnabledFor(logging.INFO):
            # No address: some hold keys, and many what people look for.
            told = {"view": view, "method": request.method, "status": response.status_code}
            timed = {"ms": round(seconds * 1000, 1), "queries": asked.queries}
            requests.info("%s %s %s", request.method, view, response.status_code, extra={**told, **timed})
        return response


def _read_to_its_end(request: HttpRequest) -> None:
    """Take in what is left of a request that was refused before all of it was read.

    Else the connection is closed on whoever is still sending, who sees that and never the words of the answer.
    """
    with suppress(OSError):  # they have hung up
        for _ in range(_REST_MOST // _BLOCK):
            if not request.read(_BLOCK):
                return


def count_query(execute: Callable[..., Any], sql: Any, params: Any, many: bool, context: dict[str, Any]) -> Any:
    """Around every query of a request: count it, and tell it if it was slow, without the values that went with it."""
    start = perf_counter()
    try:
        return execute(sql, params, many, context)
    finally:
        # Outside of a request nobody waits: commands go through whole tables, and may.
        asked = _asked.get()
        if asked is not None:
            asked.queries += 1
            ms = (perf_counter() - start) * 1000
            if settings.SLOW_QUERY_MS and ms > settings.SLOW_QUERY_MS:
                shown = " ".join(str(sql).split())[:_SQL_SHOWN]
                told = {"ms": round(ms, 1), "sql": shown, "database": context["connection"].alias}
                slow.warning("A query took %.0f ms.", ms, extra=told)


@receiver(connection_created, dispatch_uid="count_queries")
def _on_connection(connection: Any, **kwargs: Any) -> None:
    # At the outside: others come and go inside of it by their order.
    if count_query not in connection.execute_wrappers:
        connection.execute_wrappers.insert(0, count_query)
