"""The arrows that a linter can't see."""

from __future__ import annotations

import subprocess
import sys


def test_stats_imports_no_web_framework_nor_heavy_libraries():
    code = (
        "import sys, stats, stats.footing, stats.inference\n"
        "print([name for name in ('django', 'rest_framework', 'psycopg', 'plotly', 'statsmodels') "
        "if name in sys.modules])"
    )

    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert found.stdout.strip() == "[]"


def test_no_migration_is_missing(db):
    from django.core.management import call_command

    call_command("makemigrations", check=True, dry_run=True, verbosity=0)
