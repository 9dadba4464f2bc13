"""Which replicas may be read: those that answer, follow the primary, and are not far behind it.

A replica's own word on how far behind it is can't be had when it has lost the primary: it has then replayed all that it
ever got. So each process notes once a second how far the primary's log reaches; a replica that has replayed up to what
was noted at some time is no older than that time, whatever became of its connection.
"""

from __future__ import annotations

import logging
import random
import threading
import time
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

from django.db import DEFAULT_DB_ALIAS, Error, InternalError, connections

log = logging.getLogger(__name__)
EVERY_S = 1.0
# A replica that failed is left out for so long, however well it looks meanwhile.
OUT_S = 5.0
# What was seen longer ago than this tells nothing: whoever looks waits for an answer that doesn't come.
STALE_S = 3.5
_READ_ONLY = "25006"  # SQL's code for a transaction that may only read


@dataclass(frozen=True)
class Standing:
    """What a replica says of itself.

    Parameters
    ----------
    following : bool
        Whether it follows a primary; one that was made a primary itself does not.
    replayed : int
        How far it has replayed the primary's log, in bytes.
    """

    following: bool
    replayed: int


@dataclass(frozen=True)
class Seen:
    """A replica as it was when it was last looked at."""

    at: float
    replayed: int
    good: bool


def position(text: str) -> int:
    """A place in the log in bytes, from how the database writes it: ``16/B374D848``."""
    high, low = text.split("/")
    return (int(high, 16) << 32) + int(low, 16)


def ask_primary() -> int:
    """How far the primary's log reaches now."""
    with connections[DEFAULT_DB_ALIAS].cursor() as cursor:
        cursor.execute("SELECT pg_current_wal_lsn()::text")
        return position(cursor.fetchone()[0])


def ask_replica(alias: str) -> Standing:
    """How a replica stands now."""
    with connections[alias].cursor() as cursor:
        cursor.execute("SELECT pg_is_in_recovery(), pg_last_wal_replay_lsn()::text")
        following, replayed = cursor.fetchone()
    return Standing(following, position(replayed) if replayed else 0)


def is_read_only(error: BaseException) -> bool:
    """Whether a database refused to write because another is the primary just now."""
    return isinstance(error, InternalError) and getattr(error.__cause__, "sqlstate", None) == _READ_ONLY


class Watch:
    """Looks at the primary and at each replica once a second, each in a thread of its own: one that doesn't answer
    keeps nobody else waiting.

    Parameters
    ----------
    aliases : sequence of str
        The replicas.
    lag_most_s : float
        How far behind one may be.
    primary_pct : float
        How many of a hundred readers the primary answers although a replica could.
    """

    def __init__(self, aliases: Sequence[str], lag_most_s: float, primary_pct: float = 0) -> None:
        self.aliases, self.lag_most_s, self.primary_pct = tuple(aliases), lag_most_s, primary_pct
        self.seen: dict[str, Seen] = {}
        self.out_until: dict[str, float] = {}
        self.noted: deque[tuple[float, int]] = deque()
        self._starting = threading.Lock()
        self._started = False
        self._stop = threading.Event()

    # -- what readers ask
    def choose(self, written: int | None = None, now: float | None = None) -> str:
        """A database to read from: a replica at random of those that may be read, else the primary.

        Parameters
        ----------
        written : int, optional
            How far the log reached when whoever reads last wrote; a replica must have replayed it.
        now : float, optional
            The time, of a clock that never goes back.
        """
        self._start()
        if self.primary_pct and random.random() * 100 < self.primary_pct:
            return DEFAULT_DB_ALIAS
        now = time.monotonic() if now is None else now
        good = [alias for alias in self.aliases if self.may_be_read(alias, now)]
        random.shuffle(good)
        for alias in good:
            if written is None or self.seen[alias].replayed >= written or self._has_now(alias, written):
                return alias
        return DEFAULT_DB_ALIAS

    def may_be_read(self, alias: str, now: float) -> bool:
        """Whether a replica was well when it was last looked at, and that is not long ago."""
        seen = self.seen.get(alias)
        return seen is not None and seen.good and now - seen.at < STALE_S and now >= self.out_until.get(alias, 0.0)

    def _has_now(self, alias: str, written: int) -> bool:
        try:
            standing = ask_replica(alias)
        except Error as error:
            self.leave_out(alias, error)
            return False
        return standing.following and standing.replayed >= written

    def leave_out(self, alias: str, why: object) -> None:
        """Read from it no more for a while."""
        if time.monotonic() >= self.out_until.get(alias, 0.0):
            log.warning("%s is left out for %.0f s, and the primary is read instead: %s", alias, OUT_S, why)
        self.out_until[alias] = time.monotonic() + OUT_S

    # -- what is noted
    def note_primary(self, reaches: int, now: float) -> None:
        """How far the primary's log reached at a time."""
        if self.noted and reaches < self.noted[-1][1]:
            self.noted.clear()  # another server is the primary now, whose log may go back a little
        self.noted.append((now, reaches))
        while self.noted[0][0] < now - self.lag_most_s:
            self.noted.popleft()

    def note_replica(self, alias: str, standing: Standing, now: float) -> None:
        """How a replica stood at a time, and so whether it may be read."""
        before = self.seen.get(alias)
        # The lag at the time that the primary last answered: while it is away nothing newer can be had, and a replica
        # that was well goes on being read. What is noted reaches no further back than a replica may lag.
        good = standing.following and any(reaches <= standing.replayed for _, reaches in list(self.noted))
        if before is not None and before.good and not good:
            why = "is too far behind" if standing.following else "follows no primary"
            log.warning("%s %s, and is left out until that has changed.", alias, why)
        self.seen[alias] = Seen(now, standing.replayed, good)

    def _look_at(self, alias: str, now: float) -> None:
        self.note_replica(alias, ask_replica(alias), now)

    # -- looking
    def _start(self) -> None:
        if self._started:
            return
        with self._starting:
            if self._started:
                return
            self._started = True
            self._look_often(DEFAULT_DB_ALIAS, lambda now: self.note_primary(ask_primary(), now))
            for alias in self.aliases:
                self._look_often(alias, partial(self._look_at, alias))

    def stop(self) -> None:
        """Look no more."""
        self._stop.set()

    def _look_often(self, alias: str, look: Callable[[float], None]) -> None:
        threading.Thread(target=self._look, args=(alias, look), name=f"looks at {alias}", daemon=True).start()

    def _look(self, alias: str, look: Callable[[float], None]) -> None:
        while True:
            try:
                # The time before it is asked: the answer may be a little newer, never older.
                look(time.monotonic())
            except Error as error:
                if alias != DEFAULT_DB_ALIAS:
                    self.leave_out(alias, error)
            except Exception:  # a look that ends for good would leave the replica out for good
                log.exception("%s could not be looked at.", alias)
            connections[alias].close_if_unusable_or_obsolete()
            if self._stop.wait(EVERY_S):
                connections[alias].close()
                return
