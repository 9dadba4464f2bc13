"""What is read from where: a replica that is behind here is a copy of the book from before something was written."""

from __future__ import annotations

import re
import sqlite3
from pathlib import Path
from types import SimpleNamespace

import psycopg
import pytest
from django.conf import settings as site
from django.contrib.auth.models import User
from django.db import OperationalError, connection, connections, transaction
from django.test import Client
from django.urls import URLResolver, get_resolver
from rest_framework.authtoken.models import Token

from results.evidence import book
from results.kept import once
from results.models import FormDraft, Study, bump, data_version
from results.site import routing
from results.site.replicas import Watch
from results.site.routing import OWN_VIEWS, PUBLIC, PUBLIC_VIEWS, Router, route
from tests.factories import make_series, make_specimen, make_study, make_user

REPLICA = "replica-1"


@pytest.fixture
def book_of_one(transactional_db):
    """A book with one study in it."""
    study = make_study("The old one")
    make_specimen(make_series(study))
    return study


@pytest.fixture
def behind(book_of_one, tmp_path):
    """A replica that has nothing of what is written from now on."""
    yield from _a_copy(tmp_path)


def _a_copy(folder):
    if connection.vendor == "sqlite":
        file = folder / "copy.sqlite3"
        with sqlite3.connect(file) as copy:
            connection.ensure_connection()
            connection.connection.backup(copy)
        copy.close()
        there, drop = {**connection.settings_dict, "NAME": str(file)}, None
    else:
        name = connection.settings_dict["NAME"]
        there, drop = {**connection.settings_dict, "NAME": f"{name}_copy"}, f'DROP DATABASE "{name}_copy"'
        connection.close()
        _run(f'CREATE DATABASE "{name}_copy" TEMPLATE "{name}"')
    connections.settings[REPLICA] = there
    connections[REPLICA].connect()  # past the test's guard, which knows the default database alone
    try:
        yield
    finally:
        route.begin()
        connections[REPLICA].close()
        del connections[REPLICA], connections.settings[REPLICA]
        if drop:
            _run(drop)


def _run(statement):
    one = connection.settings_dict
    with psycopg.connect(
        host=one["HOST"] or None,
        port=one["PORT"] or None,
        user=one["USER"],
        password=one["PASSWORD"],
        dbname="postgres",
        autocommit=True,
    ) as link:
        link.execute(statement)


@pytest.fixture
def routed(settings, monkeypatch):
    """The site with a replica, which is chosen for whoever may read it; what `choose` was asked is kept."""
    settings.REPLICAS = [REPLICA]
    settings.DATABASE_ROUTERS = ["results.site.routing.Router"]
    settings.MIDDLEWARE = [*settings.MIDDLEWARE, "results.site.routing.ReadFromReplicas"]
    asked = SimpleNamespace(written=[], left_out=[], reaches=0x2A)

    def choose(self, written=None):
        asked.written.append(written)
        return REPLICA

    monkeypatch.setattr(Watch, "choose", choose)
    monkeypatch.setattr(Watch, "leave_out", lambda self, alias, why: asked.left_out.append(alias))
    monkeypatch.setattr(routing, "ask_primary", lambda: asked.reaches)
    return asked


# what is kept


def titles():
    return once("titles", lambda: sorted(Study.objects.values_list("title", flat=True)))


def test_an_answer_from_old_data_is_never_kept_as_one_from_new(behind, routed):
    make_study("The new one")

    for _ in range(2):  # the second time each is as it was kept
        route.begin(REPLICA)
        assert titles() == ["The old one"]
        route.begin()
        assert titles() == ["The new one", "The old one"]


def test_the_version_is_read_from_where_the_data_are(behind, routed):
    before = str(data_version())
    bump()

    route.begin(REPLICA)
    assert str(data_version()) == before
    route.begin()
    assert str(data_version()) != before


def test_the_book_as_arrays_is_read_from_where_its_version_is(behind, routed):
    make_study("The new one")
    found = []
    for alias in (REPLICA, "default", REPLICA):
        route.begin(alias)
        found.append(book.read("stress").studies.title)

    assert found == [("The old one",), ("The old one", "The new one"), ("The old one",)]


