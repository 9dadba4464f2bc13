"""The records as tables: a list of rows, or one row with all that belongs to it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from typing import Any, ClassVar, cast

from django.conf import settings
from django.db.models import Model, QuerySet
from django.db.models.expressions import Combinable
from django.http.response import HttpResponseBase
from rest_framework.exceptions import NotFound
from rest_framework.renderers import BaseRenderer
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.urls import replace_query_param
from rest_framework.viewsets import GenericViewSet

from results.models import (
    AdhesiveClass,
    FailurePlace,
    Finding,
    Joint,
    Loading,
    Plan,
    Series,
    SeriesFooting,
    Specimen,
    Study,
    Timber,
    data_version,
)

from .. import bulk, cursor, filters, serializers, tables
from ..bodies import CSVBody, JSONBody
from ..columns import Column, as_dict, values_of
from ..conditional import moment
from ..errors import BadParameters, Fault, shorten
from ..formats import CSV, NDJSON, Table
from ..pagination import Pages, links, page_size
from ..renderers import JSONRenderer, stream
from .drafts import create
from .open import OpenView


@lru_cache(maxsize=100)
def _wide(model: type[Model], sources: tuple[str | Combinable, ...]) -> QuerySet:
    """Every row's key and cells, not read yet: to put so wide a query together takes longer than to read a page."""
    return model._default_manager.order_by().values_list("pk", *sources)


class Records(OpenView, GenericViewSet):
    """One table. What is particular to it is said by the attributes."""

    model: ClassVar[type[Model]]
    table: ClassVar[str]
    one: ClassVar[str]
    about: ClassVar[str]
    columns: ClassVar[tuple[Column, ...]]
    filterset_class: type[filters.Strict] = filters.Strict
    filter_backends = [filters.StrictFilterBackend, filters.ColumnOrdering]
    # What many rows have in common, if there is much of it.
    shared: ClassVar[bulk.Shared | None] = None
    # Path to the study that says who may read a row; None for vocabulary, which all may.
    study: ClassVar[str | None] = None
    order: ClassVar[tuple[str, ...]] = ()
    order_names: ClassVar[tuple[str, ...]] = ()

    @property
    def column_names(self) -> list[str]:
        return [column.name for column in self.columns]

    def get_queryset(self) -> QuerySet:
        rows = self.model._default_manager.all()
        # The filters of such a list leave only what may be read; saying it twice would be worked out twice.
        seen_to = self.action == "list" and issubclass(self.filterset_class, filters.OfSeriesFilters)
        if self.study is None or seen_to:
            return rows
        return rows.filter(**{f"{self.study}__in": Study.objects.visible_to(self.request.user)})

    def chosen_columns(self) -> list[Column]:
        """The columns asked for with ``fields``, in the table's order; all of them without it."""
        asked = filters.listed(self.request, "fields")
        return [column for column in self.columns if not asked or column.name in asked]

    def list(self, request: Request, **kwargs: Any) -> HttpResponseBase:
        """Rows of the table: a page of them as JSON; all of them in the other formats, unless a page is asked for."""
        found = self.filter_queryset(self.get_queryset())
        columns = self.chosen_columns()
        if "cursor" in request.query_params:
            return self.after_cursor(found, columns)
        paged = request.query_params.get("page") or request.query_params.get("page_size")
        if self.as_table and not paged:
            # HEAD asks for the headers only, so nothing is read for it.
            return stream(iter(()) if request.method == "HEAD" else self.all(found, columns), self.form, self.table)
        rows = self.rows_of(self.paginate_queryset(found.values_list("pk", flat=True)) or (), columns)
        if self.as_table:
            return self.in_memory(Table.of(columns, rows), cast(Pages, self.paginator).links)
        return self.get_paginated_response([as_dict(columns, row) for row in rows])

    def rows_of(self, keys: Iterable[Any], columns: Sequence[Column]) -> Sequence[tuple[Any, ...]]:
        """The rows of these keys, in their order: a page's keys are found first, so that only its rows are wide."""
        found = _wide(self.model, tuple(column.source for column in columns)).filter(pk__in=keys)
        by_key = {row[0]: row[1:] for row in found}
        return [by_key[key] for key in keys if key in by_key]

    def after_cursor(self, found: QuerySet, columns: Sequence[Column]) -> HttpResponseBase:
        """The page that begins where the cursor says; nothing is counted."""
        if page := self.request.query_params.get("page"):
            detail = f"page={shorten(page)!r} can't be had with a cursor, which says itself where its page begins."
            raise BadParameters([Fault("page", page, detail)])
        order = filters.ordering_of(self.request, self)
        found_page = cursor.page(self.request, found, order, page_size(self.request))
        here = self.request.build_absolute_uri()
        headers = links(first=replace_query_param(here, "cursor", ""), next=found_page.next)
        rows = self.rows_of(found_page.keys, columns)
        if self.as_table:
            return self.in_memory(Table.of(columns, rows), headers)
        results = [as_dict(columns, row) for row in rows]
        return Response({"count": None, "next": found_page.next, "previous": None, "results": results}, headers=headers)

    def all(self, found: QuerySet, columns: Sequence[Column]) -> Iterator[bytes]:
        """All rows, from one moment of the database, in a format that is sent while it is read."""
        if self.form == "parquet":
            version = data_version()
            about = {"table": self.table, "about": self.about, "data_version": str(version), "as_of": moment(version)}
            return bulk.parquet(found, columns, about)
        return bulk.lines(CSV if self.form == "csv" else NDJSON, found, columns, self.shared)

    def retrieve(self, request: Request, pk: int | str, **kwargs: Any) -> HttpResponseBase:
        """One row; as JSON with all that belongs to it."""
        self.check_names()
        columns = self.columns
        row = values_of(self.get_queryset().filter(pk=pk), columns).first()
        if row is None:
            raise NotFound(f"There is no {self.one} {pk} that you may read.")
        if self.as_table:
            return self.in_memory(Table.of(columns, [row]))
        return Response({**as_dict(columns, row), **self.parts(pk)})

    def parts(self, pk: int | str) -> dict[str, Any]:
        """What a single record shows beyond its row."""
        return {}


