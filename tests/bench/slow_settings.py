"""Settings of `tests.bench.replica`: those of the site, each query of which takes as long as BENCH_QUERY_MS says."""

from __future__ import annotations

import os
from typing import Any

from django.db.backends.signals import connection_created

from results.site.settings import *  # noqa: F403

_SECONDS = float(os.environ.get("BENCH_QUERY_MS", "0")) / 1000


def _slowly(execute: Any, sql: str, params: Any, many: bool, context: dict[str, Any]) -> Any:
    if _SECONDS:
        # The server's own time and a connection of it, but hardly any of the processor's.
        context["connection"].connection.execute("SELECT pg_sleep(%s)", [_SECONDS])
    return execute(sql, params, many, context)


def _made(connection: Any, **kwargs: Any) -> None:
    if _slowly not in connection.execute_wrappers:
        connection.execute_wrappers.append(_slowly)


connection_created.connect(_made, dispatch_uid="slowly")
