"""Whole pages that are kept: true to the data as they are, and given at the price of asking for their version."""

from __future__ import annotations

import gzip
import re
from datetime import timedelta

import pytest
from django.core.cache import caches
from django.db import OperationalError, connection, connections
from django.http import HttpResponse
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from results import kept
from results.models import DataVersion, bump, data_version, version_now
from results.pages.workshop_address import written
from results.review.decide import withdraw
from results.site import machines, settings, whole
from results.site.replicas import Watch
from results.site.routing import route
from results.site.whole import KeptPages, kept_whole
from tests.factories import make_reviewer, make_study, make_user
from tests.results.pages.shops import a_shop
from tests.results.pages.test_piece import JOINT, LOAD
from tests.results.servers import CacheServer, needs_redis
from tests.results.site.test_routing import REPLICA, behind, book_of_one, routed  # noqa: F401  fixtures

pytestmark = pytest.mark.django_db


@pytest.fixture
def past_second(db):
    """The last change lies some seconds back, so that a time can tell of it."""
    DataVersion.objects.update(changed_at=timezone.now() - timedelta(seconds=30))


def queries_of(client: Client, address: str, **more: object) -> tuple[HttpResponse, int]:
    with CaptureQueriesContext(connection) as asked:
        response = client.get(address, **more)
    return response, len(asked)


def is_warm(client: Client, address: str, **more: object) -> bool:
    """Whether an address is answered from what is kept: by asking for the data version and nothing else."""
    response, queries = queries_of(client, address, **more)
    assert response.status_code in (200, 304)
    return queries <= 1


# -- what is kept ----------------------------------------------------------------------------------
def test_a_page_is_made_once_and_given_as_it_was(client):
    make_study("Rails into posts")
    first = client.get("/studies/")
    second, queries = queries_of(Client(), "/studies/")

    assert b"Rails into posts" in first.content
    assert (second.content, queries) == (first.content, 1)
    own = {"X-Request-ID"}
    assert {name: value for name, value in second.headers.items() if name not in own} == {
        name: value for name, value in first.headers.items() if name not in own
    }
    assert not second.cookies


def test_every_change_makes_a_page_old(client):
    study = make_study("The old one")
    client.get("/studies/")
    make_study("The new one")
    assert b"The new one" in client.get("/studies/").content

    withdraw(study, study.contributor, "the arm was measured wrongly")
    assert b"withdrawn" in client.get("/studies/?status=withdrawn").content
    assert [is_warm(client, "/"), is_warm(client, "/")] == [False, True]
    bump()
    assert not is_warm(client, "/")


def test_a_new_release_of_the_program_gives_no_page_of_before(client, monkeypatch):
    client.get("/methods/")
    assert is_warm(client, "/methods/")

    monkeypatch.setattr(kept, "code", lambda: kept.Code("another", 0.0))

    assert not is_warm(client, "/methods/")


def test_invented_studies_that_count_unasked_make_another_page(client, settings):
    settings.DEMO = False
    client.get("/")
    settings.DEMO = True

    assert not is_warm(client, "/")


def test_hosts_schemes_queries_and_compression_have_a_page_each(client, settings):
    settings.ALLOWED_HOSTS = ["one.example", "two.example"]
    settings.SECURE_SSL_REDIRECT = False
    ways = [
        {"headers": {"host": "one.example"}},
        {"headers": {"host": "two.example"}},
        {"headers": {"host": "one.example"}, "secure": True},
        {"headers": {"host": "one.example", "accept-encoding": "gzip"}},
        {"headers": {"host": "one.example"}, "QUERY_STRING": "q=a"},
        {"headers": {"host": "one.example"}, "QUERY_STRING": "q=b"},
    ]
    for way in ways:
        assert not is_warm(client, "/studies/", **way), way
    for way in ways:
        assert is_warm(client, "/studies/", **way), way
    packed = client.get("/studies/", **ways[3])
    assert packed.headers["Content-Encoding"] == "gzip"
    assert gzip.decompress(packed.content) == client.get("/studies/", **ways[0]).content
    assert client.get("/studies/", headers={"host": "three.example"}).status_code == 400


