"""Derivations in few bytes: what was kept is read again, by this program and by every one after it."""

from __future__ import annotations

import hashlib
import json

import pytest
from django.db import connection
from hypothesis import given
from hypothesis import strategies as st

from results.models import SeriesFooting
from results.models.steps import _WORDS, packed, unpacked

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


def test_the_words_are_those_that_books_were_packed_with():
    """If this fails, books that there are can't be read: leave the file, and add another with another mark."""
    digest = hashlib.sha256(_WORDS.read_bytes()).hexdigest()

    assert digest == "50f320ec0cd8b20a3b3bdb318a6e91b63046d4395368dc83e84572f18ce92c38"
    assert unpacked("1:i>5|CGd3{L!;)b1j44eru>b") == STEPS


def test_a_way_of_packing_that_is_not_known_is_told():
    with pytest.raises(ValueError, match="begin with '2:'; this program reads '1:' only"):
        unpacked("2:abc")


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
