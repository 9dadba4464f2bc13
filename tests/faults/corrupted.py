"""Kept answers spoiled on the disk while people read: worked out anew, and nothing of them believed.

Run ``python -m tests.faults.corrupted``. Bytes are flipped, files cut short, emptied and replaced by what this site did
not write, again and again; one of those would run a program if it were read as an answer.
"""

from __future__ import annotations

import os
import pickle
import sys
import time
import zlib
from collections.abc import Callable
from pathlib import Path

from tests.faults.people import Browser
from tests.faults.scene import Say, run, under_load
from tests.faults.site import Site

SAME = (
    "/api/v1/compare.json",
    "/api/v1/network?footing=ratio_solid&invented=with",
    "/api/v1/evidence.json",
    "/api/v1/specimens.csv",
)


class _Runs:
    def __init__(self, path: Path) -> None:
        self.path = path

    def __reduce__(self) -> tuple[Callable[..., object], tuple[str]]:
        return os.mkdir, (str(self.path),)


def ways(proof: Path) -> dict[str, Callable[[bytes], bytes]]:
    """How a file can be spoiled, by name."""
    evil = pickle.dumps(_Runs(proof))
    return {
        "a byte in the middle": lambda data: _flipped(data, len(data) // 2),
        "the first byte": lambda data: _flipped(data, 0),
        "the last byte": lambda data: _flipped(data, len(data) - 1),
        "cut short": lambda data: data[: len(data) // 2],
        "emptied": lambda data: b"",
        "a foreign pickle, cut short": lambda data: pickle.dumps(time.time() + 900) + evil[:-3],
        "a foreign pickle": lambda data: pickle.dumps(time.time() + 900) + zlib.compress(evil),
        "a foreign pickle at the start": lambda data: evil,
    }


def _flipped(data: bytes, at: int) -> bytes:
    return data[:at] + bytes([data[at] ^ 0xFF]) + data[at + 1 :] if data else data


def spoil(site: Site, how: Callable[[bytes], bytes]) -> int:
    """Spoil all kept answers; how many."""
    done = 0
    for path in (site.folder / "answers").glob("*.djcache"):
        try:
            path.write_bytes(how(path.read_bytes()))
        except FileNotFoundError:  # thrown out meanwhile
            continue
        done += 1
    return done


def play(site: Site, seconds: float, say: Say) -> list[str]:
    """The story; what went wrong in it, nothing if all is well."""
    proof = site.folder / "was run"
    wrong, spoiled = [], 0
    with under_load(site, say) as load:
        if not load.until_accepted():
            wrong.append("nothing was handed in or accepted")
        for name, how in ways(proof).items():
            load.story.step = name
            for _ in range(max(round(seconds), 1) * 2):
                spoiled += spoil(site, how)
                time.sleep(0.1)
    wrong += load.failures()
    reader = Browser(site.port)
    before = {path: reader.get(path) for path in SAME}
    wrong += [f"{path} was answered {found[0]}" for path, found in before.items() if found[0] != 200]
    for name, how in ways(proof).items():
        spoiled += spoil(site, how)
        wrong += [f"{name}: {path} is not as it was" for path in SAME if reader.get(path) != before[path]]
    reader.close()
    say(f"{spoiled} kept answers spoiled in {len(ways(proof))} ways")
    if spoiled < len(ways(proof)):
        wrong.append("hardly anything was kept, so that nothing was tried")
    if proof.exists():
        wrong.append("a foreign answer was run")
    return wrong + load.judged()


if __name__ == "__main__":
    sys.exit(run(play, __doc__))
