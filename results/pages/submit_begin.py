"""Where a form begins: laid out for some joints, gone on with, or filled in from a study."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.translation import gettext

from results.evidence import Draft
from results.intake.examine import examine_file
from results.intake.rigs import rig_cells
from results.intake.words import Words
from results.models import FormDraft, Plan, Rig, Study
from results.practice.plan_book import plan_draft
from results.site.requests import SomebodysRequest

from .submit_again import fits, typed_again
from .submit_change import own_study, typed_from
from .submit_drafts import brought, held
from .submit_typed import SPECIMENS_MOST, SeriesTyped, Typed, number

SPECIMENS_USUAL = 5
# An invented study with a slip in it, to see how one is handed in and taken back.
EXAMPLE = settings.BASE_DIR / "fixtures" / "example.csv"
Begun = tuple[Typed | None, Any]


def first_page(request: SomebodysRequest, words: Words) -> Begun:
    """The form as it is opened, and what its page is told of it; or None and where to go instead."""
    asked = request.GET
    if "draft" in asked:
        typed, draft = brought(request.user, asked["draft"])
        return typed, {"version": draft.version, "fresh": True, "more": {"resumed": draft}}
    if "held" in asked:
        return _held(request)
    if "change" in asked:
        return _changing(request, own_study(request.user, asked["change"]), words)
    if "from" in asked:
        return _like(request, own_study(request.user, asked["from"]), words)
    if "plan" in asked:
        return _planned(request, asked["plan"], words)
    if "example" in asked:
        typed = typed_again(examine_file(EXAMPLE.read_bytes(), EXAMPLE.name).to_save, words)
        return typed, {"fresh": True, "more": {"example": True}}
    return _laid_out(request, words), {"fresh": True}


def specimens_asked(text: str) -> int:
    """How many rows were asked for; the usual number if that isn't said."""
    asked = int(text) if text.isascii() and text.isdigit() and len(text) < 6 else SPECIMENS_USUAL
    return min(max(asked, 1), SPECIMENS_MOST)


def _held(request: HttpRequest) -> Begun:
    """What was sent just before logging in again."""
    found = held(request)
    if found is None:
        return None, redirect("submit:start")
    typed, version = found
    return typed, {"version": number(version) or 0, "more": {"held": True}}


def _changing(request: SomebodysRequest, study: Study, words: Words) -> Begun:
    """A study of one's own, to be changed; or the change of it that was begun before."""
    if study.status == Study.Status.WITHDRAWN:
        messages.error(request, gettext("A withdrawn study can't be changed; start a new one from it."))
        return None, redirect(study)
    begun = FormDraft.objects.filter(user=request.user, study=study).first()
    if begun is not None:
        return None, redirect(f"{reverse('submit:form')}?draft={begun.typed.get('key', '')}")
    typed = typed_from(study, words)
    if typed is None:
        messages.error(
            request, gettext("The form holds one rig and a few series; this study is changed by its spreadsheet.")
        )
        return None, redirect("submit:change-sheet", study.pk)
    return typed, {"fresh": True}


def _like(request: HttpRequest, study: Study, words: Words) -> Begun:
    """A new study that begins from one of one's own."""
    draft = Draft.of(study)
    if not fits(draft):
        messages.error(
            request, gettext("The form holds one rig and a few series; start from this study's spreadsheet.")
        )
        return None, redirect(study)
    typed = typed_again(draft, words)
    return typed, {"fresh": True, "more": {"begun_from": study}}


def _planned(request: HttpRequest, text: str, words: Words) -> Begun:
    """The study that a plan of one's own foresees, with its specimens to be filled in."""
    plan = get_object_or_404(Plan, pk=number(text) or 0, contributor=request.user, status=Plan.Status.LODGED)
    draft = plan_draft(plan.planned, plan.pk)
    if not fits(draft):
        messages.error(request, gettext("The form holds a few series only; fill in this plan's spreadsheet."))
        return None, redirect(plan)
    return typed_again(draft, words), {"fresh": True}


def _laid_out(request: SomebodysRequest, words: Words) -> Typed:
    """A form as the first step asked for it; whatever of that isn't known is left to be chosen."""
    query = request.GET
    joints = [found[0] for text in query.getlist("joint") if len(found := words.find("Joint", text)) == 1]
    specimens = specimens_asked(query.get("specimens", ""))
    setup = {"loading": query.get("loading", ""), "instrument": query.get("instrument", "")}
    rig = _own_rig(request)
    published = query.get("figures") == "published"
    typed = Typed.start(setup if rig is None else rig_cells(rig), joints, specimens, published=published)
    typed.rig = rig.pk if rig is not None else None
    if not typed.series:
        typed.series.append(SeriesTyped(specimens=[{} for _ in range(specimens)], by_mean=published))
    last = request.user.studies.order_by("-id").values("workshop", "licence").first()
    if last and not published:
        typed.study |= {name: str(text) for name, text in last.items()}
    return typed


def _own_rig(request: SomebodysRequest) -> Rig | None:
    pk = number(request.GET.get("rig"))
    return Rig.objects.filter(pk=pk, user=request.user).first() if pk is not None else None
