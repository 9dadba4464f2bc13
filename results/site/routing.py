"""Which database a request reads: a replica for what everybody may read, the primary for all else.

An answer is read from one database: it begins on it, and if it changes, then to the primary, which is never older. So
the data version that an answer is kept under (`results.kept`) is never newer than the data that it was made from.
"""

from __future__ import annotations

import hashlib
import logging
import threading
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, cast

from django.conf import settings
from django.core.cache import caches
from django.core.exceptions import MiddlewareNotUsed
from django.db import DEFAULT_DB_ALIAS, Error, InterfaceError, OperationalError, connections
from django.db.models import Model
from django.http import FileResponse, HttpRequest, HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase

from .replicas import Watch, ask_primary
from .requests import Request

log = logging.getLogger(__name__)
AWAY = (OperationalError, InterfaceError)
# How much of an answer that is read while it is sent is read before any of it is sent.
AHEAD_BYTES = 1 << 20
SAFE = ("GET", "HEAD")
# Whose addresses everybody may read; what else there is, or comes to be, is read from the primary.
PUBLIC = frozenset({"api", "browse", "compare", "data", "piece", "plan", "plans", "revisions"})
PUBLIC_VIEWS = frozenset({"photos:picture", "photos:small"})
# Below these, what is somebody's own, or there to be sent off.
OWN_VIEWS = frozenset(
    {
        "browse:mine",
        "data:token",
        "plan:lodge",
        "plans:withdraw",
        "revisions:hand-in",
        "revisions:restore",
        "revisions:take-back",
    }
)
# Records that are no data of the book: who they are of and what they may do is always asked of the primary.
_KEPT_ELSEWHERE = frozenset({"django_cache", "sessions"})
COOKIE = f"{settings.COOKIE_PREFIX}written"
_SALT = "how far the log reached"


class _Route(threading.local):
    """What this thread reads at the moment."""

    alias = DEFAULT_DB_ALIAS
    wrote = False

    def begin(self, alias: str = DEFAULT_DB_ALIAS) -> None:
        self.alias, self.wrote = alias, False

    def to_primary(self) -> None:
        self.alias = DEFAULT_DB_ALIAS


route = _Route()


class Router:
    """Django's questions, answered by the route of the thread that asks."""

    def db_for_read(self, model: type[Model], **hints: Any) -> str:
        if route.alias == DEFAULT_DB_ALIAS or connections[DEFAULT_DB_ALIAS].in_atomic_block:
            return DEFAULT_DB_ALIAS
        if model._meta.app_label == "results":
            return route.alias
        # The name of who contributed a study, say; but who asks is asked of the primary.
        instance = hints.get("instance")
        return route.alias if instance is not None and instance._state.db == route.alias else DEFAULT_DB_ALIAS

    def db_for_write(self, model: type[Model], **hints: Any) -> str:
        if model._meta.app_label not in _KEPT_ELSEWHERE:
            route.to_primary()
            route.wrote = True
        return DEFAULT_DB_ALIAS

    def allow_relation(self, one: Any, other: Any, **hints: Any) -> bool:
        return True  # all are copies of one database

    def allow_migrate(self, db: str, app_label: str, **hints: Any) -> bool:
        return db == DEFAULT_DB_ALIAS


# Who looks at the replicas: the one of this process.
_watching: list[Watch] = []


@contextmanager
def read_as_anybody() -> Iterator[None]:
    """For a question that is asked before a request has its route: the database of a reader who has written nothing.

    Raises
    ------
    Unanswered
        If it was a replica, and could not answer; it is read no more for a while.
    """
    watch = _watching[0] if settings.REPLICAS and _watching else None
    route.begin(watch.choose() if watch else DEFAULT_DB_ALIAS)
    try:
        yield
    except Error as error:
        if watch is None or route.alias == DEFAULT_DB_ALIAS:
            raise
        watch.leave_out(route.alias, error)
        raise Unanswered from error
    finally:
        route.begin()


class Unanswered(Exception):
    """A replica could not answer; the primary may."""


