"""Files that are cut off, altered or none of ours are refused with what is wrong, before anything is written."""

from __future__ import annotations

import json
import random
import tarfile
import zipfile
from io import BytesIO
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from results.backup import BackupError, files, restore
from results.backup.archive import MANIFEST, Reader, Writer
from results.backup.rows import as_cells, as_text, whole_lines
from results.backup.tables import BYTES, JSON, REAL, TEXT, Column

LINES = [b"1\tbutt\t\\N\n", b"2\ta\\ttab\t0.5\n" * 400]


@pytest.fixture
def sound(tmp_path: Path) -> Path:
    """A small file that is as it should be."""
    return written(tmp_path / "sound.zip")


def written(path: Path, **manifest: object) -> Path:
    with path.open("wb") as out:
        writer = Writer(out)
        for name in ("tables/one.tsv", "tables/two.tsv"):
            writer.add(name, LINES, table=name[7:10], columns=[["id", "integer"]], key="id")
        with writer.open(files.NAME, packed=False) as (part, told):
            part.write(random.Random(1).randbytes(500))
            told["files"] = 0
        writer.close({"migrations": [], **manifest})
    return path


def read(path: Path) -> list[bytes]:
    """Everything that is in a file which holds."""
    with Reader(path) as reader:
        reader.check()
        return [b"".join(reader.blocks(part)) for part in reader.parts]


def test_a_sound_file_is_read_as_it_was_written(sound):
    assert read(sound)[:2] == [b"".join(LINES)] * 2


def test_a_file_cut_off_anywhere_is_refused(sound):
    whole = sound.read_bytes()
    for end in [*range(0, len(whole), 7), len(whole) - 1]:
        sound.write_bytes(whole[:end])
        with pytest.raises(BackupError, match="cut off|can't be read|no backup"):
            read(sound)


def test_a_file_altered_anywhere_is_refused_or_says_the_same(sound):
    """Some bytes mean nothing, a time for one; whatever is read in spite of a change is what was written."""
    whole, expected = sound.read_bytes(), read(sound)
    refused = 0
    for at in range(len(whole)):
        for bit in (1, 128):
            altered = bytearray(whole)
            altered[at] ^= bit
            sound.write_bytes(altered)
            try:
                found = read(sound)
            except BackupError:
                refused += 1
            else:
                assert found == expected, at
    assert refused > len(whole)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is no backup, or it was cut off"),
        (b"SQLite format 3\x00" + b"\x00" * 500, "is no backup, or it was cut off"),
        (None, "There is no file"),
    ],
)
def test_foreign_files_are_refused(tmp_path, content, words):
    path = tmp_path / "foreign"
    if content is not None:
        path.write_bytes(content)

    with pytest.raises(BackupError, match=words):
        restore(path)


@pytest.mark.parametrize(
    ("manifest", "words"),
    [
        (None, "is no backup of a book: it has no manifest.json"),
        ("not json", "manifest.json can't be read"),
        ("[]", "is no backup of a book: its manifest doesn't say"),
        ('{"format": "other"}', "its manifest doesn't say"),
        (
            '{"format": "breakbook backup", "version": 2, "parts": []}',
            "is a backup of version 2; this program reads version 1",
        ),
        ('{"format": "breakbook backup", "version": 1}', "doesn't list its parts"),
        ('{"format": "breakbook backup", "version": 1, "parts": [{}]}', "doesn't tell name, bytes and sha256"),
        ('{"format": "breakbook backup", "version": 1, "parts": [3]}', "doesn't tell name, bytes and sha256"),
        (
            '{"format": "breakbook backup", "version": 1, "parts": [{"name": "x", "bytes": 0, "sha256": ""}]}',
            "the parts are not those of the manifest: x",
        ),
    ],
)
def test_manifests_that_say_something_else_are_refused(tmp_path, manifest, words):
    path = tmp_path / "odd.zip"
    with zipfile.ZipFile(path, "w") as made:
        made.writestr("something" if manifest is None else MANIFEST, manifest or "")

    with pytest.raises(BackupError, match=words):
        read(path)


