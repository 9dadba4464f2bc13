"""What the stories share: a site under load, and how a story is run and judged."""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.faults.people import Story, Tally, at_work, read
from tests.faults.site import Book, Site

Say = Callable[[str], None]
Play = Callable[[Site, float, Say], list[str]]
Alone = Callable[[Book, Path, float, Say], list[str]]
READ = ("/", "/studies/", "/compare/", "/joints/", "/studies/1/", "/api/v1/studies.json", "/api/v1/specimens.csv")


class Load:
    """People at work on a site: readers, somebody who hands in, and a reviewer."""

    def __init__(self, site: Site, say: Say) -> None:
        from tests.faults.hands import Ledger

        self.site, self.story, self.ledger, self.say = site, Story(), Ledger(), say

    def step(self, name: str, act: Callable[[], object] | None = None, seconds: float = 1.0) -> Tally:
        """What is done, then people going on for a while; what readers were answered meanwhile."""
        self.story.step = name
        if act is not None:
            act()
        time.sleep(seconds)
        tally = self.story.now
        worst = f"; not well answered: {dict(tally.failures)}" if tally.failures else ""
        self.say(f"{name}\n    {sum(tally.statuses.values())} reads {dict(tally.statuses)}{worst}")
        return tally

    def until_accepted(self, more: int = 1, seconds: float = 20) -> bool:
        """Wait until so many more studies are handed in, and as many accepted; whether they were."""
        end = time.monotonic() + seconds
        wanted = len(self.ledger.acknowledged) + more, len(self.ledger.accepted) + more
        while time.monotonic() < end:
            if len(self.ledger.acknowledged) >= wanted[0] and len(self.ledger.accepted) >= wanted[1]:
                return True
            time.sleep(0.05)
        return False

    def failures(self, *allowed: str) -> list[str]:
        """What readers were answered that they should not have been: statuses that aren't allowed, by step."""
        return [
            f"{name}: {count} times {what}"
            for name, tally in self.story.tallies.items()
            for what, count in tally.failures.items()
            if what.rpartition(" ")[0] not in allowed
        ]

    def judged(self) -> list[str]:
        """Whether everything that was acknowledged is there, once, and the chain is whole; call it in the end."""
        self.say(str(self.ledger))
        told = [f"told to come back, but not when: {what}" for what in self.ledger.silent]
        if not self.ledger.acknowledged or not self.ledger.accepted:
            told.append(f"nothing was handed in or accepted, so that nothing was tried: {self.ledger}")
        if broken := {status for status in self.ledger.statuses if status >= 500 and status != 503}:
            told.append(f"whoever handed in was answered {sorted(broken)}")
        return told + self.ledger.check(self.site)


@contextmanager
def under_load(site: Site, say: Say, readers: int = 2, **headers: str) -> Iterator[Load]:
    """People at work while something goes wrong; all of them have stopped at the end."""
    from tests.faults.hands import Hand, a_reviewer, hands_in, reviews

    load = Load(site, say)
    hand = Hand(site.port, load.ledger, load.story, "hand-0", **headers)
    judge = a_reviewer(site.port, load.ledger, load.story, **headers)
    people = [
        *(in_thread(read, load.story, site.port, READ[at:] + READ[:at], 0.2) for at in range(readers)),
        in_thread(hands_in, hand, 0.4),
        in_thread(reviews, judge, 0.4),
    ]
    with at_work(people, load.story):
        yield load


def in_thread(work: Callable[..., None], *arguments: object) -> threading.Thread:
    """Somebody at work, not begun yet."""
    return threading.Thread(target=work, args=arguments, daemon=True)


def run(play: Play, about: str | None, **environment: str) -> int:
    """Run a story of a site that is served as usual; 1 if something was not as it should be."""

    def served(book: Book, folder: Path, seconds: float, say: Say) -> list[str]:
        site = book.site(folder, **environment)
        with site.served():
            site.wait_until_up()
            return play(site, seconds, say)

    return run_alone(served, about)


def run_alone(play: Alone, about: str | None) -> int:
    """Run a story that makes its own site."""
    asked = argparse.ArgumentParser(description=about, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--seconds", type=float, default=3.0, help="how long people go on after each step")
    seconds = asked.parse_args().seconds
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    import django

    django.setup()
    start = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="breakbook-story-") as place:
        (Path(place) / "book").mkdir()
        book = Book(Path(place) / "book")
        wrong = play(book, Path(place) / "site", seconds, print)
    print(f"{time.monotonic() - start:.0f} s in all")
    for line in wrong:
        print(f"WRONG: {line}", file=sys.stderr)
    return 1 if wrong else 0
