"""What may be asked of each table; anything else is refused by name, never ignored."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

import django_filters
from django import forms
from django.core.exceptions import ValidationError
from django.db.models import F, Model, QuerySet
from django.http import HttpRequest, QueryDict
from django_filters.rest_framework import DjangoFilterBackend
from rest_framework.filters import BaseFilterBackend
from rest_framework.request import Request

from results.models import (
    AdhesiveClass,
    FailurePlace,
    Finding,
    Joint,
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

# Parameters that say how a table is answered, not which rows it has.
PRESENTATION = ("format", "page", "page_size", "cursor", "ordering", "fields")
Known = Callable[[HttpRequest], Iterable[str]]


class _Values(forms.Field):
    """All values of a repeated parameter; a value left empty, as a form sends it, is no value."""

    widget = forms.MultipleHiddenInput

    def __init__(self, *, check: Callable[[list[str]], list[str]], **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.check = check

    def clean(self, value: Sequence[str] | None) -> list[str]:
        given = list(dict.fromkeys(one for one in value or () if one != ""))
        if given and (faults := self.check(given)):
            raise ValidationError([ValidationError("%(detail)s", params={"value": v, "detail": d}) for v, d in faults])
        return given


class Words(django_filters.Filter):
    """Rows whose field holds one of the words given; repeating the parameter means "or".

    Parameters
    ----------
    field_name : str
        Path of the field.
    known : callable
        Takes the request, gives the words that may be asked for.
    default : sequence of str, optional
        What is meant when none is given; without it all rows are.
    """

    field_class = _Values

    def __init__(self, field_name: str, known: Known, default: Sequence[str] = ()) -> None:
        super().__init__(field_name)
        self.known = known
        self.default = list(default)

    @property
    def field(self) -> forms.Field:
        if not hasattr(self, "_field"):
            self._field = _Values(required=False, check=self.faults)
        return self._field

    def faults(self, given: list[str]) -> list[tuple[str, str]]:
        """Each value that can't be used, and why."""
        known = list(self.known(self.parent.request))
        return [(value, f"is not known. {nearest(value, known)}") for value in given if value not in known]

    def wanted(self, given: list[str]) -> list[Any]:
        """What the field may hold."""
        return given or self.default

    def filter(self, rows: QuerySet, given: list[str], path: str = "") -> QuerySet:
        wanted = self.wanted(given)
        return rows.filter(**{f"{path or self.field_name}__in": wanted}) if wanted else rows


class Flags(Words):
    """Rows that are flagged, or aren't."""

    MEANS: Mapping[str, tuple[bool, ...]] = {"true": (True,), "false": (False,)}

    def __init__(self, field_name: str, also: Mapping[str, tuple[bool, ...]] | None = None) -> None:
        self.means = {**self.MEANS, **(also or {})}
        super().__init__(field_name, lambda request: self.means)

    def wanted(self, given: list[str]) -> list[bool]:
        return sorted({state for word in given for state in self.means[word]})


class Present(Flags):
    """Rows that have something, or haven't."""

    def filter(self, rows: QuerySet, given: list[str], path: str = "") -> QuerySet:
        wanted = self.wanted(given)
        return rows.filter(**{f"{path or self.field_name}__isnull": not wanted[0]}) if len(wanted) == 1 else rows


class Numbers(Words):
    """Rows that belong to the studies or series of these numbers."""

    def __init__(self, field_name: str, what: str) -> None:
        super().__init__(field_name, lambda request: ())
        self.what = what

    def faults(self, given: list[str]) -> list[tuple[str, str]]:
        return [
            (value, f"is not a number of a {self.what}; it is a whole number, as in {self.what}=12.")
            for value in given
            if not (value.isascii() and value.isdigit() and len(value) < 19)
        ]

    def wanted(self, given: list[str]) -> list[int]:
        return [int(value) for value in given]


def codes(model: type[Model]) -> Known:
    """The codes of a vocabulary table."""
    return lambda request: model._default_manager.values_list("pk", flat=True)


def choices(pairs: Iterable[tuple[str, str]]) -> Known:
    """The codes of a fixed choice."""
    known = [str(code) for code, _ in pairs if code]
    return lambda request: known


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