def test_parts_that_were_exchanged_are_told_by_their_sum(sound, tmp_path):
    other = tmp_path / "other.zip"
    with zipfile.ZipFile(sound) as was, zipfile.ZipFile(other, "w") as now:
        for name in was.namelist():
            content = was.read(name)
            now.writestr(name, content.replace(b"butt", b"lap ") if name == "tables/two.tsv" else content)
    with pytest.raises(BackupError, match="tables/two.tsv was altered: its SHA-256 isn't the one in the manifest"):
        read(other)

    with zipfile.ZipFile(sound) as was, zipfile.ZipFile(other, "w") as now:
        for name in was.namelist():
            now.writestr(name, was.read(name) + (b"3\tmore\t1\n" if name == "tables/two.tsv" else b""))
    with pytest.raises(BackupError, match="tables/two.tsv has .* bytes and should have"):
        read(other)

    with zipfile.ZipFile(sound, "a") as more:
        more.writestr("beside.txt", "x")
    with pytest.raises(BackupError, match="the parts are not those of the manifest: beside.txt"):
        read(sound)


@pytest.mark.django_db
def test_tables_that_are_none_of_ours_are_never_asked_for(tmp_path):
    from django.db import connection
    from django.db.migrations.recorder import MigrationRecorder

    here = [f"{app}.{name}" for app, name in MigrationRecorder(connection).applied_migrations()]
    path = written(tmp_path / "hostile.zip", migrations=here)

    with pytest.raises(BackupError, match="The backup's table one has other columns than the database's"):
        restore(path)


@pytest.mark.parametrize("name", ["../up.txt", "media/../../up", "/etc/passwd", "media/.hidden", "releases/x/y", "z"])
def test_files_that_would_lie_elsewhere_are_refused(name):
    made = BytesIO()
    with tarfile.open(fileobj=made, mode="w") as tar:
        tar.addfile(tarfile.TarInfo(name))

    with pytest.raises(BackupError, match="which is no file of a book"):
        files.check([made.getvalue()])


def test_links_are_refused():
    made, link = BytesIO(), tarfile.TarInfo("media/photos/a.jpg")
    link.type, link.linkname = tarfile.SYMTYPE, "/etc/passwd"
    with tarfile.open(fileobj=made, mode="w") as tar:
        tar.addfile(link)

    with pytest.raises(BackupError, match="which is no file of a book"):
        files.check([made.getvalue()])


@given(
    texts=st.lists(st.none() | st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0")), min_size=1),
    numbers=st.lists(st.none() | st.floats(allow_nan=False), min_size=1),
    blobs=st.lists(st.none() | st.binary(), min_size=1),
    size=st.integers(1, 9),
)
def test_whatever_a_cell_holds_is_the_same_after_a_line(texts, numbers, blobs, size):
    rows = list(zip(texts, numbers, blobs, [json.dumps(text) for text in texts], strict=False))
    columns = [Column("a", TEXT), Column("b", REAL), Column("c", BYTES), Column("d", JSON)]
    cells = [as_text(column, found) for column, found in zip(columns, zip(*rows, strict=True), strict=True)]
    lines = "".join("\t".join(line) + "\n" for line in zip(*cells, strict=True)).encode()
    blocks = [lines[at : at + size] for at in range(0, len(lines), size)]

    split = [line.split("\t") for some in whole_lines(blocks) for line in some]
    back = [as_cells(column, found) for column, found in zip(columns, zip(*split, strict=True), strict=True)]

    assert list(zip(*back, strict=True)) == rows


def test_lines_without_an_end_are_refused():
    with pytest.raises(ValueError, match="the last line has no end"):
        list(whole_lines([b"1\t2\n3"]))
