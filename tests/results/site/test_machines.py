"""Settings of a site on more than one machine: read right, or refused by the name of their variable."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured

from results.site import machines

PRIMARY = {"CONN_MAX_AGE": 60}


@pytest.mark.parametrize(("text", "sizes"), [("2-8", (2, 8)), ("0-1", (0, 1)), ("4-4", (4, 4))])
def test_pool_has_a_least_and_a_most(text, sizes):
    found = machines.pool_of(text)

    assert (found["min_size"], found["max_size"]) == sizes


@pytest.mark.parametrize("text", ["8", "8-2", "0-0", "two-eight", "-1-4", "1-99999", "2 - 8"])
def test_a_pool_that_cannot_be_is_refused(text):
    with pytest.raises(ImproperlyConfigured, match=f"DATABASE_POOL='{text}'.* such as 2-8"):
        machines.pool_of(text)


def test_a_pool_keeps_the_connections_so_that_no_thread_does(monkeypatch):
    monkeypatch.setenv("DATABASE_POOL", "1-4")
    database = {"CONN_MAX_AGE": 60}

    machines.finish_postgresql(database)

    assert database["CONN_MAX_AGE"] == 0  # or the framework refuses the pool
    assert database["OPTIONS"]["pool"]["max_size"] == 4
    assert "jit=off" in database["OPTIONS"]["options"]


def test_behind_pgbouncer_nothing_is_left_in_a_session(monkeypatch):
    monkeypatch.setenv("PGBOUNCER", "True")
    database = {"CONN_MAX_AGE": 60}

    machines.finish_postgresql(database)

    assert database["DISABLE_SERVER_SIDE_CURSORS"] is True
    assert "options" not in database["OPTIONS"]


def test_replicas_are_databases_that_tests_and_migrations_leave_alone():
    found = machines.replicas(PRIMARY, ["postgresql://u:p@one:5433/book", "postgresql://two/book?connect_timeout=9"])

    assert list(found) == ["replica-1", "replica-2"]
    assert (found["replica-1"]["HOST"], found["replica-1"]["PORT"]) == ("one", 5433)
    assert [one["OPTIONS"]["connect_timeout"] for one in found.values()] == [2, 9]
    assert all(one["TEST"] == {"MIRROR": "default"} for one in found.values())


@pytest.mark.parametrize(
    "url", ["mysql://u:hidden@h/book", "sqlite:///book", "nonsense", "postgresql://host", "redis://h"]
)
def test_a_replica_that_is_none_is_refused_without_its_password(url):
    with pytest.raises(ImproperlyConfigured, match="^REPLICA_URLS: ") as refused:
        machines.replicas(PRIMARY, [url])

    assert "hidden" not in str(refused.value)


@pytest.mark.parametrize(
    ("name", "value", "read"),
    [
        ("REPLICA_LAG_MOST_S", "1", machines.lag_most),
        ("REPLICA_LAG_MOST_S", "soon", machines.lag_most),
        ("PRIMARY_READS_PCT", "101", machines.read_share),
        ("PRIMARY_READS_PCT", "-1", machines.read_share),
        ("CACHE_URL", "memcached://host", machines.cache_url),
        ("CACHE_URL", "redis://", machines.cache_url),
        ("CACHE_URL", "redis://host:port", machines.cache_url),
        ("CACHE_URL", "redis://host/first", machines.cache_url),
        ("CACHE_URL", "host:6379", machines.cache_url),
    ],
)
def test_what_cannot_be_used_is_refused_by_name(monkeypatch, name, value, read):
    monkeypatch.setenv(name, value)

    with pytest.raises(ImproperlyConfigured, match=f"^{name}="):
        read()


@pytest.mark.parametrize(
    "url", ["redis://host", "redis://:secret@host:6379/2", "rediss://host/0", "unix:///run/redis.sock"]
)
def test_a_shared_cache_is_taken(monkeypatch, url):
    monkeypatch.setenv("CACHE_URL", url)

    assert machines.cache_url() == url


def test_every_shared_cache_has_one_to_fall_back_on():
    alone = {name: {"BACKEND": name} for name in ("default", "process", "answers")}

    found = machines.shared_caches("redis://host", alone)

    instead = {name: one["OPTIONS"]["INSTEAD"] for name, one in found.items() if "OPTIONS" in one}
    assert instead == {"default": "table", "counts": "process", "answers": "files"}
    assert [found[name]["BACKEND"] for name in instead.values()] == ["default", "process", "answers"]
    assert len({found[name]["KEY_PREFIX"] for name in instead}) == 3


@pytest.mark.parametrize(
    ("url", "told"),
    [
        ("gs://bucket", "scheme is 'gs'"),
        ("bucket", "scheme is 'missing'"),
        ("s3://", "no name of a bucket"),
        ("s3://Bucket_", "no name of a bucket"),
        ("s3://key:secret@bucket", "AWS_ACCESS_KEY_ID"),
        ("s3://bucket?acl=public-read", "acl means nothing"),
        ("s3://bucket?endpoint=host:9000", "is no address"),
        ("s3://bucket?endpoint", "bad query field"),
    ],
)
def test_a_store_that_cannot_be_used_is_refused(url, told):
    with pytest.raises(ImproperlyConfigured, match="^STORAGE_URL=") as refused:
        machines.shared_store(url)

    assert told in str(refused.value) and "secret" not in str(refused.value).replace("AWS_SECRET", "")


def test_a_store_is_a_bucket_a_folder_and_where_it_is():
    found = machines.shared_store("s3://book/of%20tests/?endpoint=https://store.example&region=north")

    assert (found["bucket_name"], found["location"]) == ("book", "of tests")
    assert (found["endpoint_url"], found["region_name"]) == ("https://store.example", "north")
    assert found["file_overwrite"] is False
    assert machines.shared_store("") is None


def _started(**environment: str) -> str:
    """What the site says on starting with these variables."""
    told = subprocess.run(
        [sys.executable, "-c", "from results.site import settings; print(settings.DATABASES, settings.MIDDLEWARE)"],
        env={**os.environ, "SECRET_KEY": "x", "DATABASE_URL": "", **environment},
        cwd=settings.BASE_DIR,
        capture_output=True,
        text=True,
        check=False,
    )
    return told.stdout or told.stderr


@pytest.mark.parametrize(
    "variable", [{"DATABASE_POOL": "1-2"}, {"REPLICA_URLS": "postgresql://h/b"}, {"PGBOUNCER": "True"}]
)
def test_what_only_postgresql_has_is_refused_without_it(variable, tmp_path):
    (name,) = variable

    assert f"{name} is set, but DATABASE_URL names no PostgreSQL" in _started(**variable, DATA_DIR=str(tmp_path))


def test_without_any_of_it_the_site_stands_on_one_machine(tmp_path):
    told = _started(DATA_DIR=str(tmp_path))

    assert "replica" not in told and "routing" not in told and "sqlite3" in told
