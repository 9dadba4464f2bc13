"""A download shows one moment, whatever is saved while it runs, and holds up nobody who saves."""

from __future__ import annotations

import threading

import pytest
from django.db import close_old_connections, connection, connections

from results.models import Specimen
from tests.factories import make_series, make_setup, make_specimen, make_study

pytestmark = pytest.mark.django_db(transaction=True)


def elsewhere(action) -> None:
    """Do something on a connection of its own, as another request would."""

    def run() -> None:
        close_old_connections()
        try:
            action()
        finally:
            connections.close_all()

    thread = threading.Thread(target=run)
    thread.start()
    thread.join(20)
    assert not thread.is_alive()


@pytest.mark.parametrize("form", ["csv", "ndjson"])
def test_download_shows_the_moment_it_began(client, form, monkeypatch):
    if connection.vendor == "sqlite" and connection.is_in_memory_db():
        pytest.skip("an SQLite database in memory has one connection; PostgreSQL and files have several")
    study = make_study()
    setup = make_setup(study)
    series = [make_series(setup=setup) for _ in range(3)]
    for one in series:
        make_specimen(one, peak_load_n=1000.0)
    for name in ("api.spliced.BLOCK_ROWS", "api.spliced.READ_ROWS", "api.copied.BLOCK_ROWS", "api.copied.AT_A_TIME"):
        monkeypatch.setattr(name, 1)
    blocks = iter(client.get(f"/api/v1/specimens.{form}").streaming_content)
    first = next(blocks)
    while b"1000.0" not in first:
        first += next(blocks)

    def change() -> None:
        Specimen.objects.update(peak_load_n=2000.0)
        make_specimen(series[0], peak_load_n=3000.0)

    elsewhere(change)
    rest = b"".join([first, *blocks])

    assert rest.count(b",1000.0," if form == "csv" else b":1000.0,") == 3
    assert b"2000.0" not in rest
    assert b"3000.0" not in rest
    assert Specimen.objects.count() == 4
    assert not connection.in_atomic_block


def test_download_given_up_half_way_leaves_nothing_open(client):
    series = make_series()
    for _ in range(5):
        make_specimen(series)
    response = client.get("/api/v1/specimens.csv")
    next(iter(response.streaming_content))
    response.close()

    assert not connection.in_atomic_block
    make_specimen(series)
    assert Specimen.objects.count() == 6
