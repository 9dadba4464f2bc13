"""Bodies as sent: read up to a limit, as JSON or CSV, or refused with what is wrong."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import IO, Any

from rest_framework.exceptions import ParseError
from rest_framework.parsers import BaseParser

from .errors import TooLarge


def read(stream: IO[bytes], context: Mapping[str, Any] | None, most: int) -> bytes:
    """The whole body.

    Raises
    ------
    TooLarge
        Above `most` bytes; by the length told where there is one, so that nothing is read then.
    """
    told = (context or {})["request"].META.get("CONTENT_LENGTH") or 0
    if int(told) > most:
        raise TooLarge(f"The body has {int(told)} bytes; at most {most} are taken.")
    data = stream.read(most + 1)
    if len(data) > most:
        raise TooLarge(f"The body has more than {most} bytes, which is the most that is taken.")
    return data


class JSONBody(BaseParser):
    """JSON as RFC 8259 has it: UTF-8, no name twice, no NaN."""

    media_type = "application/json"

    def parse(self, stream: IO[bytes], media_type: str | None = None, parser_context: Any = None) -> Any:
        data = read(stream, parser_context, parser_context["view"].body_most)
        try:
            text = data.decode("utf-8-sig")
            found = json.loads(text, object_pairs_hook=_object, parse_constant=_no_constant)
            # Half a character, written as \\ud800, is no text that could be kept or shown.
            json.dumps(found, ensure_ascii=False).encode()
        except RecursionError:
            raise ParseError("The body's JSON is nested too deeply.") from None
        except ValueError as error:
            raise ParseError(f"The body is no JSON: {error}.") from None
        return found


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"{twice[:60]!r} is there twice in one object")
    return found


def _no_constant(text: str) -> Any:
    raise ValueError(f"{text} is no number")


class CSVBody(BaseParser):
    """CSV, kept as bytes: the intake finds out encoding, delimiter and decimal sign."""

    media_type = "text/csv"

    def parse(self, stream: IO[bytes], media_type: str | None = None, parser_context: Any = None) -> bytes:
        return read(stream, parser_context, parser_context["view"].body_most)
