"""The file of a backup: a ZIP of parts, and a manifest that names each with its size and SHA-256.

Parts are read and written a block at a time, and none is trusted before its sum has been compared.
"""

from __future__ import annotations

import hashlib
import json
import struct
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from .errors import BackupError
from .rows import BLOCK

FORMAT, VERSION = "breakbook backup", 1
MANIFEST = "manifest.json"
_MANIFEST_MOST = 64 << 20
# Level 1 packs tables nearly as small as the usual one, in a third of the time.
_LEVEL = 1
# What the library raises, one way or another, for a file that isn't as it was written.
_BROKEN = (
    zipfile.BadZipFile, zlib.error, struct.error, EOFError, OSError, ValueError, NotImplementedError, RuntimeError,
    KeyError, TypeError, OverflowError, MemoryError,
)  # fmt: skip


@dataclass
class Sum:
    """Size and SHA-256 of what has passed."""

    size: int = 0

    def __post_init__(self) -> None:
        self.running = hashlib.sha256()

    def passing(self, blocks: Iterable[bytes]) -> Iterator[bytes]:
        for block in blocks:
            self.add(block)
            yield block

    def add(self, block: bytes) -> None:
        self.running.update(block)
        self.size += len(block)

    def told(self) -> dict[str, Any]:
        return {"bytes": self.size, "sha256": self.running.hexdigest()}


class Writer:
    """Writes parts one after another, the manifest last."""

    def __init__(self, file: IO[bytes]) -> None:
        self.zip = zipfile.ZipFile(file, "w", compression=zipfile.ZIP_DEFLATED, compresslevel=_LEVEL)
        self.parts: list[dict[str, Any]] = []

    def add(self, name: str, blocks: Iterable[bytes], **about: Any) -> int:
        """Write one part of lines; how many."""
        rows = 0
        with self.open(name, **about) as (out, told):
            for block in blocks:
                rows += block.count(b"\n")
                out.write(block)
            told["rows"] = rows
        return rows

    @contextmanager
    def open(self, name: str, *, packed: bool = True, **about: Any) -> Iterator[tuple[_Summed, dict[str, Any]]]:
        """A part to be written to, and what the manifest is to say of it."""
        info = zipfile.ZipInfo(name)
        info.compress_type = zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED
        info.external_attr = 0o600 << 16
        part: dict[str, Any] = {"name": name, **about}
        with self.zip.open(info, "w", force_zip64=True) as out:
            summed = _Summed(out)
            yield summed, part
        self.parts.append({**part, **summed.sum.told()})

    def close(self, manifest: dict[str, Any]) -> None:
        """Write the manifest, and be done."""
        told = {"format": FORMAT, "version": VERSION, **manifest, "parts": self.parts}
        self.zip.writestr(MANIFEST, json.dumps(told, indent=1, ensure_ascii=False))
        self.zip.close()


class _Summed:
    """A file that sums what is written to it."""

    def __init__(self, file: IO[bytes]) -> None:
        self.file, self.sum = file, Sum()

    def write(self, block: bytes) -> int:
        self.sum.add(block)
        return self.file.write(block)


class Reader:
    """A backup that is read.

    Raises
    ------
    BackupError
        From every method: if the file is cut off, altered, or none of ours.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        try:
            self.zip = zipfile.ZipFile(path)
        except FileNotFoundError:
            raise BackupError(f"There is no file {path}.") from None
        except zipfile.BadZipFile:
            raise BackupError(f"{path} is no backup, or it was cut off: it has no list of parts at its end.") from None
        except _BROKEN as error:
            raise BackupError(f"{path} can't be read: {error}.") from None
        try:
            self.manifest = self._manifest()
        except BackupError:
            self.zip.close()
            raise

    def __enter__(self) -> Reader:
        return self

    def __exit__(self, *_: object) -> None:
        self.zip.close()

    def _manifest(self) -> dict[str, Any]:
        try:
            if self.zip.getinfo(MANIFEST).file_size > _MANIFEST_MOST:
                raise ValueError("it is too long")
            found = json.loads(self.zip.read(MANIFEST))
        except KeyError:
            raise BackupError(f"{self.path} is no backup of a book: it has no {MANIFEST}.") from None
        except _BROKEN as error:
            raise BackupError(f"{self.path}: {MANIFEST} can't be read: {error}.") from None
        if not isinstance(found, dict) or found.get("format") != FORMAT:
            raise BackupError(f'{self.path} is no backup of a book: its manifest doesn\'t say "{FORMAT}".')
        if found.get("version") != VERSION:
            raise BackupError(
                f"{self.path} is a backup of version {found.get('version')!r}; this program reads version {VERSION}."
            )
        if not isinstance(found.get("parts"), list):
            raise BackupError(f"{self.path}: the manifest doesn't list its parts.")
        return found

    @property
    def parts(self) -> list[dict[str, Any]]:
        return self.manifest["parts"]

    def check(self) -> None:
        """Read every part to its end and compare it with the manifest."""
        try:
            named = [MANIFEST, *(part["name"] for part in self.parts)]
            shapes = [(part["bytes"], part["sha256"]) for part in self.parts]
        except (KeyError, TypeError):
            raise BackupError(f"{self.path}: the manifest doesn't tell name, bytes and sha256 of each part.") from None
        there = self.zip.namelist()
        if sorted(named) != sorted(there) or len(shapes) != len(set(named)) - 1:
            odd = sorted(set(named) ^ set(there)) or ["one of them twice"]
            raise BackupError(f"{self.path}: the parts are not those of the manifest: {', '.join(odd[:5])}.")
        for part in self.parts:
            rows = sum(block.count(b"\n") for block in self.blocks(part))
            if "table" in part and rows != part.get("rows"):
                raise BackupError(f"{self.path}: {part['name']} has {rows} rows and should have {part.get('rows')}.")

    def blocks(self, part: dict[str, Any]) -> Iterator[bytes]:
        """A part's bytes; after the last of them the sum is compared, so whoever reads on is safe."""
        found = Sum()
        try:
            with self.zip.open(part["name"]) as file:
                while block := file.read(BLOCK):
                    found.add(block)
                    yield block
        except _BROKEN as error:
            raise BackupError(f"{self.path}: {part['name']} is damaged: {error}.") from None
        told = found.told()
        if told["bytes"] != part["bytes"]:
            raise BackupError(
                f"{self.path}: {part['name']} has {told['bytes']} bytes and should have {part['bytes']}: "
                "it was altered."
            )
        if told["sha256"] != part["sha256"]:
            raise BackupError(f"{self.path}: {part['name']} was altered: its SHA-256 isn't the one in the manifest.")
