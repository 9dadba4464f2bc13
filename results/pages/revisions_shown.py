"""Revisions made ready to be read: a document in words, and what two of them say differently."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.core.paginator import Page
from django.http import HttpRequest
from django.utils.safestring import SafeString

from results.kept import once
from results.models import Revision
from results.review.differences import Difference, differences, summary
from results.review.document import Document, read
from results.review.notify import called
from results.review.said import Said, reads_of

from . import errors
from .study_tables import markup, of_rows

# Specimens of one page, and the differences that a revision's own page shows.
SPECIMENS, FEW = 200, 50


def named(revision: Revision) -> Revision:
    """A revision with how its maker and its reviewer are called; a contributor's name isn't shown with a study."""
    maker = called(revision.made_by, revision.study) if revision.made_by else "a former contributor"
    decider = called(revision.decided_by, revision.study) if revision.decided_by else ""
    # For the page alone: no column of a revision.
    revision.__dict__.update(maker=maker, decider=decider)
    return revision


@dataclass(frozen=True)
class Part:
    """A setup or a series: its label, what is said of it, its specimens as a table, and how many that shows."""

    label: str
    said: dict[str, str]
    specimens: SafeString | None = None
    count: int = 0


@dataclass(frozen=True)
class Shown:
    """One page of a document; setups and series are told on the first one."""

    study: dict[str, str]
    setups: list[Part]
    series: list[Part]
    page: Page
    noticed: list[dict[str, str]]


@dataclass(frozen=True)
class Compared:
    """What one state of a study says otherwise than another.

    Parameters
    ----------
    found : list of Difference
        All of it.
    before, after : Revision or None
        The two, where they are revisions: records, and what isn't handed in yet, are none.
    most : int
        Differences that the page shows.
    trouble : str
        Why it can't be told, if so.
    """

    found: list[Difference]
    before: Revision | None = None
    after: Revision | None = None
    most: int = FEW
    trouble: str = ""

    @property
    def nothing(self) -> bool:
        return not self.found

    @property
    def sums(self) -> list[tuple[str, int]]:
        """How many differences of each sort."""
        return summary(self.found)

    @property
    def first(self) -> list[Difference]:
        return self.found[: self.most]

    @property
    def more(self) -> int:
        return max(len(self.found) - self.most, 0)


def compared(before: Revision, after: Revision, most: int = FEW) -> Compared:
    """Set two revisions side by side; worked out once, since neither ever changes.

    Raises
    ------
    ReviewError
        If one of them can't be read.
    """
    name = f"differences {before.document_sha256} {after.document_sha256}"
    found = once(name, lambda: differences(read(before), read(after)))
    return Compared(found, before, after, most)


def shown(request: HttpRequest, document: Document) -> Shown:
    """A page of a document, by the address's ``page``.

    Raises
    ------
    BadParameter
        If there is no such page.
    """
    say = Said()
    rows = [(series, one) for series in document["series"] for one in series["specimens"]]
    page = errors.page_of(request, rows, SPECIMENS)
    first = page.number == 1
    return Shown(
        study=say.study(document["study"]),
        setups=[Part(one["label"], say.setup(one)) for one in document["setups"]] if first else [],
        series=list(_series(say, document, page, first)),
        page=page,
        noticed=document.get("noticed", []) if first else [],
    )


def _series(say: Said, document: Document, page: Page, first: bool) -> Iterator[Part]:
    """The series of a page with their specimens on it; on the first page all series."""
    reads = reads_of(document)
    on_page: dict[str, list[dict[str, Any]]] = {}
    for series, one in page.object_list:
        told = say.specimen(one, reads[series["setup"]])
        on_page.setdefault(series["label"], []).append({"Specimen": one["label"], **_titled(told)})
    for series in document["series"]:
        label, rows = series["label"], on_page.get(series["label"], [])
        if first or rows:
            table = markup(of_rows(rows, f"Specimens of series {label}")) if rows else None
            yield Part(label, say.series(series) if first else {}, table, len(rows))


def _titled(told: dict[str, str]) -> dict[str, str]:
    return {f"{name[:1].upper()}{name[1:]}": text for name, text in told.items()}
