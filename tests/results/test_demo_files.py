"""The demonstration files are what their script writes, and hold what they are there to show."""

from __future__ import annotations

import csv
from collections import defaultdict
from pathlib import Path

import pytest
from openpyxl import load_workbook

from fixtures.demo import make_demo
from results.intake.columns import RECORDS

FOLDER = Path(make_demo.__file__).parent


@pytest.fixture(scope="module")
def written(tmp_path_factory) -> list[Path]:
    return make_demo.write(tmp_path_factory.mktemp("demo"))


@pytest.fixture(scope="module")
def typed() -> dict[str, dict[str, list[dict[str, str]]]]:
    return {plan.file: make_demo.records(plan) for plan in make_demo.PLANS}


def _cells(path: Path) -> dict[str, list[tuple]]:
    book = load_workbook(path)
    return {sheet.title: list(sheet.iter_rows(values_only=True)) for sheet in book.worksheets}


def test_files_are_those_the_script_writes(written):
    kept = sorted(path.name for path in FOLDER.iterdir() if path.suffix in (".csv", ".xlsx"))

    assert kept == sorted(path.name for path in written)
    for path in written:
        if path.suffix == ".xlsx":
            assert _cells(path) == _cells(FOLDER / path.name)
        else:
            assert path.read_bytes() == (FOLDER / path.name).read_bytes()


def test_there_is_enough_to_look_at(typed):
    studies = [one["study"][0] for one in typed.values()]

    assert len(studies) >= 9
    assert sum(len(one["series"]) for one in typed.values()) >= 60
    assert sum(len(one["specimen"]) for one in typed.values()) >= 500
    assert all(study["invented"] == "yes" and "(invented)" in study["workshop"] for study in studies)


def test_every_heading_is_one_that_a_submission_may_have(written):
    flat = {column.key for columns in RECORDS.values() for column in columns}
    by_sheet = {make_demo.SHEETS[record]: {column.name for column in columns} for record, columns in RECORDS.items()}

    for path in written:
        if path.suffix == ".csv":
            delimiter = ";" if path.name == "04_frame_corners.csv" else ","
            with path.open(encoding="utf-8", newline="") as file:
                assert set(next(csv.reader(file, delimiter=delimiter))) <= flat
            continue
        for sheet, rows in _cells(path).items():
            names = [row[0] for row in rows[1:]] if sheet == "study" else rows[0]
            assert set(names) <= by_sheet[sheet]


def test_joints_in_bending_hang_together_and_twisted_laps_hang_alone(typed):
    # Two studies hang together if they share two kinds of joint, as the network of contrasts needs.
    joints: dict[str, set[str]] = {}
    for file, one in typed.items():
        joints[file] = {row["joint"] for row in one["series"]}
    bending = {
        file for file, one in typed.items() if one["setup"][0]["loading"] not in ("withdrawal", "torsion", "lap_shear")
    }
    reached = {"01_rails_into_posts.csv"}
    while more := {f for f in bending - reached if any(joints[f] & joints[other] for other in reached)}:
        reached |= more

    assert reached == bending
    assert not joints["08_twisted_laps.csv"] & set().union(*(j for f, j in joints.items() if "twist" not in f))
    found = defaultdict(set)
    for file in bending:
        for joint in joints[file]:
            found[joint].add(file)
    for joint in ("butt", "solid", "mt_blind", "loose_tenon", "dowel", "plate", "pocket_screw", "lap_half"):
        assert len(found[joint]) >= 3, joint


def test_peak_loads_double_on_half_the_arm_while_moments_agree(typed):
    def median_n(file: str, series: str) -> float:
        rig = next(plan.rig for plan in make_demo.PLANS if plan.file == file)
        setup = make_demo.sizes_of(rig.typed, "mm", ".")
        shown = sorted(
            float(row["reading"].split()[0])
            for row in typed[file]["specimen"]
            if row["series"] == series and row["outcome"] == "broke"
        )
        return shown[len(shown) // 2] / make_demo.dial(rig, setup)

    long_arm = median_n("01_rails_into_posts.csv", "blind tenon")
    short_arm = median_n("02_short_arm.xlsx", "M")

    assert short_arm / long_arm == pytest.approx(2, rel=0.25)
    assert short_arm * 0.150 == pytest.approx(long_arm * 0.300, rel=0.25)


def test_mishaps_are_in_the_files(typed):
    specimens = [row for one in typed.values() for row in one["specimen"]]
    evening = typed["14_evening_class.csv"]["specimen"]

    assert sum(row["outcome"] == "held" for row in specimens) >= 5
    assert all(row["void reason"] for row in specimens if row["outcome"] == "void")
    assert any(row["outcome"] == "void" for row in specimens)
    assert {row["reading"].split()[1] for row in evening if row["series"] == "dowels"} == {"N"}
    assert "arm" not in typed["11_no_arm_written.csv"]["setup"][0]
    assert not any("control" in row for row in typed["12_ash_without_control.csv"]["series"])
    assert {row["tests"] for row in typed["09_glue_line.csv"]["series"]} == {"bond"}
    summaries = typed["13_published_means.csv"]["series"]
    assert any("n" not in row for row in summaries) and any("sd" not in row for row in summaries)
    solid = {row["specimen"]: float(row["reading"].split()[0]) for row in evening if row["series"] == "solid"}
    assert solid.pop("5") > 1.3 * max(solid.values())
