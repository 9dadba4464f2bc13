"""The whole book of accepted studies on one footing, as arrays."""

from __future__ import annotations

import json
import threading
from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from results.models import AdhesiveClass, FailurePlace, Joint, Loading, Packed, Study, Timber, data_version

from .packing import COUNTS, FORM, LOGS, NO_COUNT, ON_FOOTING, SERIES, SPECIMEN, VALUE, columns_of, number_of, packed

Array = NDArray[Any]
_SUMS = np.dtype([(name, float) for name in (*LOGS, *COUNTS)] + [("missing", np.int16)])
T = TypeVar("T")
# What holds on every footing, and two footings.
_KEPT = 3
_SIXTEEN = np.uint32(16)


@dataclass(frozen=True, eq=False)
class Words:
    """A vocabulary in the order it is read: codes, names, and where in it a word's number is."""

    codes: tuple[str, ...]
    names: tuple[str, ...]
    more: tuple[str, ...] = ()

    def code(self, at: int) -> str | None:
        """The code at a place; None for none."""
        return self.codes[at] if at >= 0 else None

    def name(self, at: int) -> str | None:
        """The name at a place; None for none."""
        return self.names[at] if at >= 0 else None

    def at(self, numbers: Array) -> Array:
        """Places of words by their numbers; -1 for none."""
        if not self.codes:
            return np.full(len(numbers), -1)
        factor, table, known = self._table
        found = table[(numbers * factor) >> _SIXTEEN]
        return np.where(known[found] == numbers, found, -1)

    @cached_property
    def _table(self) -> tuple[np.uint32, Array, Array]:
        """Where to look for a number: by sixteen bits of its product with a factor that keeps all words apart."""
        known = np.array([number_of(code) for code in self.codes], dtype=np.uint32)
        for factor in map(np.uint32, range(1, 1 << 16, 2)):
            places = (known * factor) >> _SIXTEEN
            if len(np.unique(places)) == len(known):
                break
        else:
            raise ValueError(f"{len(known)} words can't be told apart by their numbers: a code is there twice.")
        table = np.zeros(1 << 16, dtype=np.intp)
        table[places] = np.arange(len(known))
        return factor, table, known


@dataclass(frozen=True, eq=False)
class Vocabulary:
    """The words that series and specimens are told by; a joint's ``more`` is its family, a loading's its action."""

    joints: Words
    timbers: Words
    adhesives: Words
    loadings: Words
    places: Words

    @classmethod
    def read(cls) -> Vocabulary:
        return cls(
            _words(Joint, "family_id"),
            _words(Timber),
            _words(AdhesiveClass),
            _words(Loading, "action"),
            _words(FailurePlace),
        )


def _words(model: Any, more: str = "name") -> Words:
    return Words(*columns_of(model.objects.order_by("position", "code"), "code", "name", more))


@dataclass(frozen=True, eq=False)
class Studies:
    """The accepted studies, by rising key."""

    key: Array
    title: tuple[str, ...]
    workshop: tuple[str, ...]
    invented: Array

    @classmethod
    def read(cls) -> Studies:
        rows = Study.objects.accepted().order_by("pk")
        keys, titles, workshops, invented = columns_of(rows, "pk", "title", "workshop", "invented")
        return cls(np.array(keys, dtype=np.int64), titles, workshops, np.array(invented, dtype=bool))


class Labels:
    """What each series is called, read from its study's pack when it is asked for: most pages show few of them."""

    def __init__(self, texts: list[str], count: Array) -> None:
        self._texts, self._end = texts, np.cumsum(count)
        self._read: dict[int, list[str]] = {}

    def __getitem__(self, at: int) -> str:
        study = int(np.searchsorted(self._end, at, side="right"))
        if study not in self._read:
            self._read[study] = json.loads(self._texts[study])
        own = self._read[study]
        return own[at - int(self._end[study])]

    def all(self) -> list[str]:
        """All of them, in their order."""
        if self._all is None:
            self._all = [label for text in self._texts for label in json.loads(text)]
        return self._all

    _all: list[str] | None = None


@dataclass(frozen=True, eq=False)
class Packs:
    """What is packed of studies and holds on every footing, put together.

    Parameters
    ----------
    study : ndarray of int, shape (series,)
        Key of each series' study.
    count : ndarray of int, shape (studies,)
        Series of each study.
    series : ndarray, shape (series,)
        See `packing.SERIES`.
    label : Labels
    first : ndarray of int, shape (series,)
        Place of each series' first specimen.
    specimens : ndarray, shape (specimens,)
        See `packing.SPECIMEN`.
    """

    study: Array
    count: Array
    series: Array
    label: Labels
    first: Array
    specimens: Array


@dataclass(frozen=True, eq=False)
class OnFooting:
    """What a footing adds.

    Parameters
    ----------
    series : ndarray, shape (series,)
        As `packing.ON_FOOTING`, all numbers as floats, NaN for none; ``missing`` is a place in `reasons`.
    value : ndarray, shape (specimens,)
        NaN where a specimen has none.
    reasons : list of list of str
        What may be missing.
    """

    series: Array
    value: Array
    reasons: list[list[str]]