def test_policies_and_names_of_requests_are_of_each_request(client):
    first, second = client.get("/"), client.get("/", headers={"X-Request-ID": "asked-by-a-test"})

    assert second.headers["X-Request-ID"] == "asked-by-a-test" != first.headers["X-Request-ID"]
    for name in ("Content-Security-Policy", "Permissions-Policy", "Referrer-Policy", "X-Content-Type-Options"):
        assert second.headers[name] == first.headers[name]
    assert second.headers["X-Frame-Options"] == "DENY"


def test_https_is_still_led_to(client, settings):
    client.get("/", secure=True)
    settings.SECURE_SSL_REDIRECT = True

    assert Client().get("/").status_code == 301


def test_kept_pages_are_counted_and_logged_by_their_view(client, caplog, settings):
    caplog.set_level("INFO", logger="breakbook.requests")
    client.get("/")
    client.get("/")

    told = [(one.view, one.status, one.queries) for one in caplog.records]
    assert told[1] == ("browse:home", 200, 1)
    assert told[0][:2] == told[1][:2] and told[0][2] > 1


def test_head_is_answered_from_what_a_reader_was_given(client):
    whole_page = client.get("/methods/")
    with CaptureQueriesContext(connection) as asked:
        head = client.head("/methods/")

    assert len(asked) == 1
    assert head.headers["Content-Length"] == whole_page.headers["Content-Length"] and not head.content
    # HEAD by itself keeps nothing.
    client.head("/joints/")
    assert not is_warm(client, "/joints/")


# -- conditional requests --------------------------------------------------------------------------
@pytest.mark.usefixtures("past_second")
def test_who_holds_a_page_is_told_so_until_it_changes(client):
    page = client.get("/")
    tag, modified = page.headers["ETag"], page.headers["Last-Modified"]
    assert page.headers["Cache-Control"] == "no-cache"
    assert tag.startswith('W/"')

    for given in ({"If-None-Match": tag}, {"If-None-Match": f'"x", {tag}'}, {"If-Modified-Since": modified}):
        held = client.get("/", headers=given)
        assert (held.status_code, held.content, held.headers["ETag"]) == (304, b"", tag), given
        assert held.headers["Vary"] == page.headers["Vary"]
    # Of a process that hasn't it yet, too.
    caches["pages"].clear()
    assert client.get("/", headers={"If-None-Match": tag}).status_code == 304
    for given in ({"If-None-Match": '"x"'}, {"If-None-Match": '"x"', "If-Modified-Since": modified}):
        assert client.get("/", headers=given).status_code == 200

    bump()
    fresh = client.get("/", headers={"If-None-Match": tag})
    assert fresh.status_code == 200 and fresh.headers["ETag"] != tag


def test_a_change_of_this_very_second_is_told_by_no_time(client):
    bump()

    assert "Last-Modified" not in client.get("/").headers


@pytest.mark.usefixtures("past_second")
def test_a_tag_of_before_logging_in_is_no_page_of_ones_own(client):
    tag = client.get("/").headers["ETag"]
    client.force_login(make_user("owner"))

    own = client.get("/", headers={"If-None-Match": tag})

    assert own.status_code == 200 and b"owner" in own.content
    assert "ETag" not in own.headers and "Last-Modified" not in own.headers


# -- how much is kept ------------------------------------------------------------------------------
def test_a_million_addresses_push_out_others_with_a_query_and_no_plain_page(client, monkeypatch):
    pages, asked = caches["pages"], caches["pages-asked"]
    monkeypatch.setattr(asked, "_max_entries", 20)
    client.get("/methods/")
    for number in range(60):
        assert client.get(f"/methods/?any={number}").status_code == 200
        assert len(asked._cache) <= 20

    assert is_warm(client, "/methods/?any=59") and not is_warm(client, "/methods/?any=1")
    assert is_warm(client, "/methods/")
    assert len(pages._cache) == 1
    assert asked._max_entries < settings.PAGES_KEPT == pages._max_entries


