"""What may be asked of each table; anything else is refused by name, never ignored."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, ClassVar, cast

import django_filters
from django.db.models import F, QuerySet
from django.http import HttpRequest, QueryDict
from django_filters.rest_framework import DjangoFilterBackend
from rest_framework.filters import BaseFilterBackend
from rest_framework.request import Request

from results.models import (
    AdhesiveClass,
    FailurePlace,
    Finding,
    JointFamily,
    Loading,
    Series,
    Specimen,
    Study,
    Timber,
)
from results.models.footing import CODES

from .cursor import By
from .errors import BadParameters, Fault, nearest, shorten
from .filter_kinds import Flags, Joints, Numbers, Present, Search, Words, choices, codes

# Parameters that say how a table is answered, not which rows it has.
PRESENTATION = ("format", "page", "page_size", "cursor", "ordering", "fields")
# Parameters of one value; the others may be repeated.
ONCE = ("page", "page_size", "cursor", "q", "by", "table", "coverage", "confidence", "model")


def _workshops(request: HttpRequest) -> Iterable[str]:
    # Of readable studies only, else the "did you mean" would tell of somebody's draft.
    rows = Study.objects.visible_to(request.user).order_by("workshop")
    return rows.values_list("workshop", flat=True).distinct()


def _status(field_name: str) -> Words:
    return Words(field_name, choices(Study.Status.choices), default=[Study.Status.ACCEPTED])


class Strict(django_filters.FilterSet):
    """Filters that refuse with every fault, and never give an empty answer for a study left out."""

    def faults(self) -> list[Fault]:
        """What is wrong with the values; empty if nothing is."""
        found = [
            Fault(
                name,
                error.params["value"],
                f"{name}={shorten(error.params['value'])!r} {error.message % error.params}",
            )
            for name, errors in self.form.errors.as_data().items()
            for error in errors
        ]
        return found or self._left_out()

    def _left_out(self) -> list[Fault]:
        """Studies and series asked for by number that aren't there, or that the status leaves out."""
        given = self.form.cleaned_data
        statuses = given.get("status") or [Study.Status.ACCEPTED]
        user = self.request.user
        readable = {
            "study": ("status", Study.objects.visible_to(user)),
            "series": ("study__status", Series.objects.filter(study__in=Study.objects.visible_to(user))),
        }
        found = []
        for name, (status, rows) in readable.items():
            ids = self.filters[name].wanted(given[name]) if given.get(name) else []
            known = dict(rows.filter(pk__in=ids).values_list("pk", status)) if ids else {}
            for pk in ids:
                if pk not in known:
                    detail = f"{name}={pk}: there is no such {name} that you may read."
                elif known[pk] not in statuses:
                    detail = (
                        f"{name}={pk}: the study is {known[pk]} and left out unless asked for; add status={known[pk]}."
                    )
                else:
                    continue
                found.append(Fault(name, str(pk), detail))
        return found


class PlanFilters(Strict):
    invented = Flags("invented")


class EvidenceFilters(Strict):
    """What a series is. There is no status: of series that count nothing else is asked."""

    joint = Joints("joint_id")
    family = Words("joint__family_id", codes(JointFamily))
    timber = Words("timber_id", codes(Timber))
    adhesive = Words("adhesive_id", codes(AdhesiveClass))
    loading = Words("setup__loading_id", codes(Loading))
    action = Words("setup__loading__action", choices(Loading.ACTIONS))
    tests = Words("tests", choices(Series.Tests.choices))
    conditioning = Words("conditioning", choices(Series.Conditioning.choices))
    workshop = Words("study__workshop", _workshops)
    invented = Flags("study__invented")


class SeriesFilters(EvidenceFilters):
    status = _status("study__status")
    study = Numbers("study_id", "study")
    series = Numbers("pk", "series")


class OfSeriesFilters(SeriesFilters):
    """What a row's series is, and what the row is itself."""

    # Filters on the row itself.
    OWN: ClassVar[tuple[str, ...]] = ()

    def filter_queryset(self, rows: QuerySet) -> QuerySet:
        """Narrow the rows to those of the series that are asked for and may be read.

        Studies are chosen by themselves, then series, so that the database can go through the rows in their order
        and stop when a page is full.
        """
        studies, series = Study.objects.visible_to(self.request.user), Series.objects.order_by()
        for name, given in self.form.cleaned_data.items():
            one = self.filters[name]
            if name in self.OWN:
                rows = one.filter(rows, given)
            elif one.field_name.startswith("study__"):
                studies = one.filter(studies, given, one.field_name.removeprefix("study__"))
            else:
                series = one.filter(series, given)
        # The sum keeps SQLite from going through all series by their study, where it could by their joint.
        series = series.alias(its_study=F("study_id") + 0).filter(its_study__in=studies.order_by().values("pk"))
        return rows.filter(series__in=series.values("pk"))


