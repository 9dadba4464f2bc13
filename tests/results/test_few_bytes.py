"""Derivations in few bytes: what was kept is read again, by this program and by every one after it."""

from __future__ import annotations

import hashlib
import json

import pytest
from django.db import connection
from hypothesis import given
from hypothesis import strategies as st

from results.models import SeriesFooting, few_bytes
from results.models.few_bytes import packed, packed_text, unpacked, unpacked_text

STEPS = [
    {
        "name": "moment at the joint",
        "formula": "M = F · a",
        "inputs": {"a": [300.0, "mm"]},
        "factor": 0.3,
        "result_unit": "N·m",
        "source": "derived from statics",
        "note": "",
    }
]
anything = st.recursive(
    st.none() | st.booleans() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)


@given(st.lists(anything))
def test_any_list_comes_back_as_it_was(steps):
    assert unpacked(json.loads(json.dumps(packed(steps)))) == json.loads(json.dumps(steps))


@given(st.text() | st.from_regex(r"[0-9]:.*", fullmatch=True))
def test_any_text_comes_back_as_it_was(text):
    assert unpacked_text(packed_text(text)) == text


@pytest.mark.parametrize(
    ("mark", "digest"),
    [
        (few_bytes.STEPS, "50f320ec0cd8b20a3b3bdb318a6e91b63046d4395368dc83e84572f18ce92c38"),
        (few_bytes.PHRASES, "d5740572b673687dcf8ab74eed11cd9d6264b5a74dca36674bf8deb5cf41be45"),
    ],
)
def test_the_words_are_those_that_books_were_packed_with(mark, digest):
    """If this fails, books that there are can't be read: leave the file, and add another with another mark."""
    assert hashlib.sha256(few_bytes._words(mark)).hexdigest() == digest


def test_what_was_kept_is_read_by_every_later_program():
    assert unpacked("1:i>5|CGd3{L!;)b1j44eru>b") == STEPS
    assert (
        unpacked_text("2:Bi04Z8L34@z~)R+PGWL47Uuu}")
        == "over the handbook modulus of rupture of Cherry, black, as tabled at 12 %"
    )
    assert unpacked("2:i&nzY6jX`@00") == ["the timber (timber)"]
    assert unpacked_text("load on the rig") == "load on the rig"  # from before there was packing


@pytest.mark.parametrize("read", [unpacked, unpacked_text])
def test_a_way_of_packing_that_is_not_known_is_told(read):
    with pytest.raises(ValueError, match="begins with '3:'; this program reads '1:' and '2:' only"):
        read("3:abc")


def test_what_would_not_be_shorter_stays_as_it_is():
    assert packed_text("") == ""
    assert packed_text("§¶") == "§¶"
    assert packed_text("2:§") == "0:2:§"


@pytest.mark.django_db
def test_a_row_holds_few_bytes_and_one_from_before_is_read(demo_book):
    row = SeriesFooting.objects.filter(code="ratio_solid", sum_log__isnull=False).first()
    with connection.cursor() as cursor:
        cursor.execute("SELECT CAST(steps AS text) FROM results_seriesfooting WHERE id = %s", [row.pk])
        (kept,) = cursor.fetchone()
        assert len(kept) < len(json.dumps(row.steps)) / 4
        cursor.execute("UPDATE results_seriesfooting SET steps = %s WHERE id = %s", [json.dumps(STEPS), row.pk])

    row.refresh_from_db()
    assert row.steps == STEPS
    assert list(SeriesFooting.objects.filter(pk=row.pk).values_list("steps", flat=True)) == [STEPS]
