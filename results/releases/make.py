"""Writing a release: all of it or nothing, never over another, the same bytes for the same data."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import shutil
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.db import transaction
from django.db.models import Max

from results.models import Release, Study, bump

from . import changes, descriptor, shelf, texts
from .places import Taken
from .snapshot import one_moment
from .tables import STUDIES
from .words import ALL
from .writer import StudyHashes, write


class ReleaseError(RuntimeError):
    """Why no release can be written."""


@dataclass(frozen=True)
class Made:
    """A release, and whether it was written now or holds the same data already."""

    release: Release
    new: bool


def make() -> Made:
    """Write a release of all accepted studies, unless the last one holds the same data.

    Returns
    -------
    Made
        The new release, or the last one if nothing has changed since.

    Raises
    ------
    ReleaseError
        If there is nothing to release, or the folder of the new release or of the last one is not as it should be.

    Notes
    -----
    Nothing in the files comes from the clock: the release is dated by the last change to its data.
    """
    making = shelf.place().making()
    try:
        return _make(making)
    finally:
        shutil.rmtree(making, ignore_errors=True)


def _make(making: Path) -> Made:
    hashes = StudyHashes()
    with one_moment():
        last = Release.objects.first()
        _check_there(last)
        release = _dated(last)
        release.counts = {table.name: write(table, making, release.name, hashes) for table in ALL}
        studies = _studies()
        sums = {table.name + ".csv": shelf.measure(making / f"{table.name}.csv").sha256 for table in ALL}
        release.data_hash = hashlib.sha256(json.dumps(sums, sort_keys=True).encode()).hexdigest()
        if last and last.data_hash == release.data_hash:
            return Made(last, new=False)
        release.invented = sum(one["invented"] for one in studies)
        known = hashes.found()
        titled = {one["study_id"]: (one["study_title"], known[one["study_id"]]) for one in studies}
        release.changes = changes.against(last, titled, release.counts, sums)
    _write_texts(making, release, studies, titled)
    _put_on_shelf(making, release)
    return Made(release, new=True)


def _check_there(last: Release | None) -> None:
    if last and not shelf.files(last):
        raise ReleaseError(
            f"The files of release {last.name} are missing from {shelf.place().shown(last.name)}; bring them back "
            "first, because a release tells what differs from the one before."
        )


def _dated(last: Release | None) -> Release:
    """A release of now, unsaved, dated by the last change to what everybody may read."""
    if not Study.objects.accepted().exists():
        raise ReleaseError("There is no accepted study, so there is nothing to release.")
    found = Study.objects.public().aggregate(accepted=Max("accepted_at"), changed=Max("changed_at"))
    # Never before the last one, even if what changed then has been deleted.
    as_of = max([*found.values(), *([last.as_of] if last else [])]).astimezone(UTC).replace(microsecond=0)
    number = last.number + 1 if last and last.date == as_of.date() else 1
    return Release(date=as_of.date(), number=number, as_of=as_of)


def _studies() -> tuple[dict[str, Any], ...]:
    names = [column.name for column in STUDIES.columns]
    return tuple(dict(zip(names, row, strict=True)) for row in STUDIES.rows())


def _write_texts(
    making: Path, release: Release, studies: tuple[dict[str, Any], ...], titled: dict[int, tuple[str, str]]
) -> None:
    """Everything but the tables, the list of sums last."""
    about = texts.About(release.name, release.date, release.data_hash, release.counts, studies)
    written = {
        "dictionary.csv": descriptor.dictionary_csv(ALL),
        changes.HASHES: _hashes_csv(titled),
        "CHANGES.txt": changes.as_text(release.name, release.changes),
        "CITATION.txt": texts.citation(about) + "\n",
        "CITATION.cff": texts.citation_cff(about),
        "LICENCES.txt": texts.licences(about),
        "README.txt": texts.readme(about, [(table.name, table.about) for table in ALL]),
    }
    for name, words in written.items():
        (making / name).write_text(words, encoding="utf-8", newline="")
    kept = {path.name: shelf.measure(path) for path in sorted(making.iterdir())}
    package = descriptor.package(
        ALL,
        kept,
        name=release.name,
        as_of=_iso(release.as_of),
        description=about.size,
        licences=about.licences,
        rows=release.counts,
    )
    path = making / "datapackage.json"
    path.write_text(json.dumps(package, indent=1, ensure_ascii=False) + "\n", encoding="utf-8", newline="")
    kept[path.name] = shelf.measure(path)
    lines = [f"{file.sha256}  {name}\n" for name, file in sorted(kept.items())]
    (making / shelf.SUMS).write_text("".join(lines), encoding="utf-8", newline="")


def _iso(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ")


def _hashes_csv(studies: dict[int, tuple[str, str]]) -> str:
    out = io.StringIO(newline="")
    sheet = csv.writer(out)
    sheet.writerow(changes.HEADINGS)
    sheet.writerows([key, digest] for key, (_, digest) in studies.items())
    return out.getvalue()


def _put_on_shelf(making: Path, release: Release) -> None:
    # The record is kept only if the files get their place. Its name is taken first: of two that are made at once, the
    # other waits, and is refused.
    try:
        with transaction.atomic():
            release.save(force_insert=True)
            shelf.place().put(making, release.name, shelf.SUMS)
            # The list of releases is an answer like any other: nobody may be told that it is still the same. At the
            # end, since whoever changes the book meanwhile waits for it.
            bump()
    except Taken as taken:
        raise ReleaseError(str(taken)) from None
