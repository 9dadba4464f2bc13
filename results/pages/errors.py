"""Pages that say what was wrong and where to go from here."""

from __future__ import annotations

import errno
import sys

from django.conf import settings
from django.core.exceptions import RequestDataTooBig, TooManyFieldsSent, TooManyFilesSent
from django.core.paginator import EmptyPage, PageNotAnInteger, Paginator
from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from results.site.replicas import is_read_only
from results.site.watch import request_id
from results.stored import StoreAway

_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}


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


def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """The page for what can't be read as a request; what is too large or has too many parts is told apart."""
    context = {
        "too_many": isinstance(exception, TooManyFieldsSent | TooManyFilesSent),
        "too_large": isinstance(exception, RequestDataTooBig),
        "fields_most": settings.DATA_UPLOAD_MAX_NUMBER_FIELDS,
        "megabytes_most": settings.DATA_UPLOAD_MAX_MEMORY_SIZE / 1_000_000,
    }
    status = 413 if context["too_many"] or context["too_large"] else 400
    return render(request, "errors/bad_request.html", context, status=status)


def refused(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(request, "errors/refused.html", {"why": str(exception or "")}, status=403)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The page for a form that came without this browser's token."""
    return render(request, "errors/csrf.html", status=403)


def too_many(request: HttpRequest) -> HttpResponse:
    """The page for what was tried too often."""
    return wait_told(render(request, "errors/too_many.html", status=429))


def wait_told(response: HttpResponse) -> HttpResponse:
    """The same answer, with the longest that somebody has to wait until a limit lets them in again."""
    response.headers["Retry-After"] = str(settings.LIMIT_WINDOW_S)
    return response


def broken(request: HttpRequest) -> HttpResponse:
    """The page for what went wrong here; a database that is away for a moment, or a full disk, is told apart.

    None of these asks the database for anything.
    """
    cause = _cause(sys.exc_info()[1])
    if cause is None:
        return render(None, "500.html", {"request_id": request_id()}, status=500)
    context = {"full": cause == "full", "store": cause == "store", "request_id": request_id()}
    response = render(None, "errors/away.html", context, status=503)
    response.headers["Retry-After"] = "30"
    return response


def is_full(error: BaseException) -> bool:
    """Whether a file could not be written because there is no room for it."""
    return isinstance(error, OSError) and error.errno in _FULL


def _cause(error: BaseException | None) -> str | None:
    """``database``, ``store`` or ``full``, by what an error comes from; the first cause may lie some way back."""
    while error is not None:
        if isinstance(error, OperationalError | InterfaceError):
            return "full" if "full" in str(error).lower() else "database"
        if is_read_only(error):
            return "database"
        if isinstance(error, StoreAway):
            return "store"
        if is_full(error):
            return "full"
        error = error.__cause__ or error.__context__
    return None


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
