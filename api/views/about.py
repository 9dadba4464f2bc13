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
from ..formats import Heading, Table
from ..pagination import whole
from ..renderers import FORMATS
from .extent import Evidence
from .limits import Limits
from .network import Network
from .normalise import Normalise
from .open import OpenView
from .openapi import Description
from .records import TABLES
from .releases import Releases
from .statistics import Compare
from .worked import WORKED


def _rows_as(view: OpenView, names: list[str], rows: list[list[str]]) -> HttpResponseBase:
    """A few rows of text, in the format asked for."""
    if view.as_table:
        return view.in_memory(Table([Heading(name, TEXT) for name in names], rows))
    return Response(whole([dict(zip(names, row, strict=True)) for row in rows]))


class Root(OpenView):
    """What can be read, and what may be asked of it."""

    def get(self, request: Request, **kwargs: Any) -> HttpResponseBase:
        self.check_names()
        rows = [[view.table, view.about, *_addresses(request, view.table), *_asks(view)] for view in TABLES]
        for name, view in OTHERS.items():
            own = [parameter for parameter in view.parameters if parameter not in ("format", "table")]
            rows.append([name, view.about, *_addresses(request, name), " ".join(own), ""])
        others: dict[str, type[OpenView]] = {**WORKED, "normalise": Normalise, "schema": Description}
        for name, view in others.items():
            rows.append([name, view.about, request.build_absolute_uri(reverse(f"api:{name}")), "", "", ""])
        return _rows_as(self, ["name", "about", "json", "csv", "filters", "ordering"], rows)


def _addresses(request: Request, name: str) -> list[str]:
    return [request.build_absolute_uri(reverse(f"api:{name}", args=[suffix])) for suffix in ("json", "csv")]


def _asks(view: Any) -> list[str]:
    return [" ".join(view.filterset_class.base_filters), " ".join(view.order_names)]


class Columns(OpenView):
    """The data dictionary."""

    about = "The data dictionary: every column of every table, its kind, unit and meaning."

    def get(self, request: Request, **kwargs: Any) -> HttpResponseBase:
        self.check_names()
        rows = [
            [view.table, column.name, column.kind, column.unit, column.meaning]
            for view in TABLES
            for column in view.columns
        ]
        return _rows_as(self, ["table", "column", "kind", "unit", "meaning"], rows)


class Problem(OpenView):
    """What a kind of problem means; its address is the problem's type."""

    def get(self, request: Request, kind: str, **kwargs: Any) -> HttpResponseBase:
        if kind not in PROBLEMS:
            raise NotFound(f"{shorten(kind)!r} is no kind of problem. {nearest(kind, PROBLEMS)}")
        title, meaning = PROBLEMS[kind]
        return _rows_as(self, ["kind", "title", "meaning"], [[kind, title, meaning]])


# What is no table of records, by its address.
OTHERS: dict[str, type[OpenView]] = {
    "compare": Compare,
    "network": Network,
    "limits": Limits,
    "evidence": Evidence,
    "releases": Releases,
    "columns": Columns,
}


class NotThere(OpenView):
    """An address under the API that names nothing."""

    def get(self, request: Request, rest: str = "", **kwargs: Any) -> HttpResponseBase:
        names = [*(view.table for view in TABLES), *OTHERS, *WORKED, "normalise", "schema"]
        first = rest.strip("/").split("/")[0].split(".")[0]
        raise NotFound(
            f"{shorten(rest)!r} is no address here. {nearest(first, names)} "
            f"A table's address ends in {', '.join(f'.{form}' for form in FORMATS)} or nothing."
        )