def test_an_old_page_makes_room_for_the_new_one_of_its_address(client):
    for _ in range(5):
        client.get("/studies/")
        bump()

    assert len(caches["pages"]._cache) == 1


def test_a_long_address_is_answered_and_not_kept(client):
    for address in (f"/methods/?any={'x' * whole.ADDRESS_MOST}", f"/workshops/{'x' * whole.ADDRESS_MOST}/"):
        client.get(address)
        client.get(address)

    assert not caches["pages"]._cache and not caches["pages-asked"]._cache


def test_no_pages_are_kept_where_a_setting_says_so(monkeypatch, settings):
    from django.core.exceptions import MiddlewareNotUsed

    for name, value in (("PAGES_KEPT", 0), ("DEBUG", True)):
        with monkeypatch.context() as changed:
            changed.setattr(settings, name, value)
            with pytest.raises(MiddlewareNotUsed):
                KeptPages(lambda request: HttpResponse())


# -- several machines ------------------------------------------------------------------------------
def test_pages_stay_with_the_process_where_the_rest_is_shared():
    shared = machines.shared_caches("redis://127.0.0.1:1/0", settings.CACHES)

    assert shared["pages"] == settings.CACHES["pages"] and shared["pages-asked"] == settings.CACHES["pages-asked"]
    assert shared["answers"]["BACKEND"] == "results.shared.SharedCache"


@needs_redis
def test_pages_are_kept_beside_a_shared_cache_and_while_it_is_away(settings, tmp_path):
    server = CacheServer(tmp_path)
    server.start()
    try:
        settings.CACHES = machines.shared_caches(server.url, settings.CACHES)
        client = Client()
        first = client.get("/evidence/")
        assert is_warm(client, "/evidence/")
    finally:
        server.stop()
    assert is_warm(client, "/evidence/")
    bump()
    assert client.get("/evidence/").headers["ETag"] != first.headers["ETag"]


def test_a_replica_that_is_behind_gives_and_keeps_its_own_pages_only(behind, routed, monkeypatch):  # noqa: F811
    make_study("The new one")
    client = Client()

    def page(alias):
        monkeypatch.setattr(Watch, "choose", lambda self, written=None: alias)
        response = client.get("/studies/")
        return [title for title in ("The old one", "The new one") if title in response.content.decode()]

    for _ in range(2):
        for _ in range(2):  # the second time each as it was kept
            assert page(REPLICA) == ["The old one"]
        for _ in range(2):
            assert page("default") == ["The old one", "The new one"]
    with CaptureQueriesContext(connections[REPLICA]) as asked, CaptureQueriesContext(connection) as primary:
        page(REPLICA)
        page(REPLICA)
    assert asked.captured_queries and not [one for one in primary if "results_" in one["sql"]]


def test_a_replica_that_fails_leaves_it_to_the_primary(behind, routed, monkeypatch):  # noqa: F811
    client = Client()
    client.get("/studies/")

    def fails():
        if route.alias == REPLICA:
            raise OperationalError("gone")
        return version_now()

    monkeypatch.setattr(whole, "version_now", fails)
    make_study("The new one")
    response = client.get("/studies/")
    assert response.status_code == 200 and b"The new one" in response.content
    # Asked for the version, and then for the page, since another could have been chosen by then.
    assert routed.left_out == [REPLICA, REPLICA]


# -- in the background -----------------------------------------------------------------------------
def test_where_pages_may_be_of_before_they_are_kept_for_no_longer_than_their_answers_are_noted(settings, monkeypatch):
    told = []
    monkeypatch.setattr(caches["pages"], "set", lambda key, page, timeout: told.append(timeout))
    for settings.STALE_MOST_S in (0, 120):
        Client().get("/methods/")

    assert told == [kept.DAY, kept.NOTED.total_seconds()]


