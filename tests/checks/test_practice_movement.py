"""Moisture and movement against the handbook's tables.

Sources: `data/emc.csv`, Wood Handbook FPL-GTR-190/282 Table 4-2 beside Eq. 4-5; `data/shrinkage.csv`, FPL-GTR-190 Table
13-5 (change of width for each percent of moisture, 6 to 14 %) and Table 4-3 (total shrinkage), with the provenance of
each row. Rows of total shrinkage that were read, not remembered, are held against the handbook's other formula for
movement, ΔD = D·(M2 - M1) / (100·F/S - F + M1), F the fibre saturation point: 30 %, for some cedars
22 %.
"""

from __future__ import annotations

import csv

import numpy as np
import pytest

from stats.practice.movement import coefficient, movement, year
from tests.checks.reading import DATA

# Printed with the coefficient of its group, or one digit off; see the table's own column.
OWN_WAY = "differs"


def rows(name):
    with (DATA / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def test_year_reaches_the_moisture_of_the_table_month_by_month():
    air = [row for row in rows("emc.csv") if row["table_emc_pct"]]
    assert len(air) > 100
    for start in range(0, len(air) - 11, 12):
        months = air[start : start + 12]
        t, h, tabled = (np.array([float(row[name]) for row in months]) for name in
                        ("temperature_c", "rh_pct", "table_emc_pct"))  # fmt: skip

        found = year(t, h, width_mm=100, coefficient_per_pct=0.003, glued_pct=8)

        np.testing.assert_allclose(found["emc_pct"], tabled, atol=0.11)  # printed to 0.1
        np.testing.assert_allclose(found["change_mm"], 0.3 * (found["emc_pct"] - 8), rtol=1e-12)


def shrinkages():
    found = []
    for row in rows("shrinkage.csv"):
        if row["total_shrink_provenance"] != "found" or row["formula_check"].startswith(OWN_WAY):
            continue
        saturated_pct = 22.0 if "2200" in row["formula_check"] else 30.0
        for grain, column in (("radial", "C_R_per_pct_mc"), ("tangential", "C_T_per_pct_mc")):
            total = row[f"total_shrink_{grain}_pct"]
            if total and row[column]:
                found.append((row["common_name"], grain, float(row[column]), float(total), saturated_pct))
    return found


def test_movement_by_coefficient_agrees_with_movement_by_total_shrinkage():
    """From 10 to 12 %, in the middle of the table's range: both ways within what three printed digits leave."""
    table = shrinkages()
    assert len(table) > 50
    for name, grain, per_pct, total_pct, saturated_pct in table:
        by_total = 300 * (12 - 10) / (100 * saturated_pct / total_pct - saturated_pct + 10)

        found = movement(300, per_pct, 10, 12).change_mm

        assert found == pytest.approx(by_total, rel=0.02, abs=0.01), (name, grain)


def test_boards_between_the_rings_stay_between_the_tabled_coefficients():
    for row in rows("shrinkage.csv"):
        if row["C_R_per_pct_mc"] and row["C_T_per_pct_mc"]:
            radial, tangential = float(row["C_R_per_pct_mc"]), float(row["C_T_per_pct_mc"])
            assert coefficient(radial, tangential, 90) == pytest.approx(radial)
            assert coefficient(radial, tangential, 0) == pytest.approx(tangential)
            assert coefficient(radial, tangential, 45) == pytest.approx((radial + tangential) / 2)
