"""The vocabulary's fixtures and the rules in code must name the same things."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from stats.footing.fields import DIM_FIELDS
from stats.footing.loading import LOADINGS
from stats.footing.reading import INSTRUMENTS
from stats.footing.section import AREA_RULES, SECTION_RULES

FOLDER = Path(__file__).parents[3] / "fixtures" / "vocabulary"


def rows(name):
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_loadings_are_those_in_code():
    found = {
        r["code"]: (r["name"], r["action"], tuple(r["needs"].split()), tuple(r["optional"].split()), r["formula"])
        for r in rows("loadings")
    }

    assert found == {c: (x.name, x.action, x.needs, x.optional, x.formula) for c, x in LOADINGS.items()}


def test_instruments_are_those_in_code():
    found = {
        r["code"]: (
            r["name"],
            r["reads"],
            tuple(r["needs"].split()),
            (float(r["accuracy_low_pct"]), float(r["accuracy_high_pct"])) if r["accuracy_low_pct"] else None,
        )
        for r in rows("instruments")
    }

    assert found == {c: (x.name, x.reads, x.needs, x.accuracy_pct) for c, x in INSTRUMENTS.items()}


@pytest.mark.parametrize("row", rows("joints"), ids=lambda row: row["code"])
def test_joint_points_at_rules_and_needs_their_sizes(row):
    area, section = row["area_rule"], row["section_rule"]
    needs, optional = set(row["needs_dims"].split()), set(row["optional_dims"].split())

    assert area in {"", *AREA_RULES}
    assert section in SECTION_RULES
    ruled = {*(AREA_RULES[area].area_needs if area else ()), *SECTION_RULES[section].section_needs}
    # a twin tenon must say how many tenons it has, which for other tenons is one
    assert needs - ruled == ({"tenon_count"} if row["code"] == "mt_twin" else set())
    assert ruled <= needs
    assert set(AREA_RULES[area].optional if area else ()) <= optional | needs
    assert not needs & optional
    assert needs | optional <= set(DIM_FIELDS)


def test_every_rule_is_used_by_a_joint():
    joints = rows("joints")

    assert {r["area_rule"] for r in joints} - {""} == set(AREA_RULES)
    assert {r["section_rule"] for r in joints} == set(SECTION_RULES)


def test_joints_belong_to_families_and_every_family_has_one():
    families = [r["code"] for r in rows("joint_families")]

    assert len(set(families)) == len(families)
    assert {r["family"] for r in rows("joints")} == set(families)


def test_usual_controls_are_the_solid_member_and_the_butt():
    controls = {r["code"] for r in rows("joints") if r["is_control_kind"] == "true"}

    assert controls == {"solid", "butt"}
    assert {r["is_control_kind"] for r in rows("joints")} == {"true", "false"}


@pytest.mark.parametrize("name", ["joint_families", "joints", "loadings", "instruments"])
def test_every_row_has_a_code_of_its_own_a_name_and_a_source(name):
    found = rows(name)
    codes = [r["code"] for r in found]

    assert len(set(codes)) == len(codes) > 0
    allowed = ("derived from", "common practice", "from memory: ")
    assert [r["code"] for r in found if not (r["name"] and r["source"].startswith(allowed))] == []
    assert "unsure" not in " ".join(value for r in found for value in r.values())