@pytest.mark.usefixtures("vocabulary")
def test_a_page_of_before_is_told_as_such_and_not_kept(client, settings, monkeypatch):
    settings.STALE_MOST_S = 120
    monkeypatch.setattr("results.pages.anew.ask", lambda page, query: None)
    a_shop("One")
    study = a_shop("Two", rig=1.3)
    for address in ("/compare/", "/evidence/", "/compare/network/"):
        client.get(address)
    withdraw(study, make_reviewer(), "the arm was measured wrongly")

    for address in ("/compare/", "/evidence/", "/compare/network/"):
        first, second = (queries_of(client, address) for _ in range(2))
        assert b"being worked out anew" in first[0].content and "ETag" not in first[0].headers
        assert b"being worked out anew" in second[0].content and second[1] > 1


# -- which views -----------------------------------------------------------------------------------
# What the data version covers: saved one by one it rises by itself, in bulk by whoever saves (`bump`).
COVERED = {
    "results_adhesiveclass",
    "results_dataversion",
    "results_failureplace",
    "results_finding",
    "results_instrument",
    "results_joint",
    "results_jointfamily",
    "results_loading",
    "results_calibration",  # with its rig, see `rigs.tell_readers`
    "results_packed",
    "results_rig",
    "results_series",
    "results_seriesfooting",
    "results_setup",
    "results_specimen",
    "results_study",
    "results_summary",
    "results_timber",
}
EXAMPLES = {
    "browse:workshop": ["shop-by-the-river"],
    "browse:joint": ["mt_blind"],
    "browse:timber": ["oak_northern_red"],
    "browse:methods-part": ["footings"],
    "compare:embed": ["strength"],
    "piece:piece": ["arm"],
}
# With something to answer.
QUERIES = {"piece:piece": f"?{LOAD}&{JOINT}", "browse:evidence": "?by=timber", "browse:studies": "?q=One"}


def views_kept() -> list[str]:
    ours = kept_whole(lambda request: HttpResponse()).__code__

    def under(resolver: URLResolver, space: str = "") -> list[str]:
        found = []
        for one in resolver.url_patterns:
            if isinstance(one, URLResolver):
                found += under(one, f"{one.namespace}:" if one.namespace else space)
            elif isinstance(one, URLPattern) and getattr(one.callback, "__code__", None) is ours:
                found.append(f"{space}{one.name}")
        return found

    return under(get_resolver())


def test_the_views_kept_are_public_and_nobodys_own():
    from results.site.routing import OWN_VIEWS, PUBLIC

    names = views_kept()
    assert {"browse:home", "compare:compare", "browse:joint", "browse:evidence"} <= set(names)
    assert {name.split(":")[0] for name in names} <= PUBLIC
    # A study's page shows its questions, which are asked and answered without a change of the data.
    assert not set(names) & {*OWN_VIEWS, "browse:study", "browse:mine", "plans:plan", "plans:plans", "browse:search"}


@pytest.mark.usefixtures("vocabulary")
@pytest.mark.parametrize("name", views_kept())
def test_a_kept_view_reads_nothing_but_what_the_data_version_covers(name):
    study = a_shop("One")
    a_shop("Two", rig=1.3, invented=True)
    examples = EXAMPLES | {"browse:workshop": [written(study.workshop)]}
    address = reverse(name, args=examples.get(name, [])) + QUERIES.get(name, "")
    client = Client()

    with CaptureQueriesContext(connection) as asked:
        response = client.get(address)

    assert response.status_code == 200
    read = {table for one in asked for table in re.findall(r'(?:FROM|JOIN) "?(\w+)"?', one["sql"]) if "_" in table}
    assert read <= COVERED, read - COVERED
    assert is_warm(client, address)


def test_the_version_in_short_is_the_version():
    bump()
    assert version_now() == str(data_version())
    DataVersion.objects.all().delete()
    assert version_now() == str(data_version())
