"""A thousand wrong passwords at one name while its owner and everybody else go on.

Run ``python -m tests.faults.passwords``. The site stands behind a proxy that says who asks: many tries from one
address, then a few from each of many. Whoever tries is told to wait; the owner logs in from another address all the
while, and nothing that is counted lasts longer than the wait that is told.
"""

from __future__ import annotations

import sys
import time
from collections import Counter

from tests.faults.people import AWAY, Browser, in_parallel
from tests.faults.scene import Say, run, under_load
from tests.faults.site import Site

TRIES, AT_ONCE, PER_NAME = 1_000, 4, 5
VICTIM = "hand-1"
WAIT_S = 300
ENVIRONMENT = {"BEHIND_PROXY": "True"}


def _from(site: Site, address: str) -> Browser:
    return Browser(site.port, X_Forwarded_For=address)


def _tries(site: Site, address: str, times: int) -> tuple[Counter[int], int]:
    """Answers to so many wrong passwords by status, and how many 429 did not say when to come back."""
    browser, silent, found = _from(site, address), 0, Counter[int]()
    mark = browser.mark("/login/")
    for number in range(times):
        status = browser.send_form("/login/", mark, login=VICTIM, password=f"wrong {number}")
        found[status] += 1
        silent += status == 429 and browser.told["Retry-After"] != str(WAIT_S)
    browser.close()
    return found, silent


def _owner_gets_in(site: Site, address: str) -> str:
    """What kept the owner out, nothing if nothing did."""
    from results.demo import PASSWORD

    browser = _from(site, address)
    try:
        browser.log_in(VICTIM, PASSWORD)
        return "" if browser.get("/mine/")[0] == 200 else "is not signed in"
    except (AssertionError, *AWAY) as error:
        return str(error)
    finally:
        browser.close()


def play(site: Site, seconds: float, say: Say) -> list[str]:
    """The story; what went wrong in it, nothing if all is well. At 3 s and more it makes all its tries."""
    each = max(round(TRIES * min(seconds / 3, 1) / AT_ONCE), 2 * PER_NAME)
    wrong = []
    with under_load(site, say, X_Forwarded_For="192.0.2.200") as load:
        load.story.step = "many tries from one address"
        start = time.monotonic()
        found = in_parallel(lambda: _tries(site, "192.0.2.1", each), AT_ONCE)
        by_status = sum((one for one, _ in found), Counter[int]())
        say(f"{sum(by_status.values())} wrong passwords: {dict(by_status)} in {time.monotonic() - start:.1f} s")
        if by_status[422] > PER_NAME or set(by_status) != {422, 429}:
            wrong.append(f"wrong passwords were answered {dict(by_status)}")
        if why := _owner_gets_in(site, "192.0.2.2"):
            wrong.append(f"the owner, at another address: {why}")
        load.story.step = "some tries from each of many addresses"
        several = [_tries(site, f"198.51.100.{number}", PER_NAME + 1)[0] for number in range(1, 4)]
        wrong += [f"from many addresses: {dict(one)}" for one in several if one != {422: PER_NAME, 429: 1}]
        if why := _owner_gets_in(site, "192.0.2.3"):
            wrong.append(f"the owner, once many had tried: {why}")
        if silent := sum(silent for _, silent in found):
            wrong.append(f"{silent} were told to wait, but not how long")
        if not load.until_accepted():
            wrong.append("nothing was handed in or accepted meanwhile")
    wrong += load.judged()
    longest = load.ledger.longest_limit_s
    say(f"the longest that anything is counted: {longest:.0f} s")
    if longest > WAIT_S:
        wrong.append(f"something is counted for {longest:.0f} s more, though {WAIT_S} s are told")
    return wrong + load.failures()


if __name__ == "__main__":
    sys.exit(run(play, __doc__, **ENVIRONMENT))
