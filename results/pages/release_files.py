"""A release's files, whole or in parts, so that a program reads Parquet in place and fetches only what it needs."""

from __future__ import annotations

import re
from http import HTTPStatus
from pathlib import PurePath

from django.http import FileResponse, Http404, HttpRequest, HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.utils.cache import get_conditional_response
from django.utils.http import http_date, parse_http_date_safe
from django.views.decorators.http import require_http_methods

from results.models import Release
from results.releases import shelf
from results.stored import Blocks

# By ending; what has none is a plain text.
TYPES = {
    ".csv": "text/csv; charset=utf-8",
    ".parquet": "application/vnd.apache.parquet",
    ".json": "application/json",
    ".cff": "application/yaml",
}
_RANGE = re.compile(r"bytes=(\d*)-(\d*)", re.ASCII)
_ONE_YEAR = 365 * 24 * 3600


class NotSatisfiable(ValueError):
    """A range that begins behind the end of the file."""


@require_http_methods(["GET", "HEAD", "OPTIONS"])
def release_file(request: HttpRequest, name: str, file: str) -> HttpResponseBase:
    """The file, or the one part of it that is asked for with ``Range``.

    Only what the release's own list of sums names is ever found.
    """
    release = shelf.find(name)
    kept = shelf.file(release, file) if release else None
    if release is None or kept is None:
        raise Http404(f"There is no release {name} with a file {file}.")
    if request.method == "OPTIONS":
        return _open(HttpResponse(status=HTTPStatus.NO_CONTENT))
    etag, changed = f'"{kept.sha256}"', int(release.as_of.timestamp())
    held = get_conditional_response(request, etag=etag, last_modified=changed)
    response = held if held is not None else _answer(request, release, kept, changed)
    response.headers["ETag"] = etag
    response.headers["Last-Modified"] = http_date(changed)
    if response.status_code < 400:
        # It never changes, so nobody needs to ask twice.
        response.headers["Cache-Control"] = f"public, max-age={_ONE_YEAR}, immutable"
    return _open(response)


def _answer(request: HttpRequest, release: Release, kept: shelf.Kept, changed: int) -> HttpResponseBase:
    kind = TYPES.get(PurePath(kept.name).suffix, "text/plain; charset=utf-8")
    try:
        part = _part(request, kept, changed)
    except NotSatisfiable:
        refusal = HttpResponse(status=HTTPStatus.REQUESTED_RANGE_NOT_SATISFIABLE)
        refusal.headers["Content-Range"] = f"bytes */{kept.size}"
        return refusal
    if request.method == "HEAD":
        return HttpResponse(content_type=kind, headers={"Content-Length": str(kept.size)})
    try:
        if part is None:
            return _whole(release, kept, kind)
        blocks = shelf.place().part(release.name, kept.name, *part)
    except FileNotFoundError:  # gone since it was looked for
        raise Http404(f"There is no release {release.name} with a file {kept.name}.") from None
    first, last = part
    response = StreamingHttpResponse(blocks, status=HTTPStatus.PARTIAL_CONTENT, content_type=kind)
    response.headers["Content-Range"] = f"bytes {first}-{last}/{kept.size}"
    response.headers["Content-Length"] = str(last - first + 1)
    return response


def _whole(release: Release, kept: shelf.Kept, kind: str) -> HttpResponseBase:
    file = shelf.place().whole(release.name, kept.name)
    if not isinstance(file, Blocks):
        return FileResponse(file, content_type=kind, filename=kept.name)
    named = {"Content-Length": str(kept.size), "Content-Disposition": f'inline; filename="{kept.name}"'}
    return StreamingHttpResponse(file, content_type=kind, headers=named)


def _open(response: HttpResponseBase) -> HttpResponseBase:
    """Let a page's script elsewhere read the file in parts."""
    response.headers["Accept-Ranges"] = "bytes"
    response.headers["Access-Control-Allow-Origin"] = "*"
    response.headers["Access-Control-Expose-Headers"] = "Accept-Ranges, Content-Length, Content-Range, ETag"
    response.headers["Access-Control-Allow-Headers"] = "Range, If-Range, If-None-Match, If-Modified-Since"
    return response


def _part(request: HttpRequest, kept: shelf.Kept, changed: int) -> tuple[int, int] | None:
    """The first and last byte asked for; None for the whole file.

    Several parts at once, other units and what can't be read are passed over, as RFC 9110 (14.2) lets a server do.
    """
    asked = _RANGE.fullmatch(request.headers.get("Range", "").strip())
    # A range is defined for GET only.
    if asked is None or not any(asked.groups()) or request.method != "GET" or not _still_it(request, kept, changed):
        return None
    # Longer than any file has digits; int() would refuse thousands of them.
    first, last = (digits[:20] for digits in asked.groups())
    if not first:
        start, end = max(kept.size - int(last), 0), kept.size - 1
    else:
        start, end = int(first), min(int(last), kept.size - 1) if last else kept.size - 1
        if last and int(last) < start:
            return None
    if start >= kept.size:
        raise NotSatisfiable
    return start, end


def _still_it(request: HttpRequest, kept: shelf.Kept, changed: int) -> bool:
    """Whether ``If-Range`` names the file as it is; then a part fits those fetched before."""
    said = request.headers.get("If-Range", "").strip()
    if not said:
        return True
    if said.startswith(('"', "W/")):
        return said == f'"{kept.sha256}"'
    return parse_http_date_safe(said) == changed