# who reads what


@pytest.mark.parametrize("address", ["/studies/", "/api/v1/studies.json", "/api/v1/studies.csv"])
def test_everybody_reads_the_replica(behind, routed, client, address):
    make_study("The new one")

    response = client.get(address)
    body = response.getvalue().decode() if response.streaming else response.content.decode()

    assert "The old one" in body and "The new one" not in body
    assert route.alias == "default"


def test_an_answer_that_is_read_while_it_is_sent_is_read_where_it_began(behind, routed, client):
    make_study("The new one")

    response = client.get("/api/v1/studies.ndjson")
    assert Study.objects.count() == 2  # what this thread does meanwhile is another matter
    body = response.getvalue().decode()

    assert "The old one" in body and "The new one" not in body
    assert Study.objects.count() == 2


def test_ones_own_pages_are_read_from_the_primary(behind, routed, client):
    study = make_study("The new one", contributor=make_user("owner"))
    client.force_login(study.contributor)

    assert "The new one" in client.get("/mine/").content.decode()
    assert client.get("/submit/").status_code == 200
    assert routed.written == []


def test_who_asks_is_asked_of_the_primary(behind, routed, client):
    client.force_login(make_user("newcomer"))  # whom the replica doesn't know yet

    response = client.get("/studies/")

    assert routed.written and "The old one" in response.content.decode()
    assert response.context["user"].username == "newcomer"


def test_what_a_browser_wrote_goes_along_with_what_it_reads_next(behind, routed, client):
    client.get("/studies/")
    assert routed.written == [None]

    client.post("/login/", {"login": "nobody", "password": "no"})
    cookie = client.cookies["written"]
    client.get("/studies/")

    assert routed.written == [None, 0x2A]
    assert (cookie["httponly"], cookie["samesite"], cookie["max-age"]) == (True, "Lax", 70)


def test_a_mark_that_was_made_up_is_passed_over(behind, routed, client):
    client.cookies["written"] = "FFFFFFFF:bad:mark"

    assert client.get("/studies/").status_code == 200
    assert routed.written == [None]


def test_what_a_program_wrote_goes_along_with_its_token(behind, routed, client):
    token = {"Authorization": f"Bearer {Token.objects.create(user=make_user('program')).key}"}
    other = {"Authorization": f"Bearer {Token.objects.create(user=make_user('other')).key}"}

    client.post("/api/v1/studies", "[]", content_type="application/json", headers=token)
    for headers in (token, other):
        client.get("/api/v1/studies", headers=headers)

    assert routed.written == [0x2A, None]


def test_reads_and_no_more_leave_no_mark(behind, routed, client):
    client.get("/studies/")
    client.get("/login/")

    assert "written" not in client.cookies


def test_what_a_replica_cannot_answer_is_answered_by_the_primary(behind, routed, client, caplog):
    make_study("The new one")

    def away(execute, sql, params, many, context):
        raise OperationalError("server closed the connection unexpectedly")

    for address in ("/studies/", "/api/v1/studies.json"):
        with connections[REPLICA].execute_wrapper(away):
            response = client.get(address)
        assert response.status_code == 200 and "The new one" in response.content.decode(), address
    assert routed.left_out == [REPLICA, REPLICA]


@pytest.mark.parametrize("form", ["csv", "ndjson", "parquet"])
def test_a_download_that_a_replica_breaks_off_before_any_of_it_was_sent_comes_from_the_primary(
    behind, routed, client, form
):
    make_specimen(make_series(make_study("The new one")))
    left, asked = 1000, 0

    def away(execute, sql, params, many, context):
        nonlocal left, asked
        if left == 0:
            raise OperationalError("terminating connection due to administrator command")
        left, asked = left - 1, asked + 1
        return execute(sql, params, many, context)

    with connections[REPLICA].execute_wrapper(away):
        assert b"The new one" not in client.get(f"/api/v1/specimens.{form}").getvalue()
        assert asked > 1 and routed.left_out == []
        for before in range(asked):
            if connections[REPLICA].connection is None:  # closed with the answer that failed
                connections[REPLICA].connect()
            left = before
            response = client.get(f"/api/v1/specimens.{form}")
            assert b"The new one" in response.getvalue() and response.status_code == 200, before
            assert len(routed.left_out) == before + 1

    assert route.alias == "default"


