"""Whole pages, kept for readers who are nobody in particular: a warm one costs little more than an empty answer.

Django's own (``UpdateCacheMiddleware``, ``FetchFromCacheMiddleware``) is not used. It keeps a page for a time, where
ours are true for as long as the data version is; under every Cookie header by itself, since pages vary by it, so that
any cookie would make a page of its own; whatever address it is of, so that nothing keeps a page back which tells more
than the version covers; and it asks its cache twice. Which answers of a view may be kept is here said at its path, by
`kept_whole`, and what isn't known to be harmless is never kept.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import Concatenate, ParamSpec, cast

from django.conf import settings
from django.contrib.messages import get_messages
from django.contrib.messages.storage.cookie import CookieStorage
from django.core.cache import caches
from django.core.exceptions import DisallowedHost, MiddlewareNotUsed
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.middleware.gzip import re_accepts_gzip
from django.urls import ResolverMatch
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.utils.http import http_date, parse_http_date_safe

from results.kept import DAY, NOTED, code, of_before, state_of
from results.models import DataVersion, data_version, version_now

from . import routing
from .choices import Choices
from .requests import Request

P = ParamSpec("P")
# A longer address is answered, and not kept; nor is a page with more bytes than this on its way.
ADDRESS_MOST, BYTES_MOST = 1_000, 128 * 1024
# Whoever sends one of these is somebody: has a session, is to be told something, or has written a moment ago.
_SOMEBODYS = frozenset({settings.SESSION_COOKIE_NAME, CookieStorage.cookie_name, routing.COOKIE})
# What a kept page may carry. A header that isn't known here may be of one reader, or of one request.
_HEADERS = frozenset(
    {
        "cache-control",
        "content-encoding",
        "content-length",
        "content-security-policy",
        "content-type",
        "vary",
        "x-frame-options",
    }
)
_VARIES = frozenset({"accept-encoding", "cookie"})


@dataclass(frozen=True)
class _Page:
    """An answer as it goes out, of what state of the data and the program, and by which view it was made."""

    state: str
    view: str
    headers: dict[str, str]
    body: bytes


@dataclass(frozen=True)
class _Match:
    """What stands in for the address's match where none was looked for: counts and log lines name the view by it."""

    view_name: str


