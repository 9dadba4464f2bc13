"""What a grown book costs beside a small one: accepting a study, and the comparison page.

Run ``python -m tests.bench.grown --small postgresql://…/small --big postgresql://…/big``. Both databases are filled up
to their size by ``manage.py generate``, which goes on where it stopped; without addresses, SQLite in a folder of its
own. The two are asked in turns, so that what else the machine does falls on both. "page" is the comparison as a reader
meets it, "cold" the first after a change of the data. Exits with 1 if a ratio misses its limit.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

# A grown book over a small one.
ACCEPT_LIMIT, COMPARE_LIMIT = 1.5, 3.0
SERIES, SPECIMENS = 10, 10
ACCEPTED, ASKED, COLD = 15, 60, 3


def answer() -> None:
    """Do in this process's book what each line of input says, and print the milliseconds it took."""
    import time

    import django

    django.setup()
    from django.db import transaction
    from django.test import Client

    from results.models import Series, bump
    from results.review.decide import accept
    from results.review.document import draft_of
    from results.review.hand_in import hand_in, waiting
    from tests.bench.review import said
    from tests.factories import make_reviewer, make_user

    maker, reviewer, client = make_user(), make_reviewer(), Client()

    def accepted() -> float:
        study = hand_in(draft_of(said(SERIES, SPECIMENS)), maker, [])
        revision = waiting(study)
        began = time.perf_counter()
        accept(revision, reviewer)
        return time.perf_counter() - began

    def page() -> float:
        began = time.perf_counter()
        shown = client.get("/compare/")
        took = time.perf_counter() - began
        assert shown.status_code == 200, shown.status_code
        return took

    def cold() -> float:
        with transaction.atomic():
            bump()
        return page()

    does = {"accept": accepted, "page": page, "cold": cold, "series": lambda: Series.objects.count() / 1000}
    for line in sys.stdin:
        print(1000 * does[line.strip()](), flush=True)


class Book:
    """A book in a database of its own, in a process of its own."""

    def __init__(self, name: str, address: str, folder: Path, studies: int) -> None:
        environment = {**os.environ, "DJANGO_SETTINGS_MODULE": "results.site.settings", "DEMO": "True"}
        environment |= {"DATA_DIR": str(folder / name), "LOG_LEVEL": "ERROR", "ALLOWED_HOSTS": "testserver"}
        (folder / name).mkdir(parents=True, exist_ok=True)
        if address:
            environment["DATABASE_URL"] = address
        size = ["--studies", str(studies), "--series-per-study", str(SERIES), "--specimens-per-series", str(SPECIMENS)]
        for command in (["migrate", "-v0"], ["load_vocabulary"], ["generate", *size]):
            command = [sys.executable, "manage.py", *command]
            subprocess.run(command, env=environment, check=True, stdout=subprocess.DEVNULL)
        self.process = subprocess.Popen(
            [sys.executable, "-W", "ignore", "-m", "tests.bench.grown", "--answer"],
            env=environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def ask(self, what: str) -> float:
        self.process.stdin.write(f"{what}\n")
        self.process.stdin.flush()
        return float(self.process.stdout.readline())


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--small", default="", help="address of a database")
    parser.add_argument("--big", default="", help="address of another")
    parser.add_argument("--small-studies", type=int, default=100)
    parser.add_argument("--big-studies", type=int, default=2_000)
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--answer", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.answer:
        answer()
        return 0
    folder = asked.folder or Path(tempfile.mkdtemp())
    small = Book("small", asked.small, folder, asked.small_studies)
    big = Book("big", asked.big, folder, asked.big_studies)
    print(f"series: {small.ask('series'):,.0f} and {big.ask('series'):,.0f}")
    ratios = {}
    for what, times in (("accept", ACCEPTED), ("cold", COLD), ("page", ASKED)):
        small.ask(what), big.ask(what)  # the first of a process also reads what it keeps
        pairs = [(small.ask(what), big.ask(what)) for _ in range(times)]
        of_small, of_big = (statistics.median(column) for column in zip(*pairs, strict=True))
        ratios[what] = of_big / of_small
        print(f"{what:8} median {of_small:8.1f} ms and {of_big:8.1f} ms: {ratios[what]:.2f} times")
    return int(ratios["accept"] > ACCEPT_LIMIT or ratios["page"] > COMPARE_LIMIT)


if __name__ == "__main__":
    sys.exit(main())
