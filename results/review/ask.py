"""Questions on a study and doubts about its records: asked, answered, resolved; each in one transaction."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from django.contrib.auth import get_user_model
from django.contrib.auth.models import User
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.utils import timezone

from results.models import Answer, Question, Series, Specimen, Study, reviews

from . import notify
from .errors import ReviewError

TEXT_MOST = 2_000
HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)
# What one person may write in an hour; a contributor answers more than others ask.
MOST_QUESTIONS, MOST_ANSWERS = 20, 60


class TooMany(ReviewError):
    """Somebody wrote too much in an hour."""


class Closed(ReviewError):
    """A question that was resolved meanwhile."""


class NoSuchRecord(ReviewError):
    """A label that no series or specimen of the study has."""


@dataclass(frozen=True)
class Target:
    """What a question is about: a series, one of its specimens, or the study as a whole."""

    series: Series | None = None
    specimen: Specimen | None = None

    def __str__(self) -> str:
        if self.specimen is not None:
            return f"specimen {self.series}/{self.specimen}"
        return f"series {self.series}" if self.series is not None else ""


def find_target(study: Study, typed: str) -> Target:
    """The record that somebody means by a label.

    Parameters
    ----------
    study : Study
    typed : str
        A series' label; or a series' and a specimen's with a slash between; nothing for the study as a whole.

    Raises
    ------
    NoSuchRecord
        If there is none, or more than one.
    """
    typed = typed.strip()
    if not typed:
        return Target()
    series = {one.label: one for one in study.series.all()}
    found = _called(series, typed)
    kind, _, label = typed.partition(" ")
    if not found and label and kind.casefold() in ("series", "specimen"):
        # As this book itself writes it, which also tells a series from a specimen of the same name.
        found = [one for one in _called(series, label) if (one.specimen is None) == (kind.casefold() == "series")]
    if len(found) == 1:
        return found[0]
    if found:
        raise NoSuchRecord(f"“{typed}” may be {' or '.join(map(str, found[:4]))}; write the one you mean like that.")
    names = ", ".join(list(series)[:8]) + (" ..." if len(series) > 8 else "")
    raise NoSuchRecord(
        f"“{typed}” is no series or specimen of this study. Its series: {names or 'none'}. "
        "Write a series as it is called there, a specimen as series/specimen, or leave it blank for the whole study."
    )


def _called(series: dict[str, Series], typed: str) -> list[Target]:
    """All that this may mean. Labels may hold slashes themselves, so each of them may be the one that divides."""
    found = [Target(one) for one in _alike(series, typed)]
    for at, letter in enumerate(typed):
        if letter == "/":
            for one in _alike(series, typed[:at].strip()):
                found += [Target(one, each) for each in _specimens(one, typed[at + 1 :].strip())]
    return found


def _alike(known: dict[str, Series], label: str) -> list[Series]:
    """The one that is written so; failing that, those that are but for capitals."""
    if label in known:
        return [known[label]]
    return [one for name, one in known.items() if name.casefold() == label.casefold()]


def _specimens(series: Series, label: str) -> list[Specimen]:
    found = list(series.specimens.filter(label=label)) or list(series.specimens.filter(label__iexact=label)[:2])
    for one in found:
        one.series = series
    return found


def may_ask(study: Study, user: User) -> bool:
    """Everybody signed in, on what everybody may read; a contributor changes the study instead."""
    return user.is_authenticated and study.is_public and not study.is_of(user)


def may_answer(question: Question, user: User) -> bool:
    """The contributor, who asked, and reviewers."""
    if not user.is_authenticated:
        return False
    return user.pk in (question.study.contributor_id, question.asked_by_id) or reviews(user)


def may_resolve(question: Question, user: User) -> bool:
    """Who asked, and reviewers; never who contributed the study, whom the question is put to."""
    if not user.is_authenticated or question.study.is_of(user):
        return False
    return user.pk == question.asked_by_id or reviews(user)


@transaction.atomic
def ask(study: Study, user: User, kind: str, text: str, target: Target) -> Question:
    """Put a question on a study, or raise a doubt.

    Parameters
    ----------
    study : Study
    user : User
        Who asks.
    kind : {"question", "doubt"}
    text : str
        What is asked.
    target : Target
        Which of the study's records it is about.

    Returns
    -------
    Question
        The one asked before, if the same was asked within a minute: a form sent twice asks once.

    Raises
    ------
    PermissionDenied
        If the user contributed the study, or not everybody may read it.
    TooMany
        If the user asked `MOST_QUESTIONS` within the hour.
    """
    if not may_ask(study, user):
        raise PermissionDenied("Questions are asked by others, on studies that everybody may read.")
    _one_at_a_time(user)
    now = timezone.now()
    lately = Question.objects.filter(asked_by=user, asked_at__gt=now - HOUR)
    same = lately.filter(
        study=study, kind=kind, text=text, about=str(target), asked_at__gt=now - MINUTE, state=Question.State.OPEN
    ).first()
    if same is not None:
        return same
    if lately.count() >= MOST_QUESTIONS:
        raise TooMany(_too_many(MOST_QUESTIONS, "questions"))
    question = Question.objects.create(
        study=study,
        series=target.series,
        specimen=target.specimen,
        kind=kind,
        text=text,
        about=str(target),
        asked_by=user,
    )
    notify.asked(question)
    return question


@transaction.atomic
def answer(question: Question, user: User, text: str) -> Answer:
    """Answer a question.

    Returns
    -------
    Answer
        The one given before, if the same was said within a minute.

    Raises
    ------
    PermissionDenied
        If the user is neither the contributor nor who asked nor a reviewer.
    Closed
        If it was resolved meanwhile.
    TooMany
        If the user gave `MOST_ANSWERS` within the hour.
    """
    if not may_answer(question, user):
        raise PermissionDenied("The contributor, who asked, and reviewers answer.")
    _one_at_a_time(user)
    question = _open(question)
    now = timezone.now()
    lately = Answer.objects.filter(by=user, at__gt=now - HOUR)
    same = lately.filter(question=question, text=text, at__gt=now - MINUTE).first()
    if same is not None:
        return same
    if lately.count() >= MOST_ANSWERS:
        raise TooMany(_too_many(MOST_ANSWERS, "answers"))
    said = Answer.objects.create(question=question, by=user, text=text)
    notify.answered(said)
    return said


@transaction.atomic
def resolve(question: Question, user: User, how: str) -> Question:
    """Mark a question as resolved, and say how; it stays to be read.

    Raises
    ------
    PermissionDenied
        If the user neither asked it nor is a reviewer, or contributed the study.
    Closed
        If it was resolved meanwhile.
    """
    if not may_resolve(question, user):
        raise PermissionDenied("Who asked, or a reviewer, resolves; not who contributed the study.")
    try:
        question = _open(question)
    except Closed:
        question.refresh_from_db()
        if (question.resolved_by_id, question.resolution) == (user.pk, how):  # sent twice
            return question
        raise
    question.state, question.resolution = Question.State.RESOLVED, how
    question.resolved_by, question.resolved_at = user, timezone.now()
    question.save(update_fields=["state", "resolution", "resolved_by", "resolved_at"])
    notify.resolved(question)
    return question


def _open(question: Question) -> Question:
    """The question as it is now, held until the transaction ends."""
    found = Question.objects.select_for_update(of=("self",)).select_related("study").get(pk=question.pk)
    if found.state != Question.State.OPEN:
        raise Closed(f"It was resolved meanwhile, by {notify.name_of(found.resolved_by)}.")
    return found


def _one_at_a_time(user: User) -> None:
    """Two of one person's forms wait for each other, so that what is counted stays so."""
    list(get_user_model()._default_manager.select_for_update(no_key=True).filter(pk=user.pk).values_list("pk"))


def _too_many(most: int, what: str) -> str:
    return f"You wrote {most} {what} within the last hour, which is the most; send this one a little later."
