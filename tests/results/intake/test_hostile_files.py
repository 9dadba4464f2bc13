"""Files made to do harm: none is opened further than it takes to refuse it, and none comes back with anything in it."""

from __future__ import annotations

import io
import time
import zipfile

import pytest
from openpyxl import load_workbook

from results.intake.annotate import annotated
from results.intake.examine import examine_file
from results.intake.read import Unreadable, kind_of, read

from .made import csv_of, flat, four_sheets, workbook

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]

LAUGHS = (
    "<!DOCTYPE x [" + "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10 if n else "ha" * 50}">' for n in range(9)) + "]>"
)


def spoiled(parts: dict[str, bytes], **more: bytes) -> bytes:
    """A sound workbook with some of its parts replaced or added."""
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(workbook(four_sheets()))) as sound,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made,
    ):
        for name in sound.namelist():
            made.writestr(name, parts.pop(name, None) or sound.read(name))
        for name, data in parts.items():
            made.writestr(name, data)
    return out.getvalue()


def sheet(of: str = "xl/worksheets/sheet4.xml") -> bytes:
    with zipfile.ZipFile(io.BytesIO(workbook(four_sheets()))) as sound:
        return sound.read(of)


@pytest.mark.parametrize(
    "part", ["xl/worksheets/sheet4.xml", "xl/workbook.xml", "xl/styles.xml", "[Content_Types].xml"]
)
@pytest.mark.parametrize("declared", [LAUGHS, '<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/passwd">]>'])
@pytest.mark.parametrize("hidden", ["", f"<!--{'x' * 5_000}-->"])
def test_entities_are_refused_wherever_they_are_declared(part, declared, hidden):
    body = sheet(part).partition(b"?>")[2] if sheet(part).startswith(b"<?xml") else sheet(part)
    data = spoiled({part: f'<?xml version="1.0"?>{hidden}{declared}'.encode() + body})
    began = time.perf_counter()

    with pytest.raises(Unreadable) as refused:
        read(data, "a.xlsx")

    assert refused.value.code == "broken-workbook"
    assert "root:" not in str(refused.value)
    assert time.perf_counter() - began < 5


@pytest.mark.parametrize("hidden", ["", f"<!--{'x' * 5_000}-->"])
def test_document_type_kept_elsewhere_is_never_fetched(hidden):
    declared = f'<?xml version="1.0"?>{hidden}<!DOCTYPE x SYSTEM "http://192.0.2.1/x.dtd">'.encode()
    began = time.perf_counter()

    try:
        assert examine_file(spoiled({"xl/worksheets/sheet4.xml": declared + sheet()}), "a.xlsx").may_be_saved
    except Unreadable as refused:
        assert refused.code == "broken-workbook"

    assert time.perf_counter() - began < 5


def test_part_that_lies_about_its_size_is_refused():
    data = bytearray(spoiled({"xl/worksheets/sheet4.xml": sheet() + b" " * 5_000_000}))
    name = b"xl/worksheets/sheet4.xml"
    at = data.rindex(b"PK\x01\x02", 0, data.rindex(name))
    data[at + 24 : at + 28] = (1_000).to_bytes(4, "little")  # unpacked size in the directory

    with pytest.raises(Unreadable, match="can't be opened"):
        read(bytes(data), "a.xlsx")


def test_many_parts_are_refused():
    with pytest.raises(Unreadable, match="in 21.. parts, far more than a table of tests"):
        read(spoiled({f"xl/media/{n}.bin": b"" for n in range(2_100)}), "a.xlsx")


def test_names_that_lead_out_of_the_archive_lead_nowhere(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    names = ["../../evil.txt", "/evil.txt", "xl/../../evil.txt", "C:\\evil.txt"]

    examination = examine_file(spoiled(dict.fromkeys(names, b"evil")), "a.xlsx")

    assert examination.may_be_saved
    assert list(tmp_path.parent.rglob("*evil*")) == []


def test_macros_are_neither_run_nor_given_back():
    macro = {"xl/vbaProject.bin": b"Attribute VB_Name", "xl/externalLinks/externalLink1.xml": b"<externalLink/>"}
    data = spoiled(macro)

    examination = examine_file(data, "a.xlsx")
    back = annotated(data, "xlsx", examination.noticed)

    assert examination.may_be_saved
    with zipfile.ZipFile(io.BytesIO(back)) as archive:
        assert not [name for name in archive.namelist() if "vba" in name or "external" in name]


@pytest.mark.parametrize("name", ["a.xlsm", "a.xlsb", "a.xls", "a.xltx", "a.csv.exe", "a.zip", "a", "a.html"])
def test_other_endings_are_refused(name):
    with pytest.raises(Unreadable, match="aren't taken|holds no workbook"):
        kind_of(workbook(four_sheets()), name)


@pytest.mark.parametrize(
    "formula", ["=1+1", "=cmd|' /C calc'!A0", '=HYPERLINK("http://localhost","x")', "=WEBSERVICE(1)", "={1}"]
)
@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_formulas_are_told_by_their_cell_and_never_worked_out(formula, kind):
    sheets = four_sheets()
    sheets["series"][1][0] = formula
    data = csv_of(flat({"specimen reading": formula})).encode() if kind == "csv" else workbook(sheets)

    examination = examine_file(data, f"a.{kind}")

    assert not examination.may_be_saved
    assert "formula" in {one.code for one in examination.noticed}


def test_formula_of_a_finding_is_text_in_the_file_that_comes_back():
    sheets = four_sheets()
    sheets["specimens"][1][2] = "=1+1"
    data = workbook(sheets)

    book = load_workbook(io.BytesIO(annotated(data, "xlsx", examine_file(data, "a.xlsx").noticed)))

    assert book["specimens"]["E2"].data_type == "s"


@pytest.mark.parametrize(
    ("data", "name"),
    [
        (b"%PDF-1.7\n" + workbook(four_sheets()), "a.xlsx"),
        (b"GIF89a" + workbook(four_sheets()), "a.xlsx"),
        (b"MZ" + workbook(four_sheets()), "a.xlsx"),
        (workbook(four_sheets()), "a.csv"),
        (b"\xd0\xcf\x11\xe0" + b"x" * 600, "a.xlsx"),
        (b"\x00" * 600, "a.csv"),
    ],
)
def test_files_that_are_two_things_at_once_are_refused(data, name):
    with pytest.raises(Unreadable):
        read(data, name)


@pytest.mark.parametrize("data", [b"<html><script>alert(1)</script></html>", b"%PDF-1.7\n1 0 obj", b"GIF89a;a=1"])
def test_texts_that_are_no_table_are_refused(data):
    with pytest.raises(Unreadable, match="No row of headings"):
        read(data, "a.csv")


def test_deep_nesting_is_refused_or_read_in_a_moment():
    deep = b"<is>" * 20_000 + b"</is>" * 20_000
    data = spoiled({"xl/worksheets/sheet4.xml": sheet().replace(b"<sheetData>", b"<sheetData>" + deep, 1)})
    began = time.perf_counter()

    try:
        examine_file(data, "a.xlsx")
    except Unreadable as refused:
        assert refused.code == "broken-workbook"

    assert time.perf_counter() - began < 10


def test_one_endless_cell_is_refused_with_a_word():
    with pytest.raises(Unreadable, match="can't be read as a table"):
        read(b'specimen reading,"' + b"x" * 1_000_000, "a.csv")
    examination = examine_file(csv_of(flat({"specimen notes": "x" * 100_000})).encode(), "a.csv")
    assert "too-long" in {one.code for one in examination.noticed}
