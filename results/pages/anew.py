"""Pages that cost most, worked out anew in the background after a change: see `kept.or_before`.

A worker is ``manage.py db_worker``. It asks for a page's answer by the same function as the page itself, so that both
keep it under one name, and two who work at once wait for each other as two readers would.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any

from django.conf import settings
from django.db import DatabaseError
from django.http import QueryDict

from results.models.revision import sealed
from results.site.tasks import task

log = logging.getLogger(__name__)
# By the word that tasks name them with: where the function is that works a page out from its address's parameters.
PAGES: Mapping[str, str] = {
    "compare": "results.pages.compare:work_out",
    "network": "results.pages.network:work_out",
    "evidence": "results.pages.evidence_map:work_out",
}


@task()
def work_out(page: str, query: str) -> None:
    """Work a page out for the data as they are by now."""
    module, name = PAGES[page].split(":")
    make: Callable[[QueryDict], Any] = getattr(import_module(module), name)
    make(QueryDict(query))


def ask(page: str, query: str) -> None:
    """Ask a worker for a page; a reader never fails for it, and the page is then worked out by whoever asks."""
    try:
        work_out.enqueue(page, query)
    except DatabaseError:
        log.exception("A page can't be asked of a worker: %s", page)


def after_a_change(**kwargs: Any) -> None:
    """The pages as most readers ask for them; the others follow once somebody asks."""
    if settings.STALE_MOST_S:
        for page in PAGES:
            ask(page, "")


def listen() -> None:
    """Ask for the usual pages whenever something was accepted or withdrawn."""
    sealed.connect(after_a_change, dispatch_uid="pages worked out anew")
