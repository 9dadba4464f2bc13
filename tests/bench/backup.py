"""How long a large book takes to be backed up and put back, and how much memory that needs.

Run: python -m tests.bench.backup [specimens]

The book is generated in an SQLite file, backed up, and put back into another. Where DATABASE_URL names an empty
PostgreSQL it is put back there too, backed up from there, and put back into SQLite again. Ends with 1 if a step takes
longer than its limit or needs more memory.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

RESTORE_S, BACKUP_S, MEMORY_MB = 180.0, 180.0, 400


class Bench:
    """Runs steps, each in a process of its own, and holds them against their limits."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.slow = folder, False

    def run(self, book: str, *command: str, limit_s: float | None = None) -> None:
        environment = {**os.environ, "DATA_DIR": str(self.folder / book), "DEMO": "True"}
        if book != "postgresql":
            environment.pop("DATABASE_URL", None)
        (self.folder / book).mkdir(exist_ok=True)
        start = time.perf_counter()
        process = subprocess.Popen([sys.executable, *command], env=environment, stdout=subprocess.DEVNULL)
        _, status, used = os.wait4(process.pid, 0)
        took, memory = time.perf_counter() - start, used.ru_maxrss / 1024
        if status:
            raise SystemExit(f"{' '.join(command)} failed")
        if limit_s is not None:
            over = took > limit_s or memory > MEMORY_MB
            self.slow |= over
            cpu = used.ru_utime + used.ru_stime
            told = f"{book:12} {command[1]:8} {took:6.1f} s ({cpu:.1f} s of a processor), {memory:.0f} MB"
            print(told + ("  TOO MUCH" if over else ""), flush=True)

    def make(self, book: str, specimens: int = 0) -> None:
        self.run(book, "manage.py", "migrate", "-v0")
        if specimens:
            self.run(book, "-m", "tests.bench.backup", "fill", str(specimens))

    def back_up(self, book: str) -> str:
        file = self.folder / f"{book}.zip"
        self.run(book, "manage.py", "backup", str(file), limit_s=BACKUP_S)
        print(f"{'':12} {file.stat().st_size / 1e6:.0f} MB", flush=True)
        return str(file)

    def put_back(self, book: str, file: str) -> None:
        self.make(book)
        self.run(book, "manage.py", "restore", file, limit_s=RESTORE_S)


def fill(specimens: int) -> None:
    """Generate a book in the database of the settings."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "results.site.settings")
    import django

    django.setup()
    from tests.bench import book

    book.fill(specimens)


def main(specimens: int) -> int:
    """Run all steps; 1 if any took too long or too much."""
    with tempfile.TemporaryDirectory(prefix="breakbook-bench-") as folder:
        bench = Bench(Path(folder))
        bench.make("first", specimens)
        file = bench.back_up("first")
        bench.put_back("second", file)
        if os.environ.get("DATABASE_URL", "").startswith("postgres"):
            bench.put_back("postgresql", file)
            bench.put_back("third", bench.back_up("postgresql"))
    print(f"This process: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")
    return int(bench.slow)


if __name__ == "__main__":
    if sys.argv[1:2] == ["fill"]:
        fill(int(sys.argv[2]))
    else:
        raise SystemExit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000))
