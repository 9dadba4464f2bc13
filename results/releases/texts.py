"""The texts that go with a release: what it is, how to cite it, who may use it how."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from .descriptor import DEEDS

TITLE = "Breakbook: an open book of break tests on woodworking joints"


@dataclass(frozen=True)
class About:
    """What the texts tell of a release.

    Parameters
    ----------
    name : str
        Of the release.
    day : date
        The day its data last changed.
    data_hash : str
        SHA-256 over the sums of its tables.
    counts : mapping of str to int
        Rows by table.
    studies : tuple of mapping
        ``study_id``, ``study_title``, ``workshop``, ``tested_on``, ``licence``, ``invented``, ``citation``.
    """

    name: str
    day: date
    data_hash: str
    counts: Mapping[str, int]
    studies: tuple[Mapping[str, object], ...]

    @property
    def licences(self) -> list[str]:
        """Codes of the licences that occur."""
        return [code for code in DEEDS if any(study["licence"] == code for study in self.studies)]

    @property
    def size(self) -> str:
        """How much there is, and how much of it is made up."""
        parts = [_count(self.counts[name], one, many) for name, one, many in _COUNTED]
        return f"{', '.join(parts)}.{self._invented}"

    @property
    def _invented(self) -> str:
        made_up = sum(bool(study["invented"]) for study in self.studies)
        if not made_up:
            return ""
        if made_up == len(self.studies):
            return " All of its studies are invented, to show how the book works."
        return f" {made_up} of its studies {'is' if made_up == 1 else 'are'} invented, to show how the book works."


_COUNTED = (("studies", "study", "studies"), ("series", "series", "series"), ("specimens", "specimen", "specimens"))


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def citation(about: About) -> str:
    """How to cite the release, in one line."""
    return f"{TITLE} ({about.day.year}). Release {about.name}: {about.size} Data SHA-256 {about.data_hash[:16]}."


def citation_cff(about: About) -> str:
    """The same for programs.

    References
    ----------
    Citation File Format 1.2.0, https://citation-file-format.github.io/
    """
    # A text in JSON's quotes is a text in YAML too.
    lines = [
        "cff-version: 1.2.0",
        'message: "If you use these data, please cite them as below, and the studies you rest on by themselves."',
        "type: dataset",
        f"title: {json.dumps(TITLE)}",
        f"version: {json.dumps(about.name)}",
        f"date-released: {about.day.isoformat()}",
        "authors:",
        '  - name: "Contributors to Breakbook"',
        f"abstract: {json.dumps(about.size, ensure_ascii=False)}",
        "identifiers:",
        "  - type: other",
        f"    value: {json.dumps('sha256:' + about.data_hash)}",
        '    description: "SHA-256 over the sums of the tables"',
    ]
    # Several licences in a citation file would mean a choice between them; here each study has its own.
    if len(about.licences) == 1:
        lines.append(f"license: {about.licences[0]}")
    return "\n".join(lines) + "\n"


def licences(about: About) -> str:
    """Which study may be used how, with the credit it asks for."""
    lines = [
        f"Licences in release {about.name}",
        "",
        "Each study names its own; so does every row, in the column licence.",
    ]
    for code in about.licences:
        title, address = DEEDS[code]
        lines += ["", title, address, ""]
        lines += [f"  {_credit(study)}" for study in about.studies if study["licence"] == code]
    lines += [
        "",
        "The vocabulary tables are part of Breakbook's code, under the MIT licence; each row names its source.",
    ]
    return "\n".join(lines) + "\n"


def _credit(study: Mapping[str, object]) -> str:
    made_up = " Invented data." if study["invented"] else ""
    taken = f" Figures taken from: {study['citation']}" if study["citation"] else ""
    year = f" ({str(study['tested_on'])[:4]})" if study["tested_on"] else ""
    words = f"{study['workshop']}{year}. {study['study_title']}. Breakbook, study {study['study_id']}.{made_up}{taken}"
    return " ".join(words.split())


def readme(about: About, tables: Iterable[tuple[str, str]]) -> str:
    """What lies here, to begin with."""
    lines = [
        TITLE,
        f"Release {about.name}",
        "",
        about.size,
        "",
        "This snapshot is never changed. It holds the studies that counted on the day of its name; SHA256SUMS tells",
        "whether the files are whole (sha256sum -c SHA256SUMS). Each table is there as CSV and as Parquet:",
        "",
        *(f"  {name:16s}{words}" for name, words in tables),
        "",
        "dictionary.csv     every column: kind, unit, meaning, the values it may hold",
        "datapackage.json   the same for programs, as a Frictionless Data Package",
        "study_hashes.csv   one sum a study over all of its rows: alike in two releases if nothing in it changed",
        "CHANGES.txt        what differs from the release before",
        "LICENCES.txt       how each study may be used",
        "CITATION.txt, CITATION.cff   how to cite the release",
        "",
        "Physical numbers are in SI, and their names end in the unit. What is empty is missing. The column invented is",
        "true for made-up studies, the column flagged for specimens that a check doubts; both are kept.",
        "Nothing here certifies a piece of furniture: results come from small samples in other people's shops.",
    ]
    return "\n".join(lines) + "\n"
