"""What a release holds is what its descriptor, its sums and its texts say; other programs read it so."""

from __future__ import annotations

import csv
import io
import json
import subprocess

import duckdb
import pandas as pd
import polars as pl
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import yaml
from pandas.testing import assert_frame_equal

from results.models import Study
from results.releases import columns
from results.releases.tables import SPECIMENS
from results.releases.words import ALL
from results.vocabulary import load_vocabulary

from .books import a_published, a_study, folder, released

pytestmark = pytest.mark.django_db

HARMLESS = {columns.TEXT: "string", columns.OBJECT: "string", columns.LIST: "string", columns.BOOLEAN: "boolean"}


@pytest.fixture
def release(vocabulary):
    a_study(invented=True)
    a_published()
    return released()


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_package_validates_with_frictionless_and_a_fault_would_be_found(release, tmp_path):
    from frictionless import validate

    place = folder(release)
    report = validate(str(place / "datapackage.json"))

    assert report.valid, report.flatten(["name", "type", "message"])
    assert [task.name for task in report.tasks] == [
        *(table.name for table in ALL),
        *(f"{table.name}-parquet" for table in ALL),
    ]

    # What is pointed at but isn't there, and one changed byte, are faults that it would tell.
    broken = tmp_path / "broken"
    broken.mkdir()
    for path in place.iterdir():
        (broken / path.name).write_bytes(path.read_bytes())
    _replace(broken / "joints.csv", b"mortise_tenon,", b"mortise_xenon,")
    _replace(broken / "timbers.parquet", b"PAR1", b"PAR2")
    faults = {
        task.name: {error.type for error in task.errors} for task in validate(str(broken / "datapackage.json")).tasks
    }
    assert {name: kinds for name, kinds in faults.items() if kinds} == {
        "joints": {"hash-count", "foreign-key"},
        "timbers-parquet": {"hash-count"},
    }


def _replace(path, old, new):
    content = path.read_bytes()
    assert old in content
    path.write_bytes(content.replace(old, new, 1))


def test_descriptor_has_unit_kind_and_meaning_of_every_column_and_licences(release):
    package = json.loads((folder(release) / "datapackage.json").read_text())
    fields = {
        (resource["name"], field["name"]): field
        for resource in package["resources"]
        if "schema" in resource
        for field in resource["schema"]["fields"]
    }

    assert {licence["name"] for licence in package["licenses"]} == {"CC0-1.0", "CC-BY-4.0"}
    assert (package["version"], package["created"]) == (release.name, "2025-03-14T10:30:15Z")
    assert fields["specimens", "moment_nm"] == {
        "name": "moment_nm",
        "type": "number",
        "description": "moment at the joint, for bending and torsion",
        "unit": "N·m",
        "constraints": {"minimum": 0},
    }
    assert fields["specimens", "outcome"]["constraints"] == {"required": True, "enum": ["broke", "held", "void"]}
    assert fields["series", "series_typed"]["type"] == "object"
    assert all(field["description"] for field in fields.values())
    schemas = {one["name"]: one["schema"] for one in package["resources"] if "schema" in one}
    assert schemas["footings"]["primaryKey"] == ["series_id", "footing"]
    to_control = {"fields": ["control_series_id"], "reference": {"resource": "", "fields": ["series_id"]}}
    assert to_control in schemas["series"]["foreignKeys"]


def test_sums_hold_for_every_file(release):
    place = folder(release)

    found = subprocess.run(
        ["sha256sum", "--check", "--strict", "SHA256SUMS"], cwd=place, capture_output=True, text=True, check=False
    )

    assert found.returncode == 0, found.stdout
    assert len(found.stdout.splitlines()) == len(list(place.iterdir())) - 1


