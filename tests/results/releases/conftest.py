"""Releases of tests lie in a folder of their own."""

from __future__ import annotations

import pytest


@pytest.fixture(autouse=True)
def data_dir(settings, tmp_path):
    settings.DATA_DIR = tmp_path
    return tmp_path
