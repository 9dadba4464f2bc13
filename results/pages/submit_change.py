"""Changing a study of one's own: where it begins, what it changes, and what to do if somebody was quicker."""

from __future__ import annotations

from collections.abc import Iterable

from django.contrib.auth.models import User
from django.http import Http404
from django.shortcuts import get_object_or_404

from results.evidence import Draft, Noticed
from results.intake.findings import ERROR, Place
from results.intake.words import Words
from results.models import Revision, Study
from results.review.differences import differences
from results.review.document import Document, alike, document, draft_of, read, written
from results.review.hand_in import newest

from .revisions_shown import Compared
from .submit_again import fits, typed_again
from .submit_typed import Typed, number

DIFFERENCES_MOST = 200


def own_study(user: User, text: str) -> Study:
    """A study of one's own, by the number in an address.

    Raises
    ------
    Http404
        If it is no number, or there is no such study of theirs.
    """
    pk = number(text)
    if pk is None:
        raise Http404
    return get_object_or_404(Study, pk=pk, contributor=user)


def needs_why(study: Study) -> bool:
    """Whether a change to a study wants a reason: others may have read it."""
    return study.status != Study.Status.DRAFT


def begun_from(study: Study) -> tuple[Draft, int]:
    """What a study says in its newest revision, and the number of that: what a change begins from."""
    revision = _whole(newest(study))
    if revision is None or study.status != Study.Status.ACCEPTED:
        return Draft.of(study), revision.number if revision else 0
    return draft_of(read(revision), study), revision.number  # a change may wait that the records don't have yet


def typed_from(study: Study, words: Words) -> Typed | None:
    """The form filled in with what a study says, to be changed; None if it has no room for it."""
    draft, seen = begun_from(study)
    if not fits(draft):
        return None
    typed = typed_again(draft, words)
    typed.change, typed.based_on = study.pk, seen
    return typed


def without_why(study: Study, why: str, place: Place | None = None) -> tuple[Noticed, ...]:
    """What is wrong with a change that gives no reason."""
    if why.strip() or not needs_why(study):
        return ()
    return (
        Noticed(
            "missing",
            ERROR,
            "Why you change it is blank; it is needed.",
            "Say it in a few words, such as: the arm was measured wrongly.",
            field="why",
            place=place,
        ),
    )


def compared(study: Study, seen: int, draft: Draft, noticed: Iterable[Noticed] = ()) -> Compared:
    """What a change would change, against the revision it is based on.

    Parameters
    ----------
    study : Study
        As it is.
    seen : int
        Number of the newest revision that was seen, 0 for none.
    draft : Draft
        What it is to say.
    noticed : iterable of Noticed
        What was noticed about that.
    """
    return _told(said(study, seen), document(draft, noticed))


def said(study: Study, seen: int) -> Document:
    """What a study said in its revision of that number; what its records say, if there is none of it."""
    revision = study.revisions.filter(number=seen).first()
    return read(revision) if revision else written(study)


def since(study: Study, seen: int) -> Compared:
    """What was changed since a revision by whoever was quicker."""
    revision = _whole(newest(study))
    return _told(said(study, seen), read(revision) if revision else written(study))


def _whole(revision: Revision | None) -> Revision | None:
    """A revision with its document."""
    return Revision.objects.get(pk=revision.pk) if revision is not None else None


def _told(before: Document, after: Document) -> Compared:
    return Compared([] if alike(before, after) else differences(before, after), most=DIFFERENCES_MOST)


def told_new(study: Study) -> str:
    """What its contributor is told of a study that was handed in."""
    if study.status == Study.Status.ACCEPTED:
        return f"Handed in before: {study.title}. It was accepted since, and everybody can read it."
    return f"Handed in: {study.title}. You and reviewers can read it; it counts once a reviewer accepts it."


def told_change(study: Study) -> str:
    """What its contributor is told of a change that was handed in; `study` as it was before."""
    if study.status == Study.Status.ACCEPTED:
        return f"Your change to {study.title} waits for review; until then the study stays as it is."
    return f"Changed: {study.title}. It waits for review as it is now."
