"""Where the files of releases lie: in a folder of this machine, or in the store that all machines share."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO, Protocol

from django.core.cache import caches

from results.stored import READ_BYTES, Blocks, Bucket

# What never changes may be remembered; after so long it is looked up again, so that what was lost is told.
_REMEMBERED_S = 60 * 60


class Taken(RuntimeError):
    """A release of that name is there already."""


class Place(Protocol):
    """Files by the name of their release and their own; what isn't there raises `FileNotFoundError`."""

    def shown(self, release: str) -> str: ...

    def read(self, release: str, file: str) -> bytes: ...

    def size(self, release: str, file: str) -> int: ...

    def whole(self, release: str, file: str) -> BinaryIO | Blocks: ...

    def part(self, release: str, file: str, first: int, last: int) -> Iterator[bytes]: ...

    def making(self) -> Path: ...

    def put(self, making: Path, release: str, last: str) -> None: ...


class Folder:
    """A folder of this machine, one in it for each release."""

    def __init__(self, root: Path) -> None:
        self.root = root

    def shown(self, release: str) -> str:
        return str(self.root / release)

    def read(self, release: str, file: str) -> bytes:
        return (self.root / release / file).read_bytes()

    def size(self, release: str, file: str) -> int:
        return (self.root / release / file).stat().st_size

    def whole(self, release: str, file: str) -> BinaryIO:
        found = (self.root / release / file).open("rb")
        if hasattr(os, "posix_fadvise"):  # it is read from end to end, so that the system may read further ahead
            os.posix_fadvise(found.fileno(), 0, 0, os.POSIX_FADV_SEQUENTIAL)
        return found

    def part(self, release: str, file: str, first: int, last: int) -> Iterator[bytes]:
        with (self.root / release / file).open("rb") as found:
            found.seek(first)
            left = last - first + 1
            while left > 0 and (block := found.read(min(READ_BYTES, left))):
                left -= len(block)
                yield block

    def making(self) -> Path:
        """A new folder to write a release in, from where it can be given its name at once."""
        self.root.mkdir(parents=True, exist_ok=True)
        return Path(tempfile.mkdtemp(prefix=".making-", dir=self.root))

    def put(self, making: Path, release: str, last: str) -> None:
        """Give what was written its name."""
        place = self.root / release
        if place.exists():
            raise Taken(f"{place} is there already, and a release is never overwritten.")
        for path in making.iterdir():
            path.chmod(0o444)
        making.chmod(0o755)
        making.rename(place)


class Stored:
    """A folder of the shared store, one in it for each release; the list of sums comes last, and makes it whole."""

    def __init__(self, bucket: Bucket) -> None:
        self.bucket = bucket

    def shown(self, release: str) -> str:
        return f"s3://{self.bucket.bucket_name}/{self.bucket._key(self._name(release))}"

    def read(self, release: str, file: str) -> bytes:
        key = f"release:{self.bucket.bucket_name}:{release}:{file}"
        found = caches["process"].get(key)
        if found is None:
            with self.bucket.open(self._name(release, file), "rb") as opened:
                found = opened.read()
            caches["process"].set(key, found, _REMEMBERED_S)
        return bytes(found)

    def size(self, release: str, file: str) -> int:
        key = f"release:{self.bucket.bucket_name}:{release}:"
        sizes = caches["process"].get(key)
        if sizes is None or file not in sizes:
            sizes = self.bucket.sizes(self._name(release))
            if file not in sizes:
                raise FileNotFoundError(self._name(release, file))
            caches["process"].set(key, sizes, _REMEMBERED_S)
        return int(sizes[file])

    def whole(self, release: str, file: str) -> Blocks:
        return self.bucket.whole(self._name(release, file))

    def part(self, release: str, file: str, first: int, last: int) -> Blocks:
        return self.bucket.part(self._name(release, file), first, last)

    def making(self) -> Path:
        """A new folder on this machine to write a release in, before it is sent."""
        return Path(tempfile.mkdtemp(prefix="making-release-"))

    def put(self, making: Path, release: str, last: str) -> None:
        """Send what was written, the file named `last` at the end.

        What an earlier try left behind without it is no release, and is written over. With it, it has to be this very
        one, whose record was not kept: the same data give the same bytes.
        """
        try:
            there = self.bucket.open(self._name(release, last), "rb").read()
        except FileNotFoundError:
            there = None
        if there is not None:
            if there != (making / last).read_bytes():
                where = self.shown(release)
                raise Taken(f"{where} is there already with other data, and a release is never overwritten.")
            return
        for path in sorted(making.iterdir(), key=lambda path: path.name == last):
            self.bucket.put(path, self._name(release, path.name), "application/octet-stream")
        shutil.rmtree(making, ignore_errors=True)

    @staticmethod
    def _name(release: str, file: str = "") -> str:
        return f"releases/{release}/{file}" if file else f"releases/{release}"
