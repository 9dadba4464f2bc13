"""What programs ask that watch over the site: whether it lives, whether it is ready, and what it counts."""

from __future__ import annotations

import logging
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path

from django.conf import settings
from django.db import DEFAULT_DB_ALIAS, connections
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed, JsonResponse

from . import metrics

log = logging.getLogger(__name__)
OK = "ok"


def live(request: HttpRequest) -> HttpResponse:
    """The process answers; nothing else is asked."""
    return _told({"live": True}, 200)


def ready(request: HttpRequest) -> HttpResponse:
    """Whether requests can be answered: 503 with the parts that can't, which says nothing of how they are reached."""
    parts = {name: _found(name, check) for name, check in _PARTS.items()}
    is_ready = all(found == OK for found in parts.values())
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


_PARTS = {"database": _database, "migrations": _migrations, "disk": _disk}
_AWAY = {
    "database": "doesn't answer",
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
