"""Pages while their answers are worked out anew: that of before, marked, for a while; then by whoever asks."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import threading
from datetime import timedelta
from html import unescape

import pytest
from django.core.cache import caches
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from results import kept
from results.models import data_version
from results.pages import anew
from results.review import decide
from results.site import settings as now
from tests.factories import make_reviewer
from tests.results.pages.shops import a_shop

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]
MARK = "being worked out anew"
NAMES = ("compare:compare", "compare:network", "browse:evidence")
DATABASE = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}


@pytest.fixture(autouse=True)
def background(settings, monkeypatch):
    """A queue in the database, two shops in the book, and nothing kept."""
    # A worker closes its connection now and then; here that is the test's own, with all that it has saved.
    monkeypatch.setattr("django_tasks_db.management.commands.db_worker.close_old_connections", lambda: None)
    settings.TASKS = DATABASE
    settings.STALE_MOST_S = 120
    caches["answers"].clear()
    a_shop("One")
    a_shop("Two", rig=1.3)


def withdraw_one(title: str, capture) -> None:
    """What a reviewer does, with all that follows once it is done."""
    from results.models import Study

    with capture(execute=True):
        decide.withdraw(Study.objects.get(title=title), make_reviewer(), "the arm was measured wrongly")


def text_of(client, name: str, query: str = "") -> str:
    response = client.get(reverse(name) + query)
    assert response.status_code == 200
    return response.content.decode()


def work() -> None:
    call_command("db_worker", batch=True, startup_delay=False, interval=0, verbosity=0)


@pytest.mark.parametrize("name", NAMES)
def test_a_page_is_of_before_and_says_so_until_a_worker_has_it(client, name, django_capture_on_commit_callbacks):
    before, at = text_of(client, name), data_version().changed_at
    assert MARK not in before

    withdraw_one("Two", django_capture_on_commit_callbacks)
    while_waiting = text_of(client, name)
    work()
    after = text_of(client, name)

    assert MARK in while_waiting
    assert f"As of {at:%-d %B %Y, %H:%M} (UTC)" in while_waiting
    assert main_part(while_waiting) == main_part(before)
    assert MARK not in after
    assert main_part(after) != main_part(before)
    assert all(one.status == "SUCCESSFUL" for one in DBTaskResult.objects.all())


def main_part(page: str) -> str:
    """What a page says of the data, without the mark and one-time tokens."""
    page = re.sub(r'<p class="note" role="status">As of.*?</p>\n?', "", page)
    found = re.search(r"<main.*</main>", page, re.S)
    assert found
    return re.sub(r"\n+", "\n", found[0])


def test_after_a_change_the_usual_pages_are_asked_for_once(client, django_capture_on_commit_callbacks):
    withdraw_one("Two", django_capture_on_commit_callbacks)
    asked = sorted(tuple(one.args_kwargs["args"]) for one in DBTaskResult.objects.all())
    assert asked == [("compare", ""), ("evidence", ""), ("network", "")]


def test_however_many_ask_a_page_is_asked_of_the_worker_once(client, django_capture_on_commit_callbacks):
    query = "?footing=stress"
    text_of(client, "compare:compare", query)
    withdraw_one("Two", django_capture_on_commit_callbacks)
    DBTaskResult.objects.all().delete()

    for _ in range(4):
        assert MARK in text_of(client, "compare:compare", query)

    (one,) = DBTaskResult.objects.all()
    page, asked = one.args_kwargs["args"]
    assert (page, "footing=stress" in asked) == ("compare", True)
    work()
    assert MARK not in text_of(client, "compare:compare", query)


def test_a_worker_that_died_keeps_nobody_waiting_for_longer_than_the_bound(
    client, settings, monkeypatch, django_capture_on_commit_callbacks
):
    before = text_of(client, "compare:compare")
    withdraw_one("Two", django_capture_on_commit_callbacks)
    # Killed, a worker leaves its work as it was: taken, and never ended.
    DBTaskResult.objects.update(status="RUNNING", started_at=timezone.now())
    assert MARK in text_of(client, "compare:compare")
    now = timezone.now()

    monkeypatch.setattr(kept.timezone, "now", lambda: now + timedelta(seconds=119))
    assert MARK in text_of(client, "compare:compare")
    monkeypatch.setattr(kept.timezone, "now", lambda: now + timedelta(seconds=121))
    after = text_of(client, "compare:compare")

    assert MARK not in after
    assert main_part(after) != main_part(before)


def test_work_that_fails_is_told_and_the_page_comes_all_the_same(
    client, monkeypatch, django_capture_on_commit_callbacks
):
    text_of(client, "compare:compare")
    withdraw_one("Two", django_capture_on_commit_callbacks)
    with monkeypatch.context() as patch:
        patch.setattr("results.pages.compare.work_out", lambda query: 1 / 0)
        work()
    assert DBTaskResult.objects.filter(status="FAILED").count() == 1
    assert MARK in text_of(client, "compare:compare")


def test_what_was_not_asked_for_lately_is_worked_out_by_who_asks(
    client, monkeypatch, django_capture_on_commit_callbacks
):
    text_of(client, "compare:compare")
    later = timezone.now() + timedelta(hours=1)
    withdraw_one("Two", django_capture_on_commit_callbacks)
    monkeypatch.setattr(kept.timezone, "now", lambda: later)
    assert MARK not in text_of(client, "compare:compare")


def test_where_work_is_done_at_once_nobody_sees_an_answer_of_before(
    client, settings, django_capture_on_commit_callbacks
):
    settings.TASKS = {"default": {"BACKEND": "django_tasks.backends.immediate.ImmediateBackend"}}
    before = text_of(client, "compare:compare")
    withdraw_one("Two", django_capture_on_commit_callbacks)
    after = text_of(client, "compare:compare")
    assert MARK not in after
    assert main_part(after) != main_part(before)


def test_without_a_worker_nothing_is_asked_and_nothing_is_of_before(
    client, settings, django_capture_on_commit_callbacks
):
    settings.STALE_MOST_S = 0
    text_of(client, "compare:compare")
    withdraw_one("Two", django_capture_on_commit_callbacks)
    assert MARK not in text_of(client, "compare:compare")
    assert not DBTaskResult.objects.exists()


def test_the_api_never_answers_with_what_was_before(client, django_capture_on_commit_callbacks):
    address = "/api/v1/compare"
    before = client.get(address)
    text_of(client, "compare:compare")
    withdraw_one("Two", django_capture_on_commit_callbacks)
    assert MARK in text_of(client, "compare:compare")

    after = client.get(address)

    assert after["ETag"] != before["ETag"]
    assert after.content != before.content


def picture(page: str) -> str:
    """The address of the page's first chart."""
    found = re.search(r'src="(/compare/[^"]+svg\?[^"]*)"', page)
    assert found
    return unescape(found[1])


