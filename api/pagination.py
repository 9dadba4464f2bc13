"""Lists by the page, in one envelope: by number, or by a cursor that costs the same at any depth."""

from __future__ import annotations

import hashlib
from functools import cached_property
from typing import Any, cast

from django.core.cache import caches
from django.core.paginator import InvalidPage, Page
from django.core.paginator import Paginator as DjangoPaginator
from django.db.models import QuerySet
from rest_framework.pagination import PageNumberPagination
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.urls import remove_query_param, replace_query_param

from .errors import BadParameters, Fault, PageNotThere, shorten

KEPT_S = 60 * 60


def whole(results: list) -> dict[str, Any]:
    """The envelope of a list that is short enough to be given whole."""
    return {"count": len(results), "next": None, "previous": None, "results": results}


def links(**addresses: str | None) -> dict[str, str]:
    """The Link header (RFC 8288) with these relations; no header without any."""
    given = [f'<{address}>; rel="{relation}"' for relation, address in addresses.items() if address]
    return {"Link": ", ".join(given)} if given else {}


def page_size(request: Request) -> int:
    """Rows on a page; above the largest it is the largest."""
    asked = request.query_params.get(Pages.page_size_query_param, "")
    if not asked:
        return Pages.page_size
    # Nine digits are more than any table has rows; beyond that nothing needs to be counted.
    if not (asked.isascii() and asked.isdigit()) or int(asked[:9]) == 0:
        detail = (
            f"page_size={shorten(asked)!r} is not a page size; it is a whole number from 1, and above "
            f"{Pages.max_page_size} it gives {Pages.max_page_size}."
        )
        raise BadParameters([Fault(Pages.page_size_query_param, asked, detail)])
    return min(int(asked[:9]), Pages.max_page_size)


class _Counted(DjangoPaginator):
    """Counts rows once for each state of the data: counting a million of them takes longer than reading a page."""

    def __init__(self, rows: QuerySet, per_page: int, state: str) -> None:
        super().__init__(rows, per_page)
        self.rows, self.state = rows, state

    @cached_property
    def count(self) -> int:
        sql, params = self.rows.order_by().query.sql_with_params()
        about = f"{self.state} {sql} {params!r}"
        key = f"count:{hashlib.sha256(about.encode()).hexdigest()}"
        return int(caches["process"].get_or_set(key, self.rows.count, KEPT_S) or 0)


def _pages(paginator: _Counted) -> str:
    return f"It is a whole number from 1 to {paginator.num_pages}, or 'last'."


class Pages(PageNumberPagination):
    """``count``, ``next``, ``previous`` and ``results``; a page size above the largest gives the largest."""

    page_size = 100
    page_size_query_param = "page_size"
    max_page_size = 1000

    def paginate_queryset(self, queryset: QuerySet, request: Request, view: Any = None) -> list:
        self.request = request
        paginator = _Counted(queryset, page_size(request), view.validators.state)
        number = self.number_of(request, paginator)
        try:
            self.page = paginator.page(number)
        except InvalidPage:
            detail = f"page={number} is not there: {paginator.count} rows, {paginator.per_page} on a page. "
            raise PageNotThere([Fault("page", str(number), detail + _pages(paginator), "not-found")]) from None
        return list(self.page)

    @staticmethod
    def number_of(request: Request, paginator: _Counted) -> int:
        """The number of the page that is asked for; the first, if none is."""
        asked = request.query_params.get("page") or "1"
        if asked == "last":
            return paginator.num_pages
        # More digits than any table has pages, and fewer than would take long to read.
        if not (asked.isascii() and asked.isdigit()) or int(asked[:20]) == 0:
            raise BadParameters([Fault("page", asked, f"page={shorten(asked)!r} is no page. {_pages(paginator)}")])
        return int(asked[:20])

    @property
    def links(self) -> dict[str, str]:
        # Both are there once a page was found.
        request, page = cast(Request, self.request), cast(Page, self.page)
        here = request.build_absolute_uri()
        return links(
            first=remove_query_param(here, "page"),
            prev=self.get_previous_link(),
            next=self.get_next_link(),
            last=replace_query_param(here, "page", page.paginator.num_pages),
        )

    def get_paginated_response(self, data: list[dict[str, Any]]) -> Response:
        return Response(super().get_paginated_response(data).data, headers=self.links)
