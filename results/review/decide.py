"""What a reviewer decides, and withdrawing."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.utils import timezone

from results.models import Entry, Revision, Study, reviews

from . import chain, notify
from .document import examined, read
from .errors import Decided, ReviewError
from .hand_in import locked, plain
from .replace import replace

__all__ = ["Decided", "ReviewError", "accept", "may_decide", "send_back", "withdraw"]


def may_decide(revision: Revision, user: User) -> bool:
    """Whether this person may decide on a revision: a reviewer who had no part in making it."""
    return reviews(user) and user.pk not in (revision.made_by_id, revision.study.contributor_id)


@transaction.atomic
def accept(revision: Revision, reviewer: User, remarks: str = "") -> Revision:
    """Make the study say what a revision says, let it count, and seal that in the chain.

    Parameters
    ----------
    revision : Revision
        One that waits.
    reviewer : User
        Who accepts it.
    remarks : str
        Why, for the contributor and for readers.

    Returns
    -------
    Revision
        As it is now; accepting it a second time changes nothing.

    Raises
    ------
    PermissionDenied
        If this person may not decide on it, see `may_decide`.
    Decided
        If it doesn't wait any more.
    ReviewError
        If its document can't be read, or says a word that is no longer in the vocabulary.
    """
    study, revision = _open(revision, reviewer)
    if revision.state == Revision.State.ACCEPTED and revision.decided_by_id == reviewer.pk:
        return revision
    _waits(revision)
    draft, noticed = examined(read(revision), study)
    replace(study, draft, noticed)
    now = timezone.now()
    if study.status != Study.Status.ACCEPTED:
        study.status, study.accepted_at = Study.Status.ACCEPTED, now
    study.save(update_fields=["status", "accepted_at", "changed_at"])
    _decide(revision, Revision.State.ACCEPTED, reviewer, remarks, now)
    chain.append(study, revision, Entry.What.ACCEPTED, reviewer, revision.remarks)
    notify.decided(revision)
    return revision


@transaction.atomic
def send_back(revision: Revision, reviewer: User, remarks: str) -> Revision:
    """Return a revision to its contributor with what is to be mended; an accepted study stays as it is.

    Raises
    ------
    PermissionDenied
        If this person may not decide on it, see `may_decide`.
    Decided
        If it doesn't wait any more.
    ReviewError
        If there are no remarks.
    """
    study, revision = _open(revision, reviewer)
    _waits(revision)
    if not plain(remarks):
        raise ReviewError("The remarks are blank; say what is to be mended.")
    if study.status == Study.Status.SUBMITTED:
        study.status = Study.Status.RETURNED
        study.save(update_fields=["status", "changed_at"])
    _decide(revision, Revision.State.RETURNED, reviewer, remarks, timezone.now())
    notify.decided(revision)
    return revision


@transaction.atomic
def withdraw(study: Study, user: User, reason: str) -> Study:
    """Take an accepted study out of the statistics; it stays readable as withdrawn, with the reason.

    Parameters
    ----------
    study : Study
        The study; it is brought up to date.
    user : User
        Its contributor, or a reviewer.
    reason : str
        Why, for readers.

    Raises
    ------
    PermissionDenied
        If the user is neither.
    ReviewError
        If no reason is given, or the study is not accepted.
    """
    found = locked(study)
    if not found.is_of(user) and not reviews(user):
        raise PermissionDenied("Only who contributed a study may withdraw it, or a reviewer.")
    if found.status == Study.Status.WITHDRAWN:
        raise ReviewError("This study is withdrawn already.")
    if found.status != Study.Status.ACCEPTED:
        raise ReviewError("This study was never accepted; whoever contributed it can take it back instead.")
    reason = plain(reason)
    if not reason:
        raise ReviewError("The reason is blank; say why the study is withdrawn, so that readers understand.")
    waiting = found.revisions.filter(state=Revision.State.SUBMITTED)
    waiting.update(
        state=Revision.State.RETURNED, decided_at=timezone.now(), remarks=f"The study was withdrawn: {reason}"
    )
    study.status, study.withdrawn_reason = Study.Status.WITHDRAWN, reason
    study.save(update_fields=["status", "withdrawn_reason", "changed_at"])  # raises the data version with it
    chain.append(study, None, Entry.What.WITHDRAWN, user, reason)
    notify.withdrawn(study, user)
    return study


def _open(revision: Revision, reviewer: User) -> tuple[Study, Revision]:
    """The study, locked, and the revision as it is now, for somebody who may decide on it."""
    study = locked(revision.study)
    found = study.revisions.get(pk=revision.pk)
    found.study = study
    if not reviews(reviewer):
        raise PermissionDenied("Only reviewers decide on what was handed in.")
    if not may_decide(found, reviewer):
        raise PermissionDenied("Nobody reviews what they contributed or changed themselves.")
    return study, found


def _waits(revision: Revision) -> None:
    if revision.state == Revision.State.SUBMITTED:
        return
    by = f" by {notify.name_of(revision.decided_by)}" if revision.state != Revision.State.REPLACED else ""
    raise Decided(f"Revision {revision.number} no longer waits: it was {revision.get_state_display()}{by}.")


def _decide(revision: Revision, state: str, reviewer: User, remarks: str, at: datetime) -> None:
    revision.state, revision.decided_by, revision.remarks = state, reviewer, plain(remarks)
    revision.decided_at = at
    revision.save(update_fields=["state", "decided_by", "decided_at", "remarks"])
