"""Files made to do harm, sent to a site at work: refused in words, and its memory stays bounded.

Run ``python -m tests.faults.poison``. What each kind of file is refused for is tried one by one with the intake and the
photos; here it is what a server makes of them while others go on.
"""

from __future__ import annotations

import html
import re
import sys
import threading
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.faults.people import Browser
from tests.faults.scene import Say, run, under_load
from tests.faults.site import Site

# What the processes may hold more than before [MB]: one file is 20 MB at the most, and is read a few times over.
MEMORY_MB = 250.0
MB = 1_000_000


def sheets() -> dict[str, tuple[str, bytes, str]]:
    """Name, bytes, and the words that refuse it, of each file."""
    from tests.results.intake.made import csv_of, flat
    from tests.results.intake.test_hostile_files import LAUGHS, sheet, spoiled

    part = "xl/worksheets/sheet4.xml"
    body = sheet().partition(b"?>")[2]
    laughs = f'<?xml version="1.0"?>{LAUGHS}'.encode() + body.replace(b"<sheetData>", b"<sheetData>&l8;", 1)
    evil = '=HYPERLINK("http://localhost","x")'
    return {
        "a bomb of a workbook": (
            "a.xlsx",
            spoiled({part: sheet() + b" " * (400 * MB)}),
            r"unpack|far more|large|opened",
        ),
        "entities that multiply": ("a.xlsx", spoiled({part: laughs}), r"can't be opened|declares|broken|workbook"),
        "a line without an end": ("a.csv", b'specimen reading,"' + b"x" * (19 * MB), r"can't be read as a table"),
        "a file that is too large": ("a.csv", b"specimen reading\n" + b"1 kg\n" * (5 * MB), r"MB"),
        "a formula": ("a.csv", csv_of(flat({"specimen reading": evil})).encode(), r"formula"),
    }


@contextmanager
def watched(site: Site) -> Iterator[list[float]]:
    """The most memory of their own that the site's processes hold together, while it lasts [MB]."""
    most, over = [_own_mb(site)], threading.Event()

    def look() -> None:
        while not over.wait(0.02):
            most[0] = max(most[0], _own_mb(site))

    watcher = threading.Thread(target=look)
    watcher.start()
    try:
        yield most
    finally:
        over.set()
        watcher.join()


def _own_mb(site: Site) -> float:
    found = 0.0
    for pid in site.workers():
        try:
            told = re.search(r"RssAnon:\s+(\d+) kB", Path(f"/proc/{pid}/status").read_text())
        except OSError:
            continue
        found += int(told[1]) / 1000 if told else 0
    return found


def _multipart(fields: dict[str, str], name: str, file: tuple[str, bytes]) -> tuple[bytes, str]:
    mark = uuid.uuid4().hex
    parts = [
        f'--{mark}\r\nContent-Disposition: form-data; name="{key}"\r\n\r\n{value}\r\n'.encode()
        for key, value in fields.items()
    ]
    head = f'--{mark}\r\nContent-Disposition: form-data; name="{name}"; filename="{file[0]}"\r\n'
    parts += [
        head.encode() + b"Content-Type: application/octet-stream\r\n\r\n",
        file[1],
        f"\r\n--{mark}--\r\n".encode(),
    ]
    return b"".join(parts), f"multipart/form-data; boundary={mark}"


def sent(browser: Browser, path: str, file: tuple[str, bytes], name: str = "file", **fields: str) -> tuple[int, str]:
    """Status and words of what comes of a file: of the page that refuses it, or of the one it is looked at on."""
    body, kind = _multipart({"csrfmiddlewaretoken": browser.form_mark, **fields}, name, file)
    status, page, leads = browser.ask("POST", path, body, Content_Type=kind)
    if status == 302:
        status, page = browser.get(leads)
        assert status == 200, f"{leads}: {status}"
        # Looked at is not saved: to save it is refused.
        status, page, _ = browser.ask(
            "POST",
            leads,
            f"csrfmiddlewaretoken={browser.form_mark}".encode(),
            Content_Type="application/x-www-form-urlencoded",
        )
    return status, re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", page.decode())))


def play(site: Site, seconds: float, say: Say) -> list[str]:
    """The story; what went wrong in it, nothing if all is well."""
    from results.demo import PASSWORD
    from tests.results.photos.test_remake import png_head

    wrong: list[str] = []

    def told(name: str, answer: tuple[int, str], words: str) -> None:
        status, said = answer
        found = re.search(rf"[^.]*({words})[^.]*\.", said)
        say(f"{name}: {status}, {found[0].strip()[:160] if found else 'without a word'}")
        if not 400 <= status < 500 or not found:
            wrong.append(f"{name} was answered {status}: {said[:300]}")

    with under_load(site, say) as load:
        if not load.until_accepted():
            wrong.append("nothing was handed in or accepted")
        sender = Browser(site.port)
        sender.log_in("hand-1", PASSWORD)
        before = _own_mb(site)
        with watched(site) as most:
            for name, (file, data, words) in sheets().items():
                load.story.step = name
                told(name, sent(sender, "/submit/upload/", (file, data)), words)
            load.story.step = "a bomb of a picture"
            study = _own_study(sender)
            bomb = ("a.png", png_head(60_000, 60_000))
            told(
                load.story.step,
                sent(sender, f"/studies/{study}/photos/", bomb, "photo-0", **{"caption-0": "x"}),
                "pixels",
            )
            load.story.step = "afterwards"
            if not load.until_accepted():
                wrong.append("afterwards nothing was handed in or accepted")
        sender.close()
    say(f"memory of the processes' own: {before:.0f} MB before, {most[0]:.0f} MB at the most")
    if most[0] - before > MEMORY_MB:
        wrong.append(f"the processes took {most[0] - before:.0f} MB more, beyond {MEMORY_MB:.0f} MB")
    return wrong + load.failures() + load.judged()


def _own_study(browser: Browser) -> int:
    """A study of one's own, to put a photo to."""
    import json

    from api.openapi.answers import DRAFT_EXAMPLE

    headers = {"Content_Type": "application/json", "X_CSRFToken": browser.form_mark}
    status, body, _ = browser.ask("POST", "/api/v1/studies", json.dumps(DRAFT_EXAMPLE).encode(), **headers)
    assert status == 201, body
    return int(json.loads(body)["study_id"])


if __name__ == "__main__":
    sys.exit(run(play, __doc__))
