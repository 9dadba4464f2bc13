"""A release's columns: the API's names and meanings, all of the records, nothing of others."""

from __future__ import annotations

import pytest

from api.columns import UNITS as API_UNITS
from api.views.records import TABLES as API
from results.models import Series, SeriesFooting, Setup, Specimen, Study, Summary
from results.releases.columns import LIST, NUMBER, OBJECT, UNITS
from results.releases.tables import DATA
from results.releases.words import ALL, WORDS

# Their meaning says in which table another column is, or which study is meant; that differs.
ELSEWHERE = {"study_id", "needs_dims", "optional_dims", "needs", "optional"}
# Kept from readers, or told in another column.
NOT_RELEASED = {
    Study: {"contributor", "status", "withdrawn_reason", "submission_key", "created_at"},
    Setup: {"rig"},
    Series: set(),
    Specimen: {"position"},
    Summary: {"id", "mean_si", "sd_si"},
    SeriesFooting: {"id"},
}


def test_units_are_those_of_the_api():
    assert UNITS == API_UNITS


@pytest.mark.parametrize("table", ALL, ids=lambda table: table.name)
def test_columns_agree_with_the_api(table):
    api = {view.table.replace("-", "_"): {column.name: column for column in view.columns} for view in API}
    # Elsewhere a name means what it means in the API's widest tables.
    anywhere = {**api["studies"], **api["series"], **api["specimens"], **api.get(table.name, {})}
    shared = [column for column in table.columns if column.name in api.get(table.name, {})]
    # A table that the API has too goes by the API's names.
    assert table.name not in api or len(shared) > len(table.columns) / 2
    for column in shared:
        said = api[table.name][column.name].meaning
        assert column.meaning == said or column.name in ELSEWHERE, column.name
    for column in table.columns:
        same = anywhere.get(column.name, column)
        kind = "nested" if column.kind in (OBJECT, LIST) else column.kind
        assert (kind, column.unit) == (same.kind if same is not column else kind, same.unit), column.name


@pytest.mark.parametrize("table", ALL, ids=lambda table: table.name)
def test_columns_are_named_once_and_numbers_by_their_unit(table):
    names = [column.name for column in table.columns]

    assert len(set(names)) == len(names)
    assert not [column.name for column in table.columns if column.kind != NUMBER and column.name.endswith(tuple(UNITS))]
    assert set(table.key) <= set(names)


@pytest.mark.parametrize("table", ALL, ids=lambda table: table.name)
def test_keys_of_other_tables_are_there_and_are_keys(table):
    by_name = {one.name: one for one in ALL}

    for foreign in table.foreign:
        assert set(foreign.columns) <= {column.name for column in table.columns}
        assert by_name[foreign.table or table.name].key == foreign.reference


@pytest.mark.parametrize("table", [one for one in DATA if one.name != "findings"], ids=lambda table: table.name)
def test_every_field_of_a_record_is_released_unless_it_is_named_here(table):
    fields = {field.attname: field.name for field in table.model._meta.concrete_fields}
    sources = {str(column.source) for column in table.columns}
    told = {name for attname, name in fields.items() if {attname, name} & sources}
    # Coalesced with its series' value.
    told |= {"moisture_pct", "density_kgm3"} if table.model is Specimen else set()
    # By the series.
    told |= {"study"} if "study" in fields.values() else set()

    assert set(fields.values()) - told == NOT_RELEASED[table.model]


def test_rows_carry_licence_and_mark_of_invention_in_every_data_table():
    for table in DATA:
        assert {"study_id", "licence", "invented"} <= {column.name for column in table.columns}, table.name
    assert all(not table.study for table in WORDS)
