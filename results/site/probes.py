"""What programs ask that watch over the site: whether it lives, whether it is ready, and what it counts."""

from __future__ import annotations

import logging
import tempfile
from collections.abc import Callable
from functools import cache, partial
from pathlib import Path

from django.conf import settings
from django.core.files.storage import storages
from django.db import DEFAULT_DB_ALIAS, connections
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed, JsonResponse

from results.stored import Bucket

from . import metrics
from .others import Asked
from .replicas import ask_replica

log = logging.getLogger(__name__)
OK = "ok"
# How long replicas and the store are waited for together: who asks mostly gives up after some seconds.
OTHERS_MOST_S = 2.0
_SILENT = "doesn't answer"
_asked = Asked()


def live(request: HttpRequest) -> HttpResponse:
    """The process answers; nothing else is asked."""
    return _told({"live": True}, 200)


def ready(request: HttpRequest) -> HttpResponse:
    """Whether requests can be answered: 503 with the parts that can't, which says nothing of how they are reached.

    A replica that is not well is named, and the site is ready all the same: the primary has all that a replica has.
    The store for files is to a site of several machines what the disk is to one.
    """
    parts = {name: _found(name, check) for name, check in _PARTS.items()}
    needed = [*parts, "store"]
    parts |= _others()
    is_ready = all(parts.get(name, OK) == OK for name in needed)
    return _told({"ready": is_ready, "parts": parts}, 200 if is_ready else 503)


def _told(body: dict[str, object], status: int) -> HttpResponse:
    response = JsonResponse(body, status=status)
    response.headers["Cache-Control"] = "no-store"
    return response


def _found(name: str, check: Callable[[], str]) -> str:
    try:
        return check()
    except Exception:  # whatever it is, the site isn't ready, and its log says why
        log.exception("The %s isn't ready.", name)
        return _AWAY[name]


def _database() -> str:
    with connections[DEFAULT_DB_ALIAS].cursor() as cursor:
        cursor.execute("SELECT 1")
        cursor.fetchone()
    return OK


@cache
def _known() -> frozenset[tuple[str, str]]:
    """Migrations of this program, read once: it takes longer than all the rest."""
    return frozenset(MigrationLoader(None, ignore_no_migrations=True).graph.nodes)


def _migrations() -> str:
    """A database that is ahead of this program is no matter: a newer one is being brought in."""
    waiting = _known() - MigrationRecorder(connections[DEFAULT_DB_ALIAS]).applied_migrations().keys()
    return f"{len(waiting)} not applied: run manage.py migrate" if waiting else OK


def _disk() -> str:
    with tempfile.TemporaryFile(dir=Path(settings.DATA_DIR)) as file:
        file.write(b"room")
        file.flush()
    return OK


def _others() -> dict[str, str]:
    """How the other servers are that this site has, each by its own word if it gives one in time."""
    questions: dict[str, Callable[[], str]] = {alias: partial(_replica, alias) for alias in settings.REPLICAS}
    store = storages["default"]
    if isinstance(store, Bucket):
        questions["store"] = partial(_store, store)
    parts = {}
    for name, found in _asked.all(questions, OTHERS_MOST_S):
        if isinstance(found, Exception):
            log.warning("The %s isn't well: %r", name, found)
        parts[name] = _SILENT if isinstance(found, Exception) else found
    return parts


def _replica(alias: str) -> str:
    try:
        return OK if ask_replica(alias).following else "follows no primary"
    finally:
        connections[alias].close()  # it is this thread's own


def _store(store: Bucket) -> str:
    store.look()
    return OK


_PARTS = {"database": _database, "migrations": _migrations, "disk": _disk}
_AWAY = {
    "database": _SILENT,
    "migrations": "can't be read from the database",
    "disk": "can't be written to",
}


def _reading(view: Callable[[HttpRequest], HttpResponse | None]) -> Callable[[HttpRequest], HttpResponse | None]:
    def answer(request: HttpRequest) -> HttpResponse | None:
        return view(request) if request.method in ("GET", "HEAD") else HttpResponseNotAllowed(["GET", "HEAD"])

    return answer


VIEWS = {
    "/health/live": _reading(live),
    "/health/ready": _reading(ready),
    "/metrics": _reading(metrics.metrics),
}