def test_no_more_of_a_download_is_held_than_was_said():
    read = []

    def blocks():
        for number in range(10):
            read.append(number)
            yield b"four"

    held = routing._Routed(blocks(), "default")
    held.read_ahead(9)

    assert read == [0, 1, 2]
    assert b"".join(held) == b"four" * 10


def test_a_slip_of_ours_is_not_tried_twice(behind, routed, monkeypatch):
    def slip(execute, sql, params, many, context):
        raise ValueError("a slip")

    with connections[REPLICA].execute_wrapper(slip):
        response = Client(raise_request_exception=False).get("/studies/")

    assert response.status_code == 500 and routed.left_out == []


def test_whoever_writes_in_the_midst_reads_the_primary_from_then_on(behind, routed):
    user = make_user("owner")
    route.begin(REPLICA)
    assert Router().db_for_read(Study) == REPLICA

    FormDraft.objects.create(user=user)

    assert route.wrote
    assert Router().db_for_read(Study) == "default"


@pytest.mark.django_db(transaction=True)
def test_in_a_transaction_everything_is_read_from_the_primary(routed):
    route.begin(REPLICA)
    try:
        with transaction.atomic():
            assert Router().db_for_read(Study) == "default"
        assert Router().db_for_read(Study) == REPLICA
    finally:
        route.begin()


def test_names_that_stand_beside_a_record_come_from_where_it_came_from(routed):
    study = Study()
    study._state.db = REPLICA
    route.begin(REPLICA)
    try:
        assert Router().db_for_read(User, instance=study) == REPLICA
        assert Router().db_for_read(User) == "default"
    finally:
        route.begin()


# what is listed


def _views(resolver, namespace="", path=""):
    """Each address of the site with what it is called."""
    for one in resolver.url_patterns:
        here = path + str(one.pattern)
        if isinstance(one, URLResolver):
            yield from _views(one, one.namespace or namespace, here)
        else:
            yield here, namespace, f"{namespace}:{one.name}" if namespace else one.name


_SOME = {"int": "1", "uuid": "00000000-0000-4000-8000-000000000000", "suffix": ""}


@pytest.mark.django_db
def test_nothing_that_is_read_from_replicas_asks_for_a_login(client):
    tried = 0
    for path, namespace, name in _views(get_resolver()):
        if name in OWN_VIEWS or not (namespace in PUBLIC or name in PUBLIC_VIEWS) or "(?P" in path:
            continue
        address = "/" + re.sub(r"<(\w+):\w+>", lambda found: _SOME.get(found[1], "x"), path)
        response = client.get(address)
        assert not response.headers.get("Location", "").startswith("/login/"), name
        tried += 1
    assert tried > 50


def test_all_that_is_listed_is_there():
    there = list(_views(get_resolver()))

    assert {name for _, _, name in there} >= OWN_VIEWS | PUBLIC_VIEWS
    assert {namespace for _, namespace, _ in there} >= PUBLIC


def test_nothing_reads_past_the_router():
    """Whoever takes the default connection by itself reads the primary, whatever version of the data it stands for."""
    taken = set()
    for room in ("results", "api"):
        for file in Path(site.BASE_DIR, room).rglob("*.py"):
            if re.search(r"from django\.db import (?:[^\n]*\W)?connection\b", file.read_text()):
                taken.add(str(file.relative_to(site.BASE_DIR)))

    assert taken <= {
        "results/models/rows.py",  # writes
        "results/invented/make.py",  # writes
        "results/invented/bulk.py",  # writes
        "results/search/find.py",  # asks which database it is, and that is the same everywhere
        *(name for name in taken if name.startswith(("results/migrations/", "results/backup/", "results/management/"))),
    }
