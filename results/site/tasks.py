"""Which library puts work into the background: the framework's own from its release 6.0 on, else one like it."""

from __future__ import annotations

from importlib import import_module
from importlib.util import find_spec
from typing import Any

LIBRARY = "django.tasks" if find_spec("django.tasks") else "django_tasks"
"""Where it is imported from; the settings name its backends by it."""


def task() -> Any:
    """The decorator that makes a task of a function.

    Asked of the library here and not above, since settings are read before it can be.
    """
    return import_module(LIBRARY).task()
