"""Which replicas may be read, from what was seen of them and of the primary."""

from __future__ import annotations

import time

import pytest
from django.db import OperationalError

from results.site import replicas
from results.site.replicas import OUT_S, STALE_S, Standing, Watch, position

ONE, OTHER = "replica-1", "replica-2"


@pytest.fixture
def watch(monkeypatch):
    """One that looks at nothing by itself, of replicas that may lag by five seconds."""
    made = Watch([ONE, OTHER], lag_most_s=5)
    monkeypatch.setattr(made, "_start", lambda: None)
    return made


def note(watch, now, reaches, **replayed):
    watch.note_primary(reaches, now)
    for alias, at in replayed.items():
        watch.note_replica(alias.replace("_", "-"), Standing(True, at), now)


def test_a_place_in_the_log_is_a_number_of_bytes():
    # PostgreSQL's manual, "pg_lsn type": two hexadecimal numbers of up to eight digits, the higher half first.
    assert position("16/B374D848") == 0x16B374D848
    assert position("0/0") == 0
    assert position("1/0") == 2**32


def test_nothing_is_read_before_it_was_seen(watch):
    assert watch.choose(now=0) == "default"


def test_readers_are_spread_over_the_replicas_that_keep_up(watch):
    note(watch, 10.0, 100, replica_1=100, replica_2=100)

    assert {watch.choose(now=10.0) for _ in range(100)} == {ONE, OTHER}


def test_a_share_of_readers_stays_with_the_primary(watch):
    note(watch, 10.0, 100, replica_1=100)
    watch.primary_pct = 50

    found = [watch.choose(now=10.0) for _ in range(400)]

    assert 120 < found.count("default") < 280  # eight standard deviations to either side
    watch.primary_pct = 100
    assert {watch.choose(now=10.0) for _ in range(50)} == {"default"}


def test_one_that_is_behind_by_less_than_it_may_be_is_read_and_by_more_is_not(watch):
    for second in range(20):
        # One replays what the primary wrote three seconds before, the other what it wrote seven seconds before.
        note(watch, float(second), 100 * second, replica_1=100 * (second - 3), replica_2=100 * (second - 7))

    assert {watch.choose(now=19.0) for _ in range(50)} == {ONE}


def test_one_that_lost_the_primary_is_found_out_though_it_has_replayed_all_it_got(watch):
    note(watch, 0.0, 100, replica_1=100)
    for second in range(1, 9):
        note(watch, float(second), 100 + second, replica_1=100)
        assert watch.choose(now=float(second)) == (ONE if second <= 5 else "default"), second


def test_a_quiet_primary_makes_no_replica_old(watch):
    for second in range(100):
        note(watch, float(second), 100, replica_1=100)

    assert watch.choose(now=99.0) == ONE


def test_whoever_wrote_reads_where_that_has_arrived(watch, monkeypatch):
    note(watch, 10.0, 100, replica_1=90, replica_2=99)
    watch.note_primary(100, 10.0)
    for alias, at in ((ONE, 90), (OTHER, 99)):
        watch.noted.appendleft((9.0, 90))
        watch.note_replica(alias, Standing(True, at), 10.0)
    asked = []

    def ask(alias):
        asked.append(alias)
        return Standing(True, {ONE: 95, OTHER: 99}[alias])

    monkeypatch.setattr(replicas, "ask_replica", ask)
    assert {watch.choose(95, now=10.0) for _ in range(50)} == {ONE, OTHER}
    # What was seen of the other is enough; only the one has to be asked.
    assert set(asked) == {ONE}
    assert watch.choose(100, now=10.0) == "default"


def test_one_that_does_not_answer_is_left_out_for_a_while(watch, monkeypatch, caplog):
    def ask(alias):
        raise OperationalError("connection refused")

    monkeypatch.setattr(replicas, "ask_replica", ask)
    now = time.monotonic()
    note(watch, now, 100, replica_1=100)

    assert watch.choose(101, now=now) == "default"
    assert "replica-1 is left out for 5 s" in caplog.text
    assert not watch.may_be_read(ONE, now)
    note(watch, now + OUT_S + 1, 101, replica_1=101)
    assert watch.may_be_read(ONE, now + OUT_S + 1)


def test_what_was_seen_long_ago_tells_nothing(watch):
    note(watch, 10.0, 100, replica_1=100)

    assert watch.choose(now=10.0 + STALE_S - 0.1) == ONE
    assert watch.choose(now=10.0 + STALE_S) == "default"


def test_without_the_primary_one_that_was_well_goes_on_being_read(watch):
    # Between the last look and its end the primary wrote what the one never got; the other was behind long before.
    for second in range(10):
        note(watch, float(second), 100 * second, replica_1=100 * second - 50, replica_2=100)
    for second in range(10, 60):
        watch.note_replica(ONE, Standing(True, 860), float(second))
        watch.note_replica(OTHER, Standing(True, 100), float(second))

    assert {watch.choose(now=59.0) for _ in range(50)} == {ONE}


def test_one_that_was_made_the_primary_is_no_replica_any_more(watch, caplog):
    note(watch, 10.0, 100, replica_1=100)
    watch.note_replica(ONE, Standing(False, 100), 11.0)

    assert watch.choose(now=11.0) == "default"
    assert "replica-1 follows no primary" in caplog.text


def test_another_primary_may_have_gone_back_a_little(watch):
    note(watch, 10.0, 500, replica_1=500)
    watch.note_primary(400, 11.0)  # what the lost one wrote last is nowhere
    watch.note_replica(ONE, Standing(True, 400), 11.0)

    assert watch.choose(now=11.0) == ONE
