"""Derivations as the database keeps them: a few words said over and over, in a sixth of their bytes."""

from __future__ import annotations

import json
import zlib
from base64 import b85decode, b85encode
from functools import cache
from pathlib import Path
from typing import Any

from django.db import models

# What stands in the database was packed with these words and can't be read with others: the file never changes.
# Another one would be told by another number.
_WORDS = Path(__file__).with_name("steps_1.txt")
_MARK = "1:"


@cache
def _words() -> bytes:
    return _WORDS.read_bytes()


def packed(steps: Any) -> Any:
    """Steps of a derivation as one short text; what is no list, or an empty one, stays as it is."""
    if not isinstance(steps, list) or not steps:
        return steps
    deflate = zlib.compressobj(level=9, wbits=-zlib.MAX_WBITS, zdict=_words())
    text = json.dumps(steps, ensure_ascii=False, separators=(",", ":"))
    return _MARK + b85encode(deflate.compress(text.encode()) + deflate.flush()).decode()


def unpacked(kept: Any) -> Any:
    """The steps again, from `packed` or from a row that was kept before there was packing.

    Raises
    ------
    ValueError
        If the text was packed in a way that this program doesn't know.
    """
    if not isinstance(kept, str):
        return kept
    if not kept.startswith(_MARK):
        raise ValueError(f"Steps of a derivation begin with {kept[:2]!r}; this program reads {_MARK!r} only.")
    inflate = zlib.decompressobj(wbits=-zlib.MAX_WBITS, zdict=_words())
    return json.loads(inflate.decompress(b85decode(kept.removeprefix(_MARK))) + inflate.flush())


class StepsField(models.JSONField):
    """A list of a derivation's steps: a JSON column, whose value is one short text (`packed`)."""

    def get_db_prep_value(self, value: Any, connection: Any, prepared: bool = False) -> Any:
        return super().get_db_prep_value(packed(value), connection, prepared)

    def from_db_value(self, value: Any, expression: Any, connection: Any) -> Any:
        return unpacked(super().from_db_value(value, expression, connection))
