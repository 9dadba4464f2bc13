"""How a study is cited: in one line, and as a BibTeX entry."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

from results.models import Release, Revision, Study

# What TeX would read as more than a letter.
_TEX = str.maketrans(
    {
        "\\": r"\textbackslash{}",
        "~": r"\textasciitilde{}",
        "^": r"\textasciicircum{}",
        **{sign: f"\\{sign}" for sign in "&%$#_{}"},
    }
)


@dataclass(frozen=True)
class Citation:
    line: str
    bibtex: str


def citation(study: Study, address: str, revision: Revision | None = None) -> Citation:
    """How to cite a study.

    Parameters
    ----------
    study : Study
    address : str
        The page's own, in full.
    revision : Revision, optional
        The one accepted last, which is what the study says.

    Returns
    -------
    Citation
        Who, when, what, which revision, which release holds that if any does, licence and address.
    """
    year = study.tested_on[:4] or str((study.accepted_at.date() if study.accepted_at else date.today()).year)
    release = _release(study, revision)
    held = f"Breakbook, study {study.pk}" + (f", revision {revision.number}" if revision else "")
    held += f", release {release.name}" if release else ""
    tested = f"Tested {study.tested_on}." if len(study.tested_on) > 4 else ""
    withdrawn = "Withdrawn." if study.status == Study.Status.WITHDRAWN else ""
    made_up = "Invented data." if study.invented else ""
    notes = [tested, f"Licence {study.licence}.", withdrawn, made_up]
    line = " ".join(part for part in (f"{study.workshop} ({year}). {study.title}. {held}.", *notes, address) if part)
    fields = {
        "author": f"{{{_tex(study.workshop)}}}",
        "title": f"{{{_tex(study.title)}}}",
        "year": year,
        "howpublished": _tex(held),
        "note": _tex(" ".join(part for part in notes if part)),
        "url": address,
    }
    entry = "".join(f"  {name} = {{{value}}},\n" for name, value in fields.items())
    return Citation(line, f"@misc{{breakbook-study-{study.pk},\n{entry}}}")


def _release(study: Study, revision: Revision | None) -> Release | None:
    """The newest release with what this study says now; a withdrawn one has left those made since."""
    if study.status != Study.Status.ACCEPTED or study.accepted_at is None:
        return None
    since = revision.decided_at if revision and revision.decided_at else study.accepted_at
    # A release tells its time in whole seconds.
    return Release.objects.filter(as_of__gte=since.replace(microsecond=0)).order_by("-date", "-number").first()


def _tex(text: str) -> str:
    return re.sub(r"\s+", " ", text).translate(_TEX)
