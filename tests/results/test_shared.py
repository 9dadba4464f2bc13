"""What machines share by a Redis or Valkey server, and how they go on while it is away."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.conf import settings as site
from django.core.cache import caches

from results import shared
from results.kept import once
from results.shared import Squeezed, alone
from results.site.machines import shared_caches
from tests.results.servers import CacheServer, needs_redis

ALONE = {
    "default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache", "LOCATION": "table"},
    "process": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache", "LOCATION": "process"},
    "answers": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache", "LOCATION": "files"},
    **{name: site.CACHES[name] for name in ("pages", "pages-asked")},
}


@pytest.fixture(autouse=True)
def own_folder(settings, tmp_path, monkeypatch):
    settings.DATA_DIR = tmp_path
    monkeypatch.setattr(shared, "away", shared._Away())


@pytest.fixture
def server(settings, tmp_path):
    made = CacheServer(tmp_path)
    made.start()
    settings.CACHES = shared_caches(made.url, ALONE)
    settings.COUNTED_IN = "counts"
    yield made
    made.stop()


@pytest.fixture
def nobody(settings, tmp_path):
    """A site whose shared cache is not there at all."""
    settings.CACHES = shared_caches(CacheServer(tmp_path).url, ALONE)
    settings.COUNTED_IN = "counts"
    for name in ("table", "process", "files"):
        caches[name].clear()


# while it is there


@needs_redis
def test_what_one_keeps_another_finds(server):
    caches["answers"].set("key", {"a": [1, None, "é"]}, 60)

    with ThreadPoolExecutor(1) as pool:  # each thread has its own connection
        assert pool.submit(caches["answers"].get, "key").result() == {"a": [1, None, "é"]}
    assert caches["files"].get("key") is None and caches["counts"].get("key") is None


@needs_redis
def test_counts_are_one_for_all(server):
    counts = caches["counts"]
    counts.add("count", 0, 60)

    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(lambda _: caches["counts"].incr("count"), range(20)))

    assert sorted(found) == list(range(1, 21))


@needs_redis
def test_what_cannot_be_read_is_not_there(server, caplog):
    answers = caches["answers"]
    answers.server.set(answers.make_key("key"), b"of another version")

    assert answers.get("key", "nothing") == "nothing"
    assert once("other", lambda: 1, "state") == 1
    assert "can't be read, and is passed over" in caplog.text


def test_answers_are_squeezed():
    text = "the same again " * 10_000

    assert len(Squeezed().dumps(text)) < len(text) / 20
    assert Squeezed().loads(Squeezed().dumps(text)) == text


# while it is away


@needs_redis
def test_without_the_server_each_goes_on_by_itself_and_says_so(server, caplog):
    server.stop()

    assert once("answer", lambda: 1, "state") == 1
    assert once("answer", lambda: 2, "state") == 1  # kept here
    assert caches["counts"].add("count", 0, 60) and caches["counts"].incr("count") == 1
    assert [line.levelname for line in caplog.records].count("ERROR") == 1
    assert "shared cache (CACHE_URL) can't be used" in caplog.text


@needs_redis
def test_once_it_is_back_it_is_used_again(server, caplog, monkeypatch):
    monkeypatch.setattr(shared, "AWAY_S", 0.2)
    server.stop()
    caches["answers"].set("key", "here", 60)
    server.start()
    time.sleep(0.25)

    caches["answers"].set("key", "there", 60)

    assert (caches["files"].get("key"), caches["answers"].get("key")) == ("here", "there")
    assert "can be used again" in caplog.text


def test_a_server_that_is_away_is_not_waited_for_again_and_again(nobody, monkeypatch):
    asked = []
    real = shared.RedisCache.get
    monkeypatch.setattr(shared.RedisCache, "get", lambda self, *args: asked.append(1) or real(self, *args))

    for _ in range(20):
        caches["answers"].get("key")

    assert len(asked) == 1


def test_a_count_that_the_server_had_begins_anew_here(nobody):
    assert caches["counts"].incr("never-begun") == 1
    assert caches["counts"].incr("never-begun") == 2


@pytest.mark.django_db
@pytest.mark.parametrize("address", ["/", "/studies/", "/login/", "/api/v1/studies.json", "/api/v1/compare.json"])
def test_no_page_breaks_for_it(nobody, client, address):
    assert client.get(address).status_code < 500
    assert client.post("/login/", {"login": "nobody", "password": "no"}).status_code == 422


@pytest.mark.django_db
def test_limits_hold_without_it(nobody, client, settings):
    settings.API_ANONYMOUS_PER_MINUTE = 2

    assert [client.get("/api/v1/studies.json").status_code for _ in range(3)] == [200, 200, 429]


# one at a time

# Another machine: a process with a folder of its own.
_MACHINE = """
import os, sys, time
os.environ["DATA_DIR"] = sys.argv[2]
os.environ["CACHE_URL"] = sys.argv[1]
os.environ["DJANGO_SETTINGS_MODULE"] = "results.site.settings"
import django
django.setup()
from results import shared
from results.kept import once
shared.LOCK_S = 2.0

