"""Where answers are kept that cost much, see `kept`."""

from __future__ import annotations

import pickle
import random
import zlib
from typing import Any, BinaryIO

from django.core.cache.backends.filebased import FileBasedCache

ONE_IN = 50


class AnswerFiles(FileBasedCache):
    """Answers as files, written quickly.

    Django's own lists the whole folder before it writes a file, to see whether there are too many; with a thousand
    answers that takes longer than the writing, so it is done once in a while. And it compresses as well as it can,
    where little is nearly as good.
    """

    def _cull(self) -> None:
        if random.randrange(ONE_IN) == 0:
            super()._cull()

    def _write_content(self, file: BinaryIO, timeout: Any, value: Any) -> None:
        file.write(pickle.dumps(self.get_backend_timeout(timeout), self.pickle_protocol))
        file.write(zlib.compress(pickle.dumps(value, self.pickle_protocol), 1))
