"""The digest: to whom, when, what it says, and what happens when mail can't be sent or a run is killed."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import threading
from datetime import timedelta
from io import StringIO

import pytest
from allauth.account.models import EmailAddress
from django.conf import settings as site
from django.core import mail
from django.core.management import CommandError, call_command
from django.db import connection
from django.utils import timezone

from results.models import Notice, Profile
from results.review import digest
from results.review.digest import send_digests
from results.review.notify import tell
from tests.factories import make_study, make_user
from tests.mailing import send_to

pytestmark = pytest.mark.django_db
NOW = timezone.now()


@pytest.fixture
def study():
    return make_study(contributor=None)


def a_reader(name="reader", *, how="daily", email="{name}@shop.example", **fields):
    user = make_user(name, email=email.format(name=name), **fields)
    Profile.objects.create(user=user, digest=how)
    return user


def to(*messages):
    return [one.to for one in messages]


def test_digest_says_what_is_new_with_addresses_that_lead_there(study, settings):
    settings.SITE_ADDRESS = "https://breakbook.example"
    user = a_reader()
    tell(
        [user],
        study,
        "question",
        "A question about “Rails <b>into</b> posts” was asked by x: Which glue?",
        "/studies/1/",
    )

    sent = send_digests()

    message = mail.outbox[0]
    assert (sent.people, sent.notices, sent.troubles) == (1, 1, [])
    assert (message.to, message.subject) == (["reader@shop.example"], "Breakbook: 1 notice")
    assert "“Rails <b>into</b> posts” was asked by x" in " ".join(message.body.split())
    assert "https://breakbook.example/studies/1/\n" in message.body
    assert "https://breakbook.example/mine/notices/" in message.body
    assert message.extra_headers["List-Unsubscribe"] == "<https://breakbook.example/mine/notices/>"


def test_each_notice_is_sent_once_and_nothing_when_nothing_is_new(study):
    user = a_reader()
    tell([user], study, "answer", "first", "/")
    send_digests(NOW)
    tell([user], study, "answer", "second", "/")

    later = send_digests(NOW + timedelta(days=1))
    nothing = send_digests(NOW + timedelta(days=2))

    assert (later.notices, nothing.people, len(mail.outbox)) == (1, 0, 2)
    assert "first" not in mail.outbox[1].body and "second" in mail.outbox[1].body
    assert Notice.objects.filter(sent_at=None).count() == 0


@pytest.mark.parametrize(
    ("how", "hours", "due"), [("daily", 19, 0), ("daily", 23, 1), ("weekly", 24, 0), ("weekly", 168, 1)]
)
def test_digest_comes_as_often_as_was_chosen(study, how, hours, due):
    user = a_reader(how=how)
    tell([user], study, "answer", "first", "/")
    send_digests(NOW)
    tell([user], study, "answer", "second", "/")

    assert send_digests(NOW + timedelta(hours=hours)).people == due


def test_digest_isn_t_sent_to_whoever_doesn_t_want_or_can_t_have_it(study):
    users = [
        a_reader("never", how="never"),
        a_reader("closed", is_active=False),
        a_reader("no_address", email=""),
        a_reader("not_confirmed"),
    ]
    EmailAddress.objects.create(user=users[-1], email=users[-1].email, primary=True, verified=False)
    for user in users:
        Notice.objects.create(user=user, study=study, what="answer", text="x", address="/")
    seen = a_reader("has_seen_it")
    Notice.objects.create(user=seen, study=study, what="answer", text="x", address="/", seen_at=NOW)

    assert send_digests() == digest.Sent()
    assert mail.outbox == []


def test_digest_goes_to_the_confirmed_address(study):
    user = a_reader()
    EmailAddress.objects.create(user=user, email="new@shop.example", primary=False, verified=False)
    EmailAddress.objects.create(user=user, email="old@shop.example", primary=True, verified=True)
    tell([user], study, "answer", "x", "/")

    send_digests()

    assert to(*mail.outbox) == [["old@shop.example"]]


def test_somebody_without_a_profile_gets_it_daily(study):
    user = make_user("new", email="new@shop.example")
    tell([user], study, "answer", "x", "/")

    assert send_digests().people == 1
    assert user.profile.told_until is not None


def test_many_notices_are_cut_with_a_word(study):
    user = a_reader()
    for number in range(digest.MOST + 3):
        tell([user], study, "answer", f"notice {number}", "/")

    send_digests()

    assert mail.outbox[0].body.count("* ") == digest.MOST
    assert "and 3 more" in mail.outbox[0].body
    assert mail.outbox[0].subject == "Breakbook: 53 notices"
    assert not Notice.objects.filter(sent_at=None).exists()


def a_server(answers, hold=None):
    """A mail server on a port of its own, and the messages it took.

    It says an answer of `answers` to a command with those words in it, and hangs up if that says nothing; `hold` is
    called before it takes a message.
    """
    listening = socket.create_server(("127.0.0.1", 0))
    taken = []

    def serve():
        while True:
            try:
                line, _ = listening.accept()
            except OSError:
                return
            threading.Thread(target=_talk, args=(line, answers, taken, hold), daemon=True).start()

    threading.Thread(target=serve, daemon=True).start()
    return listening, taken


def _talk(line, answers, taken, hold):
    with line, line.makefile("rwb") as file:

        def say(text):
            file.write(text.encode() + b"\r\n")
            file.flush()

        say("220 here")
        for command in file:
            said = command.decode().strip()
            found = next((answer for words, answer in answers.items() if words in said), None)
            if found == "":
                return
            if found is not None:
                say(found)
            elif said.upper() == "DATA":
                say("354 go on")
                body = []
                while (row := file.readline()) not in (b".\r\n", b""):
                    body.append(row.decode())
                if hold is not None:
                    hold("".join(body))
                taken.append("".join(body))
                say("250 taken")
            elif said.upper() == "QUIT":
                say("221 bye")
                return
            else:
                say("250 well")


@pytest.fixture
def served(settings):

    def start(**answers):
        listening, taken = a_server({words.replace("_", "@"): answer for words, answer in answers.items()})
        send_to(settings, listening.getsockname()[1])
        opened.append(listening)
        return taken

    opened = []
    yield start
    for one in opened:
        one.close()


def test_address_that_is_refused_is_reported_and_tried_again_and_holds_up_nobody(study, served):
    taken = served(bad_="550 no such person")
    for name in ("bad", "good"):
        tell([a_reader(name)], study, "answer", "x", "/")

    sent = send_digests()

    assert sent.people == 1 and len(taken) == 1 and "To: good@shop.example" in taken[0]
    assert len(sent.troubles) == 1 and sent.troubles[0].startswith("bad <bad@shop.example>: ")
    assert "no such person" in sent.troubles[0]
    waiting = Notice.objects.get(sent_at=None)
    assert waiting.user.username == "bad" and waiting.user.profile.told_until is None
    assert [len(taken), send_digests().people, len(taken)] == [1, 0, 1]


def test_refused_address_that_is_reported_is_the_one_that_was_written_to(study, served):
    served(old_="550 no such person")
    user = a_reader(email="account@shop.example")
    EmailAddress.objects.create(user=user, email="old@shop.example", primary=True, verified=True)
    tell([user], study, "answer", "x", "/")

    sent = send_digests()

    assert len(sent.troubles) == 1 and sent.troubles[0].startswith("reader <old@shop.example>: ")


def test_server_that_hangs_up_over_one_message_is_tried_with_the_next(study, served):
    taken = served(bad_="")
    for name in ("bad", "good"):
        tell([a_reader(name)], study, "answer", "x", "/")

    sent = send_digests()

    assert sent.people == 1 and len(taken) == 1 and "To: good@shop.example" in taken[0]
    assert len(sent.troubles) == 1 and sent.troubles[0].startswith("bad <bad@shop.example>: ")


def test_server_that_lets_nobody_in_is_tried_once(study, served):
    served(ehlo="554 not you", helo="554 not you")
    for name in ("one", "two"):
        tell([a_reader(name)], study, "answer", "x", "/")

    (trouble,) = send_digests().troubles

    assert trouble.startswith("The mail server can't be reached, so no more was tried: ") and "not you" in trouble


def test_address_that_is_none_is_reported(study, served):
    taken = served()
    tell([a_reader(email="not an address\nBcc: all@shop.example")], study, "answer", "x", "/")

    sent = send_digests()

    assert (sent.people, taken, len(sent.troubles)) == (0, [], 1)


def test_server_that_is_down_is_reported_once_and_all_is_tried_again(study, served, settings):
    served()
    with socket.create_server(("127.0.0.1", 0)) as free:  # a port at which nobody listens afterwards
        send_to(settings, free.getsockname()[1])
    for name in ("one", "two"):
        tell([a_reader(name)], study, "answer", "x", "/")

    with pytest.raises(CommandError, match="can't be reached, so no more was tried"):
        call_command("send_digest", stdout=StringIO())

    assert Notice.objects.filter(sent_at=None).count() == 2
    served()
    out = StringIO()
    call_command("send_digest", stdout=out)
    assert out.getvalue() == "Wrote to 2, about 2 notices.\n"


@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(
    connection.vendor != "postgresql", reason="two digests at once: SQLite's test database has one writer"
)
def test_two_runs_at_once_send_once(study, served):
    taken = served()
    for name in ("one", "two", "three"):
        tell([a_reader(name)], study, "answer", "x", "/")
    start, runs = threading.Barrier(2), []

    def run():
        start.wait()
        try:
            runs.append(send_digests())
        finally:
            connection.close()

    both = [threading.Thread(target=run) for _ in range(2)]
    for one in both:
        one.start()
    for one in both:
        one.join()

    assert [run.troubles for run in runs] == [[], []]
    assert sorted(message.split("To: ")[1].split("@")[0] for message in taken) == ["one", "three", "two"]


A_BOOK = """
import sys
from django.conf import settings