def kept_whole(
    view: Callable[Concatenate[HttpRequest, P], HttpResponseBase],
) -> Callable[Concatenate[HttpRequest, P], HttpResponseBase]:
    """Say of a view that its pages may be kept for everybody without a session.

    That is true of a page that follows from its address and from what the data version covers, and from nothing else:
    no clock, no account, no question, no file. `tests/results/site/test_whole.py` holds the views to the tables that
    they read.
    """

    @wraps(view)
    def kept(request: HttpRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
        noted = cast(Request, request)
        noted.whole_of = None
        if not getattr(request, "may_be_kept", False):
            return view(request, *args, **kwargs)
        # Both are read where the page reads. The same before and after: all of the page is of that version, even if
        # it began on a replica that is behind and went on on the primary. What was asked of another replica a moment
        # ago doesn't tell what this one held.
        known = "" if settings.REPLICAS else noted.version_seen
        before, given = known or version_now(), of_before()
        response = view(request, *args, **kwargs)
        if of_before() == given and str(after := data_version()) == before:
            noted.whole_of = after
        return response

    return kept


class KeptPages:
    """Gives a page as it was kept, past all that stands behind; keeps those that may be.

    It stands before what compresses, so that a page is kept compressed, and behind what names requests, counts them,
    leads to HTTPS and says what browsers may do, so that these go on for each request. Pages are kept by the process,
    with CACHE_URL too: to fetch one from elsewhere would take longer than all the rest, and what costs much in making
    one is shared already (`results.kept`).

    How much is kept has a limit, `settings.PAGES_KEPT`, and addresses with a query are kept apart from those without:
    whoever asks a million different ones pushes out others of their kind and no more.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        # While a template is being written nobody wants to see the page of before.
        if settings.DEBUG or not settings.PAGES_KEPT:
            raise MiddlewareNotUsed
        self.get_response = get_response
        # Looked up once: that takes longer than to look into them, and they are the same for all threads.
        self.plain, self.asked = caches["pages"], caches["pages-asked"]

    def __call__(self, request: Request) -> HttpResponseBase:
        key = _key(request)
        if key is None:
            return self.get_response(request)
        pages = self.asked if request.META.get("QUERY_STRING") else self.plain
        page: _Page | None = pages.get(key)
        # Where there is no page of that address, nothing is asked: most such requests are for no page at all.
        request.version_seen = _version_now() if page is not None else ""
        if page is not None and request.version_seen and page.state == state_of(request.version_seen):
            request.resolver_match = cast(ResolverMatch, _Match(page.view))
            return _conditional(request, HttpResponse(page.body, headers=page.headers), page.headers)
        request.may_be_kept = request.method == "GET"
        response = self.get_response(request)
        version: DataVersion | None = getattr(request, "whole_of", None)
        if version is None or not isinstance(response, HttpResponse) or not _may_be_kept(request, response):
            return response
        state = state_of(version)
        headers = {**_told(key, state, version), **response.headers}
        match = request.resolver_match
        pages.set(key, _Page(state, match.view_name if match else "", headers, response.content), _lasts_s())
        for name, value in headers.items():
            response.headers[name] = value
        return _conditional(request, response, headers)


def _lasts_s() -> float:
    """For how long a page is given, if nothing changes.

    An answer stands in for a later one only if it was asked for a moment ago, see `kept.or_before`; whoever is given a
    page doesn't ask for its answers, so that it has to be made again now and then.
    """
    return NOTED.total_seconds() if settings.STALE_MOST_S else DAY


def _key(request: HttpRequest) -> str | None:
    """What a page is kept under: all of the request that it may depend on; None for a request of somebody's.

    The query is taken as it was sent. Put in order, a few more requests would be answered from what is kept, but a page
    repeats it in its own addresses, and the first of several values may mean something else than the last.
    """
    told = request.META
    if request.method not in ("GET", "HEAD") or "HTTP_AUTHORIZATION" in told:
        return None
    cookies = request.COOKIES
    query = told.get("QUERY_STRING", "")
    if not _SOMEBODYS.isdisjoint(cookies) or len(request.path) + len(query) > ADDRESS_MOST:
        return None
    try:
        host = request.get_host()
    except DisallowedHost:  # refused where it always was
        return None
    compressed = bool(re_accepts_gzip.search(told.get("HTTP_ACCEPT_ENCODING", "")))
    about = (request.scheme, host, told.get("SCRIPT_NAME", ""), request.path, query, compressed, Choices.of(request))
    return hashlib.sha256(repr(about).encode()).hexdigest()


def _version_now() -> str:
    """What pages must be of, by a database that this reader's page could be read from; empty if it did not answer."""
    try:
        with routing.read_as_anybody():
            return version_now()
    except routing.Unanswered:
        return ""


def _told(key: str, state: str, version: DataVersion) -> dict[str, str]:
    """The headers by which a reader may ask whether a page has changed; nobody is to show it without having asked."""
    tag = hashlib.sha256(f"{key} {state}".encode()).hexdigest()[:20]
    headers = {"ETag": f'W/"{version.number}-{tag}"', "Cache-Control": "no-cache"}
    modified = int(max(version.changed_at.timestamp(), code().newest))
    if modified < int(timezone.now().timestamp()):  # another change may follow within the same second
        headers["Last-Modified"] = http_date(modified)
    return headers


def _conditional(request: HttpRequest, response: HttpResponse, headers: dict[str, str]) -> HttpResponseBase:
    """The answer, or that the reader holds it already."""
    if "HTTP_IF_NONE_MATCH" not in request.META and "HTTP_IF_MODIFIED_SINCE" not in request.META:
        return response
    modified = parse_http_date_safe(headers.get("Last-Modified", ""))
    return get_conditional_response(request, headers["ETag"], modified, response) or response


def _may_be_kept(request: HttpRequest, response: HttpResponse) -> bool:
    """Whether an answer is a page that everybody may be given; what can't be told is taken for somebody's."""
    names = {name.lower() for name in response.headers}
    varies = {one.strip().lower() for one in response.headers.get("Vary", "").split(",") if one.strip()}
    cached = response.headers.get("Cache-Control", "")
    return (
        response.status_code == 200
        and not response.streaming
        and not response.cookies
        and names <= _HEADERS
        and varies <= _VARIES
        and "private" not in cached
        and "no-store" not in cached
        and "'nonce-" not in response.headers.get("Content-Security-Policy", "")
        # A token for a form was taken, whether or not it has reached the page.
        and "CSRF_COOKIE_NEEDS_UPDATE" not in request.META
        and not request.user.is_authenticated
        and request.session.is_empty()
        and not len(get_messages(request))
        and len(response.content) <= BYTES_MOST
    )
