"""Where answers are kept that cost much, see `kept`."""

from __future__ import annotations

import hashlib
import hmac
import logging
import math
import os
import pickle
import random
import struct
import time
import zlib
from typing import Any, BinaryIO

from django.conf import settings
from django.core.cache.backends.base import DEFAULT_TIMEOUT
from django.core.cache.backends.filebased import FileBasedCache

log = logging.getLogger(__name__)
ONE_IN = 50
_MARK = hashlib.sha256().digest_size
_UNTIL = struct.Struct("!d")
_ABSENT = object()


class AnswerFiles(FileBasedCache):
    """Answers as files, written quickly and believed only whole.

    Django's own lists the whole folder before it writes a file, to see whether there are too many; with a thousand
    answers that takes longer than the writing, so it is done once in a while. And it compresses as well as it can,
    where little is nearly as good.

    A file begins with a keyed mark over all the rest: bytes that a disk lost, a file that was cut short, and one that
    this site did not write are not there, and nothing of them is unpickled. And what can't be kept, because the disk
    is full, is not kept: whoever asked has the answer all the same.
    """

    def get(self, key: str, default: Any = None, version: int | None = None) -> Any:
        found = self._read(self._file_of(key, version))
        return default if found is None else pickle.loads(zlib.decompress(found))

    def _file_of(self, key: str, version: int | None) -> str:
        path: str = self._key_to_file(key, version)  # type: ignore[attr-defined]  # its own, which its types leave out
        return path

    def has_key(self, key: str, version: int | None = None) -> bool:
        return self._read(self._file_of(key, version)) is not None

    def touch(self, key: str, timeout: Any = DEFAULT_TIMEOUT, version: int | None = None) -> bool:
        found = self.get(key, _ABSENT, version)
        if found is not _ABSENT:
            self.set(key, found, timeout, version)
        return found is not _ABSENT

    def set(self, key: str, value: Any, timeout: Any = DEFAULT_TIMEOUT, version: int | None = None) -> None:
        try:
            super().set(key, value, timeout, version)
        except OSError as error:
            log.error("An answer could not be kept: %s", error)

    def _read(self, path: str) -> bytes | None:
        """What a file holds behind its mark and its end; None for one that is over or not as it was written."""
        try:
            with open(path, "rb") as file:
                mark, rest = file.read(_MARK), file.read()
        except FileNotFoundError:
            return None
        except OSError as error:
            log.warning("A kept answer can't be read, and is worked out anew: %s", error)
            return None
        if len(rest) < _UNTIL.size or not hmac.compare_digest(mark, _mark(rest)):
            log.warning("A kept answer was not as it was written, and is worked out anew: %s", os.path.basename(path))
            self._delete(path)  # type: ignore[attr-defined]  # its own, which its types leave out
            return None
        if _UNTIL.unpack_from(rest)[0] < time.time():
            self._delete(path)  # type: ignore[attr-defined]  # its own, which its types leave out
            return None
        return rest[_UNTIL.size :]

    def _write_content(self, file: BinaryIO, timeout: Any, value: Any) -> None:
        until = self.get_backend_timeout(timeout)
        rest = _UNTIL.pack(math.inf if until is None else until) + zlib.compress(
            pickle.dumps(value, self.pickle_protocol), 1
        )
        file.write(_mark(rest) + rest)

    def _cull(self) -> None:
        if random.randrange(ONE_IN) == 0:
            super()._cull()  # type: ignore[misc]  # its own, which its types leave out


def _mark(rest: bytes) -> bytes:
    return hmac.digest(settings.SECRET_KEY.encode(), rest, "sha256")
