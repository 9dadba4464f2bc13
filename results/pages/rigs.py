"""My rigs: kept for the next study, drawn, calibrated."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db import IntegrityError, transaction
from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_safe

from results.intake.rigs import READ_BY, ReadRig, reads_alike, rig_cells, setup_of
from results.models import Rig, Study, bump
from results.site.requests import SomebodysRequest

from .rigs_form import RigForm, taken
from .rigs_shown import of_rig
from .study_sheet import rig as drawn

SECTION = "submit"
RIGS_MOST = 100


def own(request: HttpRequest, pk: int) -> Rig:
    """A rig of the user's own; nobody else's is found."""
    return get_object_or_404(Rig.objects.select_related("loading", "instrument"), pk=pk, user=request.user)


def tell_readers(rig: Rig) -> None:
    """Raise the data version where what readers see of a rig has changed; call it in the transaction of the change."""
    if Study.objects.public().filter(setups__rig=rig).exists():
        bump()


@login_required
@require_safe
def rigs(request: SomebodysRequest) -> HttpResponse:
    """A list of them."""
    counted = Rig.objects.filter(user=request.user).annotate(
        n_calibrations=Count("calibrations", distinct=True), n_setups=Count("setups", distinct=True)
    )
    found = list(counted.select_related("loading", "instrument"))
    return render(request, "rigs/rigs.html", {"section": SECTION, "rigs": found})


@login_required
@require_safe
def rig(request: SomebodysRequest, pk: int) -> HttpResponse:
    """One of them: drawn, with its lengths and its calibrations."""
    found = own(request, pk)
    setup = setup_of(found)
    context = {
        "section": SECTION,
        "rig": found,
        "shown": drawn(setup, [], name="rig-drawing"),
        "calibrations": of_rig(found, setup),
        "studies": Study.objects.filter(setups__rig=found, contributor=request.user).distinct(),
    }
    return render(request, "rigs/rig.html", context)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def new(request: SomebodysRequest) -> HttpResponse:
    """Another rig."""
    if request.method != "POST":
        start = {name: request.GET.get(name, "") for name in ("loading", "instrument")}
        return _form(request, RigForm({name: text for name, text in start.items() if text}))
    form = RigForm.posted(request.POST)
    if request.POST.get("do") == "refresh":
        return _form(request, form)
    read = form.read()
    if not read.may_be_saved:
        return _form(request, form, status=422)
    made = read.fill(Rig(user=request.user))
    before = taken(request.user, made.label)
    if before is not None and _same(before, made):
        return redirect("rigs:rig", before.pk)  # the form was sent twice
    if before is not None:
        return _taken(request, form, before)
    if Rig.objects.filter(user=request.user).count() >= RIGS_MOST:
        form.refuse("too-many", "setup", f"You have {RIGS_MOST} rigs.", "Delete one that is not used any more.")
        return _form(request, form, status=422)
    try:
        with transaction.atomic():
            made.save()
    except IntegrityError:  # another tab was quicker
        return _taken(request, form, taken(request.user, made.label) or made)
    return _saved(request, made, read)


def _same(one: Rig, other: Rig) -> bool:
    return rig_cells(one) == rig_cells(other)


def _taken(request: HttpRequest, form: RigForm, before: Rig, rig: Rig | None = None) -> HttpResponse:
    form.refuse("taken", "setup", f"You have a rig called {before.label!r} already.", "Give this one another name.")
    return _form(request, form, rig, status=422)


def _saved(request: HttpRequest, rig: Rig, read: ReadRig) -> HttpResponse:
    messages.success(request, gettext("Saved: %(label)s.") % {"label": rig.label})
    for one in read.noticed:
        messages.warning(request, f"{one.message} {one.remedy}")
    return redirect("rigs:rig", rig.pk)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def edit(request: SomebodysRequest, pk: int) -> HttpResponse:
    """Say something else of a rig; setups of studies keep what they say."""
    found = own(request, pk)
    if request.method != "POST":
        return _form(request, RigForm.of(found), found)
    form = RigForm.posted(request.POST)
    if request.POST.get("do") == "refresh":
        return _form(request, form, found)
    read = form.read()
    if not read.may_be_saved:
        return _form(request, form, found, status=422)
    with transaction.atomic():
        found = Rig.objects.select_for_update().get(pk=found.pk)
        before = rig_cells(found)
        changed = read.fill(Rig(user=request.user))
        if rig_cells(changed) == before:  # sent twice, or nothing changed
            return redirect("rigs:rig", found.pk)
        if request.POST.get("seen", "") != found.changed_at.isoformat():
            return _form(request, form, found, status=409, meanwhile=drawn(setup_of(found), [], name="rig-drawing"))
        if (other := taken(request.user, changed.label, but=found)) is not None:
            return _taken(request, form, other, found)
        if not _keeps_calibrations(form, found, changed):
            return _form(request, form, found, status=422)
        read.fill(found).save()
        tell_readers(found)
    return _saved(request, found, read)


def _keeps_calibrations(form: RigForm, found: Rig, changed: Rig) -> bool:
    """Whether the calibrations that were made hold for the rig as it would be; else it is told at the field."""
    many = found.calibrations.count()
    if not many:
        return True
    old, other = setup_of(found), setup_of(changed)
    if reads_alike(old, other):
        return True
    names = {"instrument_id": "instrument", "reads": "reads", "ram_diameter_mm": "ram diameter"}
    first = next(name for name in READ_BY if getattr(old, name) != getattr(other, name))
    form.refuse(
        "calibrated",
        names.get(first, "lever ratio"),
        f"{many} calibration{'s were' if many > 1 else ' was'} made with what this was before, and would not hold.",
        "Add another rig for it, or delete what was calibrated first.",
    )
    return False


def _form(request: HttpRequest, form: RigForm, rig: Rig | None = None, *, status: int = 200, **more: object):
    # What another tab saved counts as seen only once it is shown.
    seen = request.POST.get("seen") if request.method == "POST" and status != 409 else None
    context = {
        "section": SECTION,
        "rig": rig,
        "part": form.part,
        "units": form.units,
        "errors": sum(one.severity == "error" for one in form.noticed),
        "seen": seen if seen is not None else rig.changed_at.isoformat() if rig else "",
        **more,
    }
    return render(request, "rigs/form.html", context, status=status)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def delete(request: SomebodysRequest, pk: int) -> HttpResponse:
    """Delete a rig with its calibrations, once that is said twice; setups of studies keep their lengths."""
    found = Rig.objects.filter(pk=pk, user=request.user).first()
    if found is None and request.method == "POST":
        return redirect("rigs:rigs")  # sent twice
    found = own(request, pk)
    if request.method == "POST":
        with transaction.atomic():
            tell_readers(found)
            found.delete()
        messages.success(
            request,
            gettext("Deleted: %(label)s. Studies that were made on it keep all that they say.")
            % {"label": found.label},
        )
        return redirect("rigs:rigs")
    context = {
        "section": SECTION,
        "rig": found,
        "n_calibrations": found.calibrations.count(),
        "studies": Study.objects.filter(setups__rig=found).distinct(),
    }
    return render(request, "rigs/delete.html", context)