def test_dictionary_has_every_column_of_every_csv(release):
    place = folder(release)
    frame = pd.read_csv(place / "dictionary.csv").set_index(["table", "column"])

    for table in ALL:
        assert frame.loc[table.name].index.tolist() == pd.read_csv(place / f"{table.name}.csv").columns.tolist()
    assert frame.loc[("specimens", "stress_mpa"), ["kind", "unit", "required"]].tolist() == ["number", "MPa", "no"]
    assert frame.loc[("series", "control_series_id"), "points_at"] == "series.series_id"
    assert frame["meaning"].notna().all()


# citing and licences


def test_citation_file_says_what_the_text_says(release):
    place = folder(release)
    cff = yaml.safe_load((place / "CITATION.cff").read_text())
    text = (place / "CITATION.txt").read_text()

    # What version 1.2.0 of the format asks for.
    assert {"cff-version", "message", "title", "authors"} <= set(cff)
    assert (cff["cff-version"], cff["type"], cff["version"]) == ("1.2.0", "dataset", "2025-03-14-1")
    assert str(cff["date-released"]) == "2025-03-14"
    # Two licences in a citation file would mean a choice between them.
    assert "license" not in cff
    assert cff["identifiers"][0]["value"] == f"sha256:{release.data_hash}"
    for part in (cff["title"], "Release 2025-03-14-1", cff["abstract"], release.data_hash[:16]):
        assert part in text
    assert cff["abstract"] == (
        "2 studies, 3 series, 6 specimens. 1 of its studies is invented, to show how the book works."
    )


def test_one_licence_for_all_stands_in_the_citation_file(vocabulary):
    a_published()

    assert yaml.safe_load((folder(released()) / "CITATION.cff").read_text())["license"] == "CC0-1.0"


def test_licences_name_every_study_under_its_own(release):
    text = (folder(release) / "LICENCES.txt").read_text()
    free, credit = text.split("CC BY 4.0 (use with credit)")

    assert "A chapter. Breakbook, study" in free and "Figures taken from: Somebody, 1998" in free
    assert "Shop by the river (2025). Rails into posts. Breakbook, study" in credit
    assert "Invented data." in credit and "Invented data." not in free


# read by others


def test_csv_and_parquet_hold_the_same_and_keep_types(release):
    place = folder(release)
    for table in ALL:
        parquet = pq.read_table(place / f"{table.name}.parquet")
        texts = {column.name: "string" for column in table.columns if column.kind == columns.TEXT}
        read = pd.read_csv(place / f"{table.name}.csv", dtype=texts, keep_default_na=False, na_values=[""])
        assert_frame_equal(_plain(read, table), _plain(_guarded(parquet.to_pandas(), table), table), obj=table.name)


def _guarded(frame, table):
    """Texts as CSV guards them against spreadsheets."""
    for column in table.columns:
        if column.kind == columns.TEXT:
            frame[column.name] = [
                f"'{cell}" if isinstance(cell, str) and cell[0] in columns.FORMULA_STARTS else cell
                for cell in frame[column.name]
            ]
    return frame


def _plain(frame, table):
    """The frame with one type for each kind, so that only the values are compared."""
    made = {}
    for column in table.columns:
        cells = frame[column.name]
        if column.kind == columns.TIME:
            made[column.name] = pd.to_datetime(cells, utc=True).dt.as_unit("ms")
        elif column.kind in (columns.NUMBER, columns.INTEGER):
            made[column.name] = cells.astype(float)
        else:
            made[column.name] = cells.astype(HARMLESS[column.kind])
    return pd.DataFrame(made)


def test_pandas_polars_and_duckdb_read_equal_frames_of_the_right_types(release):
    path = folder(release) / "specimens.csv"

    by_pandas = pd.read_csv(path, keep_default_na=False, na_values=[""])
    by_polars = pl.read_csv(path, infer_schema_length=None)
    by_duckdb = duckdb.read_csv(str(path)).pl()

    for kind, is_it in (
        (columns.NUMBER, lambda kind: kind.is_float()),
        (columns.INTEGER, lambda kind: kind.is_integer()),
        (columns.BOOLEAN, lambda kind: kind == pl.Boolean),
        (columns.TEXT, lambda kind: kind == pl.String),
    ):
        for column in SPECIMENS.columns:
            cells = by_polars[column.name]
            if column.kind == kind and cells.null_count() < len(cells):
                assert is_it(cells.dtype) and is_it(by_duckdb[column.name].dtype), column.name
    for other in (by_polars, by_duckdb):
        frame = pd.DataFrame({name: other[name].to_list() for name in other.columns})
        assert_frame_equal(_plain(frame, SPECIMENS), _plain(by_pandas, SPECIMENS))


