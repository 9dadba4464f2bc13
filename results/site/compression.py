"""Compression of answers on their way out."""

from __future__ import annotations

from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.middleware.gzip import GZipMiddleware


class CompressWhole(GZipMiddleware):
    """Compress answers, but not photos, which are compressed, nor files that are read in parts.

    A part of a file is not a part of its gzip.
    """

    def process_response(self, request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
        if response.has_header("Accept-Ranges") or response.headers.get("Content-Type") == "image/jpeg":
            return response
        return super().process_response(request, response)
