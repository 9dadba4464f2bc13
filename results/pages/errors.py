"""Pages that say what was wrong and where to go from here."""

from __future__ import annotations

from django.core.paginator import EmptyPage, PageNotAnInteger, Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


class BadParameter(ValueError):
    """A parameter of the address that a page can't use.

    Parameters
    ----------
    field, value : str
        The parameter and what it held.
    message : str
        What would be right.
    """

    def __init__(self, field: str, value: str, message: str) -> None:
        self.field, self.value, self.message = field, value, message
        super().__init__(f"{field}={value!r} {message}")


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(request, "errors/not_found.html", status=404)


def bad_parameter(request: HttpRequest, error: Exception, section: str = "") -> HttpResponse:
    """The page for a parameter that can't be used; `error` has ``field``, ``value`` and ``message``."""
    return render(request, "errors/bad_parameter.html", {"error": error, "section": section}, status=400)


def page_of(request: HttpRequest, rows, per_page: int):
    """One page of many rows, by the address's ``page``.

    Raises
    ------
    BadParameter
        If it is no number or there is no such page.
    """
    pages = Paginator(rows, per_page)
    asked = request.GET.get("page") or "1"
    try:
        return pages.page(asked)
    except PageNotAnInteger:
        raise BadParameter("page", asked, "is no page number; the first page is 1.") from None
    except EmptyPage:
        raise BadParameter("page", asked, f"is not there; pages run from 1 to {pages.num_pages}.") from None


def whole_number(request: HttpRequest, field: str, default: int, least: int, most: int) -> int:
    """A whole number from the address.

    Raises
    ------
    BadParameter
        If it is none, or out of range.
    """
    asked = request.GET.get(field) or str(default)
    if not (asked.isascii() and asked.isdecimal() and len(asked) < 10 and least <= int(asked) <= most):
        raise BadParameter(field, asked, f"must be a whole number from {least} to {most}.")
    return int(asked)
