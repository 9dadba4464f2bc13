"""Leaving the book: what goes with an account and what stays without its name."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib.auth import get_user_model
from django.contrib.auth.models import User
from django.db import models, transaction
from rest_framework.authtoken.models import Token

from results.models import Answer, FormDraft, Photo, Plan, Question, Revision, Rig, Study, Upload, bump
from results.review import notify
from results.review.hand_in import discard

_PUBLIC = (Study.Status.ACCEPTED, Study.Status.WITHDRAWN)


@dataclass(frozen=True)
class Leaving:
    """What somebody who leaves takes out of the book, and what they leave in it.

    Parameters
    ----------
    stays, goes : list of Study
        Their studies that everybody may read, and the others.
    photos_stay, photos_go : int
        Photos on these.
    said : int
        Questions, doubts and answers of theirs; they stay, on studies that stay.
    changes : int
        Changes to studies that stay, waiting for review; they go.
    plans : list of Plan
        Plans they lodged; they stay, without a name.
    forms, rigs, uploads : int
        Forms that are being filled in, rigs and spreadsheets sent; they go.
    token : bool
        Whether there is a token, which goes.
    """

    stays: list[Study]
    goes: list[Study]
    photos_stay: int
    photos_go: int
    said: int
    changes: int
    plans: list[Plan]
    forms: int
    rigs: int
    uploads: int
    token: bool


def leaving(user: User) -> Leaving:
    """Tell what `leave` would do, and do nothing."""
    studies = list(Study.objects.filter(contributor=user).order_by("pk"))
    stays = [one for one in studies if one.status in _PUBLIC]
    goes = [one for one in studies if one.status not in _PUBLIC]
    asked = Question.objects.filter(asked_by=user).exclude(study__in=goes)
    answered = Answer.objects.filter(by=user).exclude(question__study__in=goes)
    return Leaving(
        stays=stays,
        goes=goes,
        photos_stay=Photo.objects.filter(study__in=stays).count(),
        photos_go=Photo.objects.filter(study__in=goes).count(),
        said=asked.count() + answered.count(),
        changes=_waiting(user).filter(study__in=stays).count(),
        plans=list(Plan.objects.filter(contributor=user).order_by("pk")),
        forms=FormDraft.objects.filter(user=user).count(),
        rigs=Rig.objects.filter(user=user).count(),
        uploads=Upload.objects.filter(user=user).count(),
        token=Token.objects.filter(user=user).exists(),
    )


def leave(user: User) -> None:
    """Delete an account and all that was never accepted of it, at once or not at all.

    Accepted and withdrawn studies stay, since others may have used them, without anybody's name; so do plans, which
    were promised to everybody, and what was asked, answered and decided. Files of photos and uploads go with their
    rows, once these are gone for certain.
    """
    with transaction.atomic():
        # Whatever else this person does meanwhile waits, and then finds nobody to do it for.
        user = get_user_model()._default_manager.select_for_update().get(pk=user.pk)
        goes = Study.objects.filter(contributor=user).exclude(status__in=_PUBLIC)
        for study in goes:
            discard(study, user)
        notify.forget(user)
        _waiting(user).delete()
        user.delete()
        bump()  # the studies that stay are shown otherwise


def _waiting(user: User) -> models.QuerySet[Revision]:
    return Revision.objects.filter(made_by=user, state=Revision.State.SUBMITTED)
