"""A draft into the database, all or nothing."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from django.utils import timezone

from results.evidence import Draft, Noticed, as_findings, packing
from results.models import Finding, Series, SeriesFooting, Setup, Specimen, Study, Summary, bump
from results.models.rows import AT_A_TIME

from .findings import has_errors


def save(
    draft: Draft,
    user: User | None,
    noticed: Iterable[Noticed],
    key: UUID | None = None,
    *,
    status: str,
) -> Study:
    """Save a whole study in one transaction, with the status asked for.

    `results.review.hand_in` saves what is handed in for review, and writes down its first revision with it.

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
        A draft is read by nobody but its contributor, what is submitted by reviewers too.

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


def _save_all(draft: Draft, user: User | None, noticed: list[Noticed], status: str) -> None:
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
    specimens = [one for found in draft.specimens.values() for one in found]
    Specimen.objects.bulk_create(specimens, batch_size=AT_A_TIME)
    Summary.objects.bulk_create(draft.summaries.values())
    SeriesFooting.objects.bulk_create(draft.footings, batch_size=AT_A_TIME)
    Finding.objects.bulk_create(as_findings(draft, noticed), batch_size=AT_A_TIME)
    packing.store([study.pk])
    bump()
