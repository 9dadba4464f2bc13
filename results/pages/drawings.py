"""Charts on pages: a picture that the server draws, and the figure that a script fetches once a reader turns to it."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import wraps
from typing import Any, Protocol
from urllib.parse import urlencode

import pandas as pd
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseNotModified, JsonResponse, QueryDict
from django.http.response import HttpResponseBase
from django.urls import reverse
from django.utils import translation
from django.utils.formats import date_format
from django.utils.http import parse_etags

from results.kept import state_of
from results.models import DataVersion, data_version
from results.site.choices import UNIT_NAMES, Choices, told, units_now
from stats.charts.chart import Chart
from stats.charts.svg import NARROW, NARROWEST, WIDE, WIDEST

from . import errors, tables

# A phone's, a small window's and a desk's, with the least width of the window that each takes.
WIDTHS = ((NARROW, ""), (WIDE, "52rem"), (1060, "72rem"))
A_YEAR, A_WHILE = 365 * 24 * 3600, 300
PARAMETERS = ("width", "download", "v", "units")


@dataclass(frozen=True)
class Picture:
    """One drawing of a chart: where it is, how large, and from which width of the window on it is shown."""

    address: str
    width: int
    height: int
    from_width: str


@dataclass(frozen=True)
class Shown:
    """A chart as ``includes/chart.html`` takes it."""

    summary: str
    table: pd.DataFrame
    narrow: Picture
    wider: list[Picture]
    figure: str
    download: str

    @property
    def in_numbers(self) -> tables.Table:
        """Its table, for a page that has no other that holds the same numbers."""
        return tables.of_frame(self.table, "The chart in numbers")


class _Sized(Protocol):
    """A chart, or as much of it as says what is shown and how large."""

    @property
    def summary(self) -> str: ...

    @property
    def table(self) -> pd.DataFrame: ...

    def size(self, width: int, foot: str = "") -> tuple[int, int]: ...


def shown(
    charts: Mapping[str, _Sized], route: str, *args: object, query: str = "", invented: bool = False
) -> dict[str, Shown]:
    """Charts made ready to be shown.

    Parameters
    ----------
    charts : mapping of str to Chart
        By the name that stands in their address.
    route : str
        Name of the address that answers a chart; it takes `args`, then the chart's name and its kind.
    *args : object
        What the address takes before.
    query : str, optional
        The choices that make the charts what they are, as an address has them.
    invented : bool, optional
        Whether they show invented data, which then stands on their face.
    """
    version = data_version()
    foot, mark = _foot(version, invented=invented), _mark(version)
    units = {} if units_now() == Choices.units else {"units": units_now()}

    def address(name: str, kind: str, **more: object) -> str:
        asked = "&".join(part for part in (query, urlencode({**more, **units, "v": mark})) if part)
        return f"{reverse(route, args=[*args, name, kind])}?{asked}"

    ready = {}
    for name, chart in charts.items():
        pictures = [
            Picture(address(name, "svg", width=width), *chart.size(width, foot), from_width)
            for width, from_width in WIDTHS
        ]
        ready[name] = Shown(
            summary=chart.summary,
            table=chart.table,
            narrow=pictures[0],
            wider=pictures[:0:-1],
            figure=address(name, "json"),
            download=address(name, "svg", width=WIDE, download=1),
        )
    return ready


def addressed(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
    """A view of a chart, in the units that its address says, whoever asks: all on the way may keep the answer."""

    @wraps(view)
    def in_its_units(request: HttpRequest, *args: Any, **more: Any) -> HttpResponseBase:
        units = request.GET.get("units") or Choices.units
        if units not in UNIT_NAMES:
            bad = errors.BadParameter("units", units, f"must be one of {', '.join(UNIT_NAMES)}.")
            return errors.bad_parameter(request, bad)
        with told(Choices(units=units)):
            return view(request, *args, **more)

    return in_its_units


def asked_of(query: QueryDict) -> QueryDict:
    """What an address of a chart asks of its page: all but how the picture is wanted."""
    asked = query.copy()
    for name in PARAMETERS:
        asked.pop(name, None)
    return asked


def answer(request: HttpRequest, chart: Chart | None, kind: str, *, invented: bool = False) -> HttpResponseBase:
    """One chart: as SVG, or as the figure that plotly's script draws.

    Raises
    ------
    Http404
        If there is no such chart, or it is asked for in another form.
    """
    if chart is None or kind not in ("svg", "json"):
        raise Http404("There is no such chart.")
    version = data_version()
    mark = _mark(version)
    etag = f'"{hashlib.sha256(f"{mark} {request.get_full_path()}".encode()).hexdigest()[:20]}"'
    if etag in parse_etags(request.headers.get("If-None-Match", "")):
        response: HttpResponse = HttpResponseNotModified()
    elif kind == "json":
        response = JsonResponse({"figure": chart.to_json(), "summary": chart.summary})
    else:
        try:
            width = errors.whole_number(request, "width", WIDE, NARROWEST, WIDEST)
        except errors.BadParameter as bad:
            return errors.bad_parameter(request, bad)
        response = HttpResponse(chart.to_svg(width, _foot(version, invented=invented)), content_type="image/svg+xml")
    # Drawn from this very state of the data, it never changes; without saying which, it may.
    fresh = A_YEAR if request.GET.get("v") == mark else A_WHILE
    response.headers["Cache-Control"] = f"public, max-age={fresh}{', immutable' if fresh == A_YEAR else ''}"
    response.headers["ETag"] = etag
    if request.GET.get("download"):
        name = request.path.rsplit("/", 1)[-1]
        response.headers["Content-Disposition"] = f'attachment; filename="breakbook-{name}"'
    return response


def may_be_before(request: HttpRequest) -> bool:
    """Whether a chart may be that of before a change: not where its address says that it is of the data as they are.

    Such a picture is kept for good by whoever asked for it.
    """
    return request.GET.get("v") != _mark(data_version())


def _foot(version: DataVersion, *, invented: bool) -> str:
    """The last line of a picture: it may travel without its page."""
    told = "Invented data, for demonstration only. " if invented else ""
    # A picture says the same in whatever language the page around it is.
    with translation.override("en"):
        return f"{told}Breakbook, data of {date_format(version.changed_at, 'j F Y')}"


def _mark(version: DataVersion) -> str:
    """Names the state of the data and of the program that draws it."""
    return hashlib.sha256(state_of(version).encode()).hexdigest()[:10]
