"""The database killed with all its processes, and started again, while people read, hand in and review.

Run ``python -m tests.faults.database``; it needs PostgreSQL's programs. Meanwhile readers are told when to come back;
what was acknowledged before is there after, and whoever sends again under the same key has it there once.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

from tests.faults.people import Browser
from tests.faults.postgres import one_server, programs
from tests.faults.scene import Say, run_alone, under_load
from tests.faults.site import Book, Site


def play_alone(book: Book, folder: Path, seconds: float, say: Say) -> list[str]:
    """The story; what went wrong in it, nothing if all is well. It makes a book of its own, on PostgreSQL."""
    folder.mkdir(parents=True)
    with one_server() as server:
        site = Site(folder, DATABASE_URL=f"{server.url}?connect_timeout=2")
        site.arguments = book.arguments
        with site.served():  # it is loaded meanwhile
            site.fill(2)
            site.wait_until_up()
            wrong = []
            with under_load(site, say) as load:
                load.until_accepted()
                load.step("the database is killed", server.kill, max(seconds, 1.0))
                wrong += _told_when(site)
                load.step("it is started again", server.start, seconds)
                start = time.monotonic()
                if not load.until_accepted():
                    wrong.append("after it was started again nothing was handed in or accepted")
                say(f"handed in and accepted again after {time.monotonic() - start:.1f} s")
            away = load.story.tallies["the database is killed"].statuses
            if not away[503]:
                wrong.append(f"while the database was away, readers were answered {dict(away)}")
            return wrong + load.failures("503") + load.judged()


def _told_when(site: Site) -> list[str]:
    """What pages and API say while the database is away."""
    wrong = []
    for path, words in (("/", b"Nothing is lost"), ("/api/v1/studies.json", b"database can't be reached")):
        browser = Browser(site.port)
        status, body = browser.get(path)
        if status != 503 or browser.told["Retry-After"] != "30" or words not in body:
            wrong.append(f"{path} is answered {status}, Retry-After {browser.told['Retry-After']}: {body[:200]!r}")
        browser.close()
    browser = Browser(site.port)
    if browser.get("/health/live")[0] != 200 or browser.get("/health/ready")[0] != 503:
        wrong.append("the probes don't tell that the site lives and is not ready")
    browser.close()
    return wrong


if __name__ == "__main__":
    if programs() is None:
        print("PostgreSQL's programs are not installed; nothing was tried.", file=sys.stderr)
        sys.exit(1)
    sys.exit(run_alone(play_alone, __doc__))