def test_a_picture_of_before_is_never_kept_as_one_of_now(client, django_capture_on_commit_callbacks):
    address = picture(text_of(client, "compare:compare"))
    old = client.get(address)
    assert "immutable" in old["Cache-Control"]
    withdraw_one("Two", django_capture_on_commit_callbacks)

    waiting = client.get(address)
    assert waiting.content[:20] == old.content[:20]
    assert "immutable" not in waiting["Cache-Control"]
    work()
    new = picture(text_of(client, "compare:compare"))
    assert new != address
    assert "immutable" in client.get(new)["Cache-Control"]


def test_a_queue_that_is_away_stops_neither_a_reviewer_nor_a_reader(
    client, monkeypatch, caplog, django_capture_on_commit_callbacks
):
    from django.db import OperationalError

    def away(*args, **kwargs):
        raise OperationalError("no room left")

    text_of(client, "compare:compare")
    monkeypatch.setattr(anew.work_out.get_backend(), "enqueue", away)
    withdraw_one("Two", django_capture_on_commit_callbacks)
    assert MARK in text_of(client, "compare:compare")
    assert "can't be asked of a worker" in caplog.text


def test_two_workers_at_once_work_an_answer_out_once(settings):
    made, both = [], threading.Barrier(2)

    def make() -> int:
        made.append(1)
        return len(made)

    def worker() -> None:
        both.wait()
        found.append(kept.once("worked out by two", make, state="of a test"))

    found: list[int] = []
    threads = [threading.Thread(target=worker) for _ in range(2)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert found == [1, 1]
    assert made == [1]


def read_settings(tmp_path, **environment: str) -> subprocess.CompletedProcess:
    """What a process of its own makes of an environment."""
    code = (
        "import django; django.setup()\n"
        "from django.conf import settings\nfrom django_tasks import task_backends\n"
        "backend = type(task_backends['default']).__name__\n"
        "print(settings.STALE_MOST_S, 'django_tasks_db' in settings.INSTALLED_APPS, backend)"
    )
    known = {name: value for name, value in os.environ.items() if name not in ("BACKGROUND", "STALE_MOST_S")}
    known |= {"DATA_DIR": str(tmp_path), "DEMO": "True", "DATABASE_URL": "", "CACHE_URL": ""}
    known |= {"DJANGO_SETTINGS_MODULE": "results.site.settings", **environment}
    command = [sys.executable, "-c", code]
    return subprocess.run(command, env=known, cwd=now.BASE_DIR, capture_output=True, text=True, check=False)


@pytest.mark.parametrize(
    ("environment", "seconds", "app", "backend"),
    [
        ({}, "0", "False", "ImmediateBackend"),
        ({"STALE_MOST_S": "60"}, "0", "False", "ImmediateBackend"),
        ({"BACKGROUND": "database"}, "120", "True", "DatabaseBackend"),
        ({"BACKGROUND": "database", "STALE_MOST_S": "0"}, "0", "True", "DatabaseBackend"),
    ],
)
def test_nothing_is_done_in_the_background_unless_asked_for(tmp_path, environment, seconds, app, backend):
    found = read_settings(tmp_path, **environment)
    assert found.stdout.split() == [seconds, app, backend], found.stderr


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("BACKGROUND", "thread", "say off or database"),
        ("STALE_MOST_S", "-1", "it is a time in s, or 0"),
        ("STALE_MOST_S", "long", "use a whole number"),
    ],
)
def test_a_setting_that_can_not_be_used_names_itself(tmp_path, name, value, words):
    found = read_settings(tmp_path, **{name: value})
    last = found.stderr.strip().splitlines()[-1]
    assert found.returncode == 1 and name in last and words in last
