"""The records as tables: a list of rows, or one row with all that belongs to it."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db.models import Model, QuerySet
from django.http.response import HttpResponseBase
from rest_framework.exceptions import NotFound
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.viewsets import GenericViewSet

from results.models import (
    AdhesiveClass,
    FailurePlace,
    Finding,
    Joint,
    Loading,
    Series,
    Specimen,
    Study,
    Timber,
)

from .. import filters, serializers, tables
from ..columns import Column, as_dict, values_of
from ..renderers import Table, stream
from .open import OpenView

READ_ROWS = 2_000  # rows fetched from the database at a time while a download runs


class Records(OpenView, GenericViewSet):
    """One table. What is particular to it is said by the attributes."""

    model: ClassVar[type[Model]]
    table: ClassVar[str]
    one: ClassVar[str]
    about: ClassVar[str]
    columns: ClassVar[tuple[Column, ...]]
    filterset_class: ClassVar[type[filters.Strict]] = filters.Strict
    filter_backends: ClassVar[list[type]] = [filters.StrictFilterBackend, filters.ColumnOrdering]
    # Path to the study that says who may read a row; None for vocabulary, which all may.
    study: ClassVar[str | None] = None
    order: ClassVar[tuple[str, ...]] = ()
    order_names: ClassVar[tuple[str, ...]] = ()

    @property
    def column_names(self) -> list[str]:
        return [column.name for column in self.columns]

    def get_queryset(self) -> QuerySet:
        rows = self.model._default_manager.all()
        if self.study is None:
            return rows
        return rows.filter(**{f"{self.study}__in": Study.objects.visible_to(self.request.user)})

    def chosen_columns(self) -> list[Column]:
        """The columns asked for with ``fields``, in the table's order; all of them without it."""
        asked = filters.listed(self.request, "fields")
        return [column for column in self.columns if not asked or column.name in asked]

    def list(self, request: Request, **kwargs: Any) -> HttpResponseBase:
        """Rows of the table: a page of them as JSON, all of them as CSV unless a page is asked for."""
        found = self.filter_queryset(self.get_queryset())
        columns = self.chosen_columns()
        rows = values_of(found, columns)
        paged = request.query_params.get("page") or request.query_params.get("page_size")
        if self.as_csv and not paged:
            # HEAD asks for the headers only, so nothing is read for it.
            read = () if request.method == "HEAD" else rows.iterator(chunk_size=READ_ROWS)
            return stream(Table.of(columns, read), self.table)
        page = self.paginate_queryset(rows)
        if self.as_csv:
            return Response(Table.of(columns, page))
        return self.get_paginated_response([as_dict(columns, row) for row in page])

    def retrieve(self, request: Request, pk: int | str, **kwargs: Any) -> Response:
        """One row; as JSON with all that belongs to it."""
        self.check_names()
        columns = self.columns
        row = values_of(self.get_queryset().filter(pk=pk), columns).first()
        if row is None:
            raise NotFound(f"There is no {self.one} {pk} that you may read.")
        if self.as_csv:
            return Response(Table.of(columns, [row]))
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


class Findings(Records):
    model = Finding
    table, one = "findings", "finding"
    about = "What the checks noticed about saved studies. Nothing is removed for it."
    columns = tables.FINDINGS
    filterset_class = filters.FindingFilters
    study = "study"
    order_names = ("finding_id", "study_id", "series_id", "code", "severity")


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
    Findings,
    Joints,
    Loadings,
    Timbers,
    Adhesives,
    FailurePlaces,
)
