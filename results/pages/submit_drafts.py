"""Forms that are being filled in: kept as they are typed, gone on with, thrown away."""

from __future__ import annotations

import json
import uuid
from typing import Any

from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.contrib.auth.views import redirect_to_login
from django.db import IntegrityError, transaction
from django.db.models import F
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from results.models import FormDraft
from results.site.requests import SomebodysRequest

from .submit_typed import Typed, number

BYTES_MOST = 500_000
DRAFTS_MOST = 50
_HELD = "form_held"


class NotKept(Exception):
    """A form that isn't kept on the server; the message says why and what to do."""


class Conflict(Exception):
    """Another tab or device has typed in the form since.

    Parameters
    ----------
    draft : FormDraft
        As it is kept now.
    """

    def __init__(self, draft: FormDraft) -> None:
        self.draft = draft
        super().__init__(f"version {draft.version} was not seen")


def submission_key(typed: Typed, user: User) -> uuid.UUID:
    """What a form is kept and saved under; a key is worth something to its own user only."""
    return uuid.uuid5(typed.key, str(user.pk))


def keep(user: User, typed: Typed, seen: int, *, tab: str = "") -> FormDraft | None:
    """Keep what was typed so far.

    Parameters
    ----------
    user : User
        Whose form it is.
    typed : Typed
        The form.
    seen : int
        Version that was seen when it was typed; 0 for a form that was not kept before.
    tab : str, optional
        The open page it comes from and how manieth it sends, ``a7/3``: it goes on from what itself saved last, and
        what comes late does not overtake what was sent after it.

    Returns
    -------
    FormDraft or None
        As it is kept now; None if nothing was typed that would be worth keeping.

    Raises
    ------
    Conflict
        If somewhere else something was typed that this page has not seen; nothing is changed then.
    NotKept
        If it is too large, or there are too many.
    """
    said, tab = {name: _storable(text) for name, text in typed.fields().items()}, _storable(tab)
    size = len(json.dumps(said, ensure_ascii=False).encode())
    if size > BYTES_MOST:
        raise NotKept(
            f"This form holds {size / 1000:.0f} kB; up to {BYTES_MOST // 1000} kB are kept. Shorten the notes, "
            "or send a spreadsheet."
        )
    pk = submission_key(typed, user)
    found = FormDraft.objects.filter(pk=pk).first()
    if found is None:
        if not typed.begun:
            return None
        found, made = _made(pk, user, typed.change, said, tab)
        if made:
            return found
    if found.typed == said:
        return found
    page, turn = _page(tab)
    last, last_turn = _page(found.tab)
    if page and page == last:
        if turn <= last_turn:
            return found
    elif found.version != seen:
        raise Conflict(found)
    at = timezone.now()
    now = {"typed": said, "title": _title(said), "tab": tab[:40], "changed_at": at}
    same = FormDraft.objects.filter(pk=pk, version=found.version)
    if not same.update(version=F("version") + 1, **now):
        raise Conflict(FormDraft.objects.get(pk=pk))
    found.version, found.typed, found.changed_at = found.version + 1, said, at
    return found


def _made(pk: uuid.UUID, user: User, changes: int | None, said: dict[str, str], tab: str) -> tuple[FormDraft, bool]:
    if FormDraft.objects.filter(user=user).count() >= DRAFTS_MOST:
        raise NotKept(f"You have {DRAFTS_MOST} unfinished forms; throw some away, so that this one can be kept.")
    draft = FormDraft(pk=pk, user=user, study_id=changes, title=_title(said), typed=said, tab=tab[:40])
    try:
        with transaction.atomic():
            draft.save(force_insert=True)
    except IntegrityError:  # another tab was quicker
        return FormDraft.objects.get(pk=pk), False
    return draft, True


def _storable(text: str) -> str:
    """A text without what a database can't hold: NUL, and halves of characters."""
    return text.replace("\0", "").encode("utf-8", "ignore").decode()


def _page(tab: str) -> tuple[str, int]:
    """The open page, and the number of what it sends."""
    page, _, turn = tab.partition("/")
    return page, number(turn) or 0


def _title(said: dict[str, str]) -> str:
    return " ".join(said.get("study-title", "").split())[:200]


def brought(user: User, key: str) -> tuple[Typed, FormDraft]:
    """A form of one's own that was kept, by its key.

    Raises
    ------
    Http404
        If there is none: somebody else's is none either.
    """
    try:
        found = Typed(uuid.UUID(key))
    except ValueError:
        raise Http404 from None
    draft = FormDraft.objects.filter(pk=submission_key(found, user), user=user).first()
    if draft is None:
        raise Http404
    return Typed.posted(draft.typed), draft


def unfinished(user: User) -> list[dict[str, Any]]:
    """The forms that somebody may go on with, newest first."""
    drafts = FormDraft.objects.filter(user=user).select_related("study")
    return [{"draft": one, "key": one.typed.get("key", ""), "joints": _joints(one.typed)} for one in drafts]


def _joints(said: dict[str, str]) -> str:
    """The names of its series, for a form that has no title yet."""
    names = [text for name, text in said.items() if name.startswith("series-") and name.endswith("-series")]
    return ", ".join(names)


def differing(mine: dict[str, str], theirs: dict[str, str]) -> list[tuple[str, str, str]]:
    """What two versions of one form hold differently: the input, here, there."""
    names = dict.fromkeys((*mine, *theirs))
    return [
        (_words(name), mine.get(name, ""), theirs.get(name, ""))
        for name in names
        if mine.get(name, "") != theirs.get(name, "") and not name.endswith(("-rows", "-count", "-results"))
    ]


def _words(name: str) -> str:
    """An input's name in words: ``specimen 3 of series 1: reading``."""
    part, *rest = name.split("-")
    if part == "specimen" and len(rest) == 3:
        return f"specimen {int(rest[1]) + 1} of series {int(rest[0]) + 1}: {rest[2].replace('_', ' ')}"
    if part == "series" and len(rest) == 2:
        return f"series {int(rest[0]) + 1}: {rest[1].replace('_', ' ')}"
    return (rest[-1] if rest else part).replace("_", " ")


def hold(request: HttpRequest) -> HttpResponse:
    """Keep what was sent after the session ran out, until its sender has logged in again."""
    typed = Typed.posted(request.POST)
    said = typed.fields() | {"by": request.POST.get("by", ""), "version": request.POST.get("version", "")}
    if len(json.dumps(said)) <= BYTES_MOST:
        request.session[_HELD] = said
    return redirect_to_login(f"{reverse('submit:form')}?held={typed.key}")


def held(request: HttpRequest) -> tuple[Typed, str] | None:
    """What was sent before logging in again, by the same person, and the version it was typed on; once."""
    said = request.session.pop(_HELD, None)
    if said is None or said.get("by") != str(request.user.pk):
        return None
    return Typed.posted(said), said.get("version", "")


@login_required
@require_http_methods(["GET", "POST"])
def throw_away(request: SomebodysRequest, key: uuid.UUID) -> HttpResponse:
    """Throw an unfinished form away; asks first."""
    _, draft = brought(request.user, str(key))
    if request.method == "POST":
        draft.delete()
        response = redirect("submit:start")
        tell_arrived(request, response, key)
        return response
    return render(request, "submit/throw_away.html", {"section": "submit", "draft": draft, "key": key})


def tell_arrived(request: HttpRequest, response: HttpResponse, key: uuid.UUID) -> None:
    """Tell the browser that its own copy of a form is needed no more."""
    response.set_cookie("arrived", str(key), max_age=7 * 86_400, samesite="Lax", secure=request.is_secure())
