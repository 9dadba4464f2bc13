"""Questions and doubts on a study's page: what was asked, and the forms to ask, answer and resolve."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from results.models import Answer, Question, Study
from results.review import ask as asking
from results.review.notify import called

from .prose import Prose
from .signed_out import to_login, typed_before

FIELDS = ("kind", "about", "text")
# Series whose names the form offers; any other may be typed.
MOST_OFFERED = 200


class AskForm(forms.Form):
    """A question, or a doubt, about a study or one of its records."""

    kind = forms.ChoiceField(
        label="What is it?",
        choices=[
            ("question", "a question"),
            ("doubt", "a doubt: something looks wrong"),
        ],
        error_messages={"invalid_choice": "“%(value)s” is neither a question nor a doubt; choose one."},
    )
    about = forms.CharField(
        label="About",
        required=False,
        max_length=200,
        help_text="A series by its name, or a specimen as series/specimen. Blank: the study as a whole.",
    )
    text = Prose(most=asking.TEXT_MOST, label="In your words")

    def __init__(self, study: Study, data: QueryDict | dict[str, str] | None = None, **kwargs: Any) -> None:
        super().__init__(data, auto_id="ask-%s", **kwargs)
        self.study = study
        self.offered = list(study.series.values_list("label", flat=True)[:MOST_OFFERED])
        self.fields["about"].widget.attrs |= {"list": "ask-series", "autocomplete": "off"}

    def clean_about(self) -> asking.Target:
        try:
            return asking.find_target(self.study, self.cleaned_data["about"])
        except asking.NoSuchRecord as refused:
            raise forms.ValidationError(str(refused)) from None


class AnswerForm(forms.Form):
    text = Prose(most=asking.TEXT_MOST, label="Your answer")


class ResolveForm(forms.Form):
    text = Prose(
        most=asking.TEXT_MOST, label="How it was resolved", help_text="It stays on the page, with this beside it."
    )


@dataclass(frozen=True)
class Thread:
    """One question with its answers, as a reader sees it, and what this reader may do."""

    question: Question
    asked_by: str
    resolved_by: str
    answers: list[tuple[str, Answer]]
    may_answer: bool
    may_resolve: bool

    @property
    def gone(self) -> bool:
        """Whether the study no longer has what it was about."""
        one = self.question
        return bool(one.about) and not (one.specimen_id if one.about.startswith("specimen ") else one.series_id)


@dataclass(frozen=True)
class Asked:
    """All that was asked about a study, open ones first."""

    threads: list[Thread]
    form: AskForm | None
    own: bool
    public: bool
    doubts: list[Question]

    @property
    def open(self) -> int:
        return sum(one.question.state == Question.State.OPEN for one in self.threads)


def shown(study: Study, user: User) -> Asked:
    """What was asked about a study, for one reader."""
    rows = list(
        study.questions.select_related("asked_by", "resolved_by").prefetch_related("answers__by").order_by("pk")
    )
    threads = [_thread(study, one, user) for one in rows]
    threads.sort(key=lambda one: one.question.state == Question.State.RESOLVED)
    return Asked(
        threads=threads,
        form=AskForm(study) if asking.may_ask(study, user) else None,
        own=study.is_of(user),
        public=study.is_public,
        doubts=doubts(rows),
    )


def doubts(rows: Iterable[Question]) -> list[Question]:
    """Doubts about single series and specimens among these, to be marked where those stand."""
    return [one for one in rows if one.kind == Question.Kind.DOUBT and one.series_id]


def _thread(study: Study, one: Question, user: User) -> Thread:
    one.study = study
    is_open = one.state == Question.State.OPEN
    return Thread(
        question=one,
        asked_by=called(one.asked_by, study),
        resolved_by=called(one.resolved_by, study),
        answers=[(called(each.by, study), each) for each in one.answers.all()],
        may_answer=is_open and asking.may_answer(one, user),
        may_resolve=is_open and asking.may_resolve(one, user),
    )


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def ask(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask about a study, or raise a doubt."""
    study = get_object_or_404(Study.objects.visible_to(request.user), pk=pk)
    if not request.user.is_authenticated:
        return to_login(request, FIELDS)
    if not asking.may_ask(study, request.user):
        return render(request, "questions/not_you.html", {"section": "studies", "study": study}, status=403)
    typed = _typed(request)
    if request.method != "POST":
        return _ask_page(request, study, AskForm(study, initial=typed))
    form = AskForm(study, typed)
    if not form.is_valid():
        return _ask_page(request, study, form, status=422)
    said = form.cleaned_data
    try:
        question = asking.ask(study, request.user, said["kind"], said["text"], said["about"])
    except asking.TooMany as refused:
        return _ask_page(request, study, form, refused=refused, status=429)
    messages.success(request, f"Your {question.kind} stands on the study's page; the contributor is told.")
    return redirect(f"{study.get_absolute_url()}#question-{question.pk}")


def _ask_page(
    request: HttpRequest, study: Study, form: AskForm, *, refused: Exception | None = None, status: int = 200
) -> HttpResponse:
    context = {"section": "studies", "study": study, "form": form, "refused": refused}
    return render(request, "questions/ask.html", context, status=status)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def answer(request: HttpRequest, pk: int) -> HttpResponse:
    """Answer a question."""
    return _reply(request, pk, AnswerForm, asking.may_answer, asking.answer, "answer")


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def resolve(request: HttpRequest, pk: int) -> HttpResponse:
    """Mark a question as resolved, and say how."""
    return _reply(request, pk, ResolveForm, asking.may_resolve, asking.resolve, "resolve")


def _reply(
    request: HttpRequest,
    pk: int,
    kind: type[forms.Form],
    may: Callable[[Question, Any], bool],
    do: Callable[[Question, Any, str], Any],
    name: str,
) -> HttpResponse:
    """The page of one question with a form under it; what the form says is done by `do`."""
    readable = Study.objects.visible_to(request.user)
    question = get_object_or_404(Question.objects.select_related("study", "asked_by"), pk=pk, study__in=readable)
    if not request.user.is_authenticated:
        return to_login(request, FIELDS)
    context = {"section": "studies", "study": question.study, "name": name}
    if not may(question, request.user):
        return render(request, "questions/not_you.html", {**context, "question": question}, status=403)
    if request.method == "POST":
        form = kind(_typed(request))
        status, refused = _done(form, lambda text: do(question, request.user, text))
    else:
        form, status, refused = kind(initial=_typed(request)), 200, None
    question.refresh_from_db()
    if status == 302 or (question.state == Question.State.RESOLVED and request.method != "POST"):
        return redirect(f"{question.study.get_absolute_url()}#question-{question.pk}")
    context |= {"thread": _thread(question.study, question, request.user), "form": form, "refused": refused}
    return render(request, "questions/reply.html", context, status=status)


def _done(form: forms.Form, do: Callable[[str], Any]) -> tuple[int, Exception | None]:
    """Do what a form says; the answer's status, and why it was refused."""
    if not form.is_valid():
        return 422, None
    try:
        do(form.cleaned_data["text"])
    except asking.TooMany as refused:
        return 429, refused
    except asking.Closed as refused:
        return 409, refused
    return 302, None


def _typed(request: HttpRequest) -> dict[str, str]:
    """What the form was sent with; or what was typed into it before logging in, or stands in the address."""
    if request.method == "POST":
        return {name: request.POST.get(name, "") for name in FIELDS}
    return typed_before(request) or {name: request.GET[name] for name in ("kind", "about") if name in request.GET}
