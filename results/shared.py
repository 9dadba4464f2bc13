"""What all machines of a site share by a server beside them: answers, counts, and who works out what.

While that server is away, each machine goes on by itself, and says so in the log: answers are kept on its own disk, and
limits are counted where the settings say.
"""

from __future__ import annotations

import logging
import pickle
import threading
import time
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from django.core.cache import caches
from django.core.cache.backends.base import DEFAULT_TIMEOUT
from django.core.cache.backends.redis import RedisCache, RedisSerializer
from redis import Redis
from redis.exceptions import LockError, RedisError
from redis.lock import Lock

log = logging.getLogger(__name__)
# The server is asked again after so long; until then nobody waits for it.
AWAY_S = 5.0
# A lock that nobody renews is free after so long: its holder was killed, or lost its way to the server.
LOCK_S = 15.0
# How often whoever waits looks again, and how long before working it out beside whoever holds the lock.
LOOK_S, WAIT_MOST_S = 0.03, 120.0


class Squeezed(RedisSerializer):
    """Values as the files of answers have them: quickly compressed, which takes less time than sending them whole."""

    def dumps(self, obj: Any) -> bytes:
        return zlib.compress(pickle.dumps(obj, pickle.HIGHEST_PROTOCOL), 1)

    def loads(self, data: Any) -> Any:
        return pickle.loads(zlib.decompress(data))


class _Away:
    """Whether the server is taken to be away; one for all caches of a process, since they are on one server."""

    def __init__(self) -> None:
        self.until = 0.0
        self.said = False

    def __bool__(self) -> bool:
        return time.monotonic() < self.until

    def begins(self, error: Exception) -> None:
        self.until = time.monotonic() + AWAY_S
        if not self.said:
            log.error("The shared cache (CACHE_URL) can't be used, so this process goes on by itself: %s", error)
        self.said = True

    def ends(self) -> None:
        if self.said:
            log.error("The shared cache (CACHE_URL) can be used again.")
        self.said = False


away = _Away()


def _shared_or_instead(name: str) -> Callable[..., Any]:
    """The cache's own method of that name, or that of the cache which is fallen back on."""

    def method(self: SharedCache, *args: Any, **kwargs: Any) -> Any:
        found, value = self.ask(lambda: getattr(RedisCache, name)(self, *args, **kwargs))
        return value if found else getattr(self.instead, name)(*args, **kwargs)

    method.__name__ = name
    return method


class SharedCache(RedisCache):
    """Django's cache on a Redis or Valkey server, with another for the time that it is away."""

    def __init__(self, server: str, params: dict[str, Any]) -> None:
        options = dict(params.get("OPTIONS", {}))
        self._instead = options.pop("INSTEAD")
        super().__init__(server, {**params, "OPTIONS": options})

    @property
    def instead(self) -> Any:
        """What is fallen back on."""
        return caches[self._instead]

    @property
    def server(self) -> Redis:
        """The server itself."""
        client: Redis = self._cache.get_client(None, write=True)
        return client

    def ask(self, question: Callable[[], Any]) -> tuple[bool, Any]:
        """Whether the server answered, and what."""
        if away:
            return False, None
        try:
            answer = question()
        except RedisError as error:
            away.begins(error)
            return False, None
        away.ends()
        return True, answer

    add = _shared_or_instead("add")
    set = _shared_or_instead("set")
    touch = _shared_or_instead("touch")
    delete = _shared_or_instead("delete")
    has_key = _shared_or_instead("has_key")
    set_many = _shared_or_instead("set_many")
    delete_many = _shared_or_instead("delete_many")
    clear = _shared_or_instead("clear")

    def get(self, key: str, default: Any = None, version: int | None = None) -> Any:
        """As any cache; what another version of the program wrote so that it can't be read is not there."""
        found, value = self.ask(lambda: self._readable(lambda: super(SharedCache, self).get(key, default, version)))
        if not found:
            return self.instead.get(key, default, version)
        return default if value is _UNREADABLE else value

    def get_many(self, keys: Any, version: int | None = None) -> dict[str, Any]:
        keys = list(keys)
        found, value = self.ask(lambda: self._readable(lambda: super(SharedCache, self).get_many(keys, version)))
        if not found:
            return dict(self.instead.get_many(keys, version))
        return {} if value is _UNREADABLE else value

    def incr(self, key: str, delta: int = 1, version: int | None = None) -> int:
        found, value = self.ask(lambda: super(SharedCache, self).incr(key, delta, version))
        if found:
            return int(value)
        # What was counted before is on the server; here it begins anew.
        self.instead.add(key, 0, DEFAULT_TIMEOUT, version)
        return int(self.instead.incr(key, delta, version))

    @staticmethod
    def _readable(read: Callable[[], Any]) -> Any:
        try:
            return read()
        except RedisError:
            raise
        except Exception as error:  # whatever reading foreign bytes may raise
            log.warning("Something in the shared cache can't be read, and is passed over: %r", error)
            return _UNREADABLE


_UNREADABLE = object()


# -- one at a time, over all machines --------------------------------------------------------------
@contextmanager
def alone(cache: SharedCache, key: str, there: Callable[[], bool]) -> Iterator[None]:
    """One at a time over all machines, for as long as whoever it is lives; nobody waits once the answer is there.

    Parameters
    ----------
    cache : SharedCache
        On whose server the lock is.
    key : str
        What for.
    there : callable
        Whether the answer is there, so that there is nothing left to wait for.

    Notes
    -----
    The lock is a key with a token of its holder's and an end in sight (``SET NX PX``), which is put off while its
    holder lives. Without the server nobody is waited for.
    """
    lock = _taken(cache, key, there)
    if lock is None:
        yield
        return
    done = threading.Event()
    keeper = threading.Thread(target=_renew, args=(lock, done), name="renews a lock", daemon=True)
    keeper.start()
    try:
        yield
    finally:
        done.set()
        # Else it could put off the end of what is given back already, which is refused and told for nothing.
        keeper.join(LOCK_S)
        try:
            lock.release()
        except LockError:  # it ended by itself: somebody else may have worked it out too, which harms nobody
            log.warning("An answer took longer than its lock could be renewed.")
        except RedisError as error:
            away.begins(error)


def _taken(cache: SharedCache, key: str, there: Callable[[], bool]) -> Lock | None:
    """The lock, once it is free; None where there is nothing to wait for, or nobody to ask."""
    until = time.monotonic() + WAIT_MOST_S
    while True:
        found, lock = cache.ask(lambda: _try(cache, key))
        if not found:
            return None
        if lock is not None:
            return lock
        if there() or time.monotonic() > until:
            return None
        time.sleep(LOOK_S)


def _try(cache: SharedCache, key: str) -> Lock | None:
    # Its token is renewed and given back by other threads than the one that took it.
    lock = Lock(cache.server, f"lock:{key}", timeout=LOCK_S, blocking=False, thread_local=False)
    return lock if lock.acquire() else None


def _renew(lock: Lock, done: threading.Event) -> None:
    while not done.wait(LOCK_S / 3):
        try:
            lock.reacquire()
        except LockError:
            return
        except RedisError as error:
            away.begins(error)
