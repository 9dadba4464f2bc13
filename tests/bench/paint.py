"""What a phone on a slow line waits for: bytes and time to the first paint of the five main pages.

    python -m tests.bench.paint http://127.0.0.1:8000

asks a book that is being served. Each page is opened five times in a new, empty browser, slowed to a weak mobile line;
the middle one is printed. Bytes are those on the line, compressed as they come. Handing in needs an account: the
demonstration's, or ``--account name:password``.
"""

from __future__ import annotations

import argparse
from statistics import median

from playwright.sync_api import Browser, StorageState, sync_playwright

from tests.browser.conftest import CHROMIUM, FLAGS, WIDTHS, log_in

PAGES = ("/", "/compare/", "/submit/", "/data/", "/piece/")
TIMES = 5
# 1.6 Mbit/s each way, 150 ms there and back: a weak mobile line.
LINE = {"offline": False, "latency": 150, "downloadThroughput": 1.6e6 / 8, "uploadThroughput": 1.6e6 / 8}
PAINTED = "performance.getEntriesByName('first-contentful-paint')[0].startTime"


def opened(browser: Browser, address: str, known: StorageState) -> tuple[float, int, int]:
    """Open a page once.

    Returns
    -------
    (float, int, int)
        First contentful paint [ms]; bytes on the line of all that was asked for; how many requests.
    """
    context = browser.new_context(viewport=WIDTHS["phone"], storage_state=known)
    page = context.new_page()
    line = context.new_cdp_session(page)
    line.send("Network.enable")
    line.send("Network.emulateNetworkConditions", LINE)
    loaded: list[int] = []
    line.on("Network.loadingFinished", lambda event: loaded.append(int(event["encodedDataLength"])))
    page.goto(address, wait_until="networkidle")
    painted = float(page.evaluate(PAINTED))
    context.close()
    return painted, sum(loaded), len(loaded)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("site", nargs="?", default="http://127.0.0.1:8000", help="where the book is served")
    parser.add_argument("--account", default="maker:sawdust-demo", help="who hands in")
    asked = parser.parse_args()
    site = asked.site.rstrip("/")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        context = browser.new_context(base_url=site)
        log_in(context.new_page(), *asked.account.split(":", 1))
        known = context.storage_state()
        context.close()
        print(f"{'page':<12}{'first paint':>14}{'on the line':>14}{'requests':>10}")
        for path in PAGES:
            tries = [opened(browser, site + path, known) for _ in range(TIMES)]
            painted, weight, count = (median(one[i] for one in tries) for i in range(3))
            print(f"{path:<12}{painted:>11,.0f} ms{weight / 1000:>11,.1f} kB{count:>10.0f}".replace(",", " "))
        browser.close()


if __name__ == "__main__":
    main()
