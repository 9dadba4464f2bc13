"""NDJSON and Parquet beside JSON and CSV; downloads put together from pieces, and written by the database."""

from __future__ import annotations

import io
import json

import duckdb
import pandas as pd
import polars as pl
import pyarrow.parquet as pq
import pytest
from django.contrib.auth.models import AnonymousUser
from django.db import connection
from django.db.models import QuerySet

from api import bulk, tables
from api.columns import values_of
from api.copied import Copied, can_copy
from api.formats import CSV, NDJSON, Heading, Table, line_blocks, parquet_blocks
from api.spliced import Spliced
from results.models import Series, Specimen, Study
from tests.factories import make_footing, make_series, make_setup, make_specimen, make_study

pytestmark = pytest.mark.django_db
SHARED = bulk.Shared("series", Series)
NASTY = ["=1+1", '"quoted", and a comma', "two\nlines", "ö – ½", "-5", " spaced ", "'", "@x", "a\r\nb", "\\."]


def content(response) -> bytes:
    assert response.status_code == 200, response.content
    return response.getvalue() if response.streaming else response.content


@pytest.fixture
def awkward():
    """Specimens whose texts and numbers are hard to write, in series of two studies."""
    floats = [1 / 3, 300.0, 1e-7, 123456789.125, 0.1 + 0.2, 5e-324, 2.5, 1e8, 99.99999999999999, 7.0]
    for number, label in enumerate(["Plain", '=cmd|" /C calc"!A0, and\nmore']):
        study = make_study(label, invented=bool(number), workshop="Ö, 'shop'")
        setup = make_setup(study, label=NASTY[number], arm_mm=250.0 + number / 3)
        for at in range(2):
            series = make_series(setup=setup, label=f"{NASTY[at + 2]} {at}", moisture_pct=8.5 if at else None)
            for place, (text, value) in enumerate(zip(NASTY, floats, strict=True)):
                make_specimen(
                    series,
                    label=f"{text}{place}",
                    position=place,
                    reading_typed=text,
                    notes=text if place % 2 else "",
                    stress_mpa=value if place % 3 else None,
                    moisture_pct=12.0 if place == 4 else None,
                    flagged=place == 5,
                    outcome="held" if place == 6 else "broke",
                )


def found(**kwargs: object) -> QuerySet:
    return Specimen.objects.filter(series__study__in=Study.objects.visible_to(AnonymousUser()), **kwargs).order_by(
        "series_id", "position", "pk"
    )


@pytest.mark.parametrize("form", [CSV, NDJSON], ids=["csv", "ndjson"])
@pytest.mark.parametrize("order", [(), ("-stress_mpa", "pk"), ("notes", "pk")])
def test_lines_put_together_from_pieces_are_those_made_whole(awkward, form, order):
    rows = found().order_by(*order) if order else found()
    plain = b"".join(line_blocks(form, Table.of(tables.SPECIMENS, values_of(rows, tables.SPECIMENS))))

    assert b"".join(Spliced(form, rows, tables.SPECIMENS, SHARED)) == plain
    assert b"".join(bulk.lines(form, rows, tables.SPECIMENS, SHARED)) == plain


@pytest.mark.parametrize(
    "names",
    [
        "specimen_id,study_title,stress_mpa",
        "study_title,specimen",
        "joint,setup",
        "specimen,notes",
        "study_id,specimen_notes",
        "specimen_notes",
        "moisture_pct,invented",
        "specimen_id,specimen,flagged",
    ],
)
def test_some_columns_are_put_together_as_they_are_made_whole(client, awkward, names):
    columns = [column for column in tables.SPECIMENS if column.name in names.split(",")]
    plain = b"".join(line_blocks(CSV, Table.of(columns, values_of(found(), columns))))

    assert b"".join(bulk.lines(CSV, found(), columns, SHARED)) == plain


