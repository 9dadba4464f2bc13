"""Files in a store that all machines reach, by the protocol of S3; see STORAGE_URL.

Nothing in it is for everybody: pages hand files out to who may have them, as they do from a disk.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from boto3.exceptions import Boto3Error
from botocore.exceptions import BotoCoreError, ClientError
from django.core.files.base import ContentFile, File
from storages.backends.s3 import S3Storage

READ_BYTES = 256 * 1024
_NOT_THERE = {"404", "NoSuchKey", "NotFound"}


class StoreAway(Exception):
    """The store can't be reached, or refuses what it should do; nothing is told about a single file."""


@contextmanager
def _told(name: str) -> Iterator[None]:
    """The errors of the store's library as those of a file, or as `StoreAway`."""
    try:
        yield
    except ClientError as error:
        if error.response.get("Error", {}).get("Code") in _NOT_THERE:
            raise FileNotFoundError(name) from error
        raise StoreAway(f"{name}: {error}") from error
    except (BotoCoreError, Boto3Error) as error:
        raise StoreAway(f"{name}: {error}") from error


class Bucket(S3Storage):
    """The store as Django's storage; a file is fetched whole when it is opened to be read."""

    def _open(self, name: str, mode: str = "rb") -> File:
        if mode != "rb":
            raise ValueError(f"{name} can't be opened with {mode!r}: files here are read whole, or saved.")
        with _told(name):
            return ContentFile(self._object(name).get()["Body"].read(), name=name)

    def _save(self, name: str, content: Any) -> str:
        with _told(name):
            return str(super()._save(name, content))

    def exists(self, name: str) -> bool:
        try:
            with _told(name):
                self._object(name).load()
        except FileNotFoundError:
            return False
        return True

    def delete(self, name: str) -> None:
        """Take a file away; one that isn't there is no matter."""
        with _told(name):
            self._object(name).delete()

    def size(self, name: str) -> int:
        with _told(name):
            return int(self._object(name).content_length)

    def look(self) -> None:
        """See whether the store answers, has the bucket, and lets us look into it; nothing is fetched.

        Raises
        ------
        StoreAway, FileNotFoundError
            If it can't be reached or refuses; if there is no such bucket.
        """
        with _told(self.bucket_name):
            self.bucket.meta.client.head_bucket(Bucket=self.bucket_name)

    # -- what releases need beside
    def whole(self, name: str) -> Blocks:
        """All bytes of a file, as they come."""
        with _told(name):
            return Blocks(name, self._object(name).get()["Body"])

    def part(self, name: str, first: int, last: int) -> Blocks:
        """The bytes of a file from the first to the last, both counted from 0 and both in it."""
        with _told(name):
            return Blocks(name, self._object(name).get(Range=f"bytes={first}-{last}")["Body"])

    def sizes(self, folder: str) -> dict[str, int]:
        """The bytes of each file in a folder, by its name there."""
        prefix = f"{self._key(folder)}/"
        with _told(folder):
            return {one.key.removeprefix(prefix): one.size for one in self.bucket.objects.filter(Prefix=prefix)}

    def put(self, path: Path, name: str, content_type: str) -> None:
        """Send a file from this machine's disk, in parts if it is large."""
        with _told(name):
            self._object(name).upload_file(str(path), ExtraArgs={"ContentType": content_type})

    def _key(self, name: str) -> str:
        return str(self._normalize_name(name))

    def _object(self, name: str) -> Any:
        return self.bucket.Object(self._key(name))


class Blocks:
    """A file's bytes as they come, some at a time; closed when whoever reads them is done or gives up."""

    def __init__(self, name: str, body: Any) -> None:
        self._name, self._body = name, body
        self._blocks = body.iter_chunks(READ_BYTES)

    def __iter__(self) -> Blocks:
        return self

    def __next__(self) -> bytes:
        with _told(self._name):
            return bytes(next(self._blocks))

    def close(self) -> None:
        self._body.close()
