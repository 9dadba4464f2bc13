"""A machine whose clock jumps forward and back, while people read, hand in and review.

Run ``python -m tests.faults.clock``. The site's processes are told another time than the machine's. Whoever is signed
in stays so as long as a session lasts; who asked too often waits no longer than was told; a plan that was lodged is to
be read, and what was handed in is there, in the chain's order.
"""

from __future__ import annotations

import sys
import uuid
from pathlib import Path

from tests.faults.people import Browser
from tests.faults.scene import Load, Say, run_alone, under_load
from tests.faults.site import Book, Site

HOUR_S, DAY_S = 3600, 86400
# The clock of the site against the one of this machine, step by step [s].
STEPS = {
    "two hours ahead": 2 * HOUR_S,
    "back again": 0,
    "a day behind": -DAY_S,
    "ten days ahead": 10 * DAY_S,
    "right again": 0,
}
PLAN = (
    "title=A plan&joint=mt_blind&joint=dowel&loading=cantilever_arm&arm_mm=300&timber=ash_white&adhesive=pva"
    "&member_thickness_mm=22&member_depth_mm=45&cv_pct=20&ratio=1.4&instrument=luggage_scale&full_scale=50 kg"
)


class Clock:
    """The clock of a site, by a file that it looks at."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.set(0)
        self.environment = {"CLOCK_FILE": str(file), "DJANGO_SETTINGS_MODULE": "tests.faults.clock_settings"}

    def set(self, ahead_s: int) -> None:
        new = self.file.with_suffix(".new")
        new.write_text(f"{ahead_s}\n")
        new.replace(self.file)


def play_alone(book: Book, folder: Path, seconds: float, say: Say) -> list[str]:
    """The story; what went wrong in it, nothing if all is well."""
    folder.mkdir(parents=True)
    clock = Clock(folder / "clock")
    site = book.site(folder, BEHIND_PROXY="True", API_ANONYMOUS_PER_MINUTE="5", **clock.environment)
    with site.served():
        site.wait_until_up()
        with under_load(site, say, X_Forwarded_For="192.0.2.200") as load:
            load.until_accepted()
            told = Told(site, load, say)
            told.lodge_a_plan()
            for number, (name, offset) in enumerate(STEPS.items()):
                load.step(f"the clock is {name}", lambda offset=offset: clock.set(offset), seconds)
                told.look(name, number)
            told.signed_in.close()
        # Readers of the story are more than an address may be: told so, and when to come back.
        return told.wrong + load.failures() + load.judged()


class Told:
    """What the site says to people whose time does not jump."""

    def __init__(self, site: Site, load: Load, say: Say) -> None:
        from results.demo import PASSWORD

        self.site, self.load, self.say, self.wrong = site, load, say, []
        self.signed_in = Browser(site.port, X_Forwarded_For="192.0.2.201")
        self.signed_in.log_in("hand-1", PASSWORD)
        self.plan = ""

    def lodge_a_plan(self) -> None:
        """Lodged by the right time, it is to be read at every other."""
        address = f"/plan/lodge/?{PLAN.replace(' ', '+')}"
        status, self.plan = self.signed_in.post_form(address, key=str(uuid.uuid4()))
        if status != 302 or not self.plan.startswith("/plans/"):
            self.wrong.append(f"the plan could not be lodged: {status} {self.plan}")

    def look(self, name: str, number: int) -> None:
        """Session, plan, limits, and handing in, after a step of the clock."""
        for path in ("/mine/", self.plan):
            status, _ = self.signed_in.get(path)
            if status != 200:
                self.wrong.append(f"{name}: {path} is answered {status} to somebody signed in")
        if not self.load.until_accepted():
            self.wrong.append(f"{name}: nothing was handed in or accepted")
        self._limits(name, number)

    def _limits(self, name: str, number: int) -> None:
        """An address that asks too often is told to wait no longer than a minute, and no other step's wait holds it."""
        asker = Browser(self.site.port, X_Forwarded_For=f"203.0.113.{number}")
        for _ in range(30):
            status, _ = asker.get("/api/v1/studies.json")
            if status == 429:
                break
        wait = asker.told.get("Retry-After", "")
        if status != 429 or not wait.isdecimal() or not 0 < int(wait) <= 60:
            self.wrong.append(f"{name}: who asks too often is answered {status}, Retry-After {wait!r}")
        asker.close()
        # Wrong passwords tried at the same name from the same address, one each step: five in five minutes are too
        # many, but these are hours apart by the site's clock, until it is back where the first were made.
        tries = Browser(self.site.port, X_Forwarded_For="203.0.113.99")
        status = tries.send_form("/login/", tries.mark("/login/"), login="hand-1", password="wrong")
        if status != 422:
            self.wrong.append(f"{name}: try {number + 1} of a wrong password is answered {status}")
        tries.close()


if __name__ == "__main__":
    sys.exit(run_alone(play_alone, __doc__))
