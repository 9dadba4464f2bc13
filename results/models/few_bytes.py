"""What is said over and over, as the database keeps it: a derivation, a remedy, what is missing, in a few bytes."""

from __future__ import annotations

import json
import re
import zlib
from base64 import b85decode, b85encode
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from django.db import models

# What stands in a database was packed with these words and can't be read with others: the files never change. Others
# are told by another number, which what was packed with them begins with.
_WORDS = {"1:": Path(__file__).with_name("steps_1.txt"), "2:": Path(__file__).with_name("phrases_1.txt")}
STEPS, PHRASES = _WORDS
_AS_IT_IS = "0:"
_MARKED = re.compile(r"\d:")


@cache
def _words(mark: str) -> bytes:
    return _WORDS[mark].read_bytes()


@lru_cache(maxsize=8192)
def _short(text: str, mark: str) -> str:
    deflate = zlib.compressobj(level=9, wbits=-zlib.MAX_WBITS, zdict=_words(mark))
    return mark + b85encode(deflate.compress(text.encode()) + deflate.flush()).decode()


@lru_cache(maxsize=8192)
def _long(kept: str) -> str:
    mark = kept[:2]
    if mark not in _WORDS:
        known = " and ".join(map(repr, _WORDS))
        raise ValueError(f"What is kept in few bytes begins with {mark!r}; this program reads {known} only.")
    inflate = zlib.decompressobj(wbits=-zlib.MAX_WBITS, zdict=_words(mark))
    return (inflate.decompress(b85decode(kept.removeprefix(mark))) + inflate.flush()).decode()


def packed(value: Any, mark: str = STEPS) -> Any:
    """A list as one short text; what is no list, or an empty one, stays as it is.

    Parameters
    ----------
    value : list or other
    mark : {STEPS, PHRASES}
        The words to pack it with.
    """
    if not isinstance(value, list) or not value:
        return value
    return _short(json.dumps(value, ensure_ascii=False, separators=(",", ":")), mark)


def unpacked(kept: Any) -> Any:
    """The list again, from `packed` or from a row that was kept before there was packing.

    Raises
    ------
    ValueError
        If the text was packed in a way that this program doesn't know.
    """
    return json.loads(_long(kept)) if isinstance(kept, str) else kept


def packed_text(text: str) -> str:
    """A text in fewer bytes, or as it is where that is shorter."""
    short = _short(text, PHRASES) if text else text
    if len(short) < len(text.encode()):
        return short
    return _AS_IT_IS + text if _MARKED.match(text) else text


def unpacked_text(kept: str) -> str:
    """The text again, from `packed_text` or from a row that was kept before there was packing.

    Raises
    ------
    ValueError
        If the text was packed in a way that this program doesn't know.
    """
    if not _MARKED.match(kept):
        return kept
    return kept.removeprefix(_AS_IT_IS) if kept.startswith(_AS_IT_IS) else _long(kept)


class ListField(models.JSONField):
    """A JSON column whose lists are kept as one short text each (`packed`); the words are chosen by `mark`."""

    mark = STEPS

    def get_db_prep_value(self, value: Any, connection: Any, prepared: bool = False) -> Any:
        return super().get_db_prep_value(packed(value, self.mark), connection, prepared)

    def from_db_value(self, value: Any, expression: Any, connection: Any) -> Any:
        return unpacked(super().from_db_value(value, expression, connection))


class StepsField(ListField):
    """Steps of a derivation."""


class PhrasesField(ListField):
    """Phrases of our own, as what is missing."""

    mark = PHRASES


class Phrase(models.Field):
    """Text of our own making, kept by `packed_text`. It can be read and written, but not searched by the database."""

    def get_db_prep_value(self, value: Any, connection: Any, prepared: bool = False) -> Any:
        kept = super().get_db_prep_value(value, connection, prepared)
        return packed_text(kept) if isinstance(kept, str) else kept

    def from_db_value(self, value: Any, expression: Any, connection: Any) -> Any:
        return unpacked_text(value) if isinstance(value, str) else value


class PhraseCharField(Phrase, models.CharField):
    """A phrase in a column of text with a limit."""


class PhraseTextField(Phrase, models.TextField):
    """A phrase in a column of text."""
