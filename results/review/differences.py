"""Two documents side by side."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from .document import Document
from .said import Said, reads_of

CHANGED, ADDED, REMOVED = "changed", "added", "removed"
# Digits that tell any two numbers apart, and the fields by which a whole record is told.
EVERY_DIGIT, FEW = 17, 3
Record = dict[str, Any]
Tell = Callable[[Record], dict[str, str]]
_PLURAL = {"study": "study", "setup": "setups", "series": "series", "specimen": "specimens"}


@dataclass(frozen=True)
class Difference:
    """One thing that two documents say differently.

    Parameters
    ----------
    kind : {"changed", "added", "removed"}
        Whether the record is in both.
    record : {"study", "setup", "series", "specimen"}
        What it is about.
    series, label : str
        The series of a specimen; the record's own label (empty for the study).
    field : str
        The field in the book's words, ``tenon length``; empty if the whole record was added or removed.
    before, after : str
        As a reader reads it: as typed, with the SI value where that says more; of a whole record a few words.
    """

    kind: str
    record: str
    series: str
    label: str
    field: str
    before: str
    after: str

    @property
    def where(self) -> str:
        """The record in words: ``specimen 3 of series A``."""
        if self.record == "study":
            return "the study"
        return f"{self.record} {self.label}" + (f" of series {self.series}" if self.series else "")


def differences(before: Document, after: Document) -> list[Difference]:
    """What one document says otherwise than another: the study, its setups, then each series with its specimens.

    Parameters
    ----------
    before, after : dict
        From `results.review.document.document`.

    Returns
    -------
    list of Difference
        Empty if both say the same. The order of records is no difference.
    """
    return list(_found(before, after))


def summary(found: Sequence[Difference]) -> list[tuple[str, int]]:
    """How many differences of each sort, in words: ``("specimens: reading changed", 12)``.

    Parameters
    ----------
    found : sequence of Difference
    """
    sorts = Counter(
        f"{_PLURAL[one.record]}: {one.field} changed" if one.kind == CHANGED else f"{_PLURAL[one.record]} {one.kind}"
        for one in found
    )
    return list(sorts.items())


def _found(before: Document, after: Document) -> Iterator[Difference]:
    say = Said(), Said(digits=EVERY_DIGIT)
    studies, setups, series = ([getattr(one, name) for one in say] for name in ("study", "setup", "series"))
    old_study, new_study = ({"label": "", **written["study"]} for written in (before, after))
    yield from _record("study", "", old_study, new_study, studies, studies)
    for old, new in _pairs(before["setups"], after["setups"]):
        yield from _record("setup", "", old, new, setups, setups)
    for old, new in _pairs(before["series"], after["series"]):
        yield from _record("series", "", _alone(old), _alone(new), series, series)
        if old is None or new is None:
            continue
        tell_old, tell_new = (
            [partial(one.specimen, reads=reads_of(written)[of["setup"]]) for one in say]
            for written, of in ((before, old), (after, new))
        )
        for was, now in _pairs(old["specimens"], new["specimens"]):
            yield from _record("specimen", old["label"], was, now, tell_old, tell_new)


def _pairs(before: list[Record], after: list[Record]) -> Iterator[tuple[Record | None, Record | None]]:
    """Records of one label side by side: those of before in their order, then the new ones."""
    new = {one["label"]: one for one in after}
    for one in before:
        yield one, new.pop(one["label"], None)
    for one in new.values():
        yield None, one


def _alone(series: Record | None) -> Record | None:
    """A series without its specimens, of which it says the count."""
    if series is None:
        return None
    return {**series, "specimens": len(series["specimens"])}


def _record(
    record: str, series: str, old: Record | None, new: Record | None, tell_old: Sequence[Tell], tell_new: Sequence[Tell]
) -> Iterator[Difference]:
    """What changed of a record; each `tell` says it in few digits and, where these hide the change, in all of them."""
    if old is None or new is None:
        kind, there = (ADDED, new or {}) if old is None else (REMOVED, old)
        words = _few((tell_new if old is None else tell_old)[0](there), there)
        yield Difference(kind, record, series, there["label"], "", *(("", words) if old is None else (words, "")))
        return
    if _but_count(old) == _but_count(new):
        return
    for before, after in zip(tell_old, tell_new, strict=True):
        was, now = before(old), after(new)
        if was != now:
            break
    for field in dict.fromkeys([*was, *now]):
        if was.get(field) != now.get(field):
            told = was.get(field, ""), now.get(field, "")
            yield Difference(CHANGED, record, series, old["label"], field, *told)


def _but_count(said: Record) -> Record:
    return {name: value for name, value in said.items() if name != "specimens"}


def _few(said: dict[str, str], record: Record) -> str:
    """A whole record in a few words."""
    words = [f"{name} {text}" for name, text in list(said.items())[:FEW]]
    if "specimens" in record:
        count = record["specimens"]
        words.append("1 specimen" if count == 1 else f"{count} specimens")
    return ", ".join(words)