def test_parquet_carries_units_and_types(release):
    place = folder(release)
    fields = pq.read_schema(place / "specimens.parquet")

    moment = fields.field("moment_nm")
    assert (moment.type, moment.nullable) == (pa.float64(), True)
    assert moment.metadata[b"unit"].decode() == "N·m"
    assert moment.metadata[b"meaning"].decode() == "moment at the joint, for bending and torsion"
    assert not fields.field("specimen_id").nullable
    assert fields.metadata[b"release"] == b"2025-03-14-1"
    for table in ALL:
        for column in table.columns:
            kept = pq.read_schema(place / f"{table.name}.parquet").field(column.name).metadata
            assert kept.get(b"unit", b"").decode() == column.unit
    accepted = pq.read_table(place / "studies.parquet")["accepted_at"]
    assert accepted.type == pa.timestamp("ms", tz="UTC")


def test_duckdb_reads_parquet_and_joins_by_the_keys(release):
    place = folder(release)

    rows = duckdb.sql(
        f"""SELECT joint, title, round(avg(moment_nm), 3) FROM '{place}/specimens.parquet'
        JOIN (SELECT study_id, study_title AS title FROM '{place}/studies.parquet') USING (study_id)
        WHERE outcome = 'broke' GROUP BY ALL ORDER BY joint"""
    ).fetchall()

    # Means of the loads on an arm of 300 mm.
    assert rows == [
        ("butt", "Rails into posts", round((120 + 140.5 + 133.25) / 3 * 0.3, 3)),
        ("mt_blind", "Rails into posts", 93.0),
    ]


@pytest.mark.parametrize("table", ["studies", "series", "specimens"])
def test_cells_are_those_of_the_api(release, client, table):
    response = client.get(f"/api/v1/{table}.csv")
    by_api = list(csv.DictReader(io.StringIO(response.getvalue().decode(), newline="")))
    with (folder(release) / f"{table}.csv").open(newline="", encoding="utf-8") as file:
        released = list(csv.DictReader(file))

    shared = [name for name in released[0] if name in by_api[0]]
    assert len(shared) > len(released[0]) / 2
    assert [{name: row[name] for name in shared} for row in released] == [
        {name: row[name] for name in shared} for row in by_api
    ]


def test_texts_that_a_spreadsheet_would_run_are_guarded_in_csv_only(release):
    with (folder(release) / "specimens.csv").open(newline="", encoding="utf-8") as file:
        guarded = {row["specimen_notes"] for row in csv.DictReader(file)}
    kept = set(pq.read_table(folder(release) / "specimens.parquet")["specimen_notes"].to_pylist())

    assert guarded == {"", "'=1+1", 'a "wide" board,\nö'}
    assert kept == {None, "=1+1", 'a "wide" board,\nö'}


def test_hashes_tell_each_study(release):
    hashes = pd.read_csv(folder(release) / "study_hashes.csv")

    assert sorted(hashes["study_id"]) == sorted(Study.objects.values_list("pk", flat=True))
    assert hashes["sha256"].is_unique


def test_vocabulary_is_that_of_the_files(release):
    counts = load_vocabulary()

    assert {name: release.counts[name] for name in ("joints", "timbers", "instruments")} == {
        "joints": counts["vocabulary/joints.csv"],
        "timbers": counts["wood/timbers.csv"],
        "instruments": counts["vocabulary/instruments.csv"],
    }
