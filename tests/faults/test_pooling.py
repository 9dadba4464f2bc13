"""Connections that are shared: the site behind PgBouncer in transaction mode, and with a pool of its own."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import time
from pathlib import Path

import pytest
from django.db import connection, connections

from tests.faults.people import Browser, Story, in_parallel, write
from tests.faults.postgres import DATABASE, USER, as_postgres, free_port, primary_and_replica, programs
from tests.faults.replica import Site

BOUNCER = shutil.which("pgbouncer") or shutil.which("/usr/sbin/pgbouncer")
READ = ("/", "/compare/", "/studies/1/", "/api/v1/studies.json", "/api/v1/specimens.csv", "/api/v1/specimens.ndjson")
_CONF = """
[databases]
{database} = host=127.0.0.1 port={to} dbname={database} user={user}
[pgbouncer]
listen_addr = 127.0.0.1
listen_port = {port}
unix_socket_dir =
auth_type = any
pool_mode = transaction
default_pool_size = 2
ignore_startup_parameters = extra_float_digits
"""


def _bounced(folder: Path, to: int) -> tuple[subprocess.Popen[bytes], int]:
    port, conf = free_port(), folder / "pgbouncer.ini"
    conf.write_text(_CONF.format(database=DATABASE, user=USER, to=to, port=port))
    for path in (folder, conf):
        if os.geteuid() == 0:
            shutil.chown(path, "postgres", "postgres")
    process = subprocess.Popen([BOUNCER, "-q", str(conf)], cwd="/", stderr=subprocess.DEVNULL, **as_postgres())
    for _ in range(100):
        with socket.socket() as link:
            if link.connect_ex(("127.0.0.1", port)) == 0:
                return process, port
        time.sleep(0.05)
    process.kill()
    raise RuntimeError("PgBouncer does not start.")


def _read(port: int) -> list[int]:
    browser = Browser(port)
    try:
        return [browser.get(path)[0] for path in READ * 2]
    finally:
        browser.close()


@pytest.mark.skipif(programs() is None or BOUNCER is None, reason="PgBouncer or PostgreSQL is not installed")
def test_the_site_works_behind_pgbouncer_in_transaction_mode(tmp_path):
    from api.openapi.answers import DRAFT_EXAMPLE

    with primary_and_replica() as (primary, replica):
        folder = primary.folder.parent / "bouncer"
        folder.mkdir()
        process, port = _bounced(folder, primary.port)
        try:
            way = f"postgresql://{USER}@127.0.0.1:{port}/{DATABASE}"
            site = Site(tmp_path, primary, replica, DATABASE_URL=way, REPLICA_URLS="", PGBOUNCER="True")
            token = site.fill()
            with site.served():
                site.wait_until_up()
                story, kept = Story(), []
                # Two sessions of the database for eight threads, each of which goes from session to session.
                assert in_parallel(lambda: _read(site.port), 6) == [[200] * 2 * len(READ)] * 6
                story.over_after(1.5)
                write(story, Browser(site.port, token), DRAFT_EXAMPLE, kept, 0.0)
                assert kept and (story.now.refused, story.now.own_unseen) == (0, 0)
        finally:
            process.send_signal(signal.SIGTERM)
            process.wait(10)


@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(connection.vendor != "postgresql", reason="a pool of connections is PostgreSQL's alone")
def test_a_pool_is_shared_by_more_threads_than_it_has_connections():
    from results.site.machines import pool_of

    alias = "pooled"
    options = {**connection.settings_dict["OPTIONS"], "pool": pool_of("1-2")}
    connections.settings[alias] = {**connection.settings_dict, "OPTIONS": options, "CONN_MAX_AGE": 0}

    def ask() -> int:
        one = connections[alias]
        one.connect()
        with one.cursor() as cursor:
            cursor.execute("SELECT pg_backend_pid(), pg_sleep(0.02)")
            (found, _) = cursor.fetchone()
        one.close()
        return found

    try:
        assert len(set(in_parallel(lambda: [ask() for _ in range(3)][0], 8))) <= 2
    finally:
        connections[alias].close_pool()
        del connections[alias], connections.settings[alias]
