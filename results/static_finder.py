"""Serve plotly's script from the installed plotly package, so that no copy of it lives in the project."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path
from typing import Any

from django.contrib.staticfiles.finders import BaseFinder
from django.core.files.storage import FileSystemStorage

PREFIX = "vendored"
SCRIPT = "plotly.min.js"


class PlotlyFinder(BaseFinder):
    """Finds ``vendored/plotly.min.js`` and nothing else."""

    def __init__(self, *args: object, **kwargs: object) -> None:
        self.storage = FileSystemStorage(location=str(files("plotly") / "package_data"))
        setattr(self.storage, "prefix", PREFIX)  # noqa: B010 - where the staticfiles app puts this storage's files

    def check(self, **kwargs: object) -> list:
        return []

    def find(self, path: str, find_all: bool = False, **kwargs: Any) -> Any:
        found = self.storage.path(SCRIPT) if Path(path) == Path(PREFIX, SCRIPT) else None
        if find_all:
            return [found] if found else []
        return found or []

    def list(self, ignore_patterns: object):
        yield SCRIPT, self.storage
