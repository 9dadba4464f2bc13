"""The audit of dependencies says what it knows and what it doesn't."""

from __future__ import annotations

import importlib.util
from types import ModuleType

import pytest
from django.conf import settings


@pytest.fixture(scope="module")
def audit() -> ModuleType:
    spec = importlib.util.spec_from_file_location("audit", settings.BASE_DIR / ".ci" / "audit.py")
    found = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(found)
    return found


SOUND = {"name": "sound", "version": "1.0", "vulns": []}
PASSED_OVER = {"name": "unknown", "skip_reason": "not found"}
BAD = {"name": "bad", "version": "2.0", "vulns": [{"id": "V-1", "fix_versions": ["2.1"]}]}


def test_a_known_vulnerability_fails_and_is_named_with_its_remedy(audit, capsys):
    assert audit.judge([SOUND, BAD]) == 1
    assert "VULNERABLE: bad 2.0, V-1; mended in 2.1" in capsys.readouterr().out


def test_packages_that_were_passed_over_are_named(audit, capsys):
    assert audit.judge([SOUND, PASSED_OVER]) == 0
    out = capsys.readouterr().out
    assert "doesn't know them: unknown" in out and "1 packages audited, 0 known vulnerabilities" in out


def test_a_service_that_knows_nothing_is_no_clean_bill(audit, capsys):
    assert audit.judge([PASSED_OVER, PASSED_OVER]) == 0
    out = capsys.readouterr().out
    assert "THE AUDIT OF DEPENDENCIES DID NOT RUN" in out and "audited" not in out


def test_requirements_that_cannot_be_read_are_not_audited(audit, tmp_path, capsys):
    assert audit.main(str(tmp_path / "none.txt")) == 0
    assert "THE AUDIT OF DEPENDENCIES DID NOT RUN" in capsys.readouterr().out
