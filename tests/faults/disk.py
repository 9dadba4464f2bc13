"""A disk that fills up under the book, its uploads and its kept answers, while people read, hand in and review.

Run ``python -m tests.faults.disk``. The disk is a small file system in memory, which needs the right to mount one. A
full one refuses in words whatever would be saved; readers go on, and once there is room everybody does. Where nothing
can be mounted nothing is tried: what a limit on the size of files does is tried with the forms in any case.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.faults.people import Browser
from tests.faults.poison import sent
from tests.faults.scene import Load, Say, run_alone, under_load
from tests.faults.site import Book, Site

SIZE_MB = 48


def may_mount() -> bool:
    """Whether this process may mount a file system here."""
    import tempfile

    with tempfile.TemporaryDirectory(prefix="breakbook-mount-") as place:
        try:
            with small_disk(Path(place)):
                return True
        except (OSError, subprocess.CalledProcessError):
            return False


@contextmanager
def small_disk(folder: Path) -> Iterator[None]:
    """A file system in memory at that folder, gone in the end."""
    folder.mkdir(parents=True, exist_ok=True)
    size = f"size={SIZE_MB}m,mode=0755"
    subprocess.run(["mount", "-t", "tmpfs", "-o", size, "tmpfs", str(folder)], check=True, capture_output=True)
    try:
        yield
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True, capture_output=True)


def fill_up(folder: Path) -> Path:
    """Write a file until there is no room for a byte more."""
    ballast = folder / "ballast"
    with ballast.open("wb", buffering=0) as file:
        for size in (1 << 20, 1 << 12):
            try:
                while True:
                    file.write(b"\0" * size)
            except OSError:
                continue
    return ballast


def play_alone(book: Book, folder: Path, seconds: float, say: Say) -> list[str]:
    """The story; what went wrong in it, nothing if all is well."""
    with small_disk(folder):
        # Parts of a request that are too large for memory are kept on the same disk.
        site = book.site(folder, TMPDIR=str(folder))
        with site.served():
            site.wait_until_up()
            with under_load(site, say) as load:
                load.until_accepted()
                sender = _sender(site)
                ballast = fill_up(folder)
                load.step("the disk is full", None, seconds)
                wrong = _refused(site, sender, load, say, ballast)
                ballast.unlink()
                load.step("there is room again", None, seconds)
                if not load.until_accepted():
                    wrong.append("with room again nothing was handed in or accepted")
                if left := _of_uploads(folder):
                    wrong.append(f"of uploads that were refused, there is left: {left}")
                status, _ = sent(sender, "/submit/upload/", ("a.csv", b"specimen reading\n=1\n"))
                sender.close()
                if status != 422:
                    wrong.append(f"with room again, an upload is answered {status}")
            return wrong + load.failures("503") + load.judged()


def _sender(site: Site) -> Browser:
    from results.demo import PASSWORD

    browser = Browser(site.port)
    browser.log_in("hand-1", PASSWORD)
    return browser


def _refused(site: Site, sender: Browser, load: Load, say: Say, ballast: Path) -> list[str]:
    """What is answered while there is no room."""
    wrong = []
    with ballast.open("ab", buffering=0) as file:  # what was given back meanwhile, such as a log that was cut
        try:
            while True:
                file.write(b"\0" * 4096)
        except OSError:
            pass
    rows = b"series,specimen reading\n" + b"A,118 kg\n" * 100_000
    for name, data in (("a small file", rows[:20_000]), ("a file that is not held in memory", rows * 5)):
        status, said = sent(sender, "/submit/upload/", ("a.csv", data))
        say(f"{name}: {status}")
        if status not in (503, 507) or "room" not in said:
            wrong.append(f"{name} was answered {status}: {said[:300]}")
    reader = Browser(site.port)
    for path in ("/studies/", "/studies/1/", "/api/v1/studies.json", "/api/v1/compare.json", "/joints/"):
        status, _ = reader.get(path)
        if status != 200:
            wrong.append(f"with a full disk, {path} is answered {status}")
    if reader.get("/health/ready")[0] != 503:
        wrong.append("with a full disk, the site says that it is ready")
    reader.close()
    before = len(load.ledger.acknowledged), len(load.ledger.accepted)
    say(f"acknowledged while the disk was full: {before[0]}, accepted: {before[1]} (all told)")
    return wrong


def _of_uploads(folder: Path) -> list[str]:
    return sorted(path.name for path in (folder / "media" / "uploads").glob("*")) if (folder / "media").exists() else []


if __name__ == "__main__":
    if not may_mount():
        who = "root" if os.geteuid() == 0 else "this user"
        print(f"No file system can be mounted here by {who}; nothing was tried.", file=sys.stderr)
        sys.exit(1)
    sys.exit(run_alone(play_alone, __doc__))
