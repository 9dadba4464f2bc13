"""Releases on the site: listed, with their files whole or in parts, and nothing else of the disk."""

from __future__ import annotations

import hashlib
import io
import re
import urllib.request
from datetime import timedelta
from itertools import product

import pyarrow.parquet as pq
import pytest
from django.utils.http import http_date

from results.models import Specimen, Study
from results.releases import shelf
from results.vocabulary import load_vocabulary
from tests.results.releases.books import ACCEPTED_AT, a_published, a_study, folder, released

from .shops import table, text

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def data_dir(settings, tmp_path):
    settings.DATA_DIR = tmp_path


@pytest.fixture
def release(vocabulary):
    a_study(invented=True)
    a_published()
    return released()


def get(client, release, name="specimens.parquet", method="get", **headers):
    response = getattr(client, method)(f"/data/releases/{release.name}/{name}", headers=headers)
    # Read to the end, so that the file is closed again.
    response.whole = content(response)
    return response


def content(response) -> bytes:
    if hasattr(response, "whole"):
        return response.whole
    return response.getvalue() if response.streaming else response.content


TRICKS = [
    "../secret.txt",
    "..%2Fsecret.txt",
    "..%2F..%2Fsecret.txt",
    "%2e%2e/secret.txt",
    "..",
    ".",
    "%2Fetc%2Fpasswd",
    "specimens.csv%00",
    "specimens.csv/",
    "hidden.txt",
    ".hidden",
    "SPECIMENS.csv",
    "..\\secret.txt",
]

# pages


def test_list_of_an_empty_book_says_so(client):
    assert "There is none yet." in text(client.get("/data/releases/"))


def test_list_has_counts_and_what_changed_the_newest_first(release, client):
    a_study("Another", at=ACCEPTED_AT + timedelta(days=1))
    released()

    assert table(client.get("/data/releases/"), "Releases")[1:] == [
        ["2025-03-15-1 1 invented", "3", "5", "12", "1 added, 0 changed, 0 no longer there"],
        ["2025-03-14-1 1 invented", "2", "3", "6", "2 added, 0 changed, 0 no longer there"],
    ]


def test_page_shows_files_sums_citation_and_changes(release, client):
    Study.objects.filter(title="A chapter").update(
        status="withdrawn", withdrawn_reason="misread", changed_at=ACCEPTED_AT + timedelta(hours=1)
    )
    second = released()

    response = client.get(second.get_absolute_url())
    page = text(response)

    assert "invented 1 study among them is made up" in page
    assert "Release 2025-03-14-2: 1 study, 2 series, 6 specimens. All of its studies are invented" in page
    assert f"http://testserver{second.get_absolute_url()}" in page
    assert "Against release 2025-03-14-1 : 0 studies added, 0 changed, 1 no longer there" in page
    assert "A chapter: withdrawn, misread" in page
    tables = table(response, "Each table as CSV and as Parquet")
    assert next(row for row in tables if row[0] == "specimens")[:2] == ["specimens", "6"]
    sums = dict(table(response, "SHA-256 of each file")[1:])
    assert set(sums) == {path.name for path in folder(second).iterdir()}
    assert all(hashlib.sha256((folder(second) / name).read_bytes()).hexdigest() == said for name, said in sums.items())


def test_every_link_of_a_page_leads_to_its_file(release, client):
    page = client.get(release.get_absolute_url()).content.decode()
    links = set(re.findall(rf'href="({release.get_absolute_url()}[^"]+)"', page))

    assert {link.rpartition("/")[2] for link in links} == {path.name for path in folder(release).iterdir()}
    for link in links:
        assert content(client.get(link)) == (folder(release) / link.rpartition("/")[2]).read_bytes()


def test_page_of_a_release_whose_files_are_gone_says_so(release, client):
    folder(release).rename(shelf.folder() / "elsewhere")

    response = client.get(release.get_absolute_url())

    assert response.status_code == 200
    assert "Its files are not here at the moment." in text(response)
    assert get(client, release).status_code == 404


