"""The site as a machine serves it, on loopback: gunicorn before a database, made and filled for a story."""

from __future__ import annotations

import os
import secrets
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from tests.faults.people import Browser
from tests.faults.postgres import free_port

WORKERS = ("--workers", "2", "--threads", "4")
_NOT_OURS = ("CACHE_URL", "STORAGE_URL", "REPLICA_URLS", "DATABASE_URL", "DATABASE_POOL", "PGBOUNCER")


def get_once(port: int, path: str) -> tuple[int, bytes]:
    """An answer over a connection of its own."""
    browser = Browser(port)
    try:
        return browser.get(path)
    finally:
        browser.close()


class Site:
    """The site with its own folder; on SQLite in that folder unless DATABASE_URL is among what is given more."""

    def __init__(self, folder: Path, **more: str) -> None:
        self.folder, self.port = folder, free_port()
        self.arguments: Sequence[str] = WORKERS
        self.process: subprocess.Popen[bytes] | None = None
        self.environment = {
            **{name: value for name, value in os.environ.items() if name not in _NOT_OURS},
            "SECRET_KEY": secrets.token_urlsafe(40),
            "DEMO": "True",
            "DATA_DIR": str(folder),
            "API_ANONYMOUS_PER_MINUTE": "1000000",
            "API_TOKEN_PER_MINUTE": "1000000",
            "LOG_LEVEL": "CRITICAL",
            "DJANGO_SETTINGS_MODULE": "results.site.settings",
            "MALLOC_ARENA_MAX": "2",  # as the README says
            **more,
        }

    def run(self, module: str, *arguments: str, said: str = "", seconds: float = 180) -> str:
        """What a program of the tests prints that works on the site's data."""
        told = subprocess.run(
            [sys.executable, "-m", module, *arguments],
            env=self.environment,
            input=said,
            capture_output=True,
            text=True,
            timeout=seconds,
            check=False,
        )
        if told.returncode:
            raise RuntimeError(f"{module} failed: {told.stderr[-2000:]}")
        return told.stdout.strip()

    def fill(self, people: int = 0) -> str:
        """Make the tables, the words, a few studies and so many people; the token of who sends more studies."""
        return self.run("tests.faults.fill", str(self.folder), str(people))

    @contextmanager
    def served(self, arguments: Sequence[str] = ()) -> Iterator[None]:
        command = [sys.executable, "-m", "gunicorn", "results.site.wsgi", *(arguments or self.arguments)]
        self.process = process = subprocess.Popen(
            [*command, "--bind", f"127.0.0.1:{self.port}", "--log-level", "critical"],
            env=self.environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        try:
            yield
        finally:
            process.send_signal(signal.SIGTERM)
            try:
                process.wait(15)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()

    def workers(self) -> list[int]:
        """The processes that answer."""
        assert self.process is not None
        master = self.process.pid
        return [int(pid) for pid in Path(f"/proc/{master}/task/{master}/children").read_text().split()]

    def wait_until_up(self) -> None:
        for _ in range(300):
            try:
                if get_once(self.port, "/api/v1/columns")[0] == 200:
                    return
            except OSError:
                pass
            time.sleep(0.1)
        raise RuntimeError("The site does not answer.")


class Book:
    """A small filled book on SQLite, to be copied for each story."""

    def __init__(self, folder: Path, people: int = 2, arguments: Sequence[str] = WORKERS) -> None:
        self.folder, self.arguments = folder, arguments
        Site(folder).fill(people)

    def site(self, folder: Path, **more: str) -> Site:
        """A site of its own with that book."""
        shutil.copytree(self.folder, folder, dirs_exist_ok=True)
        site = Site(folder, **more)
        site.arguments = self.arguments
        return site
