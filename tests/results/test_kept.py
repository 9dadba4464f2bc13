"""Answers worked out once however many ask."""

from __future__ import annotations

import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from results.kept import once, state_of
from results.models import data_version


@pytest.fixture(autouse=True)
def own_folder(settings, tmp_path):
    settings.DATA_DIR = tmp_path


def test_many_who_ask_at_once_are_answered_by_one_working_out():
    worked: list[int] = []
    begin = threading.Barrier(8)

    def make() -> int:
        time.sleep(0.05)
        worked.append(1)
        return 42

    def ask(_: int) -> int:
        begin.wait()
        return once("answer", make, "state")

    with ThreadPoolExecutor(8) as pool:
        assert list(pool.map(ask, range(8))) == [42] * 8
    assert len(worked) == 1


def test_answer_is_kept_by_state_and_name():
    made = iter(range(10))

    found = [once(name, lambda: next(made), state) for state, name in ("aA", "aA", "aB", "bA", "aA")]

    assert found == [0, 0, 1, 2, 0]


@pytest.mark.django_db
def test_state_tells_a_demonstration_from_a_book_for_others(settings):
    version = data_version()
    states = set()
    for settings.DEMO in (True, False, True):
        states.add(state_of(version))

    assert len(states) == 2


def test_nothing_is_an_answer_too():
    made = iter([None, "again"])

    assert [once("nothing", lambda: next(made), "state") for _ in range(2)] == [None, None]


def test_working_out_that_fails_is_tried_again():
    def fail() -> None:
        raise ValueError("no")

    with pytest.raises(ValueError, match="no"):
        once("failing", fail, "state")
    assert once("failing", lambda: 1, "state") == 1


def test_answer_that_needs_others_does_not_wait_for_itself():
    def whole() -> int:
        return sum(once(f"part {n}", lambda n=n: n, "state") for n in range(600))  # more than there are locks

    assert once("whole", whole, "state") == sum(range(600))
    assert once("part 599", lambda: -1, "state") == 599