def test_a_release_that_is_not_there_is_not_found(release, client):
    for name in ["2025-03-14-9", "2025-13-45-1", "latest", "2025-03-14-0", "2025-03-14-1x"]:
        assert client.get(f"/data/releases/{name}/").status_code == 404, name
        assert client.get(f"/data/releases/{name}/specimens.csv").status_code == 404, name


def test_path_tricks_find_nothing(release, client):
    for place in (shelf.folder(), shelf.folder().parent):
        (place / "secret.txt").write_text("hush")
    folder(release).chmod(0o755)
    for name in ("hidden.txt", ".hidden"):
        (folder(release) / name).write_text("hush")

    starts = (f"/data/releases/{release.name}/", "/data/releases/", f"/data/releases/{release.name}/../")
    for start, path in product(starts, TRICKS):
        response = client.get(start + path)
        assert response.status_code in (301, 404), start + path
        assert b"hush" not in content(response)


# files


def test_file_comes_whole_with_its_sum_as_etag_and_forever(release, client):
    response = get(client, release)
    path = folder(release) / "specimens.parquet"

    assert response.status_code == 200
    assert content(response) == path.read_bytes()
    assert {name: response.headers[name] for name in ("Accept-Ranges", "Content-Length", "ETag", "Last-Modified")} == {
        "Accept-Ranges": "bytes",
        "Content-Length": str(path.stat().st_size),
        "ETag": f'"{hashlib.sha256(path.read_bytes()).hexdigest()}"',
        "Last-Modified": "Fri, 14 Mar 2025 10:30:15 GMT",
    }
    assert response.headers["Cache-Control"] == "public, max-age=31536000, immutable"
    assert response.headers["Content-Type"] == "application/vnd.apache.parquet"
    assert response.headers["Access-Control-Allow-Origin"] == "*"


def test_head_has_the_headers_only(release, client):
    response = get(client, release, method="head")

    assert response.headers["Content-Length"] == str((folder(release) / "specimens.parquet").stat().st_size)
    assert response.headers["Accept-Ranges"] == "bytes"


def test_a_part_is_the_part_asked_for(release, client):
    whole = (folder(release) / "specimens.parquet").read_bytes()
    last = len(whole) - 1

    for asked, start, end in (
        ("bytes=0-3", 0, 3),
        ("bytes=4-", 4, last),
        ("bytes=-8", last - 7, last),
        ("bytes=10-999999999", 10, last),
    ):
        response = get(client, release, Range=asked)
        assert response.status_code == 206, asked
        assert content(response) == whole[start : end + 1]
        assert response.headers["Content-Range"] == f"bytes {start}-{end}/{len(whole)}"
        assert response.headers["Content-Length"] == str(end + 1 - start)


def test_a_suffix_longer_than_the_file_is_the_whole_file(release, client):
    whole = (folder(release) / "CITATION.txt").read_bytes()

    response = get(client, release, "CITATION.txt", Range="bytes=-99999")

    assert (response.status_code, content(response)) == (206, whole)


def test_a_part_behind_the_end_is_refused_with_the_size(release, client):
    size = (folder(release) / "specimens.parquet").stat().st_size

    for asked in ("bytes=999999999-", "bytes=-0", "bytes=" + "9" * 5000 + "-"):
        response = get(client, release, Range=asked)
        assert response.status_code == 416, asked
        assert response.headers["Content-Range"] == f"bytes */{size}"
        assert "immutable" not in response.headers.get("Cache-Control", "")


def test_a_range_that_can_not_be_read_gives_the_whole_file(release, client):
    for asked in ("bytes=5-2", "bytes=-", "lines=1-2", "bytes=0-1,4-5", "bytes=a-b", "bytes=٣-٤"):
        assert get(client, release, Range=asked).status_code == 200, asked


def test_a_range_of_a_head_request_is_passed_over(release, client):
    assert get(client, release, method="head", Range="bytes=0-3").status_code == 200


