"""Asking another server how it is, with a limit to how long whoever asks waits."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Mapping
from concurrent.futures import Future
from time import monotonic


class Asked:
    """One question to each of some servers at a time; whoever comes while one is open waits for its answer with it.

    Time limits of connections don't reach everywhere: not to a server that took the question and fell silent. So each
    question has a thread of its own, and is left alone when the time is over. It goes on until the network gives up,
    and no second one is put beside it.
    """

    def __init__(self) -> None:
        self._open: dict[str, Future[str]] = {}
        self._lock = threading.Lock()

    def all(self, questions: Mapping[str, Callable[[], str]], most_s: float) -> Iterable[tuple[str, str | Exception]]:
        """The answer of each by its name, or what came instead: all are asked at once, and waited for together.

        Parameters
        ----------
        questions : mapping of str to callable
        most_s : float
            How long to wait for all of them [s].
        """
        until = monotonic() + most_s
        begun = [(name, self._begin(name, question)) for name, question in questions.items()]
        for name, future in begun:
            try:
                yield name, future.result(max(until - monotonic(), 0))
            except Exception as error:  # whatever it is, the other server isn't well
                yield name, error

    def _begin(self, name: str, question: Callable[[], str]) -> Future[str]:
        with self._lock:
            future = self._open.get(name)
            if future is None or future.done():
                future = self._open[name] = Future()
                threading.Thread(target=_answer, args=(future, question), name=f"asks {name}", daemon=True).start()
        return future


def _answer(future: Future[str], question: Callable[[], str]) -> None:
    try:
        future.set_result(question())
    except Exception as error:
        future.set_exception(error)
