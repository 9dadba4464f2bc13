"""What differs between a release and the one before."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from typing import Any

import pyarrow.parquet as pq

from results.models import Release, Study

from . import shelf
from .words import WORDS

HASHES = "study_hashes.csv"
HEADINGS = ["study_id", "sha256"]


def against(
    before: Release | None, studies: Mapping[int, tuple[str, str]], counts: Mapping[str, int], sums: Mapping[str, str]
) -> dict[str, Any]:
    """Studies added, changed and no longer there, words changed, and counts.

    Parameters
    ----------
    before : Release or None
        The release before, with its files; None for the first.
    studies : mapping of int to (title, hash)
        The studies of this one.
    counts : mapping of str to int
        Rows by table of this one.
    sums : mapping of str to str
        SHA-256 of this one's files, by name.

    Returns
    -------
    dict
        ``before``, ``added``, ``changed``, ``withdrawn``, ``words``, ``counts``; fit for JSON.
    """
    old = _studies_of(before) if before else {}
    old_sums = shelf.sums(before) if before else {}
    gone = sorted(set(old) - set(studies))
    return {
        "before": before.name if before else "",
        "added": [_named(key, studies) for key in sorted(set(studies) - set(old))],
        "changed": [_named(key, studies) for key in sorted(set(studies) & set(old)) if studies[key][1] != old[key][1]],
        "withdrawn": [{**_named(key, old), "reason": reason} for key, reason in _reasons(gone)],
        "words": [table.name for table in WORDS if before and sums[_csv(table.name)] != old_sums.get(_csv(table.name))],
        "counts": {name: [before.counts.get(name, 0) if before else 0, count] for name, count in counts.items()},
    }


def _csv(name: str) -> str:
    return f"{name}.csv"


def _named(key: int, studies: Mapping[int, tuple[str, str]]) -> dict[str, Any]:
    return {"study_id": key, "study_title": studies[key][0]}


def _studies_of(release: Release) -> dict[int, tuple[str, str]]:
    lies = shelf.place()
    lines = io.StringIO(lies.read(release.name, HASHES).decode(), newline="")
    hashes = {int(row["study_id"]): row["sha256"] for row in csv.DictReader(lines)}
    # From Parquet, where a title is as it was given; in CSV it may be guarded against spreadsheets.
    parquet = io.BytesIO(lies.read(release.name, "studies.parquet"))
    titles = pq.read_table(parquet, columns=["study_id", "study_title"]).to_pylist()
    return {one["study_id"]: (one["study_title"], hashes[one["study_id"]]) for one in titles}


def _reasons(gone: list[int]) -> list[tuple[int, str]]:
    """Why each study is no longer there, as its record says."""
    found = Study.objects.in_bulk(gone)
    return [(key, found[key].withdrawn_reason if key in found else "") for key in gone]


def as_text(name: str, changes: Mapping[str, Any]) -> str:
    """The differences as a text to read."""
    before = changes["before"]
    lines = [f"Changes in release {name}", ""]
    lines.append(f"Against release {before}." if before else "This is the first release.")
    for title, key in (("Added", "added"), ("Changed", "changed"), ("No longer there", "withdrawn")):
        lines += ["", f"{title}: {_number(changes[key])}", *_lines(changes[key])]
    if changes["words"]:
        lines += ["", f"Vocabulary tables that differ: {', '.join(changes['words'])}"]
    lines += ["", "Rows by table, before and now:", ""]
    lines += [f"  {table:16s}{old:12d}{new:12d}" for table, (old, new) in changes["counts"].items()]
    return "\n".join(lines) + "\n"


def _number(studies: list[Any]) -> str:
    return f"{len(studies)} {'study' if len(studies) == 1 else 'studies'}"


def _lines(studies: Iterable[Mapping[str, Any]]) -> list[str]:
    lines = []
    for one in studies:
        why = one.get("reason", "")
        # Titles and reasons are people's own words and may run over several lines.
        words = f"  study {one['study_id']}: {one['study_title']}" + (f" (withdrawn: {why})" if why else "")
        lines.append("  " + " ".join(words.split()))
    return lines
