"""Servers of PostgreSQL on this machine's loopback, in a temporary folder: a primary and replicas that follow it."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import psycopg

DATABASE, USER = "breakbook", "breakbook"
# Nothing of it outlives the run, so that nothing needs to reach the disk.
_CONF = """
listen_addresses = '127.0.0.1'
unix_socket_directories = ''
fsync = off
full_page_writes = off
wal_level = replica
hot_standby = on
hot_standby_feedback = on
max_wal_senders = 8
max_connections = 120
wal_retrieve_retry_interval = 500ms
wal_receiver_timeout = 3s
timezone = 'UTC'
log_min_messages = fatal
jit = off
"""
_TRUST = "host all all 127.0.0.1/32 trust\nhost replication all 127.0.0.1/32 trust\n"


def programs() -> Path | None:
    """Where PostgreSQL's programs are; None where it isn't installed."""
    if found := shutil.which("initdb"):
        return Path(found).resolve().parent
    installed = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    return installed[-1].parent if installed else None


def free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


def as_postgres() -> dict[str, Any]:
    """The servers refuse to be run by root."""
    return {"user": "postgres", "group": "postgres", "extra_groups": []} if os.geteuid() == 0 else {}


def _is_dead(pid: int) -> bool:
    """Whether nothing of a process is left but its number, which nobody has asked for yet."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] == "Z"
    except OSError:
        return True


class Server:
    """One server, stopped or running."""

    def __init__(self, folder: Path, name: str) -> None:
        self.folder, self.name, self.port = folder / name, name, free_port()

    @property
    def url(self) -> str:
        return f"postgresql://{USER}@127.0.0.1:{self.port}/{DATABASE}"

    def run(self, program: str, *arguments: str, check: bool = True) -> None:
        bin_ = programs()
        assert bin_ is not None
        told = subprocess.run(
            [bin_ / program, *arguments],
            cwd="/",
            env={"PATH": os.environ["PATH"], "LC_ALL": "C.UTF-8"},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            timeout=60,
            **as_postgres(),
        )
        if check and told.returncode:
            raise RuntimeError(f"{program} of {self.name}: {told.stderr.decode()}")

    def make(self) -> None:
        """A primary, empty."""
        self.run("initdb", "-D", str(self.folder), "-U", USER, "-E", "UTF8", "--auth=trust", "--no-sync")
        with (self.folder / "postgresql.conf").open("a") as conf:
            conf.write(_CONF)
        (self.folder / "pg_hba.conf").write_text(_TRUST)

    def follow(self, primary: Server) -> None:
        """A copy of a running primary that goes on following it."""
        way = f"host=127.0.0.1 port={primary.port} user={USER} application_name={self.name}"
        self.run("pg_basebackup", "-D", str(self.folder), "-d", way, "-R", "-X", "stream", "-c", "fast", "--no-sync")

    def start(self) -> None:
        log = str(self.folder.parent / f"{self.name}.log")
        self.run("pg_ctl", "-D", str(self.folder), "-l", log, "-o", f"-p {self.port}", "-w", "-t", "30", "start")

    def stop(self, how: str = "immediate") -> None:
        self.run("pg_ctl", "-D", str(self.folder), "-m", how, "-w", "-t", "20", "stop", check=False)

    def kill(self) -> None:
        """Kill it and all its processes at once, as a machine does that runs out of memory."""
        first = int((self.folder / "postmaster.pid").read_text().split()[0])
        children = Path(f"/proc/{first}/task/{first}/children").read_text().split()
        every = (first, *map(int, children))
        for pid in every:
            with suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        while not all(map(_is_dead, every)):
            time.sleep(0.02)
        # Where nobody asks for the numbers of dead processes, the next start would take it for running.
        (self.folder / "postmaster.pid").unlink()

    def promote(self) -> None:
        self.run("pg_ctl", "-D", str(self.folder), "-w", "-t", "20", "promote")

    def ask(self, query: str, database: str = DATABASE) -> Any:
        """The first cell of an answer; None for a statement without one."""
        way = f"host=127.0.0.1 port={self.port} user={USER} dbname={database} connect_timeout=3"
        with psycopg.connect(way, autocommit=True) as connection:
            found = connection.execute(query)
            return found.fetchone()[0] if found.description else None

    def transactions(self) -> int:
        """How many it has ended in our database since it was started, those that read among them."""
        return int(self.ask(f"SELECT xact_commit + xact_rollback FROM pg_stat_database WHERE datname = '{DATABASE}'"))


def until_caught_up(primary: Server, replica: Server, seconds: float = 20) -> None:
    """Wait until a replica has replayed what its primary has written so far."""
    reaches, end = primary.ask("SELECT pg_current_wal_lsn()::text"), time.monotonic() + seconds
    while not replica.ask(f"SELECT coalesce(pg_last_wal_replay_lsn() >= '{reaches}'::pg_lsn, false)"):
        if time.monotonic() > end:
            raise RuntimeError(f"{replica.name} has not caught up within {seconds:.0f} s.")
        time.sleep(0.05)


@contextmanager
def one_server() -> Iterator[Server]:
    """One running with our database in it; stopped and taken away in the end, whatever happens."""
    folder = Path(tempfile.mkdtemp(prefix="breakbook-faults-"))
    server = Server(folder, "primary")
    try:
        if os.geteuid() == 0:
            shutil.chown(folder, "postgres", "postgres")
        server.make()
        server.start()
        server.ask(f"CREATE DATABASE {DATABASE}", "postgres")
        yield server
    finally:
        if server.folder.exists():
            server.stop()
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def primary_and_replica() -> Iterator[tuple[Server, Server]]:
    """Both running, the replica following; stopped and taken away in the end, whatever happens."""
    folder = Path(tempfile.mkdtemp(prefix="breakbook-faults-"))
    primary, replica = Server(folder, "primary"), Server(folder, "replica")
    try:
        if os.geteuid() == 0:
            shutil.chown(folder, "postgres", "postgres")
        primary.make()
        primary.start()
        primary.ask(f"CREATE DATABASE {DATABASE}", "postgres")
        replica.follow(primary)
        replica.start()
        until_caught_up(primary, replica)
        yield primary, replica
    finally:
        for one in (replica, primary):
            if one.folder.exists():
                one.stop()
        shutil.rmtree(folder, ignore_errors=True)
