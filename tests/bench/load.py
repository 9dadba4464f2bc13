"""A site under load: many who read at the same time, some who hand in, and reviewers, all of it on loopback.

Run ``python -m tests.bench.load``, or shorter with ``--seconds 60 --readers 50``. It makes a book, serves it by
gunicorn as the README says, and measures a warm page beside an empty view. Then people read, hand in by form and
by the API, and review, for as long as was asked. It does so on SQLite, and again on a PostgreSQL of its own where the
programs are. Ends with status 1 if a limit is missed. It asks 127.0.0.1 alone and stops everything that it started.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from itertools import count
from pathlib import Path

from tests.faults.people import AWAY, Browser, Story, at_work, in_parallel
from tests.faults.postgres import one_server, programs
from tests.faults.scene import in_thread
from tests.faults.site import WORKERS, Site

KINDS = {
    "page": ("/", "/studies/", "/studies/1/", "/joints/", "/compare/", "/evidence/", "/methods/"),
    "chart": ("/compare/chart/strength.svg", "/compare/chart/ratios.json"),
    "api": (
        "/api/v1/studies.json",
        "/api/v1/series.json?page_size=100",
        "/api/v1/compare.json",
        "/api/v1/specimens.csv",
    ),
    "304": ("/api/v1/studies.json", "/api/v1/specimens.json?page_size=100", "/api/v1/compare.json"),
}
# What a reader does between two answers [s]; with 200 readers that is up to 200 requests a second asked for.
PAUSE_S = 1.0
REVIEWERS, HAND_PAUSE_S = 2, 2.0
LONGEST_S = 30.0
PAGE, EMPTY = "/", "/empty/"
OF_EMPTY_LEAST = 0.5
AT_ONCE = 8
_COMPRESSED = {"Accept_Encoding": "gzip"}  # as every browser asks


class Read:
    """What readers were answered: times by kind, and statuses."""

    def __init__(self) -> None:
        self.ms: dict[str, list[float]] = defaultdict(list)
        self.statuses: dict[str, Counter[int]] = defaultdict(Counter)
        self.failed: Counter[str] = Counter()
        self.lock = threading.Lock()


def reads(story: Story, port: int, read: Read, number: int) -> None:
    """Go through pages, charts and the API, and ask again at once for what was just answered with a tag."""
    browser = Browser(port)
    asked = [(kind, path) for kind, paths in KINDS.items() for path in paths]
    story.over.wait(PAUSE_S * (number % 20) / 20)
    for at in count(number * 7):
        if story.over.is_set():
            break
        kind, path = asked[at % len(asked)]
        status = _one(browser, read, path, kind if kind != "304" else "api")
        if kind == "304" and status == 200:
            _one(browser, read, path, "304", If_None_Match=browser.told["ETag"])
        story.over.wait(PAUSE_S)
    browser.close()


def _one(browser: Browser, read: Read, path: str, kind: str, **headers: str) -> int:
    start = time.perf_counter()
    try:
        status = browser.ask("GET", path, **headers)[0]
    except AWAY as error:
        status, path = 0, f"{path} ({type(error).__name__})"
    took = 1000 * (time.perf_counter() - start)
    if kind == "304" and status == 200:  # the data has changed in between, so it was made anew
        kind = "api"
    with read.lock:
        read.ms[kind].append(took)
        read.statuses[kind][status] += 1
        if status not in (200, 304):
            read.failed[f"{status} {path}"] += 1
    return status


def told(name: str, times: Sequence[float], more: str = "") -> None:
    ordered = sorted(times)
    at = [ordered[min(int(share * len(ordered)), len(ordered) - 1)] for share in (0.5, 0.9, 0.95, 0.99, 1)]
    print(f"  {name:<20}{len(ordered):>7}" + "".join(f"{one:>9.0f}" for one in at) + f"  {more}", flush=True)


@contextmanager
def served_empty(site: Site, arguments: Sequence[str] = WORKERS) -> Iterator[Site]:
    """An empty view of the framework on its own, with its usual middleware and as many processes."""
    empty = Site(site.folder, DJANGO_SETTINGS_MODULE="tests.bench.empty_view")
    with empty.served(arguments):
        for _ in range(300):
            try:
                if Browser(empty.port).get(EMPTY)[0] == 200:
                    break
            except AWAY:
                time.sleep(0.1)
        yield empty


def per_second(port: int, path: str, seconds: float = 4.0) -> float:
    """Answers in a second to a few readers who ask as fast as they are answered, by `wrk` where it is."""
    for _ in range(20):  # each process has it warm
        assert Browser(port).ask("GET", path, **_COMPRESSED)[0] == 200
    if wrk := shutil.which("wrk"):
        header = "Accept-Encoding: gzip"
        command = [wrk, "-t1", f"-c{AT_ONCE}", f"-d{seconds:.0f}s", "-H", header, f"http://127.0.0.1:{port}{path}"]
        said = subprocess.run(command, capture_output=True, text=True, check=True).stdout
        assert "Non-2xx" not in said, said
        return float(said.partition("Requests/sec:")[2].split()[0])
    end = time.perf_counter() + seconds

    def ask() -> int:
        browser, done = Browser(port), 0
        while time.perf_counter() < end:
            assert browser.ask("GET", path, **_COMPRESSED)[0] == 200
            done += 1
        browser.close()
        return done

    return sum(in_parallel(ask, AT_ONCE)) / seconds


def measure(site: Site, asked: argparse.Namespace, database: str) -> list[str]:
    """Fill, serve and load a site; what missed its limit."""
    from tests.faults.hands import Hand, Ledger, a_reviewer, hands_in, reviews

    site.fill(asked.submitters)
    print(f"{database}; {os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}")
    with site.served():
        site.wait_until_up()
        wrong = [] if asked.no_empty else _beside_empty(site)
        story, ledger, read = Story(), Ledger(), Read()
        hands = [Hand(site.port, ledger, story, f"hand-{at}") for at in range(asked.submitters)]
        judges = [a_reviewer(site.port, ledger, story) for _ in range(REVIEWERS)]
        people = [
            *(in_thread(reads, story, site.port, read, at) for at in range(asked.readers)),
            *(in_thread(hands_in, hand, HAND_PAUSE_S) for hand in hands),
            *(in_thread(reviews, judge, HAND_PAUSE_S) for judge in judges),
        ]
        start = time.monotonic()
        with at_work(people, story):
            time.sleep(asked.seconds)
        took = time.monotonic() - start
        wrong += _judged(read, ledger, took)
        print("  the book is counted, and verified:", end=" ", flush=True)
        lost = ledger.check(site)
        print("all is there, once" if not lost else f"{len(lost)} things are WRONG")
    return [f"{database}: {one}" for one in wrong + lost]


def _beside_empty(site: Site) -> list[str]:
    page = per_second(site.port, PAGE)
    with served_empty(site) as empty:
        nothing = per_second(empty.port, EMPTY)
    share = page / nothing
    missed = share < OF_EMPTY_LEAST
    print(
        f"  warm page {PAGE}: {page:.0f} answers/s, an empty view: {nothing:.0f}/s, so {share:.2f} of it; "
        f"limit {OF_EMPTY_LEAST}{'  MISSED' if missed else ''}",
        flush=True,
    )
    return [f"a warm page is answered {share:.2f} times as often as an empty view"] if missed else []


def _judged(read: Read, ledger: object, took: float) -> list[str]:
    print("  ms                      count      50 %     90 %     95 %     99 %  longest  statuses")
    for kind in (*KINDS,):
        if read.ms[kind]:
            told(kind, read.ms[kind], str(dict(read.statuses[kind])))
    for kind, times in sorted(ledger.waits_ms.items()):
        told(kind, times)
    total = sum(map(len, read.ms.values()))
    print(f"  {total} reads in {took:.0f} s, {total / took:.0f} a second; {ledger}")
    wrong = [f"{count} reads: {what}" for what, count in read.failed.items()]
    wrong += [f"{n} answers of {status} to who handed in" for status, n in ledger.statuses.items() if status >= 500]
    longest = max((max(times) for times in read.ms.values() if times), default=0.0)
    if longest > 1000 * LONGEST_S:
        wrong.append(f"somebody waited {longest / 1000:.0f} s")
    if not ledger.acknowledged or not ledger.accepted or not read.ms["304"]:
        wrong.append("nothing was handed in, accepted or answered by 304, so that nothing was tried")
    return wrong


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=float, default=300, help="how long people are at work, on each database")
    parser.add_argument("--readers", type=int, default=200)
    parser.add_argument("--submitters", type=int, default=20, help="up to 50: more log in than an address may")
    parser.add_argument("--database", choices=["both", "sqlite", "postgresql"], default="both")
    parser.add_argument("--no-empty", action="store_true", help="leave out the page beside an empty view")
    asked = parser.parse_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    import django

    django.setup()
    wrong = []
    if asked.database != "postgresql":
        with tempfile.TemporaryDirectory(prefix="breakbook-load-") as place:
            wrong += measure(Site(Path(place)), asked, "SQLite")
    if asked.database != "sqlite":
        if programs() is None:
            wrong.append("PostgreSQL's programs are not installed, so nothing was measured on it")
        else:
            with tempfile.TemporaryDirectory(prefix="breakbook-load-") as place, one_server() as server:
                wrong += measure(Site(Path(place), DATABASE_URL=server.url), asked, "PostgreSQL")
    for line in wrong:
        print(f"MISSED: {line}")
    return int(bool(wrong))


if __name__ == "__main__":
    sys.exit(main())
