"""The listing of tables and the data dictionary."""

from __future__ import annotations

import io

import pandas as pd
import pytest

from api.columns import NUMBER, UNITS
from api.views.records import TABLES
from api.views.worked import WORKED
from tests.factories import make_specimen

pytestmark = pytest.mark.django_db


def test_root_lists_every_table_and_each_address_answers(client):
    make_specimen()

    found = client.get("/api/v1/").json()["results"]

    tables = "studies series specimens footings findings plans joints loadings timbers adhesives failure-places"
    others = "compare network limits evidence releases columns demand capacity margin share leverage movement plan"
    others += " normalise schema"
    assert [row["name"] for row in found] == [*tables.split(), *others.split()]
    for row in found:
        if row["name"] not in ("compare", "network", "limits", "normalise", *WORKED):
            for kind in ("json", "csv"):
                if row[kind]:
                    assert client.get(row[kind].removeprefix("http://testserver")).status_code == 200, row[kind]


def test_root_tells_filters_and_ordering(client):
    joints = next(row for row in client.get("/api/v1/").json()["results"] if row["name"] == "joints")

    assert (joints["filters"], joints["ordering"]) == ("family", "code name family series")


def test_root_is_a_csv_too(client):
    frame = pd.read_csv(io.BytesIO(client.get("/api/v1/?format=csv").content))

    assert frame.loc[0, ["name", "csv"]].tolist() == ["studies", "http://testserver/api/v1/studies.csv"]


def test_dictionary_has_unit_and_meaning_of_every_column(client):
    frame = pd.read_csv(io.BytesIO(client.get("/api/v1/columns.csv").content)).set_index(["table", "column"])

    assert frame["meaning"].notna().all()
    assert frame.loc[("specimens", "peak_load_n")].tolist()[:2] == ["number", "N"]
    assert frame.loc[("specimens", "moment_nm")].tolist()[:2] == ["number", "N·m"]
    assert frame.loc[("specimens", "density_kgm3")].tolist()[:2] == ["number", "kg/m³"]
    assert frame.loc[("specimens", "rate_mm_min")].tolist()[:2] == ["number", "mm/min"]
    assert frame.loc[("timbers", "shrink_radial_per_pct")].tolist()[:2] == ["number", "1/%"]


@pytest.mark.parametrize("view", TABLES, ids=lambda view: view.table)
def test_columns_of_a_table_are_named_once_and_numbers_by_their_unit(view):
    names = [column.name for column in view.columns]
    bare = {column.name for column in view.columns if column.kind == NUMBER and not column.unit}

    assert len(set(names)) == len(names)
    # Ratios and specific gravity are pure numbers.
    assert all(name.startswith(("ratio_", "sg_")) or name in PURE for name in bare), bare
    # And a name that ends like a unit is a number in it.
    assert not [column.name for column in view.columns if column.kind != NUMBER and column.name.endswith(tuple(UNITS))]


PURE = {
    "friction",
    "lever_ratio",
    "scarf_ratio",
    # Numbers of a footing are in the unit that stands in their row.
    "geometric_mean",
    "kept_geometric_mean",
    "sum_log",
    "sum_sq_log",
    "kept_sum_log",
    "kept_sum_sq_log",
    "factor",
}
