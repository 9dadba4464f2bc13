"""Lists by the page, in one envelope."""

from __future__ import annotations

from typing import Any

from django.core.paginator import InvalidPage
from django.core.paginator import Paginator as DjangoPaginator
from django.db.models import QuerySet
from rest_framework.exceptions import NotFound
from rest_framework.pagination import PageNumberPagination
from rest_framework.request import Request

from .errors import BadParameters, Fault, shorten


def whole(results: list) -> dict[str, Any]:
    """The envelope of a list that is short enough to be given whole."""
    return {"count": len(results), "next": None, "previous": None, "results": results}


class Pages(PageNumberPagination):
    """``count``, ``next``, ``previous`` and ``results``; a page size above the largest gives the largest."""

    page_size = 100
    page_size_query_param = "page_size"
    max_page_size = 1000

    def get_page_size(self, request: Request) -> int:
        asked = request.query_params.get(self.page_size_query_param, "")
        if not asked:
            return self.page_size
        # Nine digits are more than any table has rows; beyond that nothing needs to be counted.
        if not (asked.isascii() and asked.isdigit()) or int(asked[:9]) == 0:
            detail = (
                f"page_size={shorten(asked)!r} is not a page size; it is a whole number from 1, and above "
                f"{self.max_page_size} it gives {self.max_page_size}."
            )
            raise BadParameters([Fault(self.page_size_query_param, asked, detail)])
        return min(int(asked[:9]), self.max_page_size)

    def paginate_queryset(self, queryset: QuerySet, request: Request, view: object = None) -> list:
        self.request = request
        paginator = DjangoPaginator(queryset, self.get_page_size(request))
        asked = self.get_page_number(request, paginator)
        try:
            self.page = paginator.page(asked)
        except InvalidPage:
            raise NotFound(
                f"page={shorten(str(asked))!r} is not there: {paginator.count} rows make "
                f"{paginator.num_pages} page(s) of {paginator.per_page}. "
                f"It is a whole number from 1 to {paginator.num_pages}, or 'last'."
            ) from None
        return list(self.page)
