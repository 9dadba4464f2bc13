"""Handing in a study by form: choose what was tested, fill in, look at it, hand it in."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from typing import Any, cast

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db import transaction
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods

from results.evidence import Noticed
from results.intake.check import check
from results.intake.examine import Examination, examine
from results.intake.findings import Place, by_severity, counts, together
from results.intake.same import same
from results.intake.words import Words
from results.models import FormDraft, Rig, Study, Upload
from results.review.hand_in import ReviewError, Stale, change, hand_in, newest_number
from results.site.requests import SomebodysRequest

from .submit_begin import first_page, specimens_asked
from .submit_change import compared, needs_why, own_study, since, told_change, told_new, without_why
from .submit_drafts import Conflict, NotKept, differing, hold, keep, submission_key, tell_arrived, unfinished
from .submit_echo import drawing, echoes
from .submit_fields import Shown
from .submit_form import blank_joints, rows_of
from .submit_live import seen_version
from .submit_paste import paste
from .submit_place import digest, on_form
from .submit_preview import preview
from .submit_typed import Typed, number

JOINTS_ASKED = 6
# What buttons say: to begin again from what was typed, and all after which the form is looked at.
_AGAIN = ("anew", "rechange", "rebase")
_LOOKS = ("check", "save", "mine", *_AGAIN)


@login_required
@require_GET
def start(request: SomebodysRequest) -> HttpResponse:
    """Form or spreadsheet; and the first step of the form."""
    return start_page(request)


def start_page(request: SomebodysRequest, refused: Exception | None = None, status: int = 200) -> HttpResponse:
    """The page that a submission starts from; with a refused file's reason, if one was."""
    words = Words()
    context = {
        "section": "submit",
        "loadings": words.rows("Loading"),
        "instruments": words.rows("Instrument"),
        "families": list(blank_joints(words)),
        "families_by_code": list({one.family_id: one.family.name for one in words.rows("Joint")}.items()),
        "joints_asked": range(1, JOINTS_ASKED + 1),
        "specimens": specimens_asked(""),
        "rigs": Rig.objects.filter(user=request.user),
        "unfinished": unfinished(request.user),
        "unsaved": Upload.objects.filter(user=request.user, study=None, revision=None).select_related("changes")[:5],
        "refused": refused,
    }
    return render(request, "submit/start.html", context, status=status)


@dataclass
class Page:
    """What the form's page shows beside what was typed.

    Parameters
    ----------
    version : int
        Of the form as it is kept, 0 if it isn't.
    examination : Examination or None
        What was found, once it was looked at.
    fresh : bool
        Whether the page was opened, rather than sent and answered.
    focus : str
        The input that typing goes on in.
    status : int
        Of the answer.
    more : dict
        What only some pages show.
    """

    version: int = 0
    examination: Examination | None = None
    fresh: bool = False
    focus: str = ""
    status: int = 200
    more: dict[str, Any] | None = None


@require_http_methods(["GET", "POST"])
def form(request: HttpRequest) -> HttpResponse:
    """One page with the fields that these joints and this loading need."""
    if not request.user.is_authenticated:
        return hold(request) if request.method == "POST" else _log_in(request)
    return _form_of(cast(SomebodysRequest, request))


def _form_of(request: SomebodysRequest) -> HttpResponse:
    words = Words()
    if request.method == "GET":
        typed, page = first_page(request, words)
        return form_page(request, typed, words, Page(**page)) if typed else page
    return _sent(request, words)


def _sent(request: SomebodysRequest, words: Words) -> HttpResponse:
    """Keep what was sent, then do what its button says."""
    typed, do = Typed.posted(request.POST), request.POST.get("do", "check")
    study = own_study(request.user, str(typed.change)) if typed.change is not None else None
    if do in _AGAIN:
        study = _begin_again(request, typed, do, study)
    page = Page() if do in (*_LOOKS, "keep") else _changed(typed, do, request.POST, words)
    saved = Study.objects.filter(submission_key=submission_key(typed, request.user)).first()
    try:
        kept = None if saved else keep(request.user, typed, seen_version(request), tab=request.POST.get("tab", ""))
    except Conflict as conflict:
        return _conflict_page(request, typed, words, conflict.draft)
    except NotKept as refused:
        messages.error(request, str(refused))
        kept = None
    page.version = kept.version if kept else 0
    if do == "keep" and kept:
        messages.success(request, gettext("Kept. Go on with it whenever you like."))
        return redirect("submit:start")
    return (
        _looked_at(request, typed, words, study, saved, page)
        if do in _LOOKS
        else form_page(request, typed, words, page)
    )


def _log_in(request: HttpRequest) -> HttpResponse:
    return login_required(form)(request)


def _begin_again(request: SomebodysRequest, typed: Typed, do: str, study: Study | None) -> Study | None:
    """Go on with what was typed as a new study, as a change of what was saved, or on top of the newest revision.

    Returns the study that it changes, if it changes one.
    """
    if do != "rebase":
        before = Study.objects.filter(submission_key=submission_key(typed, request.user)).first()
        study = before if do == "rechange" else None
        typed.key = uuid.uuid4()
    typed.change = study.pk if study else None
    typed.based_on = newest_number(study) if study else None
    return study


