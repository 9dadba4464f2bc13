"""Addresses of the read API; each may end in ``.json`` or ``.csv``."""

from __future__ import annotations

from django.urls import URLPattern, path, register_converter

from .renderers import FORMATS
from .views.about import Columns, NotThere, Problem, Root
from .views.records import TABLES, Records
from .views.statistics import Compare


class Suffix:
    """The format asked for at the end of an address; a stray slash is no matter."""

    regex = rf"\.(?:{'|'.join(FORMATS)})/?|/?"

    def to_python(self, value: str) -> str:
        return value.strip("./")

    def to_url(self, value: str) -> str:
        return f".{value}" if value else ""


register_converter(Suffix, "suffix")


def _both(route: str, view: object, name: str) -> list[URLPattern]:
    """An address without and with its suffix; the first is the one that is linked to."""
    return [path(route, view, name=name), path(f"{route}<suffix:format>", view, name=name)]


def _table(view: type[Records]) -> list[URLPattern]:
    key = "slug" if view.model._meta.pk.name == "code" else "int"
    return [
        *_both(view.table, view.as_view({"get": "list"}), view.table),
        *_both(f"{view.table}/<{key}:pk>", view.as_view({"get": "retrieve"}), f"{view.table}-one"),
    ]


app_name = "api"
urlpatterns = [
    path("", Root.as_view(), name="root"),
    # /<table>, /<table>/<pk>
    *(pattern for view in TABLES for pattern in _table(view)),
    # /compare, /columns
    *_both("compare", Compare.as_view(), "compare"),
    *_both("columns", Columns.as_view(), "columns"),
    path("problems/<slug:kind>", Problem.as_view(), name="problem"),
    path("<path:rest>", NotThere.as_view(), name="not-there"),
]