def test_copy_of_the_database_writes_the_same_bytes(awkward):
    plain = b"".join(line_blocks(CSV, Table.of(tables.SPECIMENS, values_of(found(), tables.SPECIMENS))))

    if connection.vendor == "postgresql":
        assert can_copy(found(), SHARED, tables.SPECIMENS)
        assert b"".join(Copied(CSV, found(), tables.SPECIMENS, SHARED)) == plain
        some = found(series__joint__in=["mt_blind"], outcome="held")
        assert b"".join(Copied(CSV, some, tables.SPECIMENS, SHARED)).count(b"held,") == 4
    else:
        assert not can_copy(found(), SHARED, tables.SPECIMENS)


def test_copy_takes_only_rows_by_the_series_and_cells_it_can_tell_apart(awkward, monkeypatch):
    columns = {column.name: column for column in tables.SPECIMENS}

    def may(names: str, rows: QuerySet) -> bool:
        return can_copy(rows, SHARED, [columns[name] for name in names.split(",")])

    postgres = connection.vendor == "postgresql"
    assert may("specimen_id,study_title,specimen,stress_mpa", found()) == postgres
    assert not may("specimen,study_title,stress_mpa", found())  # a text before the last run may hold commas
    assert not may("specimen_id,study_title,specimen", found().order_by("-stress_mpa"))


def test_ndjson_has_the_rows_of_json_a_line_each(client, awkward):
    listed = client.get("/api/v1/specimens.json").json()["results"]

    response = client.get("/api/v1/specimens.ndjson")
    lines = content(response).decode().split("\n")

    assert response.headers["Content-Type"] == "application/x-ndjson; charset=utf-8"
    assert response.headers["Content-Disposition"] == 'attachment; filename="specimens.ndjson"'
    assert lines.pop() == ""
    assert [json.loads(line) for line in lines] == listed


def test_ndjson_of_studies_and_footings_is_json_too(client):
    make_footing(make_series(), steps=[{"name": "a"}], missing=["the timber", "the arm"])

    for table in ("studies", "footings", "joints"):
        listed = client.get(f"/api/v1/{table}.json").json()["results"]
        assert [json.loads(line) for line in content(client.get(f"/api/v1/{table}.ndjson")).splitlines()] == listed


def test_parquet_carries_unit_and_meaning_with_each_column(client, awkward):
    response = client.get("/api/v1/specimens.parquet")
    file = pq.ParquetFile(io.BytesIO(content(response)))
    fields = {field.name: field for field in file.schema_arrow}

    assert response.headers["Content-Type"] == "application/vnd.apache.parquet"
    assert list(fields) == [column.name for column in tables.SPECIMENS]
    assert fields["moment_nm"].metadata == {
        b"unit": "N·m".encode(),
        b"meaning": b"moment at the joint, for bending and torsion",
    }
    assert fields["joint"].metadata[b"unit"] == b""
    assert [str(fields[name].type) for name in ("specimen_id", "stress_mpa", "flagged", "joint")] == [
        "int64",
        "double",
        "bool",
        "string",
    ]
    assert file.schema_arrow.metadata[b"table"] == b"specimens"
    assert b"data_version" in file.schema_arrow.metadata


def test_parquet_and_csv_and_ndjson_read_back_equal(client, awkward):
    parquet = pq.read_table(io.BytesIO(content(client.get("/api/v1/specimens.parquet")))).to_pylist()
    lines = [json.loads(line) for line in content(client.get("/api/v1/specimens.ndjson")).splitlines()]

    assert parquet == lines
    assert len(parquet) == 40


def test_nested_columns_are_json_text_where_a_cell_is_one_text(client):
    make_footing(make_series(), steps=[{"name": "moment", "factor": 0.3}], missing=["the timber"])

    row = pq.read_table(io.BytesIO(content(client.get("/api/v1/footings.parquet")))).to_pylist()[0]
    frame = pd.read_csv(io.BytesIO(content(client.get("/api/v1/footings.csv"))))

    assert json.loads(row["steps"]) == [{"name": "moment", "factor": 0.3}]
    assert json.loads(frame["steps"][0]) == [{"name": "moment", "factor": 0.3}]
    assert json.loads(frame["missing"][0]) == ["the timber"]