class ReadFromReplicas:
    """Chooses what a request reads, and remembers how far the log reached after somebody wrote."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        if not settings.REPLICAS:
            raise MiddlewareNotUsed
        self.get_response = get_response
        self.watch = Watch(settings.REPLICAS, settings.REPLICA_LAG_MOST_S, settings.PRIMARY_READS_PCT)
        _watching[:] = [self.watch]
        # A replica that is further behind is not read at all, so that a mark older than this tells nothing.
        self.kept_s = 2 * settings.REPLICA_LAG_MOST_S + 60

    def __call__(self, request: Request) -> HttpResponseBase:
        route.begin()
        try:
            response = _begun(self.get_response(request))
            if response.status_code == 503 and route.alias != DEFAULT_DB_ALIAS:
                self.watch.leave_out(route.alias, f"it could not answer {request.path}")
                request.read_from_primary = True
                route.begin()
                response = _begun(self.get_response(request))
            if route.wrote or request.method not in (*SAFE, "OPTIONS"):
                self._remember(request, response)
        except BaseException:
            route.begin()
            raise
        route.begin()
        return response

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: Any) -> None:
        if is_public(request) and not hasattr(request, "read_from_primary"):
            route.begin(self.watch.choose(self._written(request)))

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        """What a replica could not answer is asked once more, of the primary; nobody needs to be told."""
        if route.alias != DEFAULT_DB_ALIAS and isinstance(error, AWAY):
            return HttpResponse(status=503)
        return None

    def _written(self, request: HttpRequest) -> int | None:
        """How far the log reached when whoever asks last wrote; None if that is long ago."""
        if key := _token_key(request):
            found = caches["default"].get(key)
        else:
            found = request.get_signed_cookie(COOKIE, default=None, salt=_SALT, max_age=self.kept_s)
        try:
            return int(found, 16) if found else None
        except ValueError:
            return None

    def _remember(self, request: HttpRequest, response: HttpResponseBase) -> None:
        try:
            written = f"{ask_primary():X}"
        except Error as error:
            log.warning("How far the log reached after a request that wrote can't be told: %s", error)
            return
        if key := _token_key(request):
            caches["default"].set(key, written, self.kept_s)
            return
        response.set_signed_cookie(
            COOKIE,
            written,
            salt=_SALT,
            max_age=self.kept_s,
            secure=settings.SESSION_COOKIE_SECURE,
            httponly=True,
            samesite="Lax",
        )


def is_public(request: HttpRequest) -> bool:
    """Whether what is asked for may be read from a replica."""
    match = request.resolver_match
    if request.method not in SAFE or match is None:
        return False
    if match.view_name in PUBLIC_VIEWS:
        return True
    return match.namespace in PUBLIC and match.view_name not in OWN_VIEWS


def _token_key(request: HttpRequest) -> str:
    """For a program with a token, which keeps no cookies: where its mark is."""
    sent = request.headers.get("Authorization", "")
    return f"written-{hashlib.sha256(sent.encode()).hexdigest()[:40]}" if sent else ""


def _begun(response: HttpResponseBase) -> HttpResponseBase:
    """An answer whose first part is read, or 503 if the replica failed by then, so that the primary can be asked."""
    if not isinstance(response, StreamingHttpResponse) or isinstance(response, FileResponse):
        return response
    alias = route.alias
    blocks = _Routed(cast(Iterator[bytes], response.streaming_content), alias)
    response.streaming_content = blocks
    if alias != DEFAULT_DB_ALIAS:
        try:
            blocks.read_ahead(AHEAD_BYTES)
        except AWAY:
            response.close()
            return HttpResponse(status=503)
        finally:
            route.begin(alias)
    return response


class _Routed:
    """The blocks of an answer that is read while it is sent, each read from the database that it began with.

    What fails after some of it was sent can't be asked for again; the connection is cut, so that the reader knows.
    """

    def __init__(self, blocks: Iterator[bytes], alias: str) -> None:
        self._blocks, self._alias = iter(blocks), alias
        self._ahead: deque[bytes] = deque()

    def read_ahead(self, most: int) -> None:
        """Hold the first blocks: all of them, or as many as have ``most`` bytes."""
        held = 0
        while held < most and (block := self._read()) is not None:
            self._ahead.append(block)
            held += len(block)

    def __iter__(self) -> _Routed:
        return self

    def __next__(self) -> bytes:
        block = self._ahead.popleft() if self._ahead else self._read()
        if block is None:
            raise StopIteration
        return block

    def _read(self) -> bytes | None:
        route.begin(self._alias)
        try:
            return next(self._blocks, None)
        finally:
            route.begin()

    def close(self) -> None:
        if hasattr(self._blocks, "close"):
            route.begin(self._alias)
            try:
                self._blocks.close()
            finally:
                route.begin()