def make():
    print("begins", flush=True)
    time.sleep(float(sys.argv[3]))
    return "from another machine"

print(once("answer", make, "state"), flush=True)
"""


@pytest.fixture
def machine(server, tmp_path):
    """Starts another machine that works the answer out, and waits until it has begun."""
    started = []

    def start(seconds: float) -> subprocess.Popen[str]:
        folder = tmp_path / f"machine-{len(started)}"
        folder.mkdir()
        one = subprocess.Popen(
            [sys.executable, "-c", _MACHINE, server.url, str(folder), str(seconds)],
            env={**os.environ, "SECRET_KEY": "x", "HTTPS": "False", "DATABASE_URL": ""},
            cwd=site.BASE_DIR,
            stdout=subprocess.PIPE,
            text=True,
        )
        started.append(one)
        assert one.stdout.readline() == "begins\n"
        return one

    yield start
    for one in started:
        one.kill()
        one.wait()
        one.stdout.close()


@needs_redis
def test_an_answer_that_another_machine_works_out_is_waited_for(machine):
    machine(1.0)

    assert once("answer", lambda: "worked out twice", "state") == "from another machine"


@pytest.mark.story
@needs_redis
def test_a_lock_is_put_off_for_as_long_as_its_holder_lives(machine):
    machine(5.0)  # its lock ends after two seconds, unless it is put off

    start = time.monotonic()
    assert once("answer", lambda: "worked out twice", "state") == "from another machine"
    assert time.monotonic() - start > 3


@pytest.mark.story
@needs_redis
def test_a_lock_dies_with_its_holder(machine):
    machine(60.0).send_signal(signal.SIGKILL)

    start = time.monotonic()
    assert once("answer", lambda: "worked out here", "state") == "worked out here"
    assert time.monotonic() - start < 8


@needs_redis
def test_many_here_are_answered_by_one_working_out(server):
    worked: list[int] = []
    begin = threading.Barrier(8)

    def ask(_: int) -> int:
        begin.wait()
        return once("answer", lambda: time.sleep(0.05) or worked.append(1) or 42, "state")

    with ThreadPoolExecutor(8) as pool:
        assert list(pool.map(ask, range(8))) == [42] * 8
    assert len(worked) == 1


@needs_redis
def test_a_lock_is_given_back_by_nobody_but_its_holder(server, monkeypatch):
    monkeypatch.setattr(shared, "LOCK_S", 0.3)
    answers = caches["answers"]

    with alone(answers, "key", lambda: False):
        # Taken away, as if it had ended, and taken by somebody else.
        answers.server.set("lock:key", "somebody else's")
    assert answers.server.get("lock:key") == b"somebody else's"


@needs_redis
def test_a_server_that_goes_away_in_the_midst_costs_no_answer(server):
    def make() -> int:
        server.stop()
        return 1

    assert once("answer", make, "state") == 1
