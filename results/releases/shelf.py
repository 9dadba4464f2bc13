"""Where releases are kept, and which files each has; nothing else in the folder is ever handed out."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from django.conf import settings
from django.core.files.storage import storages

from results.models import Release
from results.stored import Bucket

from .places import Folder, Place, Stored

SUMS = "SHA256SUMS"
_NAME = re.compile(r"(\d{4}-\d{2}-\d{2})-([1-9]\d{0,5})", re.ASCII)


@dataclass(frozen=True)
class Kept:
    """A file of a release.

    Parameters
    ----------
    name : str
        Its name within the release's folder.
    size : int
        Bytes.
    sha256 : str
        Its sum in hexadecimal digits.
    """

    name: str
    size: int
    sha256: str


def folder() -> Path:
    """Where all releases lie on this machine's disk, one folder each."""
    return Path(settings.DATA_DIR) / "releases"


def place() -> Place:
    """Where all releases lie: on this machine's disk, or in the store that all machines share."""
    store = storages["default"]
    return Stored(store) if isinstance(store, Bucket) else Folder(folder())


def find(name: str) -> Release | None:
    """The release of that name, if there is one."""
    named = _NAME.fullmatch(name)
    if named is None:
        return None
    try:
        day = date.fromisoformat(named[1])
    except ValueError:
        return None
    return Release.objects.filter(date=day, number=int(named[2])).first()


def sums(release: Release) -> dict[str, str]:
    """The SHA-256 sum of each file of a release, by name, as its own list has them."""
    listed = place().read(release.name, SUMS).decode().splitlines()
    return {name: digest for digest, name in (line.split("  ", 1) for line in listed)}


def files(release: Release) -> list[Kept]:
    """The files of a release in alphabetical order, the list of sums last; empty where its folder is gone."""
    try:
        names = [*sorted(sums(release)), SUMS]
    except FileNotFoundError:
        return []
    return [one for one in (file(release, name) for name in names) if one]


def file(release: Release, name: str) -> Kept | None:
    """One file of a release; None unless its own list of sums names it and it is there."""
    lies = place()
    try:
        if name == SUMS:
            data = lies.read(release.name, SUMS)
            return Kept(SUMS, len(data), hashlib.sha256(data).hexdigest())
        listed = sums(release)
        return Kept(name, lies.size(release.name, name), listed[name]) if name in listed else None
    except FileNotFoundError:
        return None


def measure(path: Path) -> Kept:
    """A file's size and sum, from its bytes."""
    with path.open("rb") as file:
        return Kept(path.name, path.stat().st_size, hashlib.file_digest(file, "sha256").hexdigest())


def text(release: Release, name: str) -> str:
    """A short text file of a release; empty where it is gone."""
    try:
        return place().read(release.name, name).decode()
    except FileNotFoundError:
        return ""
