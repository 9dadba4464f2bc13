"""Answers that cost much, worked out once for each state of the data however many ask at once."""

from __future__ import annotations

import fcntl
import hashlib
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any, TypeVar

from django.conf import settings
from django.core.cache import BaseCache, caches

from .models import DataVersion, data_version
from .shared import SharedCache, alone

T = TypeVar("T")
DAY = 24 * 60 * 60
_LOCKS = 256
_held = threading.local()
_ABSENT = object()


@dataclass(frozen=True)
class Code:
    """The program that makes the answers: a new one may answer otherwise from the same data."""

    mark: str
    newest: float


@cache
def code() -> Code:
    """The mark of the program and its templates, and when its newest file was written; read once a process."""
    found = hashlib.sha256()
    newest = 0.0
    for package in ("api", "results", "stats"):
        for folder in find_spec(package).submodule_search_locations or ():
            for path in sorted(Path(folder).rglob("*.py")):
                found.update(path.read_bytes())
                newest = max(newest, path.stat().st_mtime)
    for path in sorted((settings.BASE_DIR / "templates").rglob("*.html")):
        found.update(path.read_bytes())
    return Code(found.hexdigest()[:8], newest)


def state_of(version: DataVersion) -> str:
    """What all answers depend on, in short: the data, the program, and whether invented studies count unasked."""
    return f"{version}-{code().mark}-{settings.DEMO:d}"


def once(name: str, make: Callable[[], T], state: str = "") -> T:
    """The answer of that name: kept from before, or worked out by one while the others wait for it.

    Parameters
    ----------
    name : str
        Names the answer and all else it depends on.
    make : callable
        Works it out; what it gives must be picklable.
    state : str, optional
        The data and the program that it is made from, as they were when the request came; as they are now
        unless given.
    """
    state = state or state_of(data_version())
    cache = caches["answers"]
    key = hashlib.sha256(f"{state} {name}".encode()).hexdigest()
    found: Any = cache.get(key, _ABSENT)
    if found is _ABSENT:
        with _alone(cache, key):
            found = cache.get(key, _ABSENT)
            if found is _ABSENT:
                found = make()
                cache.set(key, found, DAY)
    return found


@contextmanager
def _alone(cache: BaseCache, key: str) -> Iterator[None]:
    """One at a time, over the threads and the processes of this machine; a lock dies with who holds it.

    Locks are a fixed number of files, so that none are left behind; two answers that share one wait for each other.
    Where answers are shared by several machines, whoever is first on its own waits for those on the others too.
    """
    if getattr(_held, "by_this_thread", False):
        # Whoever works out an answer for another has a lock already; to wait for a second could be for good.
        yield
        return
    folder = settings.DATA_DIR / "locks"
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / f"{int(key[:8], 16) % _LOCKS}").open("wb") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        _held.by_this_thread = True
        try:
            with _alone_everywhere(cache, key):
                yield
        finally:
            _held.by_this_thread = False


def _alone_everywhere(cache: BaseCache, key: str) -> AbstractContextManager[None]:
    if not isinstance(cache, SharedCache) or cache.has_key(key):  # worked out while this machine's own were waited for
        return nullcontext()
    return alone(cache, key, lambda: cache.has_key(key))
