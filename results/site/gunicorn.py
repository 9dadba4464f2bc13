"""What gunicorn is told beside its command line: ``gunicorn -c python:results.site.gunicorn results.site.wsgi``.

With PROMETHEUS_MULTIPROC_DIR all processes keep their counts in that folder. It is emptied when the server starts; what
a process counted that has gone since still counts.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from .settings import LOGGING

# The server's own lines look like the site's. It has no line for each request: LOG_LEVEL=INFO gives ours.
logconfig_dict = {
    **LOGGING,
    "loggers": {
        "gunicorn.error": {"level": "INFO", "propagate": False, "handlers": ["console"]},
        "gunicorn.access": {"level": "WARNING", "propagate": False, "handlers": ["console"]},
    },
}


def on_starting(server: Any) -> None:
    if folder := os.environ.get("PROMETHEUS_MULTIPROC_DIR"):
        Path(folder).mkdir(parents=True, exist_ok=True)
        for left in Path(folder).glob("*.db"):
            left.unlink()


def child_exit(server: Any, worker: Any) -> None:
    if os.environ.get("PROMETHEUS_MULTIPROC_DIR"):
        from prometheus_client import multiprocess

        multiprocess.mark_process_dead(worker.pid)
