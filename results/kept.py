"""Answers that cost much, worked out once for each state of the data however many ask at once."""

from __future__ import annotations

import fcntl
import hashlib
import logging
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Generic, TypeVar

from django.conf import settings
from django.core.cache import BaseCache, caches
from django.utils import timezone

from .models import DataVersion, data_version
from .shared import SharedCache, alone

log = logging.getLogger(__name__)
T = TypeVar("T")
DAY = 24 * 60 * 60
_LOCKS = 256
_held = threading.local()
_given = threading.local()
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
        spec = find_spec(package)
        for folder in (spec.submodule_search_locations if spec else None) or ():
            for path in sorted(Path(folder).rglob("*.py")):
                found.update(path.read_bytes())
                newest = max(newest, path.stat().st_mtime)
    for path in sorted((settings.BASE_DIR / "templates").rglob("*.html")):
        found.update(path.read_bytes())
    return Code(found.hexdigest()[:8], newest)


def state_of(version: DataVersion | str) -> str:
    """What all answers depend on, in short: the data, the program, and whether invented studies count unasked.

    Parameters
    ----------
    version : DataVersion or str
        Or what `str` says of it.
    """
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
    key = _key(state, name)
    found: Any = cache.get(key, _ABSENT)
    if found is _ABSENT:
        with _alone(cache, key):
            found = cache.get(key, _ABSENT)
            if found is _ABSENT:
                found = make()
                cache.set(key, found, DAY)
    return found


def _key(state: str, name: str) -> str:
    return hashlib.sha256(f"{state} {name}".encode()).hexdigest()


# -- the answer of before, while another works out the new one -------------------------------------
@dataclass(frozen=True)
class Answer(Generic[T]):
    """An answer, and of when its data are if they have changed since; None for the data as they are."""

    value: T
    as_of: datetime | None = None


@dataclass(frozen=True)
class _Newest:
    """The newest answer of a name: the state it is of, when those data were made, and when it was last true."""

    state: str
    changed_at: datetime
    true_at: datetime


# How often an answer that is still true is noted as such.
NOTED = timedelta(seconds=10)


def or_before(name: str, make: Callable[[], T], again: Callable[[], object]) -> Answer[T]:
    """The answer of that name; for a short while after a change that of before, which somebody else works out anew.

    Parameters
    ----------
    name : str
        As for `once`, which `make` calls with it.
    make : callable
        Works it out by `once`.
    again : callable
        Asks a worker to do so. It is called once for each state of the data.

    Notes
    -----
    Only where ``STALE_MOST_S`` isn't 0. An answer of before is given for so many seconds at most since it was last
    known to be true, so that nobody reads what is further behind than that, whatever becomes of the worker.
    """
    if not settings.STALE_MOST_S:
        return Answer(make())
    cache, version = caches["answers"], data_version()
    state = state_of(version)
    newest: _Newest | None = cache.get(_newest_key(name))
    found: Any = cache.get(_key(state, name), _ABSENT)
    if found is _ABSENT and newest and timezone.now() - newest.true_at <= timedelta(seconds=settings.STALE_MOST_S):
        if cache.add(_key(state, f"asked for {name}"), True, settings.STALE_MOST_S):
            again()
            found = cache.get(_key(state, name), _ABSENT)  # where there is no worker, it has been worked out by now
        before: Any = _ABSENT if found is not _ABSENT else cache.get(_key(newest.state, name), _ABSENT)
        if before is not _ABSENT:
            _given.of_before = of_before() + 1
            return Answer(before, newest.changed_at)
    return Answer(renewed(name, make if found is _ABSENT else lambda: found, version, newest))


def of_before() -> int:
    """How many answers of before this thread was ever given: more than a while ago, and one was among those since."""
    return getattr(_given, "of_before", 0)


def renewed(name: str, make: Callable[[], T], version: DataVersion | None = None, newest: _Newest | None = None) -> T:
    """The answer of that name for the data as they are, noted as the newest, so that it can stand in for a later one.

    Parameters
    ----------
    name, make
        As for `or_before`.
    version, newest : optional
        What the caller has read already.
    """
    if not settings.STALE_MOST_S:
        return make()
    cache, version, now = caches["answers"], version or data_version(), timezone.now()
    found, state = make(), state_of(version)
    newest = newest or cache.get(_newest_key(name))
    if newest is None or newest.state != state or now - newest.true_at > NOTED:
        # True when the version was read, whatever has changed while the answer was made.
        cache.set(_newest_key(name), _Newest(state, version.changed_at, now), DAY)
    return found


def _newest_key(name: str) -> str:
    return _key(f"newest {code().mark}-{settings.DEMO:d}", name)


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
    with _lock(int(key[:8], 16) % _LOCKS):
        _held.by_this_thread = True
        try:
            with _alone_everywhere(cache, key):
                yield
        finally:
            _held.by_this_thread = False


@contextmanager
def _lock(number: int) -> Iterator[None]:
    """That lock of this machine's; none where its file has no room: readers are answered all the same."""
    folder = settings.DATA_DIR / "locks"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        file = (folder / f"{number}").open("wb")
    except OSError as error:
        log.error("There is no lock, so an answer may be worked out by several at once: %s", error)
        yield
        return
    with file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


def _alone_everywhere(cache: BaseCache, key: str) -> AbstractContextManager[None]:
    if not isinstance(cache, SharedCache) or cache.has_key(key):  # worked out while this machine's own were waited for
        return nullcontext()
    return alone(cache, key, lambda: cache.has_key(key))