def _changed(typed: Typed, do: str, data: QueryDict, words: Words) -> Page:
    """Add or take out what a button says; any other word only lays the form out anew."""
    what, _, said = do.rpartition("-")
    at = number(said)
    if what == "rows" and at is not None:
        typed.add_rows(at)
    elif what == "drop" and at is not None:
        typed.drop_series(at)
    elif what == "paste" and at is not None:
        told = paste(typed, at, data.get(f"series-{at}-paste", ""), words)
        return Page(more={"pasted": {at: told}})
    elif do == "add-series":
        found = words.find("Joint", data.get("add-joint", ""))
        if len(found) == 1:
            typed.add_series(found[0], typed.rows_of_last() or specimens_asked(""))
    elif do == "add-like":
        typed.add_like_last()
        return Page(focus=f"series-{len(typed.series) - 1}-{data.get('differs') or 'series'}")
    return Page()


def _looked_at(
    request: SomebodysRequest, typed: Typed, words: Words, study: Study | None, saved: Study | None, page: Page
) -> HttpResponse:
    """The form with what was found; handed in, if what would be saved was seen before."""
    examination = examine(rows_of(typed, words), sheet=False, words=words, by=request.user)
    if study is not None:
        no_why = without_why(study, typed.why, Place("why", 0))
        examination = Examination(
            examination.rows,
            tuple(by_severity([*examination.noticed, *no_why])),
            examination.draft,
            examination.checked,
        )
    page.examination = examination = on_form(examination, typed, words)
    if examination.draft is not None:
        _set_rig(request, typed, examination)
    seen = request.POST.get("do") == "save" and request.POST.get("seen") == digest(typed, examination.noticed)
    if saved is None and seen and examination.may_be_saved:
        try:
            return _handed_in(request, typed, examination, study)
        except Stale as stale:
            return _stale_page(request, typed, words, cast(Study, study), stale, page)  # a new one is never stale
        except ReviewError as refused:
            messages.error(request, str(refused))
    if saved is None:
        page.status = 200 if examination.may_be_saved else 422
        return form_page(request, typed, words, page)
    # The form was saved, now or before: in another tab, or before going back to it and changing something.
    stands = saved.status != Study.Status.WITHDRAWN and examination.draft and same(examination.draft, saved)
    if stands:
        return _to_study(request, saved, typed, told_new(saved))
    page.status, page.more = 409, {"saved": saved}
    return form_page(request, typed, words, page)


def _set_rig(request: SomebodysRequest, typed: Typed, examination: Examination) -> None:
    """Let the setup know the rig that it was filled in from, which may be one's own only."""
    rig = Rig.objects.filter(pk=typed.rig, user=request.user).first() if typed.rig is not None else None
    for setup in examination.to_save.setups:
        setup.rig = rig


def _handed_in(request: SomebodysRequest, typed: Typed, examination: Examination, study: Study | None) -> HttpResponse:
    """Save it, and what was kept of it while it was typed is needed no more: both or nothing."""
    key = submission_key(typed, request.user)
    with transaction.atomic():
        if study is None:
            saved = hand_in(examination.to_save, request.user, examination.noticed, key)
            told = told_new(saved)
        else:
            saved, seen = study, typed.based_on or 0
            change(study, examination.to_save, request.user, examination.noticed, why=typed.why, based_on=seen)
            told = told_change(study)
        FormDraft.objects.filter(pk=key).delete()
    return _to_study(request, saved, typed, told)


def _to_study(request: HttpRequest, study: Study, typed: Typed, told: str) -> HttpResponse:
    messages.success(request, told)
    response = redirect(study)
    tell_arrived(request, response, typed.key)
    return response


def _conflict_page(request: SomebodysRequest, typed: Typed, words: Words, theirs: FormDraft) -> HttpResponse:
    """Two tabs or devices have typed in one form: whose is to stand is for their writer to say."""
    differs = differing(typed.fields(), theirs.typed)
    page = Page(version=theirs.version, status=409, more={"theirs": theirs, "differs": differs})
    return form_page(request, typed, words, page)


def _stale_page(
    request: SomebodysRequest, typed: Typed, words: Words, study: Study, stale: Stale, page: Page
) -> HttpResponse:
    """The study itself was changed since this change was begun."""
    seen = typed.based_on or 0
    newest = newest_number(study)
    more = {"stale": stale, "since": since(study, seen), "newest": newest}
    examination = cast(Examination, page.examination)  # what was saved had been looked at
    more["of_mine"] = compared(study, newest, examination.to_save, examination.noticed)
    page.status, page.more = 409, more
    return form_page(request, typed, words, page)


def form_page(request: SomebodysRequest, typed: Typed, words: Words, page: Page) -> HttpResponse:
    """The form, with what was found in it."""
    examination, more = page.examination, page.more or {}
    noticed: tuple[Noticed, ...] = examination.noticed if examination else ()
    told = together(noticed)
    checked = examination.checked if examination else None
    if checked is None:
        checked = check(rows_of(typed, words), sheet=False, words=words)
    # Before it is looked at, only what was understood is said, not what is still blank.
    # Their own only: a form that was held while its writer logged in says whatever was sent.
    study = Study.objects.filter(pk=typed.change or 0, contributor=request.user).first()
    draft = examination.draft if examination and not more.keys() & {"saved", "stale"} else None
    context = {
        "section": "submit",
        "shown": Shown(typed, words, told, echoes(checked), page.focus, more.get("pasted")),
        "drawing": drawing(checked),
        "findings": [(one, one.place.sheet if one.place else "") for one in told],
        "counts": counts(told),
        "preview": preview(draft) if draft else None,
        "seen": digest(typed, noticed),
        "version": page.version,
        "fresh": page.fresh,
        "changes": study,
        "needs_why": study is not None and needs_why(study),
        **more,
    }
    if draft and study:
        context["compared"] = compared(study, typed.based_on or 0, draft, noticed)
    return render(request, "submit/form.html", context, status=page.status)
