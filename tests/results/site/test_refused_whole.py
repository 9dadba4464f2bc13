"""What is refused before all of it was read is read all the same, so that the words of the answer arrive."""

from __future__ import annotations

import pytest
from django.http import HttpResponse
from django.test import RequestFactory

from results.site import watch


class Stream:
    """A request's body that says how much of it was taken."""

    def __init__(self, size: int) -> None:
        self.left = size

    def read(self, size: int = -1) -> bytes:
        size = self.left if size < 0 else min(size, self.left)
        self.left -= size
        return b"x" * size


def sent(status: int, size: int = 500_000) -> int:
    stream = Stream(size)
    request = RequestFactory().generic("POST", "/submit/upload/", b"")
    request._stream = stream

    def answers(asked):
        asked.read(10)  # no further: there was no room to keep it
        return HttpResponse("No room.", status=status)

    assert watch.Watch(answers)(request).status_code == status
    return stream.left


@pytest.mark.parametrize("status", [413, 422, 503, 507])
def test_the_rest_of_what_is_refused_is_taken_in(status):
    assert sent(status) == 0


def test_no_more_is_taken_in_than_anybody_may_send(monkeypatch):
    monkeypatch.setattr(watch, "_REST_MOST", 3 * watch._BLOCK)

    assert sent(413, 10 * watch._BLOCK) == 7 * watch._BLOCK - 10


def test_who_has_hung_up_meets_no_error():
    request = RequestFactory().generic("POST", "/", b"")

    class Gone:
        def read(self, size: int = -1) -> bytes:
            raise ConnectionResetError

    request._stream = Gone()

    assert watch.Watch(lambda asked: HttpResponse(status=413))(request).status_code == 413
