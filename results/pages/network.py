"""All studies together: every joint against every other through the studies that link them."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from urllib.parse import parse_qsl, urlencode

from django.http import HttpRequest, HttpResponse, QueryDict
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from results.evidence import BadChoice, Choices
from results.kept import Answer, once, or_before, renewed
from results.models import Joint
from results.site.choices import told_now
from stats.charts.chart import Chart

from . import anew, drawings, errors
from .comparison import picker
from .network_shown import make

SECTION = "compare"
PAIR = "pair"


@dataclass(frozen=True)
class Page:
    """What follows from the data and the choices alone: to fill in its many cells takes most of its time."""

    body: SafeString
    charts: dict[str, Chart]
    invented: bool


@dataclass(frozen=True)
class Asked:
    """What an address asks for: the choices of a comparison, and the two joints to look at more closely."""

    choices: Choices
    pair: tuple[str, str] | None = None

    @property
    def query(self) -> str:
        """The address's parameters for all that is asked."""
        chosen = self.choices.query()
        return f"{chosen}&{urlencode({PAIR: ','.join(self.pair)})}" if self.pair else chosen

    @classmethod
    def read(cls, query: QueryDict, *, ignore: tuple[str, ...] = ()) -> Asked:
        """Read an address's parameters.

        Raises
        ------
        BadChoice
            For a parameter that isn't known or a value that can't be used.
        """
        return cls(Choices.from_query(query, ignore=(PAIR, *ignore)), _pair(query))

    @property
    def name(self) -> str:
        """What the page's own part is kept under."""
        return f"network page {self.query} {self.choices.with_invented}{told_now()}"

    def page(self) -> Page:
        """The page's own part, worked out once for each state of the data."""
        return once(self.name, self._made)

    def page_or_before(self) -> Answer[Page]:
        """The page's own part, for a short while that of before a change."""
        if told_now():
            return Answer(self.page())
        return or_before(self.name, self.page, lambda: anew.ask("network", self.query))

    def _made(self) -> Page:
        shown = make(self.choices, self.pair)
        invented = bool(shown.how_invented)
        context = {
            "shown": shown,
            "query": self.choices.query(),
            "address": self.query,
            "hidden": parse_qsl(self.choices.query()),
            "charts": drawings.shown(shown.charts, "compare:network-chart", query=self.query, invented=invented),
        }
        return Page(render_to_string("compare/network_body.html", context), shown.charts, invented)


def network_page(request: HttpRequest) -> HttpResponse:
    try:
        asked = Asked.read(request.GET)
    except BadChoice as bad:
        return errors.bad_parameter(request, bad, SECTION)
    page = asked.page_or_before()
    context = {
        "section": SECTION,
        "page": page.value,
        "as_of": page.as_of,
        "choices": asked.choices,
        "picker": picker(asked.choices, before=page.as_of is not None),
    }
    return render(request, "compare/network.html", context)


def work_out(query: QueryDict) -> None:
    """For a worker: the page and what it offers to choose from, kept."""
    asked = Asked.read(query)
    renewed(asked.name, asked.page)
    picker(asked.choices)


@drawings.addressed
def network_chart(request: HttpRequest, name: str, kind: str) -> HttpResponseBase:
    """One of the page's charts, as SVG or as the figure that plotly's script draws."""
    try:
        asked = Asked.read(request.GET, ignore=drawings.PARAMETERS)
    except BadChoice as bad:
        return errors.bad_parameter(request, bad, SECTION)
    page = asked.page_or_before().value if drawings.may_be_before(request) else asked.page()
    return drawings.answer(request, page.charts.get(name), kind, invented=page.invented)


def _pair(query: QueryDict) -> tuple[str, str] | None:
    """The two joints of ``pair=a,b`` or ``pair=a&pair=b``; None where none is named."""
    # A plus typed as it is, as in a bond's kind, comes in as a space.
    given = [code.strip().replace(" ", "+") for text in query.getlist(PAIR) for code in text.split(",")]
    given = [code for code in given if code]
    if not given:
        return None
    told = ", ".join(given)
    known = set(Joint.objects.values_list("pk", flat=True))
    for code in given:
        kind = code.partition("+")[0]
        if kind not in known:
            close = difflib.get_close_matches(kind, known, n=3, cutoff=0.4)
            right = f"Did you mean {' or '.join(close)}?" if close else "The list of joints has the codes."
            raise BadChoice(PAIR, code, f"is not in the vocabulary. {right}")
    if len(given) != 2:
        raise BadChoice(PAIR, told, f"names {len(given)} joint{'s' if len(given) > 1 else ''}; name two.")
    if given[0] == given[1]:
        raise BadChoice(PAIR, told, "names one joint twice; name two that differ.")
    return given[0], given[1]
