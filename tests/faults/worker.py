"""A process of the server killed again and again, while people read, hand in and review.

Run ``python -m tests.faults.worker``. Whoever was being answered by it gets no answer; everybody else goes on, and
what was sent again under the same key is there once.
"""

from __future__ import annotations

import os
import signal
import sys
import time
from pathlib import Path

from tests.faults.scene import Say, run, under_load
from tests.faults.site import Site

THREADS = 4
KILLS = 2


def play(site: Site, seconds: float, say: Say) -> list[str]:
    """The story; what went wrong in it, nothing if all is well."""
    with under_load(site, say) as load:
        load.until_accepted()
        for number in range(1, KILLS + 1):
            load.step(f"killed for the {number}. time", lambda: kill_one(site), seconds)
        wrong = [] if load.until_accepted() else ["after the last kill nothing was handed in or accepted"]
    # Who was being answered, on a connection that was new, learns nothing but that it was closed.
    unanswered = sum(tally.statuses[0] for tally in load.story.tallies.values())
    if unanswered > KILLS * THREADS:
        wrong.append(f"{unanswered} readers got no answer, more than were being answered by what was killed")
    return wrong + load.failures("0") + load.judged()


def kill_one(site: Site) -> None:
    """Kill the process that has answered longest, and wait until another has taken its place."""
    before = site.workers()
    os.kill(before[0], signal.SIGKILL)
    end = time.monotonic() + 30
    while before[0] in (now := site.workers()) or len(now) < len(before) or not all(map(answers, now)):
        if time.monotonic() > end:
            raise RuntimeError("no other process took the place of the one that was killed")
        time.sleep(0.05)


def answers(pid: int) -> bool:
    """Whether a process waits for requests: by then it has loaded the site."""
    try:
        return any("tfd:" in path.read_text() for path in Path(f"/proc/{pid}/fdinfo").iterdir())
    except OSError:
        return False


if __name__ == "__main__":
    sys.exit(run(play, __doc__))
