"""A server of a shared cache for tests: Redis or Valkey on a free port of this machine, gone with the test."""

from __future__ import annotations

import shutil
import socket
import subprocess
import time
from pathlib import Path

import pytest
from redis import Redis
from redis.exceptions import RedisError

PROGRAM = shutil.which("redis-server") or shutil.which("valkey-server")
needs_redis = pytest.mark.skipif(PROGRAM is None, reason="Redis: neither redis-server nor valkey-server is installed")


class CacheServer:
    """One server, which can be stopped and started again on its port."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"redis://127.0.0.1:{self.port}/0"

    def start(self) -> None:
        assert PROGRAM is not None
        self.process = subprocess.Popen(
            [PROGRAM, "--port", str(self.port), "--bind", "127.0.0.1", "--save", "", "--dir", str(self.folder)],
            stdout=subprocess.DEVNULL,
        )
        with Redis(port=self.port) as link:
            for _ in range(200):
                try:
                    link.ping()
                    return
                except RedisError:
                    time.sleep(0.05)
        raise RuntimeError("The server of the shared cache does not start.")

    def stop(self) -> None:
        if self.process:
            self.process.kill()
            self.process.wait()
            self.process = None
