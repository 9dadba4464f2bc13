"""A draft into the database, all or nothing; and a study out of the statistics again."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from django.contrib.auth.models import AbstractBaseUser
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction
from django.utils import timezone

from results.evidence import Draft, Noticed, as_findings, packing
from results.models import Finding, Series, SeriesFooting, Setup, Specimen, Study, Summary, bump

from .findings import has_errors


def save(
    draft: Draft,
    user: AbstractBaseUser | None,
    noticed: Iterable[Noticed],
    key: UUID | None = None,
    *,
    status: str = Study.Status.ACCEPTED,
) -> Study:
    """Save a whole study in one transaction; it counts at once, unless another status is asked for.

    Parameters
    ----------
    draft : Draft
        From `build`, with its footings stated.
    user : User or None
        Who contributes it.
    noticed : iterable of Noticed
        What the checks noticed; kept with the study.
    key : UUID, optional
        Of the form or upload: saving the same key twice saves once.
    status : str
        A draft is read by nobody but its contributor.

    Returns
    -------
    Study
        The saved study; the one saved first, if this key was saved before.

    Raises
    ------
    ValueError
        If a finding is an error.
    """
    noticed = list(noticed)
    if has_errors(noticed):
        raise ValueError("A submission with errors can't be saved; mend them first.")
    if key is not None:
        before = Study.objects.filter(submission_key=key).first()
        if before is not None:
            return before
        draft.study.submission_key = key
    try:
        with transaction.atomic():
            _save_all(draft, user, noticed, status)
    except IntegrityError:
        # Two tabs, one key: the other was quicker. Anything else is a fault of ours and must be seen.
        before = Study.objects.filter(submission_key=key).first() if key else None
        if before is None:
            raise
        return before
    return draft.study


def _save_all(draft: Draft, user: AbstractBaseUser | None, noticed: list[Noticed], status: str) -> None:
    study = draft.study
    study.contributor = user
    study.status = status
    study.accepted_at = timezone.now() if status == Study.Status.ACCEPTED else None
    study.save(force_insert=True)
    Setup.objects.bulk_create(draft.setups)
    # A series can't point at a control that has no number yet.
    controls = {one.label: one.control for one in draft.series if one.control is not None}
    for one in draft.series:
        one.control = None
    Series.objects.bulk_create(draft.series)
    for one in draft.series:
        one.control = controls.get(one.label)
    if controls:
        Series.objects.bulk_update([one for one in draft.series if one.label in controls], ["control"])
    Specimen.objects.bulk_create(one for found in draft.specimens.values() for one in found)
    Summary.objects.bulk_create(draft.summaries.values())
    SeriesFooting.objects.bulk_create(draft.footings)
    Finding.objects.bulk_create(as_findings(draft, noticed))
    packing.store([study.pk])
    bump()


def withdraw(study: Study, user: AbstractBaseUser, reason: str) -> Study:
    """Take a study out of the statistics; it stays readable as withdrawn, with the reason.

    Parameters
    ----------
    study : Study
        The study.
    user : User
        Who withdraws it: its contributor, and nobody else.
    reason : str
        Why, for readers.

    Raises
    ------
    PermissionDenied
        If the user did not contribute the study.
    ValueError
        If no reason is given.
    """
    if study.contributor_id is None or study.contributor_id != user.pk:
        raise PermissionDenied("Only who contributed a study may withdraw it.")
    reason = reason.replace("\0", "").strip()
    if not reason:
        raise ValueError("The reason is blank; say why the study is withdrawn, so that readers understand.")
    study.status = Study.Status.WITHDRAWN
    study.withdrawn_reason = reason
    with transaction.atomic():  # saving the record raises the data version with it
        study.save(update_fields=["status", "withdrawn_reason", "changed_at"])
    return study
