"""Reads the reference files beside these checks."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

DATA = Path(__file__).parent / "data"


def reference(name: str) -> dict[str, Any]:
    """One reference file: what, source, data, expected, tolerance, notes."""
    content: dict[str, Any] = json.loads((DATA / name).read_text(encoding="utf-8"))
    return content
