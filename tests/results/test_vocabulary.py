"""Vocabulary files go into the database whole or not at all, and say what is wrong with them."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from results.models import AdhesiveClass, FailurePlace, Joint, JointFamily, Timber
from results.vocabulary import FILES, FIXTURES, VocabularyError, load_vocabulary

pytestmark = pytest.mark.django_db
Change = Callable[[list[dict[str, str]]], None]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in ("vocabulary", "wood"):
        shutil.copytree(FIXTURES / name, tmp_path / name)
    return tmp_path


def _rewrite(path: Path, change: Change) -> None:
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    change(rows)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def _rows_in(name: str) -> int:
    with (FIXTURES / name).open(encoding="utf-8", newline="") as file:
        return sum(1 for _ in csv.DictReader(file))


def test_load_puts_every_row_of_every_file_into_the_database():
    counts = load_vocabulary()

    assert counts == {name: _rows_in(name) for _, name in FILES}
    assert {name: model.objects.count() for model, name in FILES} == counts
    oak = Timber.objects.get(pk="oak_northern_red")
    assert (oak.name, oak.group, oak.mor_12_mpa, oak.intersection_mc_pct) == (
        "Oak, northern red",
        "hardwood",
        99.0,
        25.0,
    )
    assert Timber.objects.get(pk="balsa").sg_12 is None
    assert Joint.objects.get(pk="solid").is_control_kind
    assert AdhesiveClass.objects.get(pk="pva_d3").en204 == "D3"
    assert FailurePlace.objects.first().code == "bond_line"


def test_load_twice_changes_nothing():
    load_vocabulary()
    before = list(Timber.objects.values()) + list(Joint.objects.values())

    load_vocabulary()

    assert list(Timber.objects.values()) + list(Joint.objects.values()) == before


def test_load_brings_known_rows_up_to_the_file_and_keeps_codes_no_longer_in_it(folder):
    load_vocabulary()

    def change(rows: list[dict[str, str]]) -> None:
        rows[0]["name"] = "Glue line"
        rows.pop()

    _rewrite(folder / "vocabulary" / "failure_places.csv", change)
    counts = load_vocabulary(folder)

    assert FailurePlace.objects.get(pk="bond_line").name == "Glue line"
    assert FailurePlace.objects.count() == counts["vocabulary/failure_places.csv"] + 1


@pytest.mark.parametrize(
    ("name", "column", "value", "message"),
    [
        ("wood/timbers.csv", "mor_12_mpa", "strong", "row 2, column 'mor_12_mpa': 'strong'"),
        ("wood/timbers.csv", "mor_12_mpa", "nan", "row 2, column 'mor_12_mpa': 'nan' is not a finite number"),
        ("wood/timbers.csv", "group", "wood", "row 2, column 'group': 'wood'"),
        ("wood/timbers.csv", "code", "red oak", "row 2, column 'code': 'red oak'"),
        ("wood/timbers.csv", "source", "", "row 2, column 'source': it is empty"),
        ("vocabulary/joints.csv", "family", "knots", "column 'family': 'knots' is no code of the joint family file"),
        ("vocabulary/joints.csv", "is_control_kind", "maybe", "'maybe' is neither yes nor no"),
    ],
)
def test_load_refuses_a_bad_cell_by_file_row_and_column(folder, name, column, value, message):
    def change(rows: list[dict[str, str]]) -> None:
        rows[0][column] = value

    _rewrite(folder / name, change)

    with pytest.raises(VocabularyError, match="^" + name.replace(".", r"\.")) as refused:
        load_vocabulary(folder)
    assert message in str(refused.value)
    assert not JointFamily.objects.exists()


def test_load_tells_every_fault_at_once(folder):
    def twice(rows: list[dict[str, str]]) -> None:
        rows[1]["code"] = rows[0]["code"]

    _rewrite(folder / "vocabulary" / "adhesives.csv", twice)
    (folder / "vocabulary" / "failure_places.csv").unlink()
    timbers = folder / "wood" / "timbers.csv"
    timbers.write_text(timbers.read_text().replace("moe_12_gpa", "stiffness", 1) + "short,row\n")

    with pytest.raises(VocabularyError) as refused:
        load_vocabulary(folder)

    adhesive, places, short, heading = refused.value.faults
    assert adhesive == "vocabulary/adhesives.csv, row 3, column 'code': 'pva' is there twice."
    assert places == "vocabulary/failure_places.csv: the file is missing."
    assert heading.startswith("wood/timbers.csv, row 1: there is no column 'stiffness'")
    rows = _rows_in("wood/timbers.csv")
    assert short == f"wood/timbers.csv, row {rows + 2}: it needs 30 cells, one under each heading."


def test_command_prints_counts_and_refuses_in_words(folder):
    out = StringIO()

    call_command("load_vocabulary", stdout=out)

    assert out.getvalue().splitlines()[-1] == f"{_rows_in('wood/timbers.csv'):5d}  wood/timbers.csv"
    (folder / "wood" / "timbers.csv").unlink()
    with pytest.raises(CommandError, match=r"wood/timbers\.csv: the file is missing\."):
        call_command("load_vocabulary", folder=folder)
