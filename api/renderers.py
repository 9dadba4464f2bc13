"""What each format is called, and which one is asked for."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, ClassVar

import orjson
from django.http import StreamingHttpResponse
from rest_framework import renderers
from rest_framework.exceptions import NotAcceptable
from rest_framework.negotiation import DefaultContentNegotiation
from rest_framework.renderers import BaseRenderer
from rest_framework.request import Request
from rest_framework.utils.encoders import JSONEncoder

from .errors import BadParameters, Fault
from .formats import CSV, NDJSON, PARQUET_TYPE, LineFormat, Table, line_blocks, parquet_blocks

FORMATS = ("json", "csv", "ndjson", "parquet")


class JSONRenderer(renderers.JSONRenderer):
    """The framework's JSON, written several times as fast; a number that is endless or none is null."""

    _other = staticmethod(JSONEncoder().default)

    def render(self, data: Any, accepted_media_type: str | None = None, renderer_context: Any = None) -> bytes:
        if data is None or self.get_indent(accepted_media_type or "", renderer_context or {}):
            return super().render(data, accepted_media_type, renderer_context)
        return orjson.dumps(data, default=self._other, option=orjson.OPT_PASSTHROUGH_DATETIME)


class _LineRenderer(BaseRenderer):
    """A table that is already in memory: a page of rows, one record, a comparison."""

    charset = "utf-8"
    lines: ClassVar[LineFormat]

    def render(self, data: Table, accepted_media_type: str | None = None, renderer_context: Any = None) -> bytes:
        return b"".join(line_blocks(self.lines, data))


class CSVRenderer(_LineRenderer):
    lines = CSV
    media_type, format = CSV.media_type, CSV.suffix


class NDJSONRenderer(_LineRenderer):
    lines = NDJSON
    media_type, format = NDJSON.media_type, NDJSON.suffix


class ParquetRenderer(BaseRenderer):
    media_type, format = PARQUET_TYPE, "parquet"
    charset = None
    render_style = "binary"

    def render(self, data: Table, accepted_media_type: str | None = None, renderer_context: Any = None) -> bytes:
        return b"".join(parquet_blocks(data))


RENDERERS: tuple[type[BaseRenderer], ...] = (JSONRenderer, CSVRenderer, NDJSONRenderer, ParquetRenderer)
MEDIA_TYPES = {renderer.format: renderer.media_type for renderer in RENDERERS}


def stream(blocks: Iterator[bytes], form: str, name: str) -> StreamingHttpResponse:
    """A whole table as a download, sent while it is read."""
    kind = MEDIA_TYPES[form] + ("" if form == "parquet" else "; charset=utf-8")
    response = StreamingHttpResponse(blocks, content_type=kind)
    response.headers["Content-Disposition"] = f'attachment; filename="{name}.{form}"'
    return response


class Negotiation(DefaultContentNegotiation):
    """The address decides (``.csv`` or ``?format=csv``); only without either does the Accept header."""

    def select_renderer(
        self, request: Request, renderers: list[BaseRenderer], format_suffix: str | None = None
    ) -> tuple[BaseRenderer, str]:
        said = [value for value in request.query_params.getlist("format") if value]
        asked = list(dict.fromkeys([*filter(None, [format_suffix]), *said]))
        offered = [renderer.format for renderer in renderers]
        if not asked:
            try:
                return super().select_renderer(request, renderers)
            except NotAcceptable:
                kinds = ", ".join(renderer.media_type for renderer in renderers)
                raise NotAcceptable(f"The answer may be {kinds}; the Accept header allows none of these.") from None
        for form in asked:
            if form not in offered:
                detail = f"format={form[:20]!r} is not offered here; it may be {' or '.join(offered)}."
                raise BadParameters([Fault("format", form, detail)])
        if len(asked) > 1:
            ends = f"the address ends in .{format_suffix}" if format_suffix else f"format={asked[0]!r} is there too"
            detail = f"format={asked[-1]!r} can't be had here, because {ends}; leave one of them out."
            raise BadParameters([Fault("format", asked[-1], detail)])
        renderer = renderers[offered.index(asked[0])]
        return renderer, renderer.media_type
