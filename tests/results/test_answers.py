"""Answers kept in files: whole or not there at all, and never in the way of whoever asks."""

from __future__ import annotations

import errno
import os
import pickle
import time
import zlib

import pytest

from results.answers import AnswerFiles
from results.kept import once


@pytest.fixture
def kept(tmp_path):
    return AnswerFiles(tmp_path / "answers", {"OPTIONS": {"MAX_ENTRIES": 50}})


def file_of(kept):
    (path,) = (os.path.join(kept._dir, name) for name in os.listdir(kept._dir))
    return path


def test_an_answer_is_there_until_its_time_is_over(kept):
    kept.set("a", {"n": [1, 2]}, 100)

    assert kept.get("a") == {"n": [1, 2]} and kept.has_key("a")
    assert kept.touch("a", -1) and not kept.has_key("a") and kept.get("a", "none") == "none"
    assert not kept.touch("b", 10)
    kept.set("a", None, None)
    assert kept.get("a", "none") is None


class Runs:
    """A pickle that does something when it is read."""

    def __init__(self, path):
        self.path = path

    def __reduce__(self):
        return os.mkdir, (self.path,)


def flipped(at):
    def spoil(data):
        at_byte = at % len(data)
        return data[:at_byte] + bytes([data[at_byte] ^ 0x10]) + data[at_byte + 1 :]

    return spoil


SPOILED = {
    "first byte": flipped(0),
    "its end in time": flipped(34),
    "a byte of the answer": flipped(60),
    "last byte": flipped(-1),
    "empty": lambda data: b"",
    "cut in the mark": lambda data: data[:20],
    "cut in the answer": lambda data: data[:-5],
    "foreign, cut short": lambda data: pickle.dumps(time.time() + 900)[:4],
    "of the framework's own form": lambda data: pickle.dumps(time.time() + 900) + zlib.compress(pickle.dumps("no")),
}


@pytest.mark.parametrize("how", SPOILED)
def test_an_answer_that_is_not_as_it_was_written_is_not_there(kept, how):
    kept.set("a", "answer " * 50, 100)
    path = file_of(kept)
    with open(path, "r+b") as file:
        data = SPOILED[how](file.read())
        file.seek(0)
        file.truncate()
        file.write(data)

    assert kept.get("a", "none") == "none" and not kept.has_key("a")
    kept.set("a", "anew", 100)
    assert kept.get("a") == "anew"


def test_what_others_put_there_is_never_run(kept, tmp_path):
    kept.set("a", "answer", 100)
    path = file_of(kept)
    proof = tmp_path / "was run"
    for evil in (pickle.dumps(Runs(str(proof))), pickle.dumps(9e9) + zlib.compress(pickle.dumps(Runs(str(proof))))):
        with open(path, "wb") as file:
            file.write(evil)
        assert kept.get("a", "none") == "none"
    assert not proof.exists()


def test_an_answer_of_another_secret_is_not_there(kept, settings):
    kept.set("a", "answer", 100)
    settings.SECRET_KEY = "another one"

    assert kept.get("a", "none") == "none"


def test_a_full_disk_keeps_nobody_from_the_answer(settings, tmp_path, monkeypatch):
    settings.DATA_DIR = tmp_path
    settings.CACHES = {
        **settings.CACHES,
        "answers": {"BACKEND": "results.answers.AnswerFiles", "LOCATION": tmp_path / "answers"},
    }

    def full(*args, **kwargs):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("tempfile.mkstemp", full)
    monkeypatch.setattr("pathlib.Path.open", full)

    assert once("answer", lambda: 42, "state") == 42
