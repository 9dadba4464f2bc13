"""CSV as people's programs read it: whole, tidy, typed, safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime, timedelta, timezone

import pandas as pd
import pytest

from api.columns import BOOLEAN, NUMBER, TEXT, TIME
from api.formats import BLOCK_ROWS, CSV, Table, line_blocks
from tests.factories import make_series, make_setup, make_specimen, make_study


def content(response) -> bytes:
    return response.getvalue() if response.streaming else response.content


def frame_of(response) -> pd.DataFrame:
    return pd.read_csv(io.BytesIO(content(response)))


def test_blocks_are_rfc_4180():
    table = Table(
        [("label", TEXT), ("load_n", NUMBER)],
        [['a "wide", board', 1.0], ["two\nlines", None], ["ö", 0.1 + 0.2]],
    )

    text = b"".join(line_blocks(CSV, table))

    assert text == (b'label,load_n\r\n"a ""wide"", board",1.0\r\n"two\nlines",\r\n\xc3\xb6,0.30000000000000004\r\n')


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n"])
def test_text_that_a_spreadsheet_would_run_is_guarded(start):
    table = Table([("label", TEXT)], [[f"{start}1+cmd|' /C calc'!A0"]])

    (_, row) = csv.reader(io.StringIO(b"".join(line_blocks(CSV, table)).decode(), newline=""))

    assert row == [f"'{start}1+cmd|' /C calc'!A0"]


def test_numbers_booleans_and_times_are_written_as_such_and_never_guarded():
    summer = datetime(2025, 3, 14, 12, 30, tzinfo=timezone(timedelta(hours=2)))
    table = Table(
        [("a", NUMBER), ("b", BOOLEAN), ("c", TIME), ("d", TEXT)],
        [[-1.5, True, summer, "2025-03"], [None, None, None, None], [7, False, summer.astimezone(UTC), ""]],
    )

    assert b"".join(line_blocks(CSV, table)) == (
        b"a,b,c,d\r\n-1.5,true,2025-03-14T10:30:00Z,2025-03\r\n,,,\r\n7,false,2025-03-14T10:30:00Z,\r\n"
    )


def test_blocks_read_no_further_than_they_are_asked():
    read = []

    def rows():
        for number in range(10 * BLOCK_ROWS):
            read.append(number)
            yield [number]

    blocks = line_blocks(CSV, Table([("number", NUMBER)], rows()))
    next(blocks)
    assert read == []
    next(blocks)
    assert len(read) == BLOCK_ROWS


@pytest.mark.django_db
def test_specimens_csv_is_streamed_whole(client):
    series = make_series()
    for _ in range(150):
        make_specimen(series)

    response = client.get("/api/v1/specimens.csv")

    assert response.streaming
    assert response.headers["Content-Type"] == "text/csv; charset=utf-8"
    assert response.headers["Content-Disposition"] == 'attachment; filename="specimens.csv"'
    assert len(frame_of(response)) == 150


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("query", "rows"), [("page_size=2", 2), ("page=2&page_size=2", 1), ("page=1", 3), ("joint=butt", 1)]
)
def test_csv_is_paged_only_when_a_page_is_asked_for(client, query, rows):
    for joint in ("butt", "mt_blind", "mt_blind"):
        make_specimen(make_series(joint=joint))

    assert len(frame_of(client.get(f"/api/v1/specimens.csv?{query}"))) == rows


@pytest.mark.django_db
def test_pandas_reads_right_types_from_specimens(client):
    study = make_study(invented=True)
    setup = make_setup(study, arm_mm=250.0)
    control = make_series(setup=setup, joint="butt", timber=None, adhesive=None)
    series = make_series(setup=setup, control=control, tenon_count=2)
    make_specimen(control, peak_load_n=300.0, flagged=True)
    make_specimen(series, peak_load_n=1240.5, moment_nm=310.125, stress_mpa=58.1)
    make_specimen(series, outcome="void")

    frame = frame_of(client.get("/api/v1/specimens.csv"))

    kinds = {name: frame[name].dtype.kind for name in frame}
    assert {kinds[name] for name in ("specimen_id", "study_id", "series_id", "setup_id")} == {"i"}
    assert {kinds[name] for name in ("peak_load_n", "moment_nm", "stress_mpa", "arm_mm", "span_mm")} == {"f"}
    assert {kinds[name] for name in ("member_depth_mm", "moisture_pct", "tenon_count")} == {"f"}
    assert {kinds[name] for name in ("flagged", "invented")} == {"b"}
    assert pd.api.types.is_string_dtype(frame["joint"])
    assert frame["joint"].tolist() == ["butt", "mt_blind", "mt_blind"]
    assert frame["timber"].isna().tolist() == [True, False, False]
    assert frame["timber"].dropna().unique().tolist() == ["oak_northern_red"]
    assert frame["peak_load_n"].tolist()[:2] == [300.0, 1240.5]
    assert frame["peak_load_n"].isna().tolist() == [False, False, True]
    assert frame["flagged"].tolist() == [True, False, False]
    assert frame["control_series_id"].fillna(0).tolist() == [0, control.pk, control.pk]
    assert frame["moment_nm"].dropna().tolist() == [310.125]


@pytest.mark.django_db
def test_csv_and_json_hold_the_same_rows(client):
    series = make_series(moisture_pct=11.5)
    for place in ("bond_line", None):
        make_specimen(series, failure_place=place, stress_mpa=1 / 3)
    make_specimen(series, outcome="held")

    for table in ("specimens", "series", "studies", "joints", "timbers", "loadings", "adhesives"):
        listed = client.get(f"/api/v1/{table}.json").json()["results"]
        text = content(client.get(f"/api/v1/{table}.csv")).decode()
        typed = list(csv.DictReader(io.StringIO(text, newline="")))

        assert [list(row) for row in typed] == [list(row) for row in listed]
        for from_csv, from_json in zip(typed, listed, strict=True):
            for name, value in from_json.items():
                if isinstance(value, bool):
                    assert from_csv[name] == str(value).lower()
                elif isinstance(value, float):
                    assert float(from_csv[name]) == value
                elif name not in ("accepted_at", "changed_at"):
                    assert from_csv[name] == ("" if value is None else str(value))


@pytest.mark.django_db
def test_typed_reading_is_guarded_in_csv_and_as_typed_in_json(client):
    make_specimen(label="=HYPERLINK(1)", reading_typed="-12 lbf", notes="@SUM(A1)")

    row = next(csv.DictReader(io.StringIO(content(client.get("/api/v1/specimens.csv")).decode(), newline="")))
    listed = client.get("/api/v1/specimens.json").json()["results"][0]

    names = ("specimen", "reading_typed", "specimen_notes")
    assert [row[name] for name in names] == ["'=HYPERLINK(1)", "'-12 lbf", "'@SUM(A1)"]
    assert [listed[name] for name in names] == ["=HYPERLINK(1)", "-12 lbf", "@SUM(A1)"]


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("address", "headers", "kind"),
    [
        ("specimens", {}, "application/json"),
        ("specimens", {"accept": "text/csv"}, "text/csv; charset=utf-8"),
        ("specimens", {"accept": "text/html,*/*;q=0.8"}, "application/json"),
        ("specimens?format=csv", {}, "text/csv; charset=utf-8"),
        ("specimens?format=csv", {"accept": "application/json"}, "text/csv; charset=utf-8"),
        ("specimens.json", {"accept": "text/csv"}, "application/json"),
        ("specimens.csv", {"accept": "text/html"}, "text/csv; charset=utf-8"),
        ("specimens.csv/", {}, "text/csv; charset=utf-8"),
        ("specimens/", {}, "application/json"),
    ],
)
def test_format_follows_the_address_then_the_accept_header(client, address, headers, kind):
    response = client.get(f"/api/v1/{address}", headers=headers)

    assert (response.status_code, response.headers["Content-Type"]) == (200, kind)
    assert {"Accept", "Cookie"} <= set(response.headers["Vary"].split(", "))


@pytest.mark.django_db
def test_single_record_is_a_csv_of_one_row(client):
    specimen = make_specimen(peak_load_n=900.0)

    frame = frame_of(client.get(f"/api/v1/specimens/{specimen.pk}.csv"))

    assert frame[["specimen_id", "peak_load_n"]].values.tolist() == [[specimen.pk, 900.0]]


@pytest.mark.django_db
def test_empty_table_is_a_heading_that_pandas_can_read(client):
    frame = frame_of(client.get("/api/v1/specimens.csv"))

    assert frame.empty
    assert "peak_load_n" in frame.columns


@pytest.mark.django_db(transaction=True)
def test_pandas_reads_specimens_straight_from_the_address(live_server):
    make_specimen(peak_load_n=1240.0, moment_nm=372.0)

    frame = pd.read_csv(f"{live_server.url}/api/v1/specimens.csv")

    assert frame[["peak_load_n", "moment_nm"]].values.tolist() == [[1240.0, 372.0]]
