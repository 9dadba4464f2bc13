"""Files of a backup: photos, uploads and releases, as one tar that is written and read from end to end."""

from __future__ import annotations

import io
import re
import shutil
import tarfile
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, cast

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import connection, models

from results.models import Release
from results.releases import places, shelf

from .errors import BackupError
from .tables import taken_models

NAME = "files.tar"
MEDIA, RELEASES = "media/", "releases/"
# Names as this project makes them: folders and a file, each of plain signs, none going up.
_MEDIA_NAME = re.compile(r"media/(?:[A-Za-z0-9_-][A-Za-z0-9._-]*/)*[A-Za-z0-9_-][A-Za-z0-9._-]*", re.ASCII)
_RELEASE_NAME = re.compile(r"releases/(\d{4}-\d{2}-\d{2}-[1-9]\d{0,5})/([A-Za-z0-9][A-Za-z0-9._-]*)", re.ASCII)


@dataclass
class Kept:
    """Files that were taken, and the names of those that were not there.

    Parameters
    ----------
    count : int
    missing : list of str
    """

    count: int = 0
    missing: list[str] = field(default_factory=list)


def take(out: IO[bytes]) -> Kept:
    """Write all files that the records name; call it in the moment that the records are read in."""
    kept = Kept()
    with tarfile.open(fileobj=out, mode="w|", format=tarfile.PAX_FORMAT) as tar:
        for name in named():
            try:
                with default_storage.open(name) as file:
                    _add(tar, MEDIA + name, file, file.size)
            except FileNotFoundError:
                kept.missing.append(MEDIA + name)
            else:
                kept.count += 1
        for release in Release.objects.using(connection.alias).order_by("date", "number"):
            files = shelf.files(release)
            if not files:
                kept.missing.append(RELEASES + release.name)
            for one in files:
                with closing(shelf.place().whole(release.name, one.name)) as file:
                    _add(tar, f"{RELEASES}{release.name}/{one.name}", _readable(file), one.size)
                kept.count += 1
    return kept


def named() -> Iterator[str]:
    """Names of all files in the storage that the records name."""
    for model in taken_models():
        for column in model._meta.local_concrete_fields:
            if isinstance(column, models.FileField):
                names = (
                    model._default_manager.using(connection.alias).order_by("pk").values_list(column.attname, flat=True)
                )
                yield from (name for name in names.iterator(chunk_size=2_000) if name)


def _add(tar: tarfile.TarFile, name: str, file: IO[bytes] | Stream, size: int) -> None:
    member = tarfile.TarInfo(name)
    member.size, member.mode = size, 0o600
    tar.addfile(member, file)
    _forget(tar)


def _forget(tar: tarfile.TarFile) -> None:
    """What the archive has given or taken so far: it would remember every one."""
    tar.members = []  # type: ignore[attr-defined]  # an attribute that its documentation names and its types don't


class Stream(io.RawIOBase):
    """Blocks as a file that can be read once."""

    def __init__(self, blocks: Iterable[bytes]) -> None:
        self.blocks, self.rest = iter(blocks), b""

    def readable(self) -> bool:
        return True

    def read(self, size: int = -1) -> bytes:
        while not self.rest:
            block = next(self.blocks, None)
            if block is None:
                return b""
            self.rest = block
        taken, self.rest = (self.rest, b"") if size < 0 else (self.rest[:size], self.rest[size:])
        return taken


def _readable(file: IO[bytes] | Iterable[bytes]) -> IO[bytes] | Stream:
    return cast(IO[bytes], file) if isinstance(file, io.IOBase) else Stream(file)


@contextmanager
def _members(blocks: Iterable[bytes]) -> Iterator[Iterator[tuple[tarfile.TarFile, tarfile.TarInfo]]]:
    stream = Stream(blocks)

    def each(tar: tarfile.TarFile) -> Iterator[tuple[tarfile.TarFile, tarfile.TarInfo]]:
        for member in tar:
            if not member.isreg() or not (_MEDIA_NAME.fullmatch(member.name) or _RELEASE_NAME.fullmatch(member.name)):
                raise BackupError(f"{NAME} holds {member.name!r}, which is no file of a book.")
            yield tar, member
            _forget(tar)

    try:
        with tarfile.open(fileobj=stream, mode="r|") as tar:
            yield each(tar)
        # To the end, where the sum is compared.
        while stream.read():
            pass
    except tarfile.TarError as error:
        raise BackupError(f"{NAME} can't be read: {error}.") from None


def check(blocks: Iterable[bytes]) -> None:
    """Refuse what can't be put back, before anything is written.

    Raises
    ------
    BackupError
        If there is a name that is none of ours, or a release of that name lies here with other files.
    """
    with _members(blocks) as members:
        for tar, member in members:
            found = _RELEASE_NAME.fullmatch(member.name)
            if found and found[2] == shelf.SUMS:
                # A release is never overwritten; its own list of sums tells whether it is the same.
                there = _sums_there(found[1])
                if there is not None and there != _bytes(tar, member):
                    raise BackupError(
                        f"{shelf.place().shown(found[1])} is there already with other files than the backup's, and a "
                        "release is never overwritten. Move it elsewhere, then restore again."
                    )


def _sums_there(release: str) -> bytes | None:
    try:
        return shelf.place().read(release, shelf.SUMS)
    except FileNotFoundError:
        return None


def put_back(blocks: Iterable[bytes]) -> int:
    """Write all files; how many. A file that is there already and says the same is left as it is."""
    count = 0
    making: dict[str, Path | None] = {}
    try:
        with _members(blocks) as members:
            for tar, member in members:
                found = _RELEASE_NAME.fullmatch(member.name)
                if found is None:
                    _put_in_storage(member.name.removeprefix(MEDIA), _bytes(tar, member))
                else:
                    if found[1] not in making:
                        making[found[1]] = None if _sums_there(found[1]) is not None else shelf.place().making()
                    _put_in_folder(tar, member, making[found[1]], found[2])
                count += 1
        for name, folder in making.items():
            if folder is not None:
                shelf.place().put(folder, name, shelf.SUMS)
    except places.Taken as taken:
        raise BackupError(str(taken)) from None
    finally:
        for folder in making.values():
            if folder is not None:
                shutil.rmtree(folder, ignore_errors=True)
    return count


def _bytes(tar: tarfile.TarFile, member: tarfile.TarInfo) -> bytes:
    file = tar.extractfile(member)
    return file.read() if file else b""


def _put_in_storage(name: str, content: bytes) -> None:
    if default_storage.exists(name):
        with default_storage.open(name) as file:
            if file.read() == content:
                return
        default_storage.delete(name)
    saved = default_storage.save(name, ContentFile(content))
    if saved != name:
        raise BackupError(f"{name} can't be written: the storage would call it {saved}.")


def _put_in_folder(tar: tarfile.TarFile, member: tarfile.TarInfo, folder: Path | None, name: str) -> None:
    file = tar.extractfile(member)
    if folder is not None and file is not None:
        with (folder / name).open("wb") as out:
            shutil.copyfileobj(file, out)


def drop(names: Iterable[str]) -> None:
    """Take files away that no record names any more."""
    for name in names:
        default_storage.delete(name)
