"""How many readers a site answers with one database, and with a replica beside it.

Run ``python -m tests.bench.replica``. A primary and a replica on one machine share its processors, so that the second
adds nothing that could be measured as it is. What it is there for is simulated by service times: each database gives
each process of the site a few connections, and each query holds one of them for some milliseconds without using the
processor, as a busy server far away would. Then the same is measured without that, to say what this machine gives.

Each figure is reads answered in a second by a dozen readers who ask as fast as they are answered. Ends with status 1 if
the replica brings less than `LEAST` times as many under service times. Everything stays on the loopback.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path

from tests.faults.people import Story, at_work, read
from tests.faults.postgres import Server, primary_and_replica, programs, until_caught_up
from tests.faults.replica import Site, in_thread

LEAST = 1.6
READERS, CONNECTIONS = 12, 2
ADDRESSES = tuple(f"/api/v1/studies.json?page_size={size}" for size in range(1, 9))


def measure(servers: tuple[Server, Server], folder: Path, query_ms: float, seconds: float, **more: str) -> float:
    """Reads answered in a second."""
    folder.mkdir()
    more |= {"DJANGO_SETTINGS_MODULE": "tests.bench.slow_settings", "BENCH_QUERY_MS": str(query_ms)}
    site = Site(folder, *servers, DATABASE_POOL=f"{CONNECTIONS}-{CONNECTIONS}", **more)
    story = Story()
    with site.served(["--workers", "1", "--threads", str(2 * READERS)]):
        site.wait_until_up()
        with at_work([in_thread(read, story, site.port, ADDRESSES, 0.0) for _ in range(READERS)], story):
            time.sleep(4)  # until both databases were looked at, and each thread has its modules
            story.step, start = "measured", time.perf_counter()
            time.sleep(seconds)
            tally, took = story.now, time.perf_counter() - start
            count = tally.statuses.total()
            failed = tally.failed
    assert not failed, dict(tally.failures)
    return count / took


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--query-ms", type=float, default=40.0, help="how long a query holds its connection")
    parser.add_argument("--seconds", type=float, default=8.0, help="of each measurement")
    asked = parser.parse_args()
    if programs() is None:
        print("PostgreSQL's programs are not installed; nothing was measured.", file=sys.stderr)
        return 1
    with tempfile.TemporaryDirectory(prefix="breakbook-bench-") as place, primary_and_replica() as servers:
        folder = Path(place)
        (folder / "fill").mkdir()
        Site(folder / "fill", *servers).fill()
        until_caught_up(*servers)
        print(f"{os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}; {CONNECTIONS} connections a database")
        ratio = 0.0
        for name, query_ms in ((f"simulated, {asked.query_ms:g} ms a query", asked.query_ms), ("as it is", 0.0)):
            kind = f"{query_ms:g}"
            one = measure(servers, folder / f"one-{kind}", query_ms, asked.seconds, REPLICA_URLS="")
            both = measure(servers, folder / f"two-{kind}", query_ms, asked.seconds, PRIMARY_READS_PCT="50")
            times = both / one
            print(f"  {name}: one database {one:.1f} reads/s, with a replica {both:.1f} reads/s: {times:.2f} times")
            ratio = ratio or times
    print(f"  limit under service times: {LEAST} times{'' if ratio >= LEAST else '  MISSED'}")
    return 0 if ratio >= LEAST else 1


if __name__ == "__main__":
    sys.exit(main())
