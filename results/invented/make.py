"""An invented book of any size, in the database: as many accepted, sealed studies as somebody asks for."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from django.db import connection, transaction

from results.evidence import Draft, Noticed, as_findings, packing, state
from results.evidence.expect import Book
from results.models import Joint, Revision, Study, bump
from results.review import chain
from results.review.document import document, packed
from results.vocabulary import load_vocabulary

from . import bulk
from .draw import Drawer, Size, Words

WHY = "Invented, to try a book of this size."
# Specimens of one transaction, about; what is held in memory at a time.
AT_A_TIME = 5_000


class RealStudies(RuntimeError):
    """The book holds studies that somebody made."""


@dataclass(frozen=True)
class Made:
    """What was made, and what was there from a run before.

    Parameters
    ----------
    added, kept : int
        Studies.
    series, specimens : int
        Records of the studies that were added.
    """

    added: int
    kept: int
    series: int
    specimens: int


def make(
    studies: int,
    series: int,
    specimens: int,
    seed: int = 1,
    *,
    beside_real: bool = False,
    tell: Callable[[int, int], None] = lambda done, of: None,
) -> Made:
    """Make an invented book, a part a transaction; what a run before has made of the same book stays as it is.

    Parameters
    ----------
    studies, series, specimens : int
        How many studies, series of each, and specimens of each of these; studies that are taken from an invented
        publication have means instead of specimens.
    seed : int
        Another one makes another book.
    beside_real : bool
        Whether to do it where there are real studies.
    tell : callable
        Called with studies done and studies asked for.

    Returns
    -------
    Made

    Raises
    ------
    ValueError
        If a number is below 1.
    RealStudies
        If there are real studies, unless `beside_real`.
    """
    for name, value in {"studies": studies, "series-per-study": series, "specimens-per-series": specimens}.items():
        if value < 1:
            raise ValueError(f"{name} is {value}; it has to be 1 or more.")
    if seed < 0:
        raise ValueError(f"seed is {seed}; it has to be 0 or more.")
    if not beside_real and Study.objects.filter(invented=False).exists():
        raise RealStudies("This book holds real studies, and invented ones can't be taken out again by a command.")
    if not Joint.objects.exists():
        load_vocabulary()
    size = Size(series, specimens, seed)
    drawer = Drawer(Words(), size)
    added = kept = of_series = of_specimens = 0
    step = max(AT_A_TIME // (series * specimens), 1)
    for first in range(1, studies + 1, step):
        numbers = range(first, min(first + step, studies + 1))
        drafts = _part(drawer, numbers)
        added, kept = added + len(drafts), kept + len(numbers) - len(drafts)
        of_series += sum(len(one.series) for one in drafts)
        of_specimens += sum(len(own) for one in drafts for own in one.specimens.values())
        tell(numbers[-1], studies)
    if added:
        _analyze()
    return Made(added, kept, of_series, of_specimens)


@transaction.atomic
def _part(drawer: Drawer, numbers: Iterable[int]) -> list[Draft]:
    """Draw, work out and save some studies, those that are not there yet."""
    bump()  # first, so that whoever else adds to the chain waits, and no two runs make the same study
    keys = {drawer.size.key(number): number for number in numbers}
    there = Study.objects.filter(submission_key__in=keys).values_list("submission_key", flat=True)
    wanted = sorted(keys[key] for key in keys.keys() - set(there))
    drafts = [drawer.draw(number) for number in wanted]
    # As if all of them were handed in before any of them was accepted.
    book = Book.of([one for draft in drafts for one in draft.series])
    noticed = [state(draft, book) for draft in drafts]
    _save(drafts, noticed)
    return drafts


def _save(drafts: list[Draft], noticed: list[list[Noticed]]) -> None:
    studies = [draft.study for draft in drafts]
    bulk.add(studies)
    bulk.add([one for draft in drafts for one in draft.setups])
    bulk.add([one for draft in drafts for one in draft.series])
    bulk.add([one for draft in drafts for own in draft.specimens.values() for one in own])
    bulk.add([one for draft in drafts for one in draft.summaries.values()])
    bulk.add([one for draft in drafts for one in draft.footings])
    bulk.add([one for draft, found in zip(drafts, noticed, strict=True) for one in as_findings(draft, found)])
    revisions = [_revision(draft, found) for draft, found in zip(drafts, noticed, strict=True)]
    bulk.add(revisions)
    chain.append_all([(one.study, one) for one in revisions], WHY)
    packing.store([one.pk for one in studies])


def _revision(draft: Draft, noticed: list[Noticed]) -> Revision:
    data, mark = packed(document(draft, noticed))
    return Revision(
        study=draft.study,
        number=1,
        state=Revision.State.ACCEPTED,
        decided_at=draft.study.accepted_at,
        remarks=WHY,
        document=data,
        document_sha256=mark,
    )


def _analyze() -> None:
    """Let the database look at what it holds now, by which it chooses how to answer."""
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
