"""Every page at the width of a phone, in dark."""

from __future__ import annotations

import pytest

from .pages import fill_book, walk

pytestmark = pytest.mark.django_db(transaction=True)


def test_pages_are_accessible_and_fit(settings, tmp_path, open_page):
    assert walk(open_page, fill_book(settings, tmp_path), "phone", "dark") == {}
