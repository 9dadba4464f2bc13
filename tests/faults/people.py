"""Readers and writers of a running site: what each was answered, counted by the step of the story it came in."""

from __future__ import annotations

import http.client
import json
import re
import statistics
import threading
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from email.message import Message
from http.cookies import SimpleCookie
from itertools import count
from typing import TypeVar
from urllib.parse import urlencode

T = TypeVar("T")
TIMEOUT_S = 30
AWAY = (http.client.HTTPException, OSError)


@dataclass
class Tally:
    """What happened in one step.

    Parameters
    ----------
    statuses : Counter
        Answers to readers by status; 0 for none at all.
    waits_ms : list of float
        How long each reader waited.
    failures : Counter
        Those of them that were a fault of the site's, by what was asked for.
    written, refused : int
        Writes that were saved, and those that were told to be tried again later.
    own_unseen : int
        Times that somebody did not see what they had just written.
    """

    statuses: Counter[int] = field(default_factory=Counter)
    waits_ms: list[float] = field(default_factory=list)
    failures: Counter[str] = field(default_factory=Counter)
    written: int = 0
    refused: int = 0
    own_unseen: int = 0
    seen: int = 0

    @property
    def failed(self) -> int:
        """Answers to readers that were a fault of the site's."""
        return self.failures.total()

    def __str__(self) -> str:
        reads = sum(self.statuses.values())
        waits = sorted(self.waits_ms) or [0.0]
        return (
            f"{reads:5d} reads, {self.failed} of them 5xx or none (median {statistics.median(waits):.0f} ms, longest "
            f"{waits[-1]:.0f} ms); {self.written} writes saved, {self.refused} told to come back; own writes read "
            f"again {self.seen} times, not seen {self.own_unseen} times"
        )


class Story:
    """Which step it is, and what was counted in each."""

    def __init__(self) -> None:
        self.step = "before"
        self.tallies: dict[str, Tally] = defaultdict(Tally)
        self.over = threading.Event()
        self.lock = threading.Lock()
        self.may_write = threading.Lock()

    def over_after(self, seconds: float) -> None:
        """Let it end by itself."""
        threading.Timer(seconds, self.over.set).start()

    @property
    def now(self) -> Tally:
        return self.tallies[self.step]


class Browser:
    """Somebody's requests over one connection, cookies kept."""

    def __init__(self, port: int, token: str = "", **always: str) -> None:
        self.port, self.cookies, self.token = port, SimpleCookie(), token
        self.always = always  # headers of every request
        self.told: Message = Message()  # the headers of the last answer
        self.link: http.client.HTTPConnection | None = None

    def ask(self, method: str, path: str, body: bytes | None = None, **headers: str) -> tuple[int, bytes, str]:
        """Status, body and where the answer leads; a connection that the server closed is made anew once."""
        sent = {name.replace("_", "-"): value for name, value in (self.always | headers).items()}
        if self.token:
            sent["Authorization"] = f"Bearer {self.token}"
        if self.cookies:
            sent["Cookie"] = "; ".join(f"{name}={one.value}" for name, one in self.cookies.items())
        response, found = self._answered(method, path, body, sent)
        self.told = response.headers
        for line in response.headers.get_all("Set-Cookie") or []:
            self.cookies.load(line)
        return response.status, found, response.headers.get("Location", "")

    def _answered(
        self, method: str, path: str, body: bytes | None, sent: dict[str, str]
    ) -> tuple[http.client.HTTPResponse, bytes]:
        used_before = self.link is not None
        if self.link is None:
            self.link = http.client.HTTPConnection("127.0.0.1", self.port, timeout=TIMEOUT_S)
        try:
            self.link.request(method, path, body, sent)
            response = self.link.getresponse()
            return response, response.read()
        except (OSError, http.client.HTTPException) as error:
            self.link.close()
            self.link = None
            if used_before and isinstance(error, ConnectionError):  # closed by the server while nobody asked
                return self._answered(method, path, body, sent)
            raise

    def close(self) -> None:
        if self.link is not None:
            self.link.close()

    def get(self, path: str) -> tuple[int, bytes]:
        return self.ask("GET", path)[:2]

    def post_form(self, path: str, **fields: str) -> tuple[int, str]:
        """Send a form of a page, with the mark that the page has; status and where it leads."""
        return self.send_form(path, self.mark(path), **fields), self.told.get("Location", "")

    def send_form(self, path: str, mark: str, **fields: str) -> int:
        """Send a form with a mark that is known; the status."""
        body = urlencode({"csrfmiddlewaretoken": mark, **fields}).encode()
        return self.ask("POST", path, body, Content_Type="application/x-www-form-urlencoded")[0]

    def mark(self, path: str) -> str:
        """The mark against forged forms that a page of this browser holds."""
        found = re.search(rb'name="csrfmiddlewaretoken" value="([^"]+)"', self.get(path)[1])
        assert found, f"{path} holds no form"
        return found[1].decode()

    def log_in(self, name: str, password: str) -> None:
        status, _ = self.post_form("/login/", login=name, password=password)
        assert status == 302, f"{name} could not log in: {status}"
        self.form_mark = self.mark("/account/")


def read(story: Story, port: int, addresses: Sequence[str], pause_s: float) -> None:
    """Somebody unknown, who goes through the addresses again and again."""
    browser, at = Browser(port), count()
    while not story.over.is_set():
        start = time.perf_counter()
        address = addresses[next(at) % len(addresses)]
        try:
            status = browser.get(address)[0]
        except (OSError, http.client.HTTPException):
            status = 0
        with story.lock:
            tally = story.now  # what began in one step and failed in the next was failed by the next
            tally.statuses[status] += 1
            if status == 0 or status >= 500:
                wait = "" if status != 503 or "Retry-After" in browser.told else " without Retry-After"
                tally.failures[f"{status}{wait} {address}"] += 1
            tally.waits_ms.append(1000 * (time.perf_counter() - start))
        time.sleep(pause_s)
    browser.close()


def write(story: Story, browser: Browser, study: list[dict[str, str]], kept: list[int], pause_s: float) -> None:
    """Somebody who sends studies and looks at each at once, where everybody's are read."""
    while not story.over.is_set():
        headers = {"Content_Type": "application/json"}
        if not browser.token:
            headers |= {"X_CSRFToken": browser.form_mark}
        status, number, seen = 0, 0, 0
        try:
            with story.may_write:
                status, body, _ = browser.ask("POST", "/api/v1/studies", json.dumps(study).encode(), **headers)
                if status == 201:
                    number = json.loads(body)["study_id"]
                    kept.append(number)
                    seen = browser.get(f"/api/v1/studies/{number}")[0]
        except (OSError, http.client.HTTPException):
            pass
        with story.lock:
            tally = story.now
            tally.written += status == 201
            tally.refused += status != 201
            tally.seen += seen == 200
            # A database that is away answers nothing; that is no untrue answer.
            tally.own_unseen += bool(number) and seen not in (200, 503, 0)
        time.sleep(pause_s)
    browser.close()


def in_parallel(act: Callable[[], T], times: int) -> list[T]:
    """What so many threads at once found."""
    with ThreadPoolExecutor(times) as pool:
        return [one.result() for one in [pool.submit(act) for _ in range(times)]]


@contextmanager
def at_work(threads: Sequence[threading.Thread], story: Story) -> Iterator[None]:
    """People at work until the story is over."""
    for one in threads:
        one.start()
    try:
        yield
    finally:
        story.over.set()
        for one in threads:
            one.join(TIMEOUT_S + 5)
