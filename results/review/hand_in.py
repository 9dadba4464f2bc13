"""A study handed in for review, and changes to one."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from django.contrib.auth.models import User
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.utils import timezone
from django.utils.formats import date_format

from results.evidence import Draft, Noticed
from results.intake.findings import has_errors
from results.intake.save import save
from results.models import Revision, Study, Upload, bump

from . import notify
from .document import document, packed, written
from .errors import ReviewError, Stale
from .replace import empty, replace

__all__ = [
    "ReviewError",
    "Stale",
    "change",
    "discard",
    "hand_in",
    "hand_in_draft",
    "locked",
    "newest",
    "newest_number",
    "plain",
    "waiting",
]

# States of a revision after which saying the same again says nothing new.
_STANDS = (Revision.State.SUBMITTED, Revision.State.ACCEPTED)


def newest(study: Study) -> Revision | None:
    """A study's newest revision, without its document; None for a draft that was never handed in."""
    return study.revisions.defer("document").order_by("-number").first()


def newest_number(study: Study) -> int:
    """The number of a study's newest revision, 0 if there is none: what a change made now is `based_on`."""
    found = newest(study)
    return found.number if found else 0


def waiting(study: Study) -> Revision | None:
    """The revision that waits for review, if one does; without its document."""
    return study.revisions.defer("document").filter(state=Revision.State.SUBMITTED).first()


def locked(study: Study) -> Study:
    """The study as it is now, and nobody else changes it until this transaction ends.

    Raises
    ------
    ReviewError
        If it is there no more.
    """
    found = Study.objects.select_for_update().filter(pk=study.pk).first()
    if found is None:
        raise ReviewError("This study is not there any more: its contributor took it back.")
    return found


def hand_in(
    draft: Draft,
    user: User | None,
    noticed: Iterable[Noticed],
    key: UUID | None = None,
    *,
    why: str = "",
) -> Study:
    """Save a new study for review: its contributor and reviewers read it, and it counts once one accepts it.

    Parameters
    ----------
    draft : Draft
        With its footings stated.
    user : User or None
        Who contributes it.
    noticed : iterable of Noticed
        What the checks noticed; kept with the study.
    key : UUID, optional
        Of the form or upload: handing in the same key twice saves once.
    why : str
        A word to the reviewer.

    Returns
    -------
    Study
        The saved study, submitted, with revision 1; the one saved first, if this key was saved before.

    Raises
    ------
    ValueError
        If a finding is an error.
    """
    noticed = list(noticed)
    with transaction.atomic():
        study = save(draft, user, noticed, key, status=Study.Status.SUBMITTED)
        if study is draft.study:
            notify.handed_in(_add(study, packed(document(draft, noticed)), user, why))
    return study


def change(
    study: Study,
    draft: Draft,
    user: User,
    noticed: Iterable[Noticed],
    *,
    why: str,
    based_on: int,
    restores: int | None = None,
) -> Revision:
    """Hand in a change to a study: a new revision, which waits for review.

    The records of a study that was never accepted change at once; those of an accepted one stay as they are until a
    reviewer accepts the revision. A revision that waited before is replaced.

    Parameters
    ----------
    study : Study
        Of this user's.
    draft : Draft
        What the study is to say, whole, with its footings stated.
    user : User
        Its contributor.
    noticed : iterable of Noticed
        What the checks noticed about the draft.
    why : str
        Why it is changed; an accepted study is changed with a reason only.
    based_on : int
        The number of the newest revision that its maker has seen, 0 if there was none: see `newest_number`.
    restores : int, optional
        The number of the revision that this goes back to.

    Returns
    -------
    Revision
        The new revision; the newest one, if that says the same and is not returned. So the same change sent twice
        is made once.

    Raises
    ------
    PermissionDenied
        If the user did not contribute the study.
    Stale
        If there is a newer revision than the one this is based on.
    ReviewError
        If the study is withdrawn, or accepted and no reason is given.
    ValueError
        If a finding is an error.
    """
    noticed = list(noticed)
    if has_errors(noticed):
        raise ValueError("A change with errors can't be handed in; mend them first.")
    why = plain(why)
    wanted = packed(document(draft, noticed))
    with transaction.atomic():
        study = _own(study, user)
        if study.status == Study.Status.WITHDRAWN:
            raise ReviewError("A withdrawn study can't be changed; hand in a new one.")
        last = newest(study)
        if last is not None and last.state in _STANDS and last.document_sha256 == wanted[1]:
            return last
        if (last.number if last else 0) != based_on:
            raise Stale(_newer(last))
        if study.status == Study.Status.ACCEPTED:
            if not why:
                raise ReviewError("The reason is blank; say why an accepted study is changed, for readers.")
        else:
            replace(study, draft, noticed)
            study.status = Study.Status.SUBMITTED
            study.save(update_fields=["status", "changed_at"])
        revision = _add(study, wanted, user, why, restores)
        notify.handed_in(revision)
    return revision


def hand_in_draft(study: Study, user: User) -> Revision:
    """Hand in a draft as it is, or a returned study without a change; twice is once.

    Raises
    ------
    PermissionDenied
        If the user did not contribute the study.
    ReviewError
        If the study is accepted or withdrawn.
    """
    with transaction.atomic():
        study = _own(study, user)
        last = newest(study)
        if study.status == Study.Status.SUBMITTED and last is not None:
            return last
        if study.is_public:
            raise ReviewError(f"This study is {study.get_status_display()} already.")
        study.status = Study.Status.SUBMITTED
        study.save(update_fields=["status", "changed_at"])
        revision = _add(study, packed(written(study)), user, "")
        notify.handed_in(revision)
    return revision


def discard(study: Study, user: User) -> None:
    """Delete a study that was never accepted, with all its revisions, photos and uploads; nothing of it is kept.

    Raises
    ------
    PermissionDenied
        If the user did not contribute the study.
    ReviewError
        If it is or was accepted: others may have used it, so that it can only be withdrawn.
    """
    with transaction.atomic():
        study = _own(study, user)
        if study.is_public or study.entries.exists():
            raise ReviewError("A study that was accepted stays; withdraw it instead, with a reason.")
        empty(study)
        Upload.objects.filter(study=study).delete()  # those of its changes go with the study itself
        study.delete()
        bump()


def _own(study: Study, user: User) -> Study:
    found = locked(study)
    if not found.is_of(user):
        raise PermissionDenied("Only who contributed a study may change it.")
    return found


def _add(study: Study, wanted: tuple[bytes, str], user: User | None, why: str, restores: int | None = None) -> Revision:
    """Write the study's next revision down; the one that waited waits no more."""
    study.revisions.filter(state=Revision.State.SUBMITTED).update(
        state=Revision.State.REPLACED, decided_at=timezone.now()
    )
    data, mark = wanted
    return Revision.objects.create(
        study=study,
        number=newest_number(study) + 1,
        made_by=user,
        why=plain(why),
        restores=restores,
        document=data,
        document_sha256=mark,
    )


def plain(text: str) -> str:
    """A text as it is kept: without what the database can't hold, and without blanks around it."""
    return text.replace("\0", "").strip()


def _newer(last: Revision | None) -> str:
    if last is None:
        return "This study has no revisions yet; read it again and make your change anew."
    at = date_format(last.made_at, "j F Y, H:i")
    return (
        f"{notify.name_of(last.made_by)} handed in revision {last.number} on {at} (UTC), after you began; nothing of "
        "yours was saved over it. Read that one, and make your change to it."
    )
