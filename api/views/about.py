"""What there is: the tables, their columns, the kinds of problem."""

from __future__ import annotations

from typing import Any

from django.http.response import HttpResponseBase
from django.urls import reverse
from rest_framework.exceptions import NotFound
from rest_framework.request import Request
from rest_framework.response import Response

from ..columns import TEXT
from ..errors import PROBLEMS, nearest, shorten
from ..pagination import whole
from ..renderers import Table
from .open import OpenView
from .records import TABLES
from .statistics import Compare


def _rows_as(view: OpenView, names: list[str], rows: list[list[str]]) -> Response:
    """A few rows of text, in the format asked for."""
    if view.as_csv:
        return Response(Table([(name, TEXT) for name in names], rows))
    return Response(whole([dict(zip(names, row, strict=True)) for row in rows]))


class Root(OpenView):
    """What can be read, and what may be asked of it."""

    def get(self, request: Request, **kwargs: Any) -> Response:
        self.check_names()
        rows = [[view.table, view.about, *_addresses(request, view.table), *_asks(view)] for view in TABLES]
        rows.append(["compare", Compare.about, *_addresses(request, "compare"), "", ""])
        rows.append(["columns", Columns.about, *_addresses(request, "columns"), "", ""])
        return _rows_as(self, ["name", "about", "json", "csv", "filters", "ordering"], rows)


def _addresses(request: Request, name: str) -> list[str]:
    return [request.build_absolute_uri(reverse(f"api:{name}", args=[suffix])) for suffix in ("json", "csv")]


def _asks(view: Any) -> list[str]:
    return [" ".join(view.filterset_class.base_filters), " ".join(view.order_names)]


class Columns(OpenView):
    """The data dictionary."""

    about = "The data dictionary: every column of every table, its kind, unit and meaning."

    def get(self, request: Request, **kwargs: Any) -> Response:
        self.check_names()
        rows = [
            [view.table, column.name, column.kind, column.unit, column.meaning]
            for view in TABLES
            for column in view.columns
        ]
        return _rows_as(self, ["table", "column", "kind", "unit", "meaning"], rows)


class Problem(OpenView):
    """What a kind of problem means; its address is the problem's type."""

    def get(self, request: Request, kind: str, **kwargs: Any) -> Response:
        if kind not in PROBLEMS:
            raise NotFound(f"{shorten(kind)!r} is no kind of problem. {nearest(kind, PROBLEMS)}")
        title, meaning = PROBLEMS[kind]
        return _rows_as(self, ["kind", "title", "meaning"], [[kind, title, meaning]])


class NotThere(OpenView):
    """An address under the API that names nothing."""

    def get(self, request: Request, rest: str = "", **kwargs: Any) -> HttpResponseBase:
        names = [*(view.table for view in TABLES), "compare", "columns"]
        first = rest.strip("/").split("/")[0].split(".")[0]
        raise NotFound(
            f"{shorten(rest)!r} is no address here. {nearest(first, names)} "
            "A table's address ends in .json, .csv or nothing."
        )
