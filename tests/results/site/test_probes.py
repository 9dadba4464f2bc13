"""Whether the site lives and is ready, what it counts, and who may read that."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time

import boto3
import pytest
from django.conf import settings as now
from django.core.exceptions import ImproperlyConfigured
from django.db import OperationalError, connection, connections
from django.test import Client, RequestFactory
from moto import mock_aws

from results.site import env, metrics, probes
from results.site.machines import shared_store
from results.site.replicas import Standing
from tests.results.pages.shops import text
from tests.results.review.made import sent

pytestmark = pytest.mark.django_db
TOKEN = "a-token-nobody-guesses"


def away(execute, sql, params, many, context):
    raise OperationalError("connection to server at db.inside failed for user secret")


def counted(client: Client, name: str) -> dict[str, float]:
    """Counts of one kind by their labels."""
    body = client.get("/metrics", headers={"authorization": f"Bearer {TOKEN}"}).content.decode()
    lines = [line.rsplit(" ", 1) for line in body.splitlines() if line.startswith((f"{name}{{", f"{name} "))]
    return {labels.removeprefix(name): float(value) for labels, value in lines}


# -- probes ----------------------------------------------------------------------------------------
def test_a_process_lives_without_a_database_by_any_host_and_without_https(client, settings):
    settings.SECURE_SSL_REDIRECT = True
    with connection.execute_wrapper(away):
        response = client.get("/health/live", headers={"host": "10.1.2.3"})

    assert (response.status_code, response.json()) == (200, {"live": True})
    assert response.headers["Cache-Control"] == "no-store"
    assert client.post("/health/live").status_code == 405


def test_a_site_is_ready(client):
    response = client.get("/health/ready")

    assert response.json() == {"ready": True, "parts": {"database": "ok", "migrations": "ok", "disk": "ok"}}
    assert response.status_code == 200


def test_a_database_that_is_away_is_told_without_secrets(client, caplog):
    with connection.execute_wrapper(away):
        response = client.get("/health/ready")

    assert response.status_code == 503
    assert response.json() == {
        "ready": False,
        "parts": {"database": "doesn't answer", "migrations": "can't be read from the database", "disk": "ok"},
    }
    assert "db.inside" in caplog.text  # who runs the site reads why


def test_migrations_that_wait_and_a_disk_that_is_full_are_told(client, settings, monkeypatch, tmp_path):
    known = probes._known()
    monkeypatch.setattr(probes, "_known", lambda: known | {("results", "0999_later")})
    settings.DATA_DIR = tmp_path / "gone"

    parts = client.get("/health/ready").json()["parts"]

    assert parts == {
        "database": "ok",
        "migrations": "1 not applied: run manage.py migrate",
        "disk": "can't be written to",
    }


def test_a_database_that_is_ahead_is_ready(client, monkeypatch):
    known = probes._known()
    monkeypatch.setattr(probes, "_known", lambda: frozenset(one for one in known if one[1] != "0002_data_version"))

    assert client.get("/health/ready").status_code == 200


# -- the other servers of a site of several machines -----------------------------------------------
@pytest.fixture
def replicas(settings, monkeypatch):
    """Two replicas, and what each says when it is asked."""
    says = {"replica-1": lambda: Standing(True, 42), "replica-2": lambda: Standing(True, 42)}
    settings.REPLICAS = list(says)
    for alias in says:
        monkeypatch.setitem(connections.settings, alias, connection.settings_dict)
    monkeypatch.setattr(probes, "ask_replica", lambda alias: says[alias]())
    monkeypatch.setattr(probes, "OTHERS_MOST_S", 0.2)
    return says


def told_of_others(client: Client) -> tuple[int, bool, dict[str, str]]:
    response = client.get("/health/ready")
    told = response.json()
    return response.status_code, told["ready"], dict(list(told["parts"].items())[3:])


def test_replicas_are_asked_and_named(client, replicas):
    assert told_of_others(client) == (200, True, {"replica-1": "ok", "replica-2": "ok"})


def test_a_replica_that_is_down_is_named_and_the_site_is_ready(client, replicas, caplog):
    def down():
        raise OperationalError("connection to server at db.inside failed for user secret")

    replicas["replica-1"] = down
    replicas["replica-2"] = lambda: Standing(False, 42)

    assert told_of_others(client) == (
        200,
        True,
        {"replica-1": "doesn't answer", "replica-2": "follows no primary"},
    )
    assert "db.inside" in caplog.text


def test_a_replica_that_falls_silent_is_not_waited_for_and_not_asked_twice_at_once(client, replicas):
    asked, over = [], threading.Event()

    def silent():
        asked.append(1)
        over.wait(30)
        return Standing(True, 42)

    replicas["replica-2"] = silent
    begun = time.monotonic()
    try:
        for _ in range(3):
            assert told_of_others(client) == (200, True, {"replica-1": "ok", "replica-2": "doesn't answer"})
        assert time.monotonic() - begun < 10
        assert len(asked) == 1
    finally:
        over.set()
    # Once it speaks again, so do we.
    replicas["replica-2"] = lambda: Standing(True, 42)
    for _ in range(100):
        if told_of_others(client)[2]["replica-2"] == "ok":
            break
    assert told_of_others(client)[2] == {"replica-1": "ok", "replica-2": "ok"}


def use_store(settings, monkeypatch, tmp_path, url):
    settings.DATA_DIR = tmp_path
    monkeypatch.setenv("AWS_ACCESS_KEY_ID", "for-tests")
    monkeypatch.setenv("AWS_SECRET_ACCESS_KEY", "for-tests")
    store = {"BACKEND": "results.stored.Bucket", "OPTIONS": shared_store(url)}
    settings.STORAGES = {**settings.STORAGES, "default": store}


def test_a_store_that_answers_is_ok_and_one_that_is_away_is_told(client, settings, monkeypatch, tmp_path, caplog):
    monkeypatch.setattr(probes, "OTHERS_MOST_S", 20.0)  # tries of the store's library take their time
    with mock_aws():
        boto3.client("s3", region_name="us-east-1").create_bucket(Bucket="book-of-tests")
        use_store(settings, monkeypatch, tmp_path, "s3://book-of-tests?region=us-east-1")
        assert told_of_others(client) == (200, True, {"store": "ok"})

        # As when somebody else's bucket is meant.
        use_store(settings, monkeypatch, tmp_path, "s3://another-of-tests?region=us-east-1")
        refused = told_of_others(client)

    use_store(settings, monkeypatch, tmp_path, "s3://book-of-tests?endpoint=http://127.0.0.1:1&region=us-east-1")
    assert told_of_others(client) == (503, False, {"store": "doesn't answer"})
    assert "127.0.0.1:1" in caplog.text
    assert refused == (503, False, {"store": "doesn't answer"})


# -- counts ----------------------------------------------------------------------------------------
def test_counts_are_nobodys_unless_a_setting_says_so(client, settings):
    assert "There is nothing at this address" in text(client.get("/metrics"))
    for given in ("Bearer ", "Bearer x", "Basic x", ""):
        assert client.get("/metrics", headers={"authorization": given}).status_code == 404

    settings.METRICS_TOKEN = TOKEN
    assert client.get("/metrics").status_code == 404
    assert client.get("/metrics", headers={"authorization": f"Bearer {TOKEN}x"}).status_code == 404
    assert client.get("/metrics", headers={"authorization": "Bearer é"}).status_code == 404
    assert client.get("/metrics", headers={"authorization": f"Bearer {TOKEN}"}).status_code == 200


@pytest.mark.parametrize(
    ("behind", "forwarded", "remote", "may"),
    [
        (False, "", "10.0.0.7", True),
        (False, "", "11.0.0.7", False),
        (False, "10.0.0.7", "11.0.0.7", False),  # anybody can say so
        (True, "10.0.0.7, 11.0.0.7", "10.0.0.1", False),
        (True, "11.0.0.7, 10.0.0.7", "10.0.0.1", True),
        (True, "", "10.0.0.7", True),
        (True, "nonsense", "10.0.0.7", False),
        (False, "", "", False),
        (False, "", "fd00::7", True),
    ],
)
def test_counts_are_for_allowed_addresses(settings, behind, forwarded, remote, may):
    settings.METRICS_ALLOWED = metrics.networks("METRICS_ALLOWED", ["10.0.0.0/8", "fd00::/8"])
    settings.BEHIND_PROXY = behind
    request = RequestFactory().get("/metrics", REMOTE_ADDR=remote, HTTP_X_FORWARDED_FOR=forwarded)

    assert metrics.may_read(request) is may


def test_requests_are_counted_by_view_and_timed(client, settings):
    settings.METRICS_TOKEN = TOKEN
    kind = '{method="GET",status="2xx",view="browse:studies"}'
    before = counted(client, "breakbook_requests_total").get(kind, 0)
    client.get("/studies/")
    client.get("/studies/?page=1")
    client.get("/no/such/page/")
    client.generic("BREW", "/studies/")

    found = counted(client, "breakbook_requests_total")

    assert found[kind] == before + 2
    assert found['{method="GET",status="4xx",view="none"}'] >= 1
    assert not any("BREW" in labels for labels in found)
    assert sum(count for labels, count in found.items() if 'method="other"' in labels) >= 1
    times = counted(client, "breakbook_request_seconds_count")
    assert times['{method="GET",view="browse:studies"}'] >= 2
    asked = counted(client, "breakbook_request_queries_sum")['{view="browse:studies"}']
    assert asked >= 2


def test_refusals_for_too_many_are_counted(client, settings):
    settings.METRICS_TOKEN = TOKEN
    before = sum(counted(client, "breakbook_throttled_total").values())
    settings.API_ANONYMOUS_PER_MINUTE = 0

    assert client.get("/api/v1/studies.json").status_code == 429

    assert sum(counted(client, "breakbook_throttled_total").values()) == before + 1


@pytest.mark.usefixtures("vocabulary")
def test_findings_of_a_submission_are_counted(client, settings):
    settings.METRICS_TOKEN = TOKEN
    before = counted(client, "breakbook_findings_total")

    def spoil(sheets):
        sheets["setups"][1][1] = "no_such_loading"

    found = sent(spoil)

    after = counted(client, "breakbook_findings_total")
    risen = {labels: after[labels] - before.get(labels, 0) for labels in after}
    assert found.noticed
    expected: dict[str, int] = {}
    for one in found.noticed:
        labels = f'{{code="{one.code}",severity="{one.severity}"}}'
        expected[labels] = expected.get(labels, 0) + 1
    assert {labels: rise for labels, rise in risen.items() if rise} == expected


@pytest.mark.usefixtures("vocabulary")
def test_what_the_book_holds_is_told_and_a_database_that_is_away_leaves_it_out(client, settings):
    from tests.results.releases.books import a_study

    settings.METRICS_TOKEN = TOKEN
    a_study()

    assert counted(client, "breakbook_book") == {
        '{of="studies"}': 1,
        '{of="series"}': 2,
        '{of="specimens"}': 6,
    }
    with connection.execute_wrapper(away):
        assert counted(client, "breakbook_book") == {}
        assert counted(client, "breakbook_requests_total")


def test_all_processes_count_together_in_a_folder(tmp_path):
    """Two processes count, a third reads both."""
    environment = {**os.environ, "PROMETHEUS_MULTIPROC_DIR": str(tmp_path), "METRICS_TOKEN": TOKEN, "DEMO": "True"}
    environment |= {"DATA_DIR": str(tmp_path / "data"), "DATABASE_URL": ""}
    environment["DJANGO_SETTINGS_MODULE"] = "results.site.settings"
    count = "from results import measured\nmeasured.answered('browse:home', 'GET', 200, 0.02, 3)"
    read = (
        "import django; django.setup()\nfrom django.test import Client\n"
        f"print(Client().get('/metrics', headers={{'authorization': 'Bearer {TOKEN}'}}).content.decode())"
    )

    def run(code: str) -> str:
        command = [sys.executable, "-c", code]
        return subprocess.run(
            command, env=environment, cwd=now.BASE_DIR, capture_output=True, text=True, check=True
        ).stdout

    run(count)
    run(count)

    assert 'breakbook_requests_total{method="GET",status="2xx",view="browse:home"} 2.0' in run(read)


# -- settings --------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("LOG_FORMAT", "xml", "say json or plain"),
        ("LOG_LEVEL", "LOUD", "say DEBUG, INFO, WARNING, ERROR or CRITICAL"),
        ("SLOW_QUERY_MS", "-1", "it is a time in ms, or 0"),
        ("SLOW_QUERY_MS", "fast", "use a whole number"),
        ("METRICS_TOKEN", "short", "at least 16 letters"),
        ("METRICS_ALLOWED", "10.0.0.0/8, here", "'here' is no address and no network"),
    ],
)
def test_a_setting_that_cannot_be_used_stops_the_start_and_names_itself(tmp_path, name, value, words):
    environment = {**os.environ, "DATA_DIR": str(tmp_path), "DEMO": "True", "DATABASE_URL": "", name: value}
    found = subprocess.run(
        [sys.executable, "-c", "import results.site.settings"],
        env=environment,
        cwd=now.BASE_DIR,
        capture_output=True,
        text=True,
        check=False,
    )

    last = found.stderr.strip().splitlines()[-1]
    assert found.returncode == 1 and name in last and words in last


def test_a_choice_is_read_whatever_its_case(monkeypatch):
    monkeypatch.setenv("LOG_LEVEL", "warning")

    assert env.env_choice("LOG_LEVEL", "INFO", ["INFO", "WARNING"]) == "WARNING"
    monkeypatch.setenv("LOG_LEVEL", "")
    assert env.env_choice("LOG_LEVEL", "INFO", ["INFO", "WARNING"]) == "INFO"
    monkeypatch.setenv("LOG_LEVEL", "no")
    with pytest.raises(ImproperlyConfigured, match="LOG_LEVEL='no' can't be used: say INFO or WARNING"):
        env.env_choice("LOG_LEVEL", "INFO", ["INFO", "WARNING"])
