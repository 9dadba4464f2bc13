"""A primary and a replica on this machine, the site before both, and what people see as one after the other fails.

Run ``python -m tests.faults.replica``. It makes both servers in a temporary folder, serves the site by gunicorn, and
goes through the story below; for each step it prints what readers and writers were answered. It takes less than a
minute and a half, and stops everything that it started. Ends with status 1 if somebody was answered what they should
not have been. Everything stays on the loopback.
"""

from __future__ import annotations

import os
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

from tests.faults.people import Browser, Story, Tally, at_work, read, write
from tests.faults.postgres import DATABASE, USER, Server, primary_and_replica, programs, until_caught_up
from tests.faults.site import Site as OneSite
from tests.faults.site import get_once

LAG_MOST_S = 2
READ = (
    "/",
    "/studies/",
    "/compare/",
    "/joints/",
    "/studies/1/",
    "/api/v1/studies.json",
    "/api/v1/specimens.ndjson",
    "/api/v1/specimens.csv",
    "/api/v1/compare.json",
)
STEP_S = 3.0


class Site(OneSite):
    """The site before a primary and a replica."""

    def __init__(self, folder: Path, primary: Server, replica: Server, **more: str) -> None:
        both = f"host=127.0.0.1,127.0.0.1&port={primary.port},{replica.port}"
        ours = {
            # Whichever of the two is the primary is found by the driver itself.
            "DATABASE_URL": f"postgresql://{USER}@/{DATABASE}?{both}&target_session_attrs=read-write&connect_timeout=2",
            "REPLICA_URLS": f"{primary.url},{replica.url}",
            "REPLICA_LAG_MOST_S": str(LAG_MOST_S),
        }
        super().__init__(folder, **(ours | more))


class Play:
    """The story, step by step."""

    def __init__(self, site: Site, primary: Server, replica: Server, say: Callable[[str], None]) -> None:
        self.site, self.primary, self.replica, self.say = site, primary, replica, say
        self.story, self.kept, self.told = Story(), [], []
        self.facts: dict[str, float] = {}
        self.asker = Browser(site.port)
        self.number = 0

    def step(self, name: str, act: Callable[[], None] | None = None, seconds: float = STEP_S) -> Tally:
        """One step: what is done, then people going on for a while."""
        self.story.step = name
        before = self._transactions()
        if act:
            act()
        time.sleep(seconds)
        after = self._transactions()
        served = ", ".join(
            f"{after[one] - before.get(one, 0)} at the {one}" if one in after else f"none at the {one}, which is away"
            for one in ("primary", "replica")
        )
        tally = self.story.now
        self.say(f"{name}\n    {tally}\n    transactions: {served}")
        return tally

    def _transactions(self) -> dict[str, int]:
        found = {}
        for one in (self.primary, self.replica):
            try:
                found[one.name] = one.transactions()
            except Exception:  # noqa: S112, BLE001, RUF100 (it is away, which is the story)
                continue
        return found

    def ask_something(self) -> str:
        """A question on a study, which its page shows to everybody; how it reads."""
        self.number += 1
        words = f"Was the arm measured at number {self.number}?"
        status, _ = self.asker.post_form("/studies/1/ask/", kind="question", about="", text=words)
        assert status == 302, f"the question was not taken: {status}"
        self.told.append(words)
        return words

    def asker_sees(self, words: str) -> None:
        """Whether who asked finds it on the page at once."""
        found = words.encode() in self.asker.get("/studies/1/")[1]
        self.story.now.seen += found
        self.story.now.own_unseen += not found

    def strangers_see(self, words: str, times: int = 1) -> bool:
        """Whether somebody unknown does, over fresh connections and so at any process."""
        return all(words.encode() in get_once(self.site.port, "/studies/1/")[1] for _ in range(times))

    def until_strangers_see(self, words: str, most_s: float) -> float:
        start = time.monotonic()
        while not self.strangers_see(words, times=6):
            if time.monotonic() - start > most_s:
                return float("inf")
            time.sleep(0.1)
        return time.monotonic() - start

    # -- the steps
    def ask_and_see(self) -> None:
        self.asker_sees(self.ask_something())

    def cut(self) -> None:
        self.replica.stop()
        self.ask_and_see()

    def back(self) -> None:
        self.replica.start()
        until_caught_up(self.primary, self.replica)
        self.ask_and_see()

    def lag(self) -> None:
        """The replica goes on answering and replays nothing more."""
        self.replica.ask("SELECT pg_wal_replay_pause()")
        words = self.ask_something()
        for _ in range(5):
            self.asker_sees(words)
        self.facts["until others saw it, s"] = self.until_strangers_see(words, 15)

    def catch_up(self) -> None:
        self.replica.ask("SELECT pg_wal_replay_resume()")
        until_caught_up(self.primary, self.replica)
        # By now both databases were asked for the page, in every state between.
        time.sleep(1.5)
        self.facts["old answers kept as new"] = float(not self.strangers_see(self.told[-1], times=20))

    def lose_primary(self) -> None:
        """With nothing on its way: what the primary says is saved and no replica has yet is lost with it, always."""
        with self.story.may_write:
            until_caught_up(self.primary, self.replica)
            self.primary.stop()

    def promote(self) -> None:
        self.replica.promote()
        start = time.monotonic()
        # Whoever writes finds it; the writers of the story go on trying all the while.
        before = self.story.now.written
        while self.story.now.written == before and time.monotonic() - start < 20:
            time.sleep(0.05)
        self.facts["from the promotion to the first write, s"] = time.monotonic() - start

    def lost(self) -> int:
        """Writes that were said to be saved and are not there."""
        there = self.replica.ask(
            f"SELECT count(*) FROM results_study WHERE id = ANY(ARRAY{sorted(self.kept) or [0]}::bigint[])"
        )
        asked = self.replica.ask("SELECT string_agg(text, ' ') FROM results_question") or ""
        return len(set(self.kept)) - int(there) + sum(words not in asked for words in self.told)


