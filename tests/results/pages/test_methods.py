"""The methods page says what each method rests on, and names checks that are there."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.urls import reverse

from results.pages.plain import checked_methods

TESTS = Path(__file__).parents[2]


@pytest.mark.django_db
def test_methods_page_lists_every_checked_method(client):
    page = client.get(reverse("browse:methods")).content.decode()

    assert len(checked_methods()) > 20
    for row in checked_methods():
        assert row["method"].replace("'", "&#x27;") in page


@pytest.mark.parametrize("row", checked_methods(), ids=lambda row: row["method"][:40])
def test_checked_method_names_source_and_a_test_that_exists(row):
    assert all(row.values())
    assert list(TESTS.rglob(row["test"])), f"{row['test']} is named but isn't there"