def test_if_range_gives_a_part_of_the_same_file_only(release, client):
    etag = get(client, release).headers["ETag"]
    changed = int(release.as_of.timestamp())
    part = "bytes=0-3"

    for same in (etag, http_date(changed)):
        assert get(client, release, Range=part, **{"If-Range": same}).status_code == 206, same
    for other in ('"other"', f"W/{etag}", http_date(changed - 1), http_date(changed + 60), "nonsense"):
        assert get(client, release, Range=part, **{"If-Range": other}).status_code == 200, other


def test_a_file_already_there_is_not_sent_again(release, client):
    first = get(client, release)

    for header, value in (
        ("If-None-Match", first.headers["ETag"]),
        ("If-Modified-Since", first.headers["Last-Modified"]),
    ):
        response = get(client, release, **{header: value})
        assert (response.status_code, content(response)) == (304, b"")
        assert response.headers["ETag"] == first.headers["ETag"]
    assert get(client, release, **{"If-Match": '"other"'}).status_code == 412


def test_files_are_not_compressed_on_the_way_but_pages_are(release, client):
    for name in ("specimens.csv", "footings.csv"):
        response = get(client, release, name, **{"Accept-Encoding": "gzip", "Range": "bytes=0-999"})
        assert "Content-Encoding" not in response.headers
        assert content(response) == (folder(release) / name).read_bytes()[:1000]
    page = client.get("/data/", headers={"Accept-Encoding": "gzip"})
    assert page.headers["Content-Encoding"] == "gzip"


def test_scripts_elsewhere_may_ask_for_parts(release, client):
    response = get(client, release, method="options")

    assert response.status_code == 204
    assert response.headers["Access-Control-Allow-Origin"] == "*"
    assert "Range" in response.headers["Access-Control-Allow-Headers"]


def test_files_are_for_reading_only(release, client):
    for method in ("post", "put", "delete"):
        assert get(client, release, method=method).status_code == 405


# in place


class InParts(io.RawIOBase):
    """A file at an address, read with range requests."""

    def __init__(self, url: str) -> None:
        self.url, self.at, self.fetched = url, 0, 0
        with urllib.request.urlopen(urllib.request.Request(url, method="HEAD")) as head:
            assert head.headers["Accept-Ranges"] == "bytes"
            self.size = int(head.headers["Content-Length"])

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def tell(self) -> int:
        return self.at

    def seek(self, to: int, whence: int = io.SEEK_SET) -> int:
        self.at = to + {io.SEEK_SET: 0, io.SEEK_CUR: self.at, io.SEEK_END: self.size}[whence]
        return self.at

    def readinto(self, buffer) -> int:
        if not len(buffer) or self.at >= self.size:
            return 0
        last = min(self.at + len(buffer), self.size) - 1
        asked = urllib.request.Request(self.url, headers={"Range": f"bytes={self.at}-{last}"})
        with urllib.request.urlopen(asked) as response:
            assert response.status == 206
            part = response.read()
        buffer[: len(part)] = part
        self.at, self.fetched = self.at + len(part), self.fetched + len(part)
        return len(part)


@pytest.mark.django_db(transaction=True)
def test_pyarrow_reads_a_column_in_place_without_fetching_the_file(live_server):
    load_vocabulary()
    series = a_study().series.first()
    # Notes that don't compress make the file large beside its numbers.
    Specimen.objects.bulk_create(
        Specimen(
            series=series,
            label=f"more {number}",
            reading_typed="1 N",
            peak_load_n=1.0 + number,
            notes="".join(hashlib.sha512(f"{number} {part}".encode()).hexdigest() for part in range(3)),
        )
        for number in range(3_000)
    )
    release = released()
    remote = InParts(f"{live_server.url}/data/releases/{release.name}/specimens.parquet")

    loads = pq.ParquetFile(remote).read(columns=["peak_load_n"])

    local = pq.read_table(folder(release) / "specimens.parquet", columns=["peak_load_n"])
    assert loads.equals(local)
    assert len(loads) == 3_006
    assert 0 < remote.fetched < remote.size / 4
