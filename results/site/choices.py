"""What a reader chose of how pages are told, a language and units: in cookies that say nothing of who reads.

The read API isn't touched by it: its numbers are in SI and its words in English, whoever asks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Any, Literal

from django.conf import settings
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.utils import translation

from .requests import Request

LANGUAGE, UNITS = "language", "units"
Units = Literal["si", "imperial"]
UNIT_NAMES: dict[Units, str] = {"si": "newtons, millimetres", "imperial": "pounds, inches"}
LASTS_S = 365 * 24 * 3600
_API = "/api/"


@dataclass(frozen=True)
class Choices:
    """How pages are told; what a cookie has that isn't offered counts as not chosen."""

    language: str = settings.LANGUAGE_CODE
    units: Units = "si"

    @classmethod
    def of(cls, request: HttpRequest) -> Choices:
        language, units = (request.COOKIES.get(name, "") for name in (LANGUAGE, UNITS))
        return cls(
            language if language in dict(settings.LANGUAGES) else cls.language,
            next((one for one in UNIT_NAMES if one == units), cls.units),
        )


_nobodys = Choices()
_now: ContextVar[Choices] = ContextVar("choices", default=_nobodys)


def units_now() -> Units:
    """The units of the page that is being made; SI where none is, as when records are saved."""
    return _now.get().units


def told_now() -> str:
    """What a kept answer that holds words or units needs in its name; nothing for what most readers are shown.

    A worker makes that one alone, so that whoever chose otherwise has theirs made when they ask.
    """
    now = _now.get()
    return "" if now == _nobodys else f" told in {now.language}, {now.units}"


@contextmanager
def told(choices: Choices) -> Iterator[None]:
    """Make what is made inside as chosen."""
    before = _now.set(choices)
    try:
        with translation.override(choices.language):
            yield
    finally:
        _now.reset(before)


class AsChosen:
    """Makes each page in the language and the units that its reader chose."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: Request) -> HttpResponseBase:
        choices = Choices() if request.path.startswith(_API) else Choices.of(request)
        request.choices = choices
        with told(choices):
            return self.get_response(request)


def offered(request: HttpRequest) -> dict[str, Any]:
    """What every template may ask: what is chosen, and what may be."""
    choices = getattr(request, "choices", Choices())
    # Under a name of its own: many pages have choices of what they show.
    return {"how_told": choices, "languages": settings.LANGUAGES, "unit_names": UNIT_NAMES}
