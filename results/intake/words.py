"""Words of the vocabulary, found by code, name or other name, and the nearest one where none fits."""

from __future__ import annotations

import difflib
import re
from typing import Any, Literal, overload

from results import models
from results.models.alphabet import Alphabetical
from results.models.vocabulary import Word

from .columns import Column
from .rows import same_label

VOCABULARIES = ("Loading", "Instrument", "Joint", "Timber", "AdhesiveClass", "FailurePlace")
# Its rows also go by the numbers that they have on a drawing.
NUMBERED = "FailurePlace"
NEAREST_MOST = 5
# Timbers that a shop's bare "oak" or "maple" most often is (common practice); the others follow in their own order.
_COMMON = ("oak_northern_red", "oak_white", "maple_sugar", "ash_white", "pine_eastern_white")


class Words:
    """All vocabularies, read once for a submission."""

    def __init__(self) -> None:
        self._rows: dict[str, list[Word]] = {}
        self._known: dict[str, dict[str, list[Word]]] = {}

    @overload
    def rows(self, vocabulary: Literal["Joint"]) -> list[models.Joint]: ...

    @overload
    def rows(self, vocabulary: str) -> list[Any]: ...

    def rows(self, vocabulary: str) -> list[Any]:
        """All rows of one vocabulary, in their own order."""
        if vocabulary not in self._rows:
            model = getattr(models, vocabulary)
            found = model.objects.all() if vocabulary != "Timber" else model.objects.order_by(Alphabetical())
            self._rows[vocabulary] = list(found.select_related("family") if vocabulary == "Joint" else found)
        return self._rows[vocabulary]

    @overload
    def find(self, vocabulary: Literal["Joint"], text: str) -> list[models.Joint]: ...

    @overload
    def find(self, vocabulary: str, text: str) -> list[Any]: ...

    def find(self, vocabulary: str, text: str) -> list[Any]:
        """The rows that a text names: one if it is known, several if it may mean each of them."""
        if vocabulary == NUMBERED and re.fullmatch(r"\s*[1-9]\s*", text):
            return self.rows(vocabulary)[int(text) - 1 : int(text)]
        return self._by_name(vocabulary).get(_plain(text), [])

    def nearest(self, vocabulary: str, text: str) -> list[Word]:
        """The rows whose names hold all words of a text, the common ones first; else those that look most like it."""
        names = self._by_name(vocabulary)
        wanted = set(_words(text))
        holding = {row.pk for name in names if wanted and wanted <= set(_words(name)) for row in names[name]}
        if holding:
            rows = [row for row in self.rows(vocabulary) if row.pk in holding]
            return sorted(rows, key=_rank)[:NEAREST_MOST]
        close = difflib.get_close_matches(_plain(text), names, n=4, cutoff=0.5)
        return list({row.pk: row for name in close for row in names[name]}.values())[:3]

    def _by_name(self, vocabulary: str) -> dict[str, list[Word]]:
        if vocabulary not in self._known:
            names: dict[str, list[Word]] = {}
            for row in self.rows(vocabulary):
                for name in _names(row):
                    same = names.setdefault(name, [])
                    if row not in same:
                        same.append(row)
            # A name or code of its own outdoes another row's second name.
            for row in self.rows(vocabulary):
                names[_plain(row.pk)] = names[_plain(row.name)] = [row]
            self._known[vocabulary] = names
        return self._known[vocabulary]


def _rank(row: Word) -> int:
    return _COMMON.index(row.pk) if row.pk in _COMMON else len(_COMMON)


def _plain(text: str) -> str:
    return same_label(text.replace("_", " ").replace("-", " "))


def _words(text: str) -> list[str]:
    return re.findall(r"\w+", _plain(text))


def _names(row: Word) -> list[str]:
    names = [row.pk, row.name]
    for other in getattr(row, "also_known_as", "").replace(";", ",").split(","):
        if other.strip():
            names.append(other)
    if row.name.count(",") == 1:  # "Oak, northern red" is northern red oak to everybody
        first, second = row.name.split(",")
        names.append(f"{second} {first}")
    if scientific := getattr(row, "scientific_name", ""):
        names.append(scientific)
    return [_plain(name) for name in names]


def choice(column: Column, text: str) -> str | None:
    """The code of one of a column's choices, found by code or label; None if it is none of them."""
    wanted = _plain(text)
    for code, label in column.choices:
        if wanted in (_plain(code), _plain(label), _plain(label.split("(")[0])):
            return code
    return None
