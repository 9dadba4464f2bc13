"""What is counted and timed while the site runs, for whoever watches it; `results.site.metrics` hands it out.

Counts are the process's own unless PROMETHEUS_MULTIPROC_DIR names a folder in which all processes keep theirs.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import Protocol

from prometheus_client import Counter, Histogram

SECONDS = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30)
QUERIES = (0, 1, 2, 5, 10, 20, 50, 100, 200)
METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})

_requests = Counter("breakbook_requests", "Requests answered.", ["view", "method", "status"])
_seconds = Histogram(
    "breakbook_request_seconds", "Time until an answer begins.", ["view", "method"], unit="seconds", buckets=SECONDS
)
_queries = Histogram("breakbook_request_queries", "Database queries until an answer begins.", ["view"], buckets=QUERIES)
_throttled = Counter("breakbook_throttled", "Requests refused because there were too many.", ["view"])
_findings = Counter("breakbook_findings", "Findings on studies sent to be checked.", ["code", "severity"])


class _Noticed(Protocol):
    @property
    def code(self) -> str: ...

    @property
    def severity(self) -> str: ...


@lru_cache(maxsize=4096)
def _of(view: str, method: str, status: str) -> tuple[Counter, Histogram, Histogram]:
    """The counts of one kind of request; finding them anew takes longer than counting."""
    return _requests.labels(view, method, status), _seconds.labels(view, method), _queries.labels(view)


def answered(view: str, method: str, status: int, seconds: float, queries: int) -> None:
    """A request was answered.

    Parameters
    ----------
    view : str
        Name of the view; never an address, of which there are too many.
    method : str
    status : int
        Counted by its first digit: ``2xx``.
    seconds : float
        Until the answer began [s].
    queries : int
        Of the database.
    """
    method = method if method in METHODS else "other"
    count, times, asked = _of(view, method, f"{status // 100}xx")
    count.inc()
    times.observe(seconds)
    asked.observe(queries)
    if status == 429:
        _throttled.labels(view).inc()


def noticed(findings: Iterable[_Noticed]) -> None:
    """A study was sent to be checked, and these are the findings."""
    for one in findings:
        _findings.labels(one.code, one.severity).inc()
