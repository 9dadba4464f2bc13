"""A server killed in the middle of saving, and a disk that is full: all or nothing, and a clear page."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest
from django.conf import settings

pytestmark = pytest.mark.story
NOTHING = dict.fromkeys(("study", "setup", "series", "specimen", "seriesfooting", "revision", "upload"), 0)
FORM = {"study": 1, "setup": 1, "series": 2, "specimen": 8, "revision": 1}


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    folder = tmp_path_factory.mktemp("faults")
    command = [sys.executable, "-m", "tests.results.pages.faults", str(folder)]
    done = subprocess.run(command, cwd=settings.BASE_DIR, capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    return json.loads(done.stdout.splitlines()[-1])


def test_form_of_a_killed_server_is_kept_and_nothing_of_it_is_saved(told):
    assert told["kept"]["answer"][0] == 200
    for name in ("form, in the middle", "form, at the end"):
        assert told[name]["killed"]
        assert told[name]["left"] == NOTHING | {"formdraft": 1}


def test_form_sent_again_to_the_next_server_is_saved_whole(told):
    again = told["form, again"]

    assert (again["killed"], again["answer"][0]) == (False, 302)
    assert {name: again["left"][name] for name in FORM} == FORM
    assert again["left"]["formdraft"] == 0


def test_keeping_of_a_killed_server_keeps_nothing_half(told):
    assert told["keeping, in the middle"]["killed"]
    assert told["keeping, in the middle"]["left"] == told["form, again"]["left"]


def test_import_of_a_killed_server_is_all_or_nothing(told):
    before = told["sheet, sent"]["left"]
    assert (told["sheet, sent"]["answer"][0], before["upload"], before["study"]) == (302, 1, 1)
    for name in ("sheet, in the middle", "sheet, at the end"):
        assert told[name]["killed"]
        assert told[name]["left"] == before
    again = told["sheet, again"]
    assert (again["answer"][0], again["left"]["study"], again["left"]["specimen"]) == (302, 2, 16)


@pytest.mark.parametrize(("name", "status"), [("keeping the file", 507), ("receiving it", 503)])
def test_upload_to_a_full_disk_keeps_nothing_half_and_says_so(told, name, status):
    found = told[f"disk full while {name}"]

    assert found["answer"] == [status, True]
    assert found["left"] == told["sheet, again"]["left"]
    assert found["files"] == told["sheet, sent"]["files"] == 1