class SeriesFilters(Strict):
    status = _status("study__status")
    study = Numbers("study_id", "study")
    series = Numbers("pk", "series")
    joint = Words("joint_id", codes(Joint))
    family = Words("joint__family_id", codes(JointFamily))
    timber = Words("timber_id", codes(Timber))
    adhesive = Words("adhesive_id", codes(AdhesiveClass))
    loading = Words("setup__loading_id", codes(Loading))
    action = Words("setup__loading__action", choices(Loading.ACTIONS))
    tests = Words("tests", choices(Series.Tests.choices))
    conditioning = Words("conditioning", choices(Series.Conditioning.choices))
    workshop = Words("study__workshop", _workshops)
    invented = Flags("study__invented")


class SpecimenFilters(SeriesFilters):
    """What a specimen's series is, and what it is itself."""

    OWN = ("outcome", "failure_place", "flagged")

    outcome = Words("outcome", choices(Specimen.Outcome.choices))
    failure_place = Words("failure_place_id", codes(FailurePlace))
    # "with" and "without" are what the pages say: with flagged specimens, or without.
    flagged = Flags("flagged", {"with": (True, False), "without": (False,)})

    def filter_queryset(self, rows: QuerySet) -> QuerySet:
        """Narrow the rows to those of the series that are asked for and may be read.

        Studies are chosen by themselves, then series, so that the database can go through the specimens in their
        order and stop when a page is full.
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


class FootingFilters(Strict):
    status = _status("series__study__status")
    study = Numbers("series__study_id", "study")
    series = Numbers("series_id", "series")
    footing = Words("code", choices((code, code) for code in CODES))
    available = Present("sum_log")
    joint = Words("series__joint_id", codes(Joint))
    family = Words("series__joint__family_id", codes(JointFamily))
    timber = Words("series__timber_id", codes(Timber))
    adhesive = Words("series__adhesive_id", codes(AdhesiveClass))
    loading = Words("series__setup__loading_id", codes(Loading))
    action = Words("series__setup__loading__action", choices(Loading.ACTIONS))
    tests = Words("series__tests", choices(Series.Tests.choices))
    workshop = Words("series__study__workshop", _workshops)
    invented = Flags("series__study__invented")


class EvidenceFilters(Strict):
    """Series of accepted studies; there is no status, since nothing else is evidence."""

    joint = Words("joint_id", codes(Joint))
    family = Words("joint__family_id", codes(JointFamily))
    timber = Words("timber_id", codes(Timber))
    adhesive = Words("adhesive_id", codes(AdhesiveClass))
    loading = Words("setup__loading_id", codes(Loading))
    action = Words("setup__loading__action", choices(Loading.ACTIONS))
    tests = Words("tests", choices(Series.Tests.choices))
    conditioning = Words("conditioning", choices(Series.Conditioning.choices))
    workshop = Words("study__workshop", _workshops)
    invented = Flags("study__invented")


class StudyFilters(Strict):
    """A study is found by what one of its series is: of this joint and in that timber, both at once."""

    OF_SERIES = ("joint", "family", "timber", "adhesive", "loading", "action", "tests", "conditioning")

    status = _status("status")
    study = Numbers("pk", "study")
    workshop = Words("workshop", _workshops)
    invented = Flags("invented")
    origin = Words("origin", choices(Study.Origin.choices))
    licence = Words("licence", choices(Study.Licence.choices))
    joint = Words("joint_id", codes(Joint))
    family = Words("joint__family_id", codes(JointFamily))
    timber = Words("timber_id", codes(Timber))
    adhesive = Words("adhesive_id", codes(AdhesiveClass))
    loading = Words("setup__loading_id", codes(Loading))
    action = Words("setup__loading__action", choices(Loading.ACTIONS))
    tests = Words("tests", choices(Series.Tests.choices))
    conditioning = Words("conditioning", choices(Series.Conditioning.choices))

    def filter_queryset(self, rows: QuerySet) -> QuerySet:
        series = Series.objects.order_by()
        asked = False
        for name, given in self.form.cleaned_data.items():
            if name not in self.OF_SERIES:
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
    group = Words("group", choices(Timber._meta.get_field("group").choices))


def unknown_names(given: QueryDict, known: Sequence[str]) -> list[Fault]:
    """A fault for each parameter that isn't known."""
    return [
        Fault(
            name,
            value,
            f"{shorten(name)!r} is no parameter here. {nearest(name, known)}",
            "unknown-parameter",
        )
        for name, value in given.items()
        if name not in known
    ]


class StrictFilterBackend(DjangoFilterBackend):
    """Filters a table by its view's filters, once every parameter of the address is understood."""

    def filter_queryset(self, request: Request, queryset: QuerySet, view: Any) -> QuerySet:
        filters = view.filterset_class(request.query_params, queryset, request=request)
        faults = unknown_names(request.query_params, [*filters.filters, *PRESENTATION])
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
