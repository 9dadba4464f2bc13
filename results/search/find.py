"""Looking through the vocabulary, the public studies, the lodged plans and the site's own pages."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from django.db import connection
from django.db.models import Count

from results.models import AdhesiveClass, Joint, Study, Timber

from .nearest import suggestions
from .plans import found_plans
from .studies import found_studies
from .words import Part, Sought, marked, snippet, spaced, words

KINDS = {
    "joints": "Joints",
    "timbers": "Timbers",
    "glues": "Glues",
    "studies": "Studies",
    "workshops": "Workshops",
    "plans": "Plans",
    "pages": "Pages",
}
"""What can be found, in the order it is shown."""


@dataclass(frozen=True)
class Hit:
    """One thing found.

    Parameters
    ----------
    kind, key : str
        What it is, and its code, number or name; for a page its address.
    title, beside, text : tuple of Part
        Its name, its other names, and the words around those asked for.
    record : object
        The record; for a workshop how many public studies it has; nothing for a page.
    """

    kind: str
    key: str
    title: tuple[Part, ...]
    beside: tuple[Part, ...]
    text: tuple[Part, ...]
    record: Any


@dataclass(frozen=True)
class SitePage:
    """A page of the site itself.

    Parameters
    ----------
    address, name : str
        Where it is, and what it is called.
    beside, says : str
        What else people call it or look for, and what it does.
    """

    address: str
    name: str
    beside: str
    says: str


@dataclass(frozen=True)
class Group:
    """All of one kind that was found, of which any stretch can be had."""

    kind: str
    count: int
    stretch: Callable[[int, int], list[Hit]]

    # What a paginator asks of a list.

    def __len__(self) -> int:
        return self.count

    def __getitem__(self, part: slice) -> list[Hit]:
        return self.stretch(part.start or 0, self.count if part.stop is None else part.stop)

    @property
    def name(self) -> str:
        return KINDS[self.kind]


@dataclass(frozen=True)
class Found:
    """What was found, group by group; without anything, what may have been meant."""

    groups: tuple[Group, ...]
    suggestions: tuple[str, ...]

    @property
    def count(self) -> int:
        return sum(group.count for group in self.groups)


@dataclass(frozen=True)
class _Entry:
    """Something with a name that is searched in memory; the vocabulary is small."""

    kind: str
    key: str
    name: str
    beside: str
    text: str
    record: Any
    # Searched and not shown.
    more: str = ""


def find(asked: Sought, pages: Iterable[SitePage] = ()) -> Found:
    """Look for words among the joints, timbers, glues, public studies, their workshops, lodged plans and pages.

    Parameters
    ----------
    asked : Sought
        See `words.sought`.
    pages : iterable of SitePage, optional
        The site's own pages.

    Returns
    -------
    Found
        The groups that have anything. Within each, what has all words in its name comes first.

    Notes
    -----
    Drafts and submissions that nobody has accepted are not looked at, whoever asks.
    """
    if not asked:
        return Found((), ())
    entries = [*_entries(), *(_Entry("pages", one.address, one.name, "", one.says, None, one.beside) for one in pages)]
    by_kind: dict[str, list[_Entry]] = {kind: [] for kind in KINDS}
    for entry, _ in sorted(_ranked(asked, entries), key=lambda pair: pair[1]):
        by_kind[entry.kind].append(entry)
    others = {"studies": _of_studies, "plans": _of_plans}
    groups = [others[kind](asked) if kind in others else _of_entries(asked, kind, by_kind[kind]) for kind in KINDS]
    there = tuple(group for group in groups if group.count)
    nearest = () if there else tuple(suggestions(asked, (f"{one.name} {one.beside}" for one in entries)))
    return Found(there, nearest)


def _entries() -> Iterator[_Entry]:
    for joint in Joint.objects.select_related("family").order_by("family__position", "position", "code"):
        more = f"{joint.family.name} {joint.code}"
        yield _Entry("joints", joint.pk, joint.name, joint.also_known_as, joint.description, joint, more)
    for timber in Timber.objects.only("code", "name", "scientific_name", "description", "group").order_by("name"):
        yield _Entry(
            "timbers", timber.pk, timber.name, timber.scientific_name, timber.description, timber, timber.group
        )
    for glue in AdhesiveClass.objects.order_by("position", "code"):
        yield _Entry("glues", glue.pk, glue.name, "", glue.description, glue, f"{glue.en204} {glue.code}")
    shops = Study.objects.public().order_by().values_list("workshop").annotate(n=Count("pk"))
    for name, studies in sorted(shops):
        yield _Entry("workshops", name, name, "", "", studies)


def _ranked(asked: Sought, entries: Iterable[_Entry]) -> Iterator[tuple[_Entry, int]]:
    """What answers, and how near: its very name, all in its name, all in its names, or with its text."""
    exact = words(asked.typed)
    for entry in entries:
        if not asked.is_in(spaced(entry.name, entry.beside, entry.text, entry.more)):
            continue
        if words(entry.name) == exact:
            yield entry, 0
        elif asked.is_in(spaced(entry.name)):
            yield entry, 1
        else:
            yield entry, 2 if asked.is_in(spaced(entry.name, entry.beside)) else 3


def _of_entries(asked: Sought, kind: str, entries: list[_Entry]) -> Group:
    def stretch(start: int, stop: int) -> list[Hit]:
        return [
            Hit(
                kind,
                one.key,
                marked(one.name, asked.terms),
                marked(one.beside, asked.terms),
                snippet(one.text, asked.terms),
                one.record,
            )
            for one in entries[start:stop]
        ]

    return Group(kind, len(entries), stretch)


def _of_studies(asked: Sought) -> Group:
    count, some = found_studies(asked, postgresql=connection.vendor == "postgresql")

    def stretch(start: int, stop: int) -> list[Hit]:
        return [
            Hit(
                "studies",
                str(one.pk),
                marked(one.title, asked.terms),
                marked(one.workshop, asked.terms),
                _said(asked, one),
                one,
            )
            for one in some(start, stop)
        ]

    return Group("studies", count, stretch)


def _of_plans(asked: Sought) -> Group:
    count, some = found_plans(asked)

    def stretch(start: int, stop: int) -> list[Hit]:
        return [
            Hit(
                "plans",
                str(one.pk),
                marked(one.title, asked.terms),
                marked(one.planned["workshop"], asked.terms),
                snippet(one.question, asked.terms),
                one,
            )
            for one in some(start, stop)
        ]

    return Group("plans", count, stretch)


def _said(asked: Sought, study: Study) -> tuple[Part, ...]:
    """What the study says of the words: its question, or whichever text has them."""
    texts = (study.question, study.notes, study.citation)
    for text in texts:
        found = snippet(text, asked.terms)
        if any(part.marked for part in found):
            return found
    return snippet(study.question, asked.terms)