@dataclass(frozen=True, eq=False)
class Read:
    """What was read of the accepted studies, and the words for it; the same for as long as the data are."""

    packs: Packs
    on: OnFooting
    vocabulary: Vocabulary

    def column(self, name: str) -> Array:
        """A column of `packing.SERIES` or `packing.ON_FOOTING` by itself, for all series."""
        if name not in self._columns:
            whole = self.packs.series if name in (SERIES.names or ()) else self.on.series
            self._columns[name] = np.ascontiguousarray(whole[name])
        return self._columns[name]

    def places(self, name: str) -> Array:
        """A column of words as their places in the vocabulary; -1 for none."""
        if name not in self._places:
            self._places[name] = getattr(self.vocabulary, _VOCABULARY[name]).at(self.column(name))
        return self._places[name]

    @cached_property
    def _columns(self) -> dict[str, Array]:
        return {}

    @cached_property
    def _places(self) -> dict[str, Array]:
        return {}


_VOCABULARY = {
    "joint": "joints",
    "control_joint": "joints",
    "timber": "timbers",
    "adhesive": "adhesives",
    "loading": "loadings",
}


@dataclass(frozen=True, eq=False)
class Book:
    """Accepted studies, what is packed of them, and the words for it, at one moment."""

    studies: Studies
    read: Read

    @property
    def packs(self) -> Packs:
        return self.read.packs

    @property
    def on(self) -> OnFooting:
        return self.read.on

    @property
    def vocabulary(self) -> Vocabulary:
        return self.read.vocabulary


_kept: OrderedDict[tuple[str, str], Any] = OrderedDict()
_lock = threading.Lock()


def read(footing: str) -> Book:
    """The book on a footing.

    Notes
    -----
    What was read is kept by the process for as long as the data version stays, since pages ask for several choices of
    one state of the data.
    """
    version = data_version()
    state = str(version) if version.number else ""

    def common() -> tuple[Studies, Packs, Vocabulary]:
        studies = Studies.read()
        return studies, _facts(studies.key), Vocabulary.read()

    studies, packs, vocabulary = _once(state, "", common)
    found = _once(state, footing, lambda: Read(packs, _on_footing(studies.key, packs, footing), vocabulary))
    return Book(studies, found)


def _once(state: str, name: str, make: Callable[[], T]) -> T:
    """What was made before of a state of the data; made anew for none."""
    if not state:
        return make()
    with _lock:
        found = _kept.get((state, name))
    if found is None:
        found = make()
        with _lock:
            for old in [key for key in _kept if key[0] != state]:
                del _kept[old]
            _kept[state, name] = found
            while len(_kept) > _KEPT:
                # What holds on every footing, the first, is asked for each time.
                del _kept[next(key for key in _kept if key[1])]
    return found


def _rows(studies: Array, code: str) -> list[Sequence[Any]]:
    """The packs of a code, study by study; made from the records where there is none of this form."""
    rows = Packed.objects.filter(form=FORM, code=code, study__status=Study.Status.ACCEPTED)
    columns = columns_of(rows.order_by(), "study_id", "series", "specimens", "words", binary=True)
    found = {study: rest for study, *rest in zip(*columns, strict=True)}
    lacking = [key for key in studies.tolist() if key not in found]
    found |= {one.study_id: [one.series, one.specimens, one.words] for one in packed(lacking) if one.code == code}
    return [found[key] for key in studies.tolist()]


def _facts(studies: Array) -> Packs:
    rows = _rows(studies, "")
    series = np.frombuffer(b"".join(row[0] for row in rows), dtype=SERIES)
    count = np.array([len(row[0]) for row in rows], dtype=np.int64) // SERIES.itemsize
    return Packs(
        study=np.repeat(studies, count),
        count=count,
        series=series,
        label=Labels([row[2] for row in rows], count),
        first=np.cumsum(series["told"], dtype=np.int64) - series["told"],
        specimens=np.frombuffer(b"".join(row[1] for row in rows), dtype=SPECIMEN),
    )


def _on_footing(studies: Array, packs: Packs, footing: str) -> OnFooting:
    rows = _rows(studies, footing)
    stored = np.frombuffer(b"".join(row[0] for row in rows), dtype=ON_FOOTING)
    sums = np.empty(len(stored), dtype=_SUMS)
    for name in LOGS:
        sums[name] = stored[name]
    for name in COUNTS:
        sums[name] = np.where(stored[name] == NO_COUNT, np.nan, stored[name])
    reasons, first = _reasons(rows)
    sums["missing"] = stored["missing"]
    lacks = stored["missing"] >= 0
    sums["missing"][lacks] = first[np.repeat(np.arange(len(rows)), packs.count)[lacks], stored["missing"][lacks]]
    value = np.full(len(packs.specimens), np.nan, dtype=VALUE)
    value[np.repeat(~np.isnan(stored["sum_log"]), packs.series["told"])] = np.frombuffer(
        b"".join(row[1] for row in rows), dtype=VALUE
    )
    return OnFooting(sums, value, reasons)


def _reasons(own: list[Sequence[Any]]) -> tuple[list[list[str]], Array]:
    """All reasons of all studies, each once; and where in them each study's own are."""
    numbers: dict[str, int] = {}
    of_text: dict[str, list[int]] = {}
    for _, _, text in own:
        if text not in of_text:
            of_text[text] = [numbers.setdefault(json.dumps(reasons), len(numbers)) for reasons in json.loads(text)]
    most = max((len(places) for places in of_text.values()), default=0)
    padded = {text: places + [0] * (most - len(places)) for text, places in of_text.items()}
    table = np.array([padded[text] for _, _, text in own], dtype=np.int16).reshape(len(own), most)
    return [json.loads(text) for text in numbers], table
