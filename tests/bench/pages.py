"""How fast pages are made from a book of 20,000 series and 200,000 specimens, beside an empty page of the same stack.

Run ``python -m tests.bench.pages``, or with ``--studies 100`` for a quicker look. It makes a book of its own in a
temporary SQLite file, and then in a throwaway PostgreSQL where ``pg_virtualenv`` is at hand, or only in the empty
database that ``DATABASE_URL`` names. ``--folder`` names a folder to keep the SQLite file in, and to find it there the
next time.

A page is cold when the data have just changed, so that no answer is kept, neither on disk nor by the process; the
database has been read before. Beside the time that a reader waits stands the server's own processor time, which a
busy machine stretches less. Each limit is printed beside what was measured; ends with status 1 if one is missed.
"""

from __future__ import annotations

import argparse
import gzip
import json
import os
import re
import statistics
import sys
import time
from html import unescape
from pathlib import Path

from tests.bench.api import Report, Server, on_both, serving

COLD_MS, WARM_MS = 250.0, 50.0
WEIGHT_KB, MOST_MARKS = 150.0, 5_000
EMPTY = "/login/"
PAGES = {
    "compare": "/compare/",
    "compare, one joint": "/compare/?joint=mt_blind",
    "compare, stress": "/compare/?footing=stress",
    "compare, at the joint": "/compare/?footing=at_joint",
    "compare, bonds in shear": "/compare/?tests=bond&action=shear",
    "network": "/compare/network/",
    "a joint": "/joints/mt_blind/",
    "a study": "/studies/500/",
    "evidence map": "/evidence/",
    "home": "/",
}
COLD_TIMES, WARM_TIMES = 9, 25


def measure(studies: int, environment: dict[str, str]) -> bool:
    """Fill the database unless it is filled, serve it, and hold every page against its limits."""
    import django

    os.environ.update(environment)
    django.setup()
    from django.core.management import call_command
    from django.db import connection

    from results.models import Series, Specimen
    from tests.bench.evidence_book import fill

    call_command("migrate", verbosity=0)
    call_command("collectstatic", verbosity=0, interactive=False)
    report = Report()
    if not Series.objects.exists():
        start = time.perf_counter()
        fill(studies)
        report("to fill it", time.perf_counter() - start, "s")
    counts = f"{Series.objects.count():,} series, {Specimen.objects.count():,} specimens"
    print(f"{connection.vendor}: {counts}; {os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}", flush=True)
    with serving(environment) as server:
        empty = [_timed(server, EMPTY) for _ in range(WARM_TIMES)]
        _tell(report, "an empty page", empty)
        for name, address in PAGES.items():
            _page(server, report, name, address)
        _tell(report, "an empty page, again", [_timed(server, EMPTY) for _ in range(WARM_TIMES)])
    return report.good


def _page(server: Server, report: Report, name: str, address: str) -> None:
    from results.models import bump

    # Libraries that this page alone needs are loaded by the first who ever asks for it.
    if server.get(address)[0] != 200:
        report(f"{name}: not there", float("inf"), "ms", COLD_MS)
        return
    cold = []
    for _ in range(COLD_TIMES):
        bump()
        cold.append(_timed(server, address))
    _tell(report, f"{name}, cold", cold, COLD_MS)
    _tell(report, f"{name}, warm", [_timed(server, address) for _ in range(WARM_TIMES)], WARM_MS)
    _weigh(server, report, address)


def _timed(server: Server, address: str) -> tuple[float, float]:
    """Milliseconds that the reader waited, and that the server worked."""
    start, worked = time.perf_counter(), server.processor_s()
    server.get(address)
    return 1000 * (time.perf_counter() - start), 1000 * (server.processor_s() - worked)


def _tell(report: Report, name: str, times: list[tuple[float, float]], limit: float | None = None) -> None:
    waited = sorted(took for took, _ in times)
    late = statistics.quantiles(waited, n=20, method="inclusive")[-1]
    worked = statistics.mean(worked for _, worked in times)
    more = f"95th percentile {late:.0f} ms; processor {worked:.0f} ms a page"
    report(name, statistics.median(waited), "ms", limit, more)


def _weigh(server: Server, report: Report, address: str) -> None:
    """What is sent before anybody touches a chart, compressed; and the most marks of a chart."""
    page = _text(server, address)
    parts = {unescape(found) for found in re.findall(r'(?:<link[^>]*rel="stylesheet"[^>]*href|<script[^>]*src|<img[^>]*src)="(/[^"]+)"', page)}  # fmt: skip  # noqa: E501
    weight = sum(len(gzip.compress(text.encode(), 6)) for text in (page, *(_text(server, part) for part in parts)))
    report(
        "  its weight with style, scripts and pictures", weight / 1e3, "kB", WEIGHT_KB, f"page {len(page) / 1e3:.0f} kB"
    )
    for figure in re.findall(r'data-figure="([^"]+)"', page):
        start = time.perf_counter()
        traces = json.loads(_text(server, unescape(figure)))["figure"]["data"]
        took = 1000 * (time.perf_counter() - start)
        marks = sum(len(trace.get("x") or []) for trace in traces)
        report(f"  marks of {figure.split('?')[0].rsplit('/', 1)[-1]}", marks, "", MOST_MARKS, f"in {took:.0f} ms")


def _text(server: Server, address: str) -> str:
    import http.client

    link = http.client.HTTPConnection("127.0.0.1", server.port, timeout=600)
    try:
        link.request("GET", address, headers={"Accept-Encoding": "identity"})
        return link.getresponse().read().decode()
    finally:
        link.close()


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--studies", type=int, default=1_000, help="of twenty series each")
    parser.add_argument("--folder", type=Path)
    asked = parser.parse_args()
    again = ["--studies", str(asked.studies)]
    return on_both("pages", again, asked.folder, lambda environment: measure(asked.studies, environment))


if __name__ == "__main__":
    sys.exit(main())
