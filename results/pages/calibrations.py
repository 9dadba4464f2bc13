"""Calibrations of a rig of one's own: weights hung and readings read."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db import transaction
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods

from results.evidence.calibrated import calibrated
from results.intake.calibrate import Pair, ReadCalibration, calibration_of, pairs_in, read_calibration
from results.intake.rigs import setup_of
from results.models import Calibration, Rig
from stats.footing.units import UNITS

from .rigs import SECTION, own, tell_readers
from .rigs_shown import shown

ROWS_FIRST, ROWS_MORE, ROWS_MOST = 8, 4, 60
# What its owner says of a calibration; the rest is worked out from it.
_SAID = ("made_on", "points", "unit", "weights_from", "weights_within")
CALIBRATIONS_MOST = 100


@dataclass(frozen=True)
class Row:
    """One row of the form: a weight and a reading, and what is wrong with each."""

    at: int
    hung: str
    read: str
    hung_faults: list[str]
    read_faults: list[str]


class Typed:
    """What was typed in the form."""

    TEXTS = ("hung_unit", "read_unit", "made_on", "weights_from", "within", "pasted")

    def __init__(self, data: QueryDict | dict[str, str], rows: int = ROWS_FIRST) -> None:
        self.texts = {name: data.get(name, "").replace("\0", "") for name in self.TEXTS}
        said = data.get("rows", "")
        count = int(said) if said.isascii() and said.isdigit() and len(said) < 4 else rows
        if data.get("do") == "rows":
            count += ROWS_MORE
        self.rows = [
            (data.get(f"hung-{at}", "").strip(), data.get(f"read-{at}", "").strip())
            for at in range(min(count, ROWS_MOST))
        ]

    @property
    def pairs(self) -> list[Pair]:
        """All pairs, those of the rows first."""
        typed = [Pair(hung, read, f"hung-{at}", f"read-{at}") for at, (hung, read) in enumerate(self.rows)]
        return [*typed, *pairs_in(self.texts["pasted"], "pasted")]

    def read(self, rig: Rig) -> ReadCalibration:
        texts = self.texts
        found = read_calibration(
            rig,
            self.pairs,
            hung_unit=texts["hung_unit"],
            read_unit=texts["read_unit"],
            made_on=texts["made_on"],
            within=texts["within"],
        )
        for name, most in (("weights_from", 200), ("within", 40), ("read_unit", 20)):
            if len(texts[name].strip()) > most:
                found.fault("too-long", name, f"This has {len(texts[name].strip())} characters; {most} fit.")
            elif not texts[name].isprintable():
                found.fault("control-character", name, "This holds a character that can't be kept; type it again.")
        return found


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def new(request: HttpRequest, pk: int) -> HttpResponse:
    """Another calibration of a rig."""
    rig = own(request, pk)
    if request.method != "POST":
        return _form(request, rig, _begun(rig))
    typed = Typed(request.POST)
    if request.POST.get("do") == "rows":
        return _form(request, rig, typed)
    read = typed.read(rig)
    if read.faults:
        return _form(request, rig, typed, read)
    made = calibration_of(
        rig,
        read,
        unit=typed.texts["read_unit"],
        weights_from=typed.texts["weights_from"],
        within=typed.texts["within"],
    )
    with transaction.atomic():
        Rig.objects.select_for_update().get(pk=rig.pk)
        there = list(rig.calibrations.all())
        if any(_same(one, made) for one in there):
            return redirect("rigs:rig", rig.pk)  # the form was sent twice
        if len(there) >= CALIBRATIONS_MOST:
            read.fault("too-many", "made_on", f"The rig has {CALIBRATIONS_MOST} calibrations; delete one first.")
            return _form(request, rig, typed, read)
        made.save()
        tell_readers(rig)
    found = shown(calibrated(made, setup_of(rig).reads))
    messages.success(request, gettext("Saved: %(line)s.") % {"line": found.line})
    return redirect("rigs:rig", rig.pk)


def _same(one: Calibration, other: Calibration) -> bool:
    return all(getattr(one, name) == getattr(other, name) for name in _SAID)


def _begun(rig: Rig) -> Typed:
    """A form with what was said the last time."""
    last = rig.calibrations.first()
    unit = str(rig.typed.get("reading unit", ""))
    said = {"weights_from": last.weights_from, "within": last.weights_within} if last else {}
    said["read_unit"] = last.unit if last and last.unit else unit
    return Typed({**said, "hung_unit": said["read_unit"] if _kind(rig) == "force" else ""})


def _kind(rig: Rig) -> str:
    """What its instrument shows, or what its readings are if that isn't said."""
    return rig.instrument.reads if rig.instrument else setup_of(rig).reads


def _form(request: HttpRequest, rig: Rig, typed: Typed, read: ReadCalibration | None = None) -> HttpResponse:
    faults: dict[str, list[str]] = {}
    for one in read.faults if read else ():
        faults.setdefault(one.field, []).append(one.message)
    rows = [
        Row(at, hung, shown_as, faults.get(f"hung-{at}", []), faults.get(f"read-{at}", []))
        for at, (hung, shown_as) in enumerate(typed.rows)
    ]
    kind = _kind(rig)
    context = {
        "section": SECTION,
        "rig": rig,
        "rows": rows,
        "more_rows": len(rows) < ROWS_MOST,
        "said": typed.texts,
        "faults": faults,
        "count": sum(map(len, faults.values())),
        "kind": kind,
        "hung_units": UNITS["moment" if kind == "moment" else "force"][:8],
        "read_units": UNITS.get(kind, [])[:8],
    }
    return render(request, "rigs/calibrate.html", context, status=422 if faults else 200)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def delete(request: HttpRequest, pk: int, calibration: int) -> HttpResponse:
    """Delete a calibration, once that is said twice."""
    rig = own(request, pk)
    found = rig.calibrations.filter(pk=calibration).first()
    if found is None and request.method == "POST":
        return redirect("rigs:rig", rig.pk)  # sent twice
    found = get_object_or_404(rig.calibrations, pk=calibration)
    if request.method == "POST":
        with transaction.atomic():
            tell_readers(rig)
            found.delete()
        messages.success(request, gettext("Deleted: the calibration of %(made_on)s.") % {"made_on": found.made_on})
        return redirect("rigs:rig", rig.pk)
    found.rig = rig
    context = {"section": SECTION, "rig": rig, "calibration": shown(calibrated(found, setup_of(rig).reads))}
    return render(request, "rigs/delete_calibration.html", context)
