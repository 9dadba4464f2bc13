"""Addresses of the read API; each that gives a table may end in its format."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http.response import HttpResponseBase
from django.urls import URLPattern, path, re_path, register_converter

from .renderers import FORMATS
from .views.about import OTHERS, NotThere, Problem, Root
from .views.normalise import Normalise
from .views.openapi import Description, Reference
from .views.records import TABLES, Records
from .views.worked import WORKED


class Suffix:
    """The format asked for at the end of an address; a stray slash is no matter."""

    regex = rf"\.(?:{'|'.join(FORMATS)})/?|/?"

    def to_python(self, value: str) -> str:
        return value.strip("./")

    def to_url(self, value: str) -> str:
        return f".{value}" if value else ""


register_converter(Suffix, "suffix")


def _both(route: str, view: Callable[..., HttpResponseBase], name: str) -> list[URLPattern]:
    """An address without and with its suffix; the first is the one that is linked to."""
    return [path(route, view, name=name), path(f"{route}<suffix:format>", view, name=name)]


def _table(view: type[Records]) -> list[URLPattern]:
    key = "slug" if view.model._meta.pk.name == "code" else "int"
    methods: dict[str, Any] = {"get": "list", **({"post": "create"} if hasattr(view, "create") else {})}
    return [
        *_both(view.table, view.as_view(methods), view.table),
        *_both(f"{view.table}/<{key}:pk>", view.as_view({"get": "retrieve"}), f"{view.table}-one"),
    ]


app_name = "api"
urlpatterns = [
    path("", Root.as_view(), name="root"),
    # /<table>, /<table>/<pk>
    *(pattern for view in TABLES for pattern in _table(view)),
    # /compare, /network, /limits, /evidence, /releases, /columns
    *(pattern for name, view in OTHERS.items() for pattern in _both(name, view.as_view(), name)),
    # /demand, /capacity, /margin, /share, /leverage, /movement, /plan
    *(path(name, view.as_view(), name=name) for name, view in WORKED.items()),
    path("normalise", Normalise.as_view(), name="normalise"),
    *_both("schema", Description.as_view(), "schema"),
    path("reference/", Reference.as_view(), name="reference"),
    path("problems/<slug:kind>", Problem.as_view(), name="problem"),
    # Whatever else there is under here, with line ends in it or not.
    re_path(r"^(?P<rest>(?s:.+))$", NotThere.as_view(), name="not-there"),
]