class Unmigrated:
    def __contains__(self, app): return True
    def __getitem__(self, app): return None

settings.MIGRATION_MODULES = Unmigrated()  # tables at once, from the models
import django
django.setup()
from django.contrib.auth.models import User
from django.core.management import call_command
from results.models import Notice, Study
if sys.argv[1] == "make":
    call_command("migrate", run_syncdb=True, verbosity=0)
    study = Study.objects.create(title="Rails", question="?", workshop="Shop")
    for name in ("one", "two", "three"):
        user = User.objects.create(username=name, email=f"{name}@shop.example")
        Notice.objects.create(user=user, study=study, what="answer", text="x", address="/")
call_command("send_digest")
"""


@pytest.mark.story
def test_killed_half_way_it_goes_on_where_it_stopped(tmp_path):
    half_way = threading.Event()

    def hold(message):
        if "To: two@" in message and not half_way.is_set():
            half_way.set()
            threading.Event().wait()  # for good: whoever sent it dies while it waits for an answer

    listening, taken = a_server({}, hold)
    environment = {
        **{name: os.environ[name] for name in ("PATH", "HOME") if name in os.environ},
        "DJANGO_SETTINGS_MODULE": "results.site.settings",
        "SECRET_KEY": "for-tests-only",
        "DATA_DIR": str(tmp_path),
        "HTTPS": "False",
        "EMAIL_HOST": "127.0.0.1",
        "EMAIL_PORT": str(listening.getsockname()[1]),
        "EMAIL_TIMEOUT": "60",
    }
    command = [sys.executable, "-c", A_BOOK]
    options = {"cwd": site.BASE_DIR, "env": environment, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE}

    with listening:
        killed = subprocess.Popen([*command, "make"], **options)
        try:
            while not half_way.wait(0.1):
                assert killed.poll() is None, killed.communicate()
        finally:
            killed.send_signal(signal.SIGKILL)
            killed.communicate()
        again = subprocess.run([*command, "again"], **options, timeout=60, text=True, check=False)

    assert (again.stdout, again.stderr) == ("Wrote to 2, about 2 notices.\n", "")
    assert [message.split("To: ")[1].split("@")[0] for message in taken] == ["one", "two", "three"]
