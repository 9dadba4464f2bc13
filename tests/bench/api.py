"""How fast a server answers from a book of a million specimens, beside what the database does by itself.

Run ``python -m tests.bench.api``, or with ``--rows 200000`` for a quicker look. It makes a book of its own in a
temporary SQLite file, and then in a throwaway PostgreSQL where ``pg_virtualenv`` is at hand, or only in the empty
database that ``DATABASE_URL`` names. Each limit below is printed beside what was measured; ends with status 1 if one
is missed.
"""

from __future__ import annotations

import argparse
import http.client
import os
import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

PYTHON = sys.executable
TIMES_DUMP = {"postgresql": 2.0, "sqlite": 3.0}
MEMORY_MB = 200.0
TIMES_DISK = 1.5
PAGE_MS, HELD_MS, NETWORK_MS = 30.0, 5.0, 20.0
MANY = 8
NETWORK = "/api/v1/network?footing=ratio_solid&invented=with"
FILTERS = [
    f"joint={joint}&timber={timber}&ordering={order}"
    for joint in ("mt_blind", "lap_half", "butt")
    for timber in ("oak_northern_red", "ash_white")
    for order in ("", "specimen_id")
]


class Server:
    """A server of one process and four threads, and the most memory it held."""

    def __init__(self, port: int, process: subprocess.Popen[bytes]) -> None:
        self.port, self.process = port, process
        self.own_mb = self.all_mb = 0.0

    def get(self, address: str, headers: dict[str, str] | None = None) -> tuple[int, http.client.HTTPMessage, int]:
        """Read an answer to its end: status, headers and bytes."""
        link = http.client.HTTPConnection("127.0.0.1", self.port, timeout=600)
        try:
            link.request("GET", address, headers={"Accept-Encoding": "identity", **(headers or {})})
            answer = link.getresponse()
            size = 0
            while block := answer.read(1 << 20):
                size += len(block)
            return answer.status, answer.headers, size
        finally:
            link.close()

    def processor_s(self) -> float:
        """Processor time of the server's worker so far."""
        ticks = 0
        for pid in _children(self.process.pid):
            fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
            ticks += int(fields[11]) + int(fields[12])
        return ticks / os.sysconf("SC_CLK_TCK")

    def watch(self, over: threading.Event) -> None:
        """Note the memory of the process and its worker, again and again."""
        while not over.wait(0.05):
            own, whole = _memory(self.process.pid)
            self.own_mb, self.all_mb = max(self.own_mb, own), max(self.all_mb, whole)


def _children(master: int) -> list[str]:
    return Path(f"/proc/{master}/task/{master}/children").read_text().split()


def _memory(master: int) -> tuple[float, float]:
    """Memory of the largest process of the server [MB]: what is its own, and with the files it has open as programs."""
    found = [(0.0, 0.0)]
    for pid in (str(master), *_children(master)):
        lines = dict(
            line.split(":", 1)
            for line in Path(f"/proc/{pid}/status").read_text().splitlines()
            if line.startswith("Rss")
        )
        kilobytes = {name: int(value.split()[0]) for name, value in lines.items()}
        found.append((kilobytes["RssAnon"] / 1e3, sum(kilobytes.values()) / 1e3))
    return max(found)


@contextmanager
def serving(environment: dict[str, str]) -> Iterator[Server]:
    """The site on a free port, as a machine that serves it would run it."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [PYTHON, "-m", "gunicorn", "results.site.wsgi", "-w", "1", "--threads", "4", "-t", "600"]
    process = subprocess.Popen(
        [*command, "-b", f"127.0.0.1:{port}", "--log-level", "error"],
        env={**environment, "MALLOC_ARENA_MAX": "2"},  # as the README says
    )
    server, over = Server(port, process), threading.Event()
    try:
        for _ in range(200):
            try:
                server.get("/api/v1/columns")
                break
            except OSError:
                time.sleep(0.1)
        watcher = threading.Thread(target=server.watch, args=(over,))
        watcher.start()
        yield server
    finally:
        over.set()
        watcher.join()
        process.terminate()
        process.wait()


def seconds(call: Callable[[], object]) -> float:
    start = time.perf_counter()
    call()
    return time.perf_counter() - start


def median_ms(call: Callable[[], object], times: int) -> float:
    return 1000 * statistics.median(seconds(call) for _ in range(times))


def dump(query: str) -> Callable[[], object]:
    """The database's own way to write the query as CSV, to nowhere."""
    from django.db import connection

    if connection.vendor == "sqlite":
        command = ["sqlite3", "-csv", "-header", str(connection.settings_dict["NAME"]), query]
    else:
        command = ["psql", "-q", "-c", f"COPY ({query}) TO STDOUT (FORMAT csv, HEADER)"]
    return lambda: subprocess.run(command, stdout=subprocess.DEVNULL, check=True)


