"""Answers that cost much, worked out once for each state of the data however many ask at once."""

from __future__ import annotations

import fcntl
import hashlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar

from django.conf import settings
from django.core.cache import caches

T = TypeVar("T")
DAY = 24 * 60 * 60
_LOCKS = 256
_ABSENT = object()


def once(state: str, name: str, make: Callable[[], T]) -> T:
    """The answer of that name: kept from before, or worked out by one while the others wait for it.

    Parameters
    ----------
    state : str
        The data and the program that it is made from, as they were when the request came.
    name : str
        Names the answer and all else it depends on.
    make : callable
        Works it out; what it gives must be picklable.
    """
    cache = caches["answers"]
    key = hashlib.sha256(f"{state} {name}".encode()).hexdigest()
    found: Any = cache.get(key, _ABSENT)
    if found is _ABSENT:
        with _alone(key):
            found = cache.get(key, _ABSENT)
            if found is _ABSENT:
                found = make()
                cache.set(key, found, DAY)
    return found


@contextmanager
def _alone(key: str) -> Iterator[None]:
    """One at a time, over the threads and the processes of this machine; a lock dies with who holds it.

    Locks are a fixed number of files, so that none are left behind; two answers that share one wait for each other.
    """
    folder = settings.DATA_DIR / "locks"
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / f"{int(key[:8], 16) % _LOCKS}").open("wb") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield
