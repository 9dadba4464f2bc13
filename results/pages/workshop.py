"""The workshops whose tests the book holds, and a page for each: its studies, where it stands, its rigs."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from urllib.parse import urlencode

from django import forms
from django.db.models import Count, Q, QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render

from results.evidence import Choices
from results.evidence.choices import ACTIONS, TESTS
from results.evidence.shops import FOOTINGS, names, shop, tested_by
from results.kept import once
from results.models import Study
from results.site.choices import told_now
from stats.footing.ladder import FOOTINGS as KINDS

from . import drawings, errors
from .browse_forms import Narrowing
from .workshop_address import read, workshop_url, written
from .workshop_shown import Rigs, Standing, rigs_of, standing_of

PER_PAGE = 40
SECTION = "studies"
MOST_STUDIES = 100
NEAREST = 5
ACCEPTED = Q(status=Study.Status.ACCEPTED)


class WorkshopFilter(Narrowing):
    q = forms.CharField(required=False, max_length=100, label="Part of a workshop's name")

    def matching(self, rows: QuerySet) -> QuerySet:
        asked = self.cleaned_data["q"]
        return rows.filter(workshop__icontains=asked) if asked else rows


def workshops(request: HttpRequest) -> HttpResponse:
    chosen = WorkshopFilter(request.GET)
    try:
        # Grouped by their name; what orders studies would split the groups.
        rows = chosen.narrow(Study.objects.public().exclude(workshop="").order_by()).values("workshop")
        counted = rows.annotate(
            n=Count("pk", filter=ACCEPTED),
            withdrawn=Count("pk", filter=~ACCEPTED),
            invented=Count("pk", filter=Q(invented=True)),
        )
        page = errors.page_of(request, counted.order_by("workshop"), PER_PAGE)
    except errors.BadParameter as bad:
        return errors.bad_parameter(request, bad, SECTION)
    listed = [{**row, "url": workshop_url(row["workshop"])} for row in page.object_list]
    return render(
        request, "browse/workshops.html", {"section": SECTION, "form": chosen, "page": page, "workshops": listed}
    )


def workshop(request: HttpRequest, address: str) -> HttpResponse:
    name = read(address)
    studies = list(_studies(name)) if name is not None else []
    if name is None or not studies:
        # A name typed or linked to as it is leads to its own address.
        if "\0" not in address and Study.objects.public().filter(workshop=address).exists():
            return redirect("browse:workshop", written(address))
        return _missing(request, address if name is None else name)
    try:
        asked = _Asked(name, request)
    except errors.BadParameter as bad:
        return errors.bad_parameter(request, bad, SECTION)
    standing = asked.standing()
    context = {
        "section": SECTION,
        "name": name,
        "studies": studies[:MOST_STUDIES],
        "more": max(len(studies) - MOST_STUDIES, 0),
        "counts": sum(one.status == Study.Status.ACCEPTED for one in studies),
        "workshop_query": urlencode({"workshop": name}),
        "made_up": any(one.invented for one in studies),
        "rigs": asked.rigs(),
        "standing": standing,
        "asked": asked,
        "mandel": [("h", "Mandel's h of the shops"), ("k", "Mandel's k of the shops")],
        "charts": drawings.shown(
            standing.charts if standing else {},
            "browse:workshop-chart",
            written(name),
            query=asked.query,
            invented=bool(standing and standing.invented),
        ),
    }
    return render(request, "browse/workshop.html", context)


@drawings.addressed
def workshop_chart(request: HttpRequest, address: str, chart: str, kind: str) -> HttpResponseBase:
    """One of the page's charts, as SVG or as the figure that plotly's script draws."""
    name = read(address)
    if name is None or not _studies(name).exists():
        raise Http404("There is no such workshop.")
    try:
        standing = _Asked(name, request, ignore=drawings.PARAMETERS).standing()
    except errors.BadParameter as bad:
        return errors.bad_parameter(request, bad, SECTION)
    found = standing.charts.get(chart) if standing else None
    return drawings.answer(request, found, kind, invented=bool(standing and standing.invented))


class _Asked:
    """What an address asks of a workshop's page: a footing, an action, joints or bonds."""

    PARAMETERS = ("footing", "action", "tests")

    def __init__(self, name: str, request: HttpRequest, *, ignore: Iterable[str] = ()) -> None:
        self.name = name
        for given in request.GET:
            if given not in self.PARAMETERS and given not in ignore:
                allowed = ", ".join(self.PARAMETERS)
                raise errors.BadParameter(given, request.GET[given], f"is no parameter here; there are {allowed}.")
        self.invented = Choices().with_invented
        self.there = tested_by(name, invented=self.invented)
        action, tests, _ = self.there[0] if self.there else ("bending", "joint", 0)
        self.footing = _one(request, "footing", FOOTINGS, FOOTINGS[0])
        self.action = _one(request, "action", tuple(ACTIONS), action)
        self.tests = _one(request, "tests", ("joint", "bond"), tests)

    @property
    def query(self) -> str:
        return self._query()

    def _query(self, **changes: str) -> str:
        return urlencode({"footing": self.footing, "action": self.action, "tests": self.tests, **changes})

    def footings(self) -> list[tuple[str, str, bool]]:
        """The footings to choose from: name, where, and whether it is the chosen one."""
        return [(KINDS[code].name, self._query(footing=code), code == self.footing) for code in FOOTINGS]

    def kinds(self) -> list[tuple[str, str, bool]]:
        """What the shop tested: in words, where, and whether it is chosen."""
        return [
            (
                f"{ACTIONS[action]}, {TESTS[tests]} ({n} series)",
                self._query(action=action, tests=tests),
                (action, tests) == (self.action, self.tests),
            )
            for action, tests, n in self.there
        ]

    def standing(self) -> Standing | None:
        """Where the shop stands; None where it has nothing accepted under what is asked."""
        if (self.action, self.tests) not in {(action, tests) for action, tests, _ in self.there}:
            return None

        def make() -> Standing:
            given = {"footing": self.footing, "action": self.action, "tests": self.tests}
            return standing_of(shop(self.name, **given, invented=self.invented))

        return once(f"workshop {self.name!r} {self.query}{told_now()}", make)

    def rigs(self) -> Rigs:
        return once(f"workshop rigs {self.name!r}{told_now()}", lambda: rigs_of(self.name))


def _one(request: HttpRequest, field: str, known: tuple[str, ...], default: str) -> str:
    given = list(dict.fromkeys(value for value in request.GET.getlist(field) if value))
    if len(given) > 1:
        raise errors.BadParameter(field, ", ".join(given), "may be given once only.")
    if given and given[0] == "peak_load" and field == "footing":
        raise errors.BadParameter(field, given[0], "never leaves its own rig, so that no two shops have one in common.")
    if given and given[0] not in known:
        raise errors.BadParameter(field, given[0], f"is not one of {', '.join(known)}.")
    return given[0] if given else default


def _studies(name: str) -> QuerySet:
    """What everybody may read of a workshop's studies; nobody's own drafts are among them."""
    return Study.objects.public().filter(workshop=name).annotate(n_series=Count("series"))


def _missing(request: HttpRequest, asked: str) -> HttpResponse:
    """There is no such workshop, or none that everybody may know of; those that are called something like it."""
    known = {name.casefold(): name for name in names()}
    wanted = asked.strip().casefold().replace("_", " ")
    close = difflib.get_close_matches(wanted, list(known), n=NEAREST, cutoff=0.5)
    close += [name for name in known if wanted and wanted in name and name not in close]
    nearest = [(known[name], workshop_url(known[name])) for name in close[:NEAREST]]
    return render(
        request, "browse/workshop_missing.html", {"section": SECTION, "asked": asked, "nearest": nearest}, status=404
    )
