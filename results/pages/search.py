"""One box for everything that has a name: joints, timbers, glues, studies, workshops, plans, the site's pages."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import urlencode

from results.search import KINDS, LONGEST, Found, Group, Hit, Sought, find, sought

from . import errors, known
from .site_pages import site_pages
from .workshop_address import workshop_url

PARAMETERS = ("q", "in", "page")
# Of each group on the first page; all of it on a page of its own.
FIRST = 5
PER_PAGE = 25
EXAMPLES = ("biscuit", "red oak", "quercus", '"half lap"', "hide glue")


@dataclass(frozen=True)
class Shown:
    """A group as it is shown: some of what was found with where it leads, and where the rest is."""

    kind: str
    name: str
    count: int
    hits: list[tuple[Hit, str]]
    rest: str = ""


def search(request: HttpRequest) -> HttpResponse:
    try:
        asked, kind = _asked(request)
        found = find(asked, site_pages())
        page = _page(request, found, kind)
    except errors.BadParameter as bad:
        return errors.bad_parameter(request, bad, "search")
    groups = [_all_of(page, kind)] if kind else [_first_of(group, asked) for group in found.groups]
    studies = [hit.record for group in groups if group.kind == "studies" for hit, _ in group.hits]
    context = {
        "section": "search",
        "asked": asked,
        "kind": kind,
        "kind_name": KINDS.get(kind, ""),
        "found": found,
        "groups": [group for group in groups if group.hits],
        "page": page,
        "joints": known.joints_of(studies),
        "longest": LONGEST,
        "examples": [(one, _address(one)) for one in EXAMPLES],
        "suggestions": [(one, _address(one)) for one in found.suggestions],
        "everything": _address(asked.typed),
    }
    return render(request, "browse/search.html", context)


def _asked(request: HttpRequest) -> tuple[Sought, str]:
    """What is looked for, and the one kind that all of is wanted of.

    Raises
    ------
    BadParameter
        For a parameter that isn't known or can't be used.
    """
    for name in request.GET:
        if name not in PARAMETERS:
            raise errors.BadParameter(
                name, request.GET[name], f"is no parameter here; there are {', '.join(PARAMETERS)}."
            )
    typed, kind = request.GET.get("q", "").strip(), request.GET.get("in", "")
    if len(typed) > LONGEST:
        raise errors.BadParameter(
            "q", typed, f"is too long: {len(typed)} characters, where {LONGEST} are the most. A word or two will do."
        )
    if "\0" in typed:
        raise errors.BadParameter("q", typed.replace("\0", "�"), "holds a character that no text has; type it again.")
    if kind and kind not in KINDS:
        raise errors.BadParameter("in", kind, f"is nothing that can be searched; there are {', '.join(KINDS)}.")
    if request.GET.get("page") and not kind:
        raise errors.BadParameter("page", request.GET["page"], f"needs in, one of {', '.join(KINDS)}.")
    return sought(typed), kind


def _page(request: HttpRequest, found: Found, kind: str):
    """The page asked for of one kind; nothing where all kinds are shown."""
    if not kind:
        return None
    group = next((one for one in found.groups if one.kind == kind), Group(kind, 0, lambda start, stop: []))
    return errors.page_of(request, group, PER_PAGE)


def _all_of(page, kind: str) -> Shown:
    return Shown(kind, KINDS[kind], page.paginator.count, [(hit, _leads_to(hit)) for hit in page.object_list])


def _first_of(group: Group, asked: Sought) -> Shown:
    rest = _address(asked.typed, group.kind) if group.count > FIRST else ""
    return Shown(group.kind, group.name, group.count, [(hit, _leads_to(hit)) for hit in group[:FIRST]], rest)


def _leads_to(hit: Hit) -> str:
    """The page of what was found; a glue has none, and leads to what was glued with it."""
    if hit.kind == "glues":
        return f"{reverse('compare:compare')}?{urlencode({'adhesive': hit.key})}"
    if hit.kind == "workshops":
        return workshop_url(hit.key)
    if hit.kind == "plans":
        return reverse("plans:plan", args=[hit.key])
    if hit.kind == "pages":
        return hit.key
    name = {"joints": "joint", "timbers": "timber", "studies": "study"}[hit.kind]
    return reverse(f"browse:{name}", args=[hit.key])


def _address(typed: str, kind: str = "") -> str:
    return f"{reverse('browse:search')}?{urlencode({'q': typed} | ({'in': kind} if kind else {}))}"