class SpecimenFilters(OfSeriesFilters):
    OWN = ("outcome", "failure_place", "flagged")

    outcome = Words("outcome", choices(Specimen.Outcome.choices))
    failure_place = Words("failure_place_id", codes(FailurePlace))
    flagged = Flags("flagged")


class FootingFilters(OfSeriesFilters):
    OWN = ("footing", "available")

    footing = Words("code", choices((code, code) for code in CODES))
    available = Present("sum_log")


class StudyFilters(EvidenceFilters):
    """A study is found by what one of its series is: of this joint and in that timber, both at once."""

    OWN: ClassVar[tuple[str, ...]] = ("status", "study", "workshop", "invented", "origin", "licence", "q")

    status = _status("status")
    study = Numbers("pk", "study")
    workshop = Words("workshop", _workshops)
    invented = Flags("invented")
    origin = Words("origin", choices(Study.Origin.choices))
    licence = Words("licence", choices(Study.Licence.choices))
    q = Search("title", "question", "workshop")

    def filter_queryset(self, rows: QuerySet) -> QuerySet:
        series = Series.objects.order_by()
        asked = False
        for name, given in self.form.cleaned_data.items():
            if name in self.OWN:
                rows = self.filters[name].filter(rows, given)
            elif given:
                series, asked = self.filters[name].filter(series, given), True
        return rows.filter(pk__in=series.values("study_id")) if asked else rows


class FindingFilters(Strict):
    status = _status("study__status")
    study = Numbers("study_id", "study")
    series = Numbers("series_id", "series")
    severity = Words("severity", choices(Finding.Severity.choices))


class JointFilters(Strict):
    family = Words("family_id", codes(JointFamily))


class LoadingFilters(Strict):
    action = Words("action", choices(Loading.ACTIONS))


class TimberFilters(Strict):
    q = Search("name", "scientific_name", "code")
    group = Words("group", choices(cast(list[tuple[str, str]], Timber._meta.get_field("group").choices)))


def misnamed(given: QueryDict, known: Sequence[str]) -> list[Fault]:
    """A fault for each parameter that isn't known, or has two values where there is room for one."""
    unknown = [
        Fault(name, str(value), f"{shorten(name)!r} is no parameter here. {nearest(name, known)}", "unknown-parameter")
        for name, value in given.items()
        if name not in known
    ]
    values = {name: list(dict.fromkeys(filter(None, given.getlist(name)))) for name in ONCE if name in known}
    twice = [
        Fault(name, ", ".join(found), f"{name} is there with {len(found)} values, {_few(found)}; it takes one.")
        for name, found in values.items()
        if len(found) > 1
    ]
    return [*unknown, *twice]


def _few(values: list[str]) -> str:
    return shorten(" and ".join(repr(shorten(value)) for value in values))


class StrictFilterBackend(DjangoFilterBackend):
    """Filters a table by its view's filters, once every parameter of the address is understood."""

    def filter_queryset(self, request: Request, queryset: QuerySet, view: Any) -> QuerySet:
        filters = view.filterset_class(request.query_params, queryset, request=request)
        faults = misnamed(request.query_params, [*filters.filters, *PRESENTATION])
        for name, known in (("ordering", view.order_names), ("fields", view.column_names)):
            faults += _faults_of_list(request, name, known)
        faults += filters.faults()
        if faults:
            raise BadParameters(faults)
        return filters.qs


def listed(request: Request, name: str) -> list[str]:
    """The parts of a parameter that lists names with commas, or is repeated."""
    given = ",".join(request.query_params.getlist(name))
    return [part.strip() for part in given.split(",") if part.strip()]


def _faults_of_list(request: Request, name: str, known: Sequence[str]) -> list[Fault]:
    return [
        Fault(name, part, f"{name}={shorten(part)!r} is not known. {nearest(part.lstrip('-'), known)}")
        for part in listed(request, name)
        if (part.removeprefix("-") if name == "ordering" else part) not in known
    ]


def ordering_of(request: Request, view: Any) -> list[By]:
    """What a table's rows are ordered by: its own columns, ``ordering=joint,-peak_load_n``; missing come last."""
    columns = {column.name: column for column in view.columns}
    order = []
    for part in listed(request, "ordering"):
        name = part.removeprefix("-")
        order.append(By(name, columns[name].expression, down=part.startswith("-")))
    if not order:
        order = [By(name, F(name), always=True) for name in view.order]
    # The key last, so that rows that tie keep their place from one page to the next.
    return [*order, By("pk", F("pk"), always=True)]


class ColumnOrdering(BaseFilterBackend):
    """Orders a table by `ordering_of`."""

    def filter_queryset(self, request: Request, queryset: QuerySet, view: Any) -> QuerySet:
        if listed(request, "ordering"):
            return queryset.order_by(*(by.ordering for by in ordering_of(request, view)))
        return queryset.order_by(*view.order, "pk")
