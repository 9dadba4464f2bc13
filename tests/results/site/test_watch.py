"""Each request has a name, which its answer, its pages and the log have too."""

from __future__ import annotations

import io
import json
import logging

import pytest
from django.core.cache import caches
from django.db import OperationalError, connection
from django.test import Client

from results.site import log
from tests.factories import make_user
from tests.results.pages.shops import text

pytestmark = pytest.mark.django_db
TOKEN = "a-token-nobody-guesses"


def away(execute, sql, params, many, context):
    raise OperationalError("connection to server at db.inside failed for user secret")


# -- requests by name ------------------------------------------------------------------------------
@pytest.mark.parametrize("given", ["abcd1234", "9f3c-11.A_b", "0" * 64])
def test_a_well_formed_name_is_kept(client, given):
    assert client.get("/", headers={"x-request-id": given}).headers["X-Request-ID"] == given


@pytest.mark.parametrize(
    "given", ["", "short", "a" * 65, "-leading-dash", "with space", "line\\nbreak", "é" * 9, "<b>12345"]
)
def test_any_other_gets_a_new_one(client, given):
    first, second = (client.get("/", headers={"x-request-id": given}).headers["X-Request-ID"] for _ in range(2))

    assert given not in (first, second) and first != second
    assert len(first) == 32 and first.isalnum()


def test_error_pages_and_problems_show_the_name(client):
    unraised = Client(raise_request_exception=False)
    name = {"x-request-id": "named-12345"}
    shown = "tell whoever runs this book about it, with the number of this request: named-12345"

    assert shown in text(client.get("/nothing/here/", headers=name))
    assert shown in text(Client(enforce_csrf_checks=True).post("/login/", headers=name))
    with connection.execute_wrapper(away):
        assert shown in text(unraised.get("/studies/", headers=name))
        problem = unraised.get("/api/v1/studies.json", headers=name).json()
    assert problem["request_id"] == "named-12345"
    assert client.get("/api/v1/zzz", headers=name).json()["request_id"] == "named-12345"


@pytest.mark.urls("tests.results.site.test_faults")
@pytest.mark.parametrize("what", ["ours", "disk", "database-disk"])
def test_what_broke_is_told_with_the_name_and_what_to_do(what):
    unraised = Client(raise_request_exception=False)
    page = text(unraised.get(f"/break/{what}/", headers={"x-request-id": "named-12345"}))

    assert "number of this request: named-12345" in page
    assert "go back" in page and "what you typed still stands" in page


# -- log -------------------------------------------------------------------------------------------
@pytest.fixture
def lines():
    """What is logged, as a program reads it."""
    out = io.StringIO()
    handler = logging.StreamHandler(out)
    handler.setFormatter(log.JSONLines())
    root = logging.getLogger()
    level = root.level
    root.addHandler(handler)
    root.setLevel(logging.INFO)
    yield lambda: [json.loads(line) for line in out.getvalue().splitlines()]
    root.removeHandler(handler)
    root.setLevel(level)


def test_each_request_is_a_line_without_its_address(client, lines):
    client.get("/search/?q=somebody", headers={"x-request-id": "named-12345"})

    (line,) = [line for line in lines() if line["logger"] == "breakbook.requests"]
    assert line.pop("ms") > 0 and line.pop("queries") > 0 and line.pop("time").endswith("+00:00")
    assert line == {
        "level": "info",
        "logger": "breakbook.requests",
        "message": "GET browse:search 200",
        "request_id": "named-12345",
        "view": "browse:search",
        "method": "GET",
        "status": 200,
    }


def test_a_traceback_stays_in_one_line(lines):
    try:
        raise ZeroDivisionError("two\nlines")
    except ZeroDivisionError:
        logging.getLogger("x").exception("It broke\nhere")

    (line,) = lines()
    assert line["message"] == "It broke\nhere" and "ZeroDivisionError: two\nlines" in line["exception"]


def test_plain_lines_name_the_request_too(client):
    client.get("/", headers={"x-request-id": "named-12345"})
    record = logging.makeLogRecord({"name": "x", "levelname": "INFO", "msg": "said %s", "args": ("so",), "ms": 3})

    assert log.Plain().format(record).endswith("INFO    x: said so (ms=3, request named-12345)")


def test_a_slow_query_is_told_without_its_values(client, lines, settings):
    make_user("somebody-private")
    settings.SLOW_QUERY_MS = 0.0001
    client.post("/login/", {"login": "somebody-private", "password": "x"}, headers={"x-request-id": "named-12345"})

    told = [line for line in lines() if line["logger"] == "breakbook.queries"]
    assert any("auth_user" in line["sql"] and "%s" in line["sql"] for line in told)
    assert {(line["level"], line["request_id"], line["database"]) for line in told} == {
        ("warning", "named-12345", "default")
    }
    assert "somebody-private" not in json.dumps(told)


def test_no_time_means_no_slow_queries(client, lines, settings):
    settings.SLOW_QUERY_MS = 0
    client.get("/studies/")

    assert [line for line in lines() if line["logger"] == "breakbook.queries"] == []


def test_queries_are_counted_by_request(client, lines):
    client.get("/health/live")
    client.get("/studies/")

    (line,) = [line for line in lines() if line["logger"] == "breakbook.requests"]
    tally = Tally()
    with connection.execute_wrapper(tally):
        caches["pages"].clear()  # made once more
        client.get("/studies/")
    assert line["queries"] == tally.count > 0


class Tally:
    def __init__(self) -> None:
        self.count = 0

    def __call__(self, execute, sql, params, many, context):
        self.count += 1
        return execute(sql, params, many, context)
