"""Who is told of what: notices, which a page, a feed and a digest by e-mail then show."""

from __future__ import annotations

import re
from collections.abc import Iterable

from django.contrib.auth import get_user_model
from django.contrib.auth.models import User
from django.db.models import QuerySet
from django.urls import reverse
from django.utils import timezone

from results.models import Answer, Notice, Question, Revision, Study

WHAT = Notice.What
LEFT = "somebody who has left"
# How notices say who did something: a name holds no colon, but may hold full stops, and may begin as another does.
_DONE = "handed in for review|accepted|returned with remarks|withdrawn|raised|asked|answered|resolved"
_DONE_BY = re.compile(rf"” was (?:{_DONE}) by (?P<name>[^:\n]+?)(?=\.\Z|: )")


def tell(users: Iterable[User | None], study: Study, what: str, text: str, address: str) -> None:
    """Tell some people that something happened; call it in the transaction in which it happens.

    Parameters
    ----------
    users : iterable of User or None
        Each is told once; None is somebody who has left.
    study : Study
        What it is about.
    what : str
        One of `Notice.What`.
    text : str
        What happened, as a sentence.
    address : str
        The page to go to, from the host on.
    """
    known = {user.pk: user for user in users if user is not None and user.is_active}
    Notice.objects.bulk_create(
        Notice(user=user, study=study, what=what, text=text, address=address) for user in known.values()
    )


def name_of(user: User | None) -> str:
    """How a person is called before others."""
    return user.get_username() if user is not None else LEFT


def called(user: User | None, study: Study) -> str:
    """How a person is called beside a study: a contributor's own name isn't shown with it."""
    return "the contributor" if user is not None and user.pk == study.contributor_id else name_of(user)


def reviewers() -> QuerySet[User]:
    """Everybody who may review."""
    # The permission is kept by this back end, whatever others let people log in.
    return get_user_model()._default_manager.with_perm(
        "results.review_study", backend="django.contrib.auth.backends.ModelBackend"
    )


def handed_in(revision: Revision) -> None:
    """Tell the reviewers that something waits; but not of what was replaced by it."""
    study = revision.study
    _settle(study)
    own = {revision.made_by_id, study.contributor_id}
    maker = name_of(revision.made_by)
    first = f"A change to “{study}”" if study.status == Study.Status.ACCEPTED else f"“{study}”"
    tell(
        (user for user in reviewers() if user.pk not in own),
        study,
        WHAT.SUBMITTED,
        f"{first} was handed in for review by {maker}.",
        reverse("review:revision", args=[revision.pk]),
    )


def decided(revision: Revision) -> None:
    """Tell who contributed it what the reviewer made of it, in the reviewer's words."""
    study = revision.study
    _settle(study)
    accepted = revision.state == Revision.State.ACCEPTED
    what = f"“{study}”" if revision.number == 1 else f"Revision {revision.number} of “{study}”"
    outcome = "was accepted" if accepted else "was returned with remarks"
    text = f"{what} {outcome} by {name_of(revision.decided_by)}{_words(revision.remarks)}"
    people = _but(revision.decided_by, study.contributor, revision.made_by)
    tell(people, study, WHAT.ACCEPTED if accepted else WHAT.RETURNED, text, study.get_absolute_url())


def withdrawn(study: Study, by: User) -> None:
    """Tell who contributed it that a reviewer took it back, and why."""
    _settle(study)
    text = f"“{study}” was withdrawn by {name_of(by)}{_words(study.withdrawn_reason)}"
    tell(_but(by, study.contributor), study, WHAT.WITHDRAWN, text, study.get_absolute_url())


def asked(question: Question) -> None:
    """Tell the contributor of a question or a doubt."""
    doubt = question.kind == Question.Kind.DOUBT
    text = f"{_what(question)} was {'raised' if doubt else 'asked'} by {name_of(question.asked_by)}"
    people = _but(question.asked_by, question.study.contributor)
    tell(people, question.study, question.kind, text + _words(question.text), _at(question))


def answered(answer: Answer) -> None:
    """Tell who asked, and the contributor if somebody else answered."""
    question = answer.question
    text = f"{_what(question)} was answered by {called(answer.by, question.study)}{_words(answer.text)}"
    people = _but(answer.by, question.asked_by, question.study.contributor)
    tell(people, question.study, WHAT.ANSWER, text, _at(question))


def resolved(question: Question) -> None:
    """Tell who asked and the contributor how it was resolved."""
    text = f"{_what(question)} was resolved by {name_of(question.resolved_by)}{_words(question.resolution)}"
    people = _but(question.resolved_by, question.asked_by, question.study.contributor)
    tell(people, question.study, WHAT.RESOLVED, text, _at(question))


def forget(user: User) -> None:
    """Take the name of somebody who leaves out of what others were told; call it before the account is deleted."""
    for study in Study.objects.filter(revisions__made_by=user, revisions__state=Revision.State.SUBMITTED):
        _settle(study)  # what waited of theirs goes with them
    told = []
    for one in Notice.objects.filter(text__contains=f" by {user.get_username()}").select_related("study"):
        found = _doer(one)
        if found is not None and found["name"] == user.get_username():
            one.text = f"{one.text[: found.start('name')]}{LEFT}{one.text[found.end('name') :]}"
            told.append(one)
    Notice.objects.bulk_update(told, ["text"], batch_size=500)


def _doer(notice: Notice) -> re.Match[str] | None:
    """Where a notice names who did it: once, behind the study's title and before what somebody said."""
    found, title = _DONE_BY.search(notice.text), f"“{notice.study}”"
    at = notice.text.find(title)
    if found is not None and 0 <= at < found.start():  # the title itself may say such things
        found = _DONE_BY.search(notice.text, at + len(title) - 1)
    return found


def _what(question: Question) -> str:
    about = f"{question.about} of “{question.study}”" if question.about else f"“{question.study}”"
    return f"A {question.kind} about {about}"


def _but(doer: User | None, *people: User | None) -> list[User | None]:
    """Nobody is told of what they did themselves."""
    return [one for one in people if one is not None and one != doer]


def _at(question: Question) -> str:
    return f"{question.study.get_absolute_url()}#question-{question.pk}"


def _words(said: str) -> str:
    """What somebody said, to end a sentence with."""
    said = said.strip()
    return f": {said}" if said else "."


def _settle(study: Study) -> None:
    """What waited for a reviewer waits no more: who was told already needn't look, who was not needn't be told."""
    waiting = Notice.objects.filter(study=study, what=WHAT.SUBMITTED, seen_at=None)
    waiting.filter(sent_at=None).delete()
    waiting.update(seen_at=timezone.now())
