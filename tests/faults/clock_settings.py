"""The site's settings, with a clock that a file moves: so many seconds from this machine's, see ``tests.faults.clock``.

Python and the framework are told another time where they ask for it; what measures how long something takes is not.
"""

from __future__ import annotations

import os
import time
from datetime import datetime, timedelta
from pathlib import Path

from django.utils import timezone

from results.site.settings import *  # noqa: F403

_FILE = Path(os.environ["CLOCK_FILE"])
_time, _now = time.time, timezone.now


def _ahead_s() -> float:
    return float(_FILE.read_text())


def _told_time() -> float:
    return _time() + _ahead_s()


def _told_now() -> datetime:
    return _now() + timedelta(seconds=_ahead_s())


time.time, timezone.now = _told_time, _told_now
