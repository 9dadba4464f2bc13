"""People who hand in and review, what they were told is saved, and whether all of that is there, once."""

from __future__ import annotations

import json
import re
import threading
import time
import uuid
from collections import Counter
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any
from urllib.parse import urlencode

from results.demo import PASSWORD, REVIEWER
from tests.faults.people import AWAY, Browser, Story
from tests.faults.site import Site
from tests.results.pages.forms import form, values_of

# What a form of `form()` and an example of the API hold.
BY_FORM, BY_API = 8, 2
WAIT_MOST_S = 1.0


@dataclass
class Ledger:
    """What was sent, by its title, and what of it the site said it had.

    Parameters
    ----------
    tried, acknowledged : dict
        Number of specimens by the title of the study, which nobody else's has.
    accepted : set of int
        Revisions that a reviewer was told are accepted.
    statuses : Counter
        Answers to whoever sent or decided something, 0 for none at all.
    silent : list of str
        Answers of 429 and 503 that did not say when to come back.
    waits_ms : dict
        How long whoever sent something waited for each answer, by what it was.
    longest_limit_s : float
        For how long something is still counted against somebody, as of the last check.
    """

    tried: dict[str, int] = field(default_factory=dict)
    acknowledged: dict[str, int] = field(default_factory=dict)
    accepted: set[int] = field(default_factory=set)
    statuses: Counter[int] = field(default_factory=Counter)
    silent: list[str] = field(default_factory=list)
    waits_ms: dict[str, list[float]] = field(default_factory=dict)
    longest_limit_s: float = 0.0
    lock: threading.Lock = field(default_factory=threading.Lock)

    def check(self, site: Site) -> list[str]:
        """What is not as it was said to be: each study whole and once, and `manage.py verify` content."""
        said = {"tried": self.tried, "acknowledged": self.acknowledged, "accepted": sorted(self.accepted)}
        found = json.loads(site.run("tests.faults.counted", said=json.dumps(said)).splitlines()[-1])
        self.longest_limit_s = found["longest_limit_s"]
        return found["wrong"]

    def __str__(self) -> str:
        return (
            f"{len(self.acknowledged)} of {len(self.tried)} studies acknowledged, {len(self.accepted)} accepted by a "
            f"reviewer; answers {dict(sorted(self.statuses.items()))}"
        )


class Hand:
    """Somebody signed in who sends things, and sends them again for as long as the site is away."""

    def __init__(self, port: int, ledger: Ledger, story: Story, name: str, **headers: str) -> None:
        self.browser, self.ledger, self.story, self.name = Browser(port, **headers), ledger, story, name
        self.browser.log_in(name, PASSWORD)

    def send(self, kind: str, path: str, body: bytes, **headers: str) -> tuple[int, bytes, str]:
        """The first answer that is one; the same again after 429, 503 and no answer, until the story is over."""
        while True:
            start = time.perf_counter()
            try:
                status, found, leads = self.browser.ask("POST" if body else "GET", path, body or None, **headers)
            except AWAY:
                status, found, leads = 0, b"", ""
            with self.ledger.lock:
                self.ledger.statuses[status] += 1
                self.ledger.waits_ms.setdefault(kind, []).append(1000 * (time.perf_counter() - start))
                if status in (429, 503) and "Retry-After" not in self.browser.told:
                    self.ledger.silent.append(f"{status} {path}")
            if status not in (0, 429, 503) or self.story.over.is_set():
                return status, found, leads
            self.story.over.wait(WAIT_MOST_S)

    def _form(self, kind: str, path: str, fields: dict[str, str]) -> tuple[int, bytes, str]:
        body = urlencode({"csrfmiddlewaretoken": self.browser.form_mark, **fields}).encode()
        return self.send(kind, path, body, Content_Type="application/x-www-form-urlencoded")

    def _trying(self, title: str, specimens: int) -> None:
        with self.ledger.lock:
            self.ledger.tried[title] = specimens

    def _acknowledged(self, title: str) -> None:
        with self.ledger.lock:
            self.ledger.acknowledged[title] = self.ledger.tried[title]

    def hand_in(self) -> int:
        """Look at a filled-in form, then hand it in; the status of the last answer."""
        key = str(uuid.uuid4())
        fields = {**form(), "key": key, "study-title": f"By form {key}"}
        self._trying(fields["study-title"], BY_FORM)
        status, page, _ = self._form("form, looked at", "/submit/form/", {**fields, "do": "check", "version": "0"})
        if status != 200:
            return status
        shown = values_of(SimpleNamespace(content=page))
        more = {"do": "save", "version": shown["version"], "seen": shown["seen"]}
        status, _, leads = self._form("form, handed in", "/submit/form/", {**fields, **more})
        if status == 302 and re.search(r"/studies/\d+/", leads):
            self._acknowledged(fields["study-title"])
        return status

    def send_draft(self) -> int:
        """Send a draft to the API under a key of its own; the status of the answer."""
        from api.openapi.answers import DRAFT_EXAMPLE

        key = str(uuid.uuid4())
        rows: list[dict[str, Any]] = [{**DRAFT_EXAMPLE[0], "study title": f"By API {key}"}, *DRAFT_EXAMPLE[1:]]
        self._trying(rows[0]["study title"], BY_API)
        headers = {"Content_Type": "application/json", "Idempotency_Key": key, "X_CSRFToken": self.browser.form_mark}
        status, _, _ = self.send("draft by API", "/api/v1/studies", json.dumps(rows).encode(), **headers)
        if status == 201:
            self._acknowledged(rows[0]["study title"])
        return status

    def review(self) -> int:
        """Accept what has waited longest; how many were."""
        status, page, _ = self.send("queue of reviews", "/review/", b"")
        found = re.findall(rb'href="/review/(\d+)/"', page) if status == 200 else []
        for number in map(int, dict.fromkeys(found[:3])):
            status, _, leads = self._form(
                "review, accepted", f"/review/{number}/", {"do": "accept", "remarks": "Looked at."}
            )
            if status == 302 and leads == "/review/":
                with self.ledger.lock:
                    self.ledger.accepted.add(number)
        return len(found)


def hands_in(hand: Hand, pause_s: float) -> None:
    """Go on handing in, by form and by the API in turn."""
    while not hand.story.over.is_set():
        hand.hand_in()
        hand.story.over.wait(pause_s)
        if not hand.story.over.is_set():
            hand.send_draft()
        hand.story.over.wait(pause_s)
    hand.browser.close()


def reviews(hand: Hand, pause_s: float) -> None:
    """Go on accepting what others hand in."""
    while not hand.story.over.is_set():
        hand.review()
        hand.story.over.wait(pause_s)
    hand.browser.close()


def a_reviewer(port: int, ledger: Ledger, story: Story, **headers: str) -> Hand:
    return Hand(port, ledger, story, REVIEWER, **headers)
