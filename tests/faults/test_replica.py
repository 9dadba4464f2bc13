"""A replica that is cut off, lags, and is made the primary: what people see of it. Played by `tests.faults.replica`."""

from __future__ import annotations

import os
import re
import subprocess
import sys

import pytest
from django.conf import settings

from tests.faults.postgres import programs

pytestmark = pytest.mark.skipif(programs() is None, reason="no replica was tried: PostgreSQL isn't installed")
STEPS = (
    "both are well",
    "the replica is cut off",
    "it is back",
    "it lags: it answers, and replays nothing more",
    "it has caught up",
    "the primary is lost",
    "the replica is made the primary",
    "after that",
)


def test_readers_go_on_and_everybody_sees_what_they_wrote():
    told = subprocess.run(
        [sys.executable, "-m", "tests.faults.replica"],
        env={name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "DATA_DIR")},
        cwd=settings.BASE_DIR,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )

    assert told.returncode == 0, told.stdout + told.stderr
    print(told.stdout)
    steps = dict(re.findall(r"^(\w.*)\n {4}(.*)$", told.stdout, re.MULTILINE))
    assert tuple(steps) == STEPS
    for name, said in steps.items():
        figures = r"(\d+) reads, (\d+) of .*; (\d+) writes saved, (\d+) told .* again (\d+) times"
        reads, failed, written, refused, own = map(int, re.search(figures, said).groups())
        assert reads > 10 and failed == 0, name
        # Without a primary nothing is written; in every other step somebody wrote, and looked.
        assert refused > 0 if name == "the primary is lost" else written > 0 and own > 0, name
    assert re.search(r"are lost: 0 of \d\d", told.stdout)
