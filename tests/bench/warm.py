"""Warm pages beside an empty view: how many a second one process of gunicorn answers of each.

Run ``nice -n -18 python -m tests.bench.warm`` (``--seconds``, ``--times``, ``--kept 0`` for pages that aren't kept
whole). It fills a small book on SQLite, serves it as the README says, but by one process, and beside it, by one process
too, an empty view of the framework with its usual middleware. `wrk` asks where it is, else a few threads of this
script; readers take compressed answers, as browsers do. All are asked in turns, so that none has the quieter machine.
Ends with status 1 if a page misses the limit of `tests.bench.load`.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
from collections import defaultdict
from pathlib import Path

from tests.bench.load import EMPTY, OF_EMPTY_LEAST, per_second, served_empty
from tests.faults.site import Site, get_once

PAGES = ("/", "/compare/", "/joints/dowel/", "/evidence/")
WORKERS = ("-c", "python:results.site.gunicorn", "--workers", "1", "--threads", "4")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=float, default=4, help="how long each address is asked, each time")
    parser.add_argument("--times", type=int, default=3)
    parser.add_argument("--kept", type=int, default=300, help="PAGES_KEPT of the site")
    asked = parser.parse_args()
    found: dict[str, list[float]] = defaultdict(list)
    print(f"{os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}, one process each, PAGES_KEPT={asked.kept}")
    with tempfile.TemporaryDirectory(prefix="breakbook-warm-") as place:
        site = Site(Path(place), PAGES_KEPT=str(asked.kept))
        site.fill()
        site.arguments = WORKERS
        with site.served(), served_empty(site, WORKERS) as empty:
            site.wait_until_up()
            sizes = {path: len(get_once(site.port, path)[1]) for path in PAGES}
            print("  bytes, uncompressed: " + ", ".join(f"{path} {size:,}" for path, size in sizes.items()))
            for _ in range(asked.times):
                found[EMPTY].append(per_second(empty.port, EMPTY, asked.seconds))
                for path in PAGES:
                    found[path].append(per_second(site.port, path, asked.seconds))
    nothing = statistics.median(found[EMPTY])
    missed = 0
    for path, times in found.items():
        middle = statistics.median(times)
        below = middle < OF_EMPTY_LEAST * nothing
        missed += below
        each = ", ".join(f"{one:.0f}" for one in times)
        print(
            f"  {path:<18}{middle:>7.0f} answers/s  {middle / nothing:.2f} of the empty view  ({each})"
            f"{'  MISSED' if below else ''}"
        )
    print(f"limit {OF_EMPTY_LEAST}")
    return int(bool(missed))


if __name__ == "__main__":
    sys.exit(main())
