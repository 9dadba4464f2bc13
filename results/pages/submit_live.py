"""What the form asks the server for while it is filled in: to keep what was typed, and to look at it."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from functools import wraps
from typing import Any, cast

from django.conf import settings
from django.core.cache import caches
from django.core.exceptions import RequestDataTooBig
from django.http import HttpRequest, JsonResponse
from django.shortcuts import get_object_or_404, resolve_url
from django.urls import reverse
from django.views.decorators.http import require_POST

from results.evidence import Noticed
from results.intake.examine import examine_so_far
from results.intake.findings import together
from results.intake.words import Words
from results.models import Study, data_version
from results.site.requests import SomebodysRequest

from .submit_drafts import BYTES_MOST, Conflict, NotKept, differing, keep, submission_key
from .submit_echo import drawing, echoes
from .submit_form import rows_of
from .submit_place import NOT_YET, on_form
from .submit_typed import Typed, number

# Looks of one person in a minute, counted as allowances are: a page asks at most twice a second, and only after typing.
LOOKS_MOST = 150
DIFFERING_SHOWN = 12
Answer = Callable[[SomebodysRequest, dict[str, Any], Typed], JsonResponse]


def _asked(answer: Answer) -> Callable[[HttpRequest], JsonResponse]:
    """Read what the form's script sends, or say what is wrong with it in a way that the script understands."""

    @require_POST
    @wraps(answer)
    def view(request: HttpRequest) -> JsonResponse:
        if not request.user.is_authenticated:
            return _said("You are logged out.", 401, login=resolve_url(settings.LOGIN_URL))
        try:
            sent = json.loads(request.body)
        except RequestDataTooBig:
            return _said(f"This form is too large to be kept: up to {BYTES_MOST // 1000} kB are.", 413)
        except (ValueError, RecursionError):  # the latter, if it is lists in lists without end
            return _said("What was sent is no JSON that can be read.", 400)
        fields = sent.get("fields") if isinstance(sent, dict) else None
        if not isinstance(fields, dict) or not all(isinstance(text, str) for text in fields.values()):
            return _said("What was sent holds no fields.", 400)
        typed = Typed.posted(fields)
        if typed.change is not None:
            get_object_or_404(Study, pk=typed.change, contributor=request.user)
        return answer(cast(SomebodysRequest, request), sent, typed)

    return view


def _said(message: str, status: int, **more: Any) -> JsonResponse:
    return JsonResponse({"message": message, **more}, status=status)


@_asked
def keep_it(request: SomebodysRequest, sent: dict[str, Any], typed: Typed) -> JsonResponse:
    """Keep what was typed so far; what another tab has typed since is never overwritten unseen."""
    study = Study.objects.filter(submission_key=submission_key(typed, request.user)).first()
    if study is not None:
        return _said("This form was handed in.", 410, study=study.get_absolute_url())
    seen = sent.get("version")
    try:
        draft = keep(request.user, typed, seen if isinstance(seen, int) else 0, tab=str(sent.get("tab", "")))
    except NotKept as refused:
        return _said(str(refused), 413)
    except Conflict as conflict:
        theirs = conflict.draft
        found = differing(typed.fields(), theirs.typed)
        return _said(
            "This form was changed elsewhere since.",
            409,
            version=theirs.version,
            at=theirs.changed_at.isoformat(),
            differs=[{"what": what, "here": here, "there": there} for what, here, there in found[:DIFFERING_SHOWN]],
            more=max(len(found) - DIFFERING_SHOWN, 0),
        )
    if draft is None:
        return JsonResponse({"version": 0})
    resume = f"{reverse('submit:form')}?draft={typed.key}"
    return JsonResponse({"version": draft.version, "at": draft.changed_at.isoformat(), "resume": resume})


@_asked
def check_it(request: SomebodysRequest, sent: dict[str, Any], typed: Typed) -> JsonResponse:
    """Findings and readings in SI by the inputs' names, and the setup's drawing; nothing is kept."""
    if _too_often(request.user.pk):
        answer = _said("Asked too often; what was typed is looked at when you check it.", 429)
        answer.headers["Retry-After"] = "20"
        return answer
    words = _words()
    examination = on_form(examine_so_far(rows_of(typed, words), words=words, by=request.user), typed, words)
    assert examination.checked is not None
    found: dict[str, list[dict[str, Any]]] = {}
    for one in together(examination.noticed):
        if one.place is not None:
            found.setdefault(one.place.sheet, []).append(_told(one))
    return JsonResponse(
        {"findings": found, "echoes": echoes(examination.checked), "drawing": drawing(examination.checked)}
    )


def _told(one: Noticed) -> dict[str, Any]:
    said = {"code": one.code, "severity": one.severity, "message": one.message, "remedy": one.remedy}
    return {**said, "later": one.code in NOT_YET}


_known: tuple[str, Words] | None = None


def _words() -> Words:
    """The vocabularies, read once for each state of the data: they are most of what a look would cost."""
    global _known
    state = str(data_version())
    if _known is None or _known[0] != state:
        _known = state, Words()
    return _known[1]


def _too_often(user: int) -> bool:
    """Whether somebody has looked more often than typing takes, in this minute."""
    cache = caches[settings.COUNTED_IN]
    key = f"form-looks-{user}-{int(time.time() // 60)}"
    cache.add(key, 0, 120)
    return cache.incr(key) > LOOKS_MOST


def seen_version(request: HttpRequest) -> int:
    """The version of a kept form that a sent page has seen."""
    return number(request.POST.get("version")) or 0
