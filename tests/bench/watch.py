"""What it costs to watch a request: its name, its time, its counts, and its queries.

Run: python -m tests.bench.watch

Times an empty answer behind the middleware and without it, and a query with and without what counts it. Ends with 1 if
watching a request of twenty queries takes longer than the limit.
"""

from __future__ import annotations

import os
import statistics
import time
from collections.abc import Callable
from typing import Any

LIMIT_MS, QUERIES, EACH, TIMES = 0.3, 20, 2_000, 9


def took_ms(call: Callable[[], Any]) -> float:
    """The middle of some runs of many calls, for each call [ms]."""
    runs = []
    for _ in range(TIMES):
        start = time.perf_counter()
        for _ in range(EACH):
            call()
        runs.append((time.perf_counter() - start) / EACH * 1000)
    return statistics.median(runs)


def main() -> int:
    """Measure and tell; 1 if it is too much."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    import django

    django.setup()
    from django.http import HttpResponse
    from django.test import RequestFactory

    from results.site.watch import Asked, Watch, _asked, count_query

    class Match:
        view_name = "browse:home"

    request = RequestFactory().get("/")
    request.resolver_match = Match()
    response = HttpResponse()
    watched = Watch(lambda asked: response)
    _asked.set(Asked("bench"))
    context = {"connection": None}
    a_request = took_ms(lambda: watched(request)) - took_ms(lambda: response)
    a_query = took_ms(lambda: count_query(lambda *given: None, "SELECT 1", (), False, context)) - took_ms(lambda: None)
    whole = a_request + QUERIES * a_query
    print(f"a request {a_request:.4f} ms, a query {a_query:.4f} ms, a request of {QUERIES} queries {whole:.4f} ms")
    print(f"limit {LIMIT_MS} ms{'  TOO MUCH' if whole > LIMIT_MS else ''}")
    return int(whole > LIMIT_MS)


if __name__ == "__main__":
    raise SystemExit(main())
