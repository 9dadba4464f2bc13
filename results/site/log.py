"""Lines of the log: JSON for programs, plain for people; each with the request that it belongs to."""

from __future__ import annotations

import json
import logging
from datetime import UTC, datetime

from .watch import request_id

# What our own records may carry beside their message.
_EXTRA = ("view", "method", "status", "status_code", "ms", "queries", "sql", "database")


class JSONLines(logging.Formatter):
    """One object a line."""

    def format(self, record: logging.LogRecord) -> str:
        told = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": record.getMessage(),
        }
        if name := request_id():
            told["request_id"] = name
        told |= {name: getattr(record, name) for name in _EXTRA if hasattr(record, name)}
        if record.exc_info:
            told["exception"] = self.formatException(record.exc_info)
        if record.stack_info:
            told["stack"] = self.formatStack(record.stack_info)
        return json.dumps(told, ensure_ascii=False, default=str)


class Plain(logging.Formatter):
    """A line to be read by somebody."""

    def __init__(self) -> None:
        super().__init__("{asctime} {levelname:7} {name}: {message}", datefmt="%H:%M:%S", style="{")

    def formatMessage(self, record: logging.LogRecord) -> str:
        line = super().formatMessage(record)
        more = [f"{name}={getattr(record, name)}" for name in ("ms", "queries", "sql") if hasattr(record, name)]
        if name := request_id():
            more.append(f"request {name}")
        return f"{line} ({', '.join(more)})" if more else line