def query_of_all() -> str:
    """The query of all specimens with all their columns, as the API asks it."""
    from django.contrib.auth.models import AnonymousUser

    from api.columns import values_of
    from api.tables import SPECIMENS
    from results.models import Specimen, Study

    rows = Specimen.objects.filter(series__study__in=Study.objects.visible_to(AnonymousUser()))
    rows = rows.filter(series__study__status__in=["accepted"]).order_by("series_id", "position", "pk")
    sql, params = values_of(rows, SPECIMENS).query.sql_with_params()
    return sql % tuple(f"'{value}'" for value in params)


class Report:
    """Prints each figure beside its limit, and remembers whether one was missed."""

    def __init__(self) -> None:
        self.good = True

    def __call__(self, what: str, value: float, unit: str, limit: float | None = None, more: str = "") -> None:
        missed = limit is not None and value > limit
        self.good &= not missed
        beside = "" if limit is None else f"  limit {limit:g} {unit}{'  MISSED' if missed else ''}"
        print(f"  {what:<58}{value:>10.2f} {unit}{beside}{'  ' + more if more else ''}", flush=True)


def measure(rows: int, environment: dict[str, str]) -> bool:
    """Fill the database, serve it, and hold every figure against its limit."""
    import django

    os.environ.update(environment)
    django.setup()
    from django.core.management import call_command
    from django.db import connection

    from results.models import bump
    from tests.bench.book import fill

    call_command("migrate", verbosity=0)
    report = Report()
    start = time.perf_counter()
    count = fill(rows)
    print(f"{connection.vendor}: {count:,} specimens", flush=True)
    report("to fill it", time.perf_counter() - start, "s")
    with serving(environment) as server:
        report("memory of its own, before", _memory(server.process.pid)[0], "MB")
        _downloads(server, report, connection.vendor)
        _release(server, report)
        _pages(server, report)
        _network(server, report, bump)
        report("most memory of the server's own, with the network worked out", server.own_mb, "MB", MEMORY_MB)
    return report.good


def _downloads(server: Server, report: Report, vendor: str) -> None:
    by_itself, times, size = dump(query_of_all()), [], 0
    for _ in range(2):  # one after the other, so that a busy machine slows both
        own = seconds(by_itself)
        start, worked = time.perf_counter(), server.processor_s()
        _, _, size = server.get("/api/v1/specimens.csv")
        times.append((time.perf_counter() - start, own))
        worked = server.processor_s() - worked
    took, own = min(took for took, _ in times), min(own for _, own in times)
    report("CSV of all specimens, the database's own dump", own, "s")
    report("CSV of all specimens, from the server", took, "s", more=f"{size / 1e6:.0f} MB")
    report("  its processor time, the last time", worked, "s")
    report("  times the dump", took / own, "x", TIMES_DUMP[vendor])
    for form in ("ndjson", "parquet"):
        report("most memory of the server's own, so far", server.own_mb, "MB", MEMORY_MB)
        start = time.perf_counter()
        _, _, size = server.get(f"/api/v1/specimens.{form}")
        report(f"{form} of all specimens", time.perf_counter() - start, "s", more=f"{size / 1e6:.0f} MB")
    report("most memory of the server's own, with Parquet written", server.own_mb, "MB", MEMORY_MB)
    report("  and with the pages of libraries' files that it maps", server.all_mb, "MB")