class Studies(Records):
    model = Study
    table, one = "studies", "study"
    about = "Sets of tests made to answer one question. Accepted ones; others with status=withdrawn."
    columns = tables.STUDIES
    filterset_class = filters.StudyFilters
    study = "pk"
    order = ("pk",)
    order_names = ("study_id", "study_title", "workshop", "tested_on", "accepted_at", "series", "specimens")
    http_method_names = ["get", "head", "options", "post"]
    parser_classes = [JSONBody, CSVBody]

    @property
    def body_most(self) -> int:
        return settings.UPLOAD_MAX_MB * 1_000_000

    def get_renderers(self) -> list[BaseRenderer]:
        return [JSONRenderer()] if self.request.method == "POST" else super().get_renderers()

    def create(self, request: Request, **kwargs: Any) -> Response:
        """Save a study that is sent along as a draft of who sends it."""
        self.check_names()
        return create(request)

    def parts(self, pk: int | str) -> dict[str, Any]:
        return serializers.study_parts(int(pk))


class SeriesTable(Records):
    model = Series
    table, one = "series", "series"
    about = "Specimens made alike and tested on one setup, or a published mean of such."
    columns = tables.SERIES
    filterset_class = filters.SeriesFilters
    study = "study"
    order = ("study_id",)
    order_names = ("series_id", "study_id", "series", "joint", "timber", "adhesive", "loading", "broke")

    def parts(self, pk: int | str) -> dict[str, Any]:
        return serializers.series_parts(int(pk))


class Specimens(Records):
    model = Specimen
    table, one = "specimens", "specimen"
    about = "Joints, each tested once, with all that is known of series, setup and study in the same row."
    columns = tables.SPECIMENS
    shared = bulk.Shared("series", Series)
    filterset_class = filters.SpecimenFilters
    study = "series__study"
    order = ("series_id", "position")
    order_names = (
        "specimen_id",
        "study_id",
        "series_id",
        "joint",
        "timber",
        "adhesive",
        "loading",
        "outcome",
        "peak_load_n",
        "moment_nm",
        "force_n",
        "stress_mpa",
        "ratio_solid",
        "ratio_solid_matched",
        "ratio_control",
        "wood_failure_pct",
    )


class Footings(Records):
    model = SeriesFooting
    table, one = "footings", "footing"
    about = "Series on each footing: sums, geometric mean, how it was obtained step by step, or what is missing."
    columns = tables.FOOTINGS
    filterset_class = filters.FootingFilters
    study = "series__study"
    order = ("series_id",)
    order_names = ("footing_id", "study_id", "series_id", "footing", "joint", "timber", "geometric_mean", "broke")


class Findings(Records):
    model = Finding
    table, one = "findings", "finding"
    about = "What the checks noticed about saved studies. Nothing is removed for it."
    columns = tables.FINDINGS
    filterset_class = filters.FindingFilters
    study = "study"
    order_names = ("finding_id", "study_id", "series_id", "code", "severity")


class Plans(Records):
    model = Plan
    table, one = "plans", "plan"
    about = "Tests that people planned before testing, whether or not a study followed."
    columns = tables.PLANS
    filterset_class = filters.PlanFilters
    order_names = ("plan_id", "plan_title", "plan_status", "lodged_at", "studies")


class Joints(Records):
    model = Joint
    table, one = "joints", "joint"
    about = "Kinds of joint, with what their area and section are computed from."
    columns = tables.JOINTS
    filterset_class = filters.JointFilters
    order = ("position",)
    order_names = ("code", "name", "family", "series")


class Loadings(Records):
    model = Loading
    table, one = "loadings", "loading"
    about = "Arrangements that apply the load, and what the joint feels."
    columns = tables.LOADINGS
    filterset_class = filters.LoadingFilters
    order = ("position",)
    order_names = ("code", "name", "action", "series")


class Timbers(Records):
    model = Timber
    table, one = "timbers", "timber"
    about = "Timbers with their clear-wood properties and sources."
    columns = tables.TIMBERS
    filterset_class = filters.TimberFilters
    order = ("name",)
    order_names = ("code", "name", "group", "sg_12", "mor_12_mpa", "shear_12_mpa", "series")


class Adhesives(Records):
    model = AdhesiveClass
    table, one = "adhesives", "adhesive"
    about = "Classes of glue by their chemistry."
    columns = tables.ADHESIVES
    order = ("position",)
    order_names = ("code", "name", "series")


class FailurePlaces(Records):
    model = FailurePlace
    table, one = "failure-places", "failure place"
    about = "Where a joint can break; this says nothing of how much it took."
    columns = tables.FAILURE_PLACES
    order = ("position",)
    order_names = ("code", "name")


TABLES: tuple[type[Records], ...] = (
    Studies,
    SeriesTable,
    Specimens,
    Footings,
    Findings,
    Plans,
    Joints,
    Loadings,
    Timbers,
    Adhesives,
    FailurePlaces,
)