def play(say: Callable[[str], None] = print) -> list[str]:
    """The whole story; what went wrong in it, nothing if all is well."""
    from api.openapi.answers import DRAFT_EXAMPLE
    from results.demo import MAKER, PASSWORD, READER

    with tempfile.TemporaryDirectory(prefix="breakbook-faults-site-") as folder, primary_and_replica() as servers:
        site = Site(Path(folder), *servers)
        with site.served():  # it is loaded meanwhile
            token = site.fill()
            until_caught_up(*servers)
            site.wait_until_up()
            tale = Play(site, *servers, say)
            tale.asker.log_in(READER, PASSWORD)
            with_token, with_cookies = Browser(site.port, token), Browser(site.port)
            with_cookies.log_in(MAKER, PASSWORD)
            people = [
                *(in_thread(read, tale.story, site.port, READ[at:] + READ[:at], 0.05) for at in (0, 4)),
                in_thread(write, tale.story, with_token, DRAFT_EXAMPLE, tale.kept, 0.3),
                in_thread(write, tale.story, with_cookies, DRAFT_EXAMPLE, tale.kept, 0.3),
            ]
            with at_work(people, tale.story):
                _tell(tale)
            return _wrong(tale)


def in_thread(work: Callable[..., None], *arguments: object) -> threading.Thread:
    """Somebody at work, not begun yet."""
    return threading.Thread(target=work, args=arguments, daemon=True)


def _tell(tale: Play) -> None:
    time.sleep(1)  # what each process loads with its first answers
    tale.step("both are well", tale.ask_and_see)
    tale.step("the replica is cut off", tale.cut)
    tale.step("it is back", tale.back)
    tale.step("it lags: it answers, and replays nothing more", tale.lag, STEP_S / 2)
    tale.step("it has caught up", tale.catch_up)
    tale.step("the primary is lost", tale.lose_primary)
    tale.step("the replica is made the primary", tale.promote)
    tale.step("after that", tale.ask_and_see, STEP_S / 2)
    for what, value in tale.facts.items():
        tale.say(f"{what}: {value:.1f}")


def _wrong(tale: Play) -> list[str]:
    wrong = []
    for name, tally in tale.story.tallies.items():
        if tally.failed:
            wrong.append(f"{name}: {tally.failed} answers to readers failed: {dict(tally.failures)}")
        if tally.own_unseen:
            wrong.append(f"{name}: {tally.own_unseen} times somebody did not see what they had written")
        if name not in ("before", "the primary is lost", "the replica is made the primary") and tally.refused:
            wrong.append(f"{name}: {tally.refused} writes were refused")
    lost = tale.lost()
    tale.say(f"writes that were said to be saved and are lost: {lost} of {len(tale.kept) + len(tale.told)}")
    if lost:
        wrong.append(f"{lost} writes were lost")
    if tale.facts["old answers kept as new"]:
        wrong.append("an answer made from old data was kept as one made from new")
    if tale.facts["until others saw it, s"] > 2 * LAG_MOST_S + 3:
        wrong.append("others saw what was written only long after a replica should have been left out")
    return wrong


def main() -> int:
    if programs() is None:
        print("PostgreSQL's programs are not installed; nothing was tried.", file=sys.stderr)
        return 1
    start = time.monotonic()
    wrong = play()
    print(f"{time.monotonic() - start:.0f} s in all")
    for line in wrong:
        print(f"WRONG: {line}")
    return 1 if wrong else 0


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    import django

    django.setup()
    sys.exit(main())
