"""A draft into the database, all or nothing; and a study out of the statistics again."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from django.contrib.auth.models import AbstractBaseUser
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction
from django.utils import timezone

from results.evidence import Draft, Noticed
from results.models import Finding, Series, SeriesFooting, Setup, Specimen, Study, Summary

from .findings import has_errors


def save(draft: Draft, user: AbstractBaseUser | None, noticed: Iterable[Noticed], key: UUID | None = None) -> Study:
    """Save a whole study in one transaction; it counts at once.

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
            _save_all(draft, user, noticed)
    except IntegrityError:
        # Two tabs, one key: the other was quicker. Anything else is a fault of ours and must be seen.
        before = Study.objects.filter(submission_key=key).first() if key else None
        if before is None:
            raise
        return before
    return draft.study


def _save_all(draft: Draft, user: AbstractBaseUser | None, noticed: list[Noticed]) -> None:
    study = draft.study
    study.contributor = user
    study.status = Study.Status.ACCEPTED
    study.accepted_at = timezone.now()
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
    Finding.objects.bulk_create(_findings(draft, noticed))


def _findings(draft: Draft, noticed: list[Noticed]) -> list[Finding]:
    series = {one.label: one for one in draft.series}
    specimens = {
        (label, one.label): one for label in {one.series for one in noticed} for one in draft.specimens.get(label, [])
    }
    return [
        Finding(
            study=draft.study,
            series=series.get(one.series),
            specimen=specimens.get((one.series, one.specimen)),
            code=one.code[:40],
            severity=one.severity,
            field=one.field[:60],
            value=one.value[:200],
            message=one.message,
            remedy=one.remedy,
        )
        for one in noticed
    ]


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
    study.save(update_fields=["status", "withdrawn_reason", "changed_at"])
    return study