def test_parquet_is_written_in_groups_of_rows(monkeypatch):
    monkeypatch.setattr("api.formats.parquet.GROUP_ROWS", 3)
    monkeypatch.setattr("api.formats.parquet.BATCH_ROWS", 1)

    blocks = list(parquet_blocks(Table([Heading("number", "integer", "", "a count")], ([n] for n in range(8)))))
    file = pq.ParquetFile(io.BytesIO(b"".join(blocks)))

    assert [file.metadata.row_group(at).num_rows for at in range(file.num_row_groups)] == [3, 3, 2]
    assert file.read()["number"].to_pylist() == list(range(8))


@pytest.mark.parametrize("form", ["csv", "ndjson", "parquet"])
@pytest.mark.parametrize("address", ["specimens", "footings", "compare", "evidence", "columns", "joints", "releases"])
def test_table_without_rows_is_one_in_every_format(client, form, address):
    response = client.get(f"/api/v1/{address}.{form}")

    if address == "compare":  # nothing to compare is a refusal
        assert (response.status_code, response.headers["Content-Type"]) == (422, "application/problem+json")
        return
    assert (
        response.headers["Content-Type"].split(";")[0]
        == {
            "csv": "text/csv",
            "ndjson": "application/x-ndjson",
            "parquet": "application/vnd.apache.parquet",
        }[form]
    )
    if form == "parquet":
        pq.read_table(io.BytesIO(content(response)))


@pytest.mark.parametrize(
    ("accept", "kind"),
    [
        ("application/x-ndjson", "application/x-ndjson"),
        ("application/vnd.apache.parquet", "application/vnd.apache.parquet"),
    ],
)
def test_accept_header_chooses_the_new_formats(client, awkward, accept, kind):
    assert client.get("/api/v1/specimens", headers={"accept": accept}).headers["Content-Type"].startswith(kind)


def test_pandas_polars_and_duckdb_read_equal_frames_of_the_right_types(client, awkward, tmp_path):
    path = tmp_path / "specimens.csv"
    path.write_bytes(content(client.get("/api/v1/specimens.csv?invented=false&invented=true")))
    names = ["specimen_id", "stress_mpa", "arm_mm", "flagged", "joint", "specimen", "position", "moisture_pct"]

    by_pandas = pd.read_csv(path)
    by_polars = pl.read_csv(path, infer_schema_length=None)
    by_duckdb = duckdb.sql(f"SELECT * FROM read_csv('{path}', sample_size=-1)").pl()

    assert by_pandas.columns.tolist() == by_polars.columns == by_duckdb.columns
    kinds = {"specimen_id": "i", "stress_mpa": "f", "arm_mm": "f", "flagged": "b", "moisture_pct": "f"}
    for name, kind in kinds.items():
        assert by_pandas[name].dtype.kind == kind, name
        right = {"i": pl.Int64, "f": pl.Float64, "b": pl.Boolean}[kind]
        assert (by_polars[name].dtype, by_duckdb[name].dtype) == (right, right), name
    for name in [name for name in names if name in by_polars.columns]:
        values = by_polars[name].to_list()
        assert by_duckdb[name].to_list() == values, name
        assert [None if pd.isna(cell) else cell for cell in by_pandas[name]] == values, name


@pytest.mark.parametrize("form", ["csv", "ndjson", "parquet"])
def test_download_is_compressed_on_its_way_without_being_gathered(client, awkward, form):
    import gzip

    plain = content(client.get(f"/api/v1/specimens.{form}?ordering=specimen_id"))
    packed = client.get(f"/api/v1/specimens.{form}?ordering=specimen_id", headers={"Accept-Encoding": "gzip"})

    assert packed.streaming
    assert packed.headers["Content-Encoding"] == "gzip"
    assert gzip.decompress(packed.getvalue()) == plain