def _release(server: Server, report: Report) -> None:
    """A release's Parquet against the same file read from the disk, both with nothing of it in memory."""
    from results.releases import make, shelf

    start = time.perf_counter()
    made = make()
    report("a release, written by a process of its own", time.perf_counter() - start, "s")
    path = shelf.folder() / made.release.name / "specimens.parquet"
    address, times = f"/data/releases/{made.release.name}/{path.name}", []
    for _ in range(5):
        _forget(path)
        own = seconds(path.read_bytes)
        _forget(path)
        times.append((seconds(lambda: server.get(address)), own))
    took, own = min(took for took, _ in times), min(own for _, own in times)
    report("Parquet of a release, read from the disk", 1000 * own, "ms", more=f"{path.stat().st_size / 1e6:.0f} MB")
    report("Parquet of a release, from the server", 1000 * took, "ms")
    report("  times the disk", took / own, "x", TIMES_DISK)
    report("most memory of the server's own, so far", server.own_mb, "MB", MEMORY_MB)


def _forget(path: Path) -> None:
    """Let the system drop what it holds of a file in memory."""
    with path.open("rb") as file:
        os.fsync(file)
        os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)


def _pages(server: Server, report: Report) -> None:
    first = [1000 * seconds(lambda query=query: server.get(f"/api/v1/specimens?{query}")) for query in FILTERS]
    again = [
        1000 * seconds(lambda query=query: server.get(f"/api/v1/specimens?{query}"))
        for _ in range(5)
        for query in FILTERS
    ]
    report("filtered page of 100, median", statistics.median([*first, *again]), "ms", PAGE_MS)
    report("  asked for the first time, its rows counted", statistics.median(first), "ms")
    by_cursor = [f"/api/v1/specimens?cursor=&{query}" for query in FILTERS]
    report(
        "  by the cursor, nothing counted",
        statistics.median(1000 * seconds(lambda address=address: server.get(address)) for address in by_cursor * 3),
        "ms",
    )
    address = f"/api/v1/specimens?{FILTERS[0]}"
    tag = server.get(address)[1]["ETag"]
    assert server.get(address, {"If-None-Match": tag})[0] == 304
    report("304, median", median_ms(lambda: server.get(address, {"If-None-Match": tag}), 100), "ms", HELD_MS)


def _network(server: Server, report: Report, bump: Callable[[], None]) -> None:
    alone = seconds(lambda: server.get(NETWORK))
    report("network, worked out", alone, "s")
    report("  from what is kept, median", median_ms(lambda: server.get(NETWORK), 30), "ms", NETWORK_MS)
    bump()
    with ThreadPoolExecutor(MANY) as pool:
        start = time.perf_counter()
        list(pool.map(lambda _: server.get(NETWORK), range(MANY)))
        together = time.perf_counter() - start
    # One process works out one after the other: twice the time would be two workings out.
    report(f"  asked by {MANY} at once after a change, times one", together / alone, "x", 1.7)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=1_000_000)
    wanted = parser.parse_args().rows
    return on_both("api", ["--rows", str(wanted)], None, lambda environment: measure(wanted, environment))


def on_both(bench: str, asked: list[str], folder: Path | None, run: Callable[[dict[str, str]], bool]) -> int:
    """Run a bench on SQLite in that folder, or in one that is thrown away, and again on a throwaway PostgreSQL.

    Where ``DATABASE_URL`` names a database, there alone. Gives the status to end with.
    """
    place = folder or Path(tempfile.mkdtemp(prefix="breakbook-bench-"))
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "results.site.settings",
        "SECRET_KEY": "for-the-bench-only",
        "HTTPS": "False",
        "DATA_DIR": str(place),
        "API_ANONYMOUS_PER_MINUTE": "1000000000",
    }
    try:
        good = run(environment)
    finally:
        if folder is None:
            shutil.rmtree(place)
    if "DATABASE_URL" not in os.environ:
        if not shutil.which("pg_virtualenv"):
            print("No pg_virtualenv here, so nothing was measured on PostgreSQL.")
            return 1
        url = 'DATABASE_URL="postgresql://$PGUSER:$PGPASSWORD@$PGHOST:$PGPORT/$PGDATABASE"'
        command = f'{url} exec "{PYTHON}" -m tests.bench.{bench} {" ".join(asked)}'
        plain = {name: value for name, value in os.environ.items() if not name.startswith("DATA_DIR")}
        good &= subprocess.run(["pg_virtualenv", "-t", "sh", "-c", command], env=plain).returncode == 0
    return int(not good)


if __name__ == "__main__":
    sys.exit(main())
