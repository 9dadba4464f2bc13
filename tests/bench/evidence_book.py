"""A varied book for the bench of the pages: many shops, joints, rigs, timbers and sizes, and what real ones have.

Some specimens held, some are doubted, some series are published means only, some rigs lack their arm; there are bond
tests and joint tests under every action. Numbers come from a fixed seed: a shop's own level, a joint's, and scatter.
It stands in for a real book, so it isn't marked as invented; it only ever fills a database that is thrown away.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

import numpy as np
from django.db import connection, models, transaction
from django.utils import timezone

SERIES_A_STUDY = 20
TIMBERS = (
    "oak_northern_red",
    "oak_white",
    "ash_white",
    "maple_sugar",
    "cherry_black",
    "walnut_black",
    "beech_american",
)
SIZES = ((20.0, 40.0), (19.0, 63.5), (25.4, 50.8), (22.0, 70.0), (18.0, 45.0))
ADHESIVES = ("pva", "pva_d3", "epoxy", "polyurethane", "hide_hot")
PLACES = ("bond_line", "wood_beside_bond", "tenon_or_fastener", "socket_wall", "member", None)
LOADINGS = {
    "bending": ("cantilever_arm", "corner_closing", "centre_point_bending"),
    "shear": ("block_shear", "lap_shear"),
    "axial": ("withdrawal",),
    "torsion": ("torsion",),
}
UNITS = {"peak_load": "N", "stress": "MPa", "ratio_solid": "", "ratio_solid_matched": "", "ratio_control": ""}
FIELDS = {
    "peak_load": "peak_load_n",
    "stress": "stress_mpa",
    "ratio_solid": "ratio_solid",
    "ratio_solid_matched": "ratio_solid_matched",
    "ratio_control": "ratio_control",
}
CODES = ("peak_load", "at_joint", "stress", "ratio_solid", "ratio_solid_matched", "ratio_control")


@dataclass
class Made:
    """Rows to be saved, by model."""

    rows: dict[str, list[dict[str, Any]]]

    def add(self, name: str, **fields: Any) -> dict[str, Any]:
        row = {"id": len(self.rows[name]) + 1, **fields}
        self.rows[name].append(row)
        return row


def fill(studies: int = 1_000, seed: int = 20250314) -> dict[str, int]:
    """Make a book of so many studies of twenty series each; returns how many rows there are of each kind.

    Needs a database that is migrated and empty.
    """
    from results.evidence import packing
    from results.models import (
        AdhesiveClass,
        Joint,
        Series,
        SeriesFooting,
        Setup,
        Specimen,
        Study,
        Summary,
        Timber,
        bump,
    )
    from results.vocabulary import load_vocabulary

    load_vocabulary()
    tables = {
        "study": Study,
        "setup": Setup,
        "series": Series,
        "summary": Summary,
        "specimen": Specimen,
        "footing": SeriesFooting,
    }
    known = set(Timber.objects.values_list("pk", flat=True))
    timbers = [code for code in TIMBERS if code in known]
    assert len(timbers) > 3 and AdhesiveClass.objects.filter(pk__in=ADHESIVES).count() == len(ADHESIVES)
    joints = list(Joint.objects.order_by("position", "code").values_list("pk", flat=True))
    shop = Shop(np.random.default_rng(seed), joints, timbers)
    made = Made({name: [] for name in tables})
    for number in range(studies):
        shop.study(number, made)
    with transaction.atomic():
        for name, model in tables.items():
            _save(model, made.rows[name])
        packing.store(range(1, studies + 1))
        bump()
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    return {name: len(rows) for name, rows in made.rows.items()}


class Shop:
    """Makes one study after another."""

    def __init__(self, random: np.random.Generator, joints: Sequence[str], timbers: Sequence[str]) -> None:
        self.random, self.joints, self.timbers = random, list(joints), list(timbers)
        self.level = dict(zip(joints, random.normal(-1.0, 0.35, len(joints)), strict=True))
        self.level |= {"solid": 0.0, "butt": -1.6}

    def pick(self, of: Sequence[Any], share: Sequence[float] | None = None) -> Any:
        return of[int(self.random.choice(len(of), p=share))]

    def study(self, number: int, made: Made) -> None:
        random = self.random
        action = self.pick(list(LOADINGS), (0.68, 0.16, 0.1, 0.06))
        bond = bool(action in ("shear", "bending") and random.random() < (0.5 if action == "shear" else 0.06))
        now = timezone.now()
        study = made.add(
            "study",
            title=f"Study {number + 1}: {'bonds' if bond else 'joints'} under {action}",
            question="Which joint takes more, and how surely?",
            workshop=f"Shop {number % 300 + 1}",
            tested_on="2025-03",
            origin="own",
            licence="CC-BY-4.0",
            invented=False,
            status="accepted",
            submission_key=UUID(int=number + 1, version=4),
            created_at=now,
            changed_at=now,
            accepted_at=now,
        )
        setups = [
            made.add(
                "setup",
                study_id=study["id"],
                label=f"rig {at + 1}",
                loading_id=self.pick(LOADINGS[action]),
                reads="force",
                arm_reference="face",
                arm_mm=None if random.random() < 0.05 else float(random.integers(150, 500)),
                typed={},
            )
            for at in range(int(random.integers(1, 3)))
        ]
        used = self.pick_joints(bond)
        rig, of_joint = random.normal(0, 0.12), {code: random.normal(0, 0.1) for code in used}
        timbers = random.choice(self.timbers, 2)
        size = self.pick(SIZES)
        lived = self.pick(("indoors", "unknown", "climate"), (0.6, 0.25, 0.15))
        # Few soak or cycle whole joints; bonds are what standards do it to.
        hard = self.pick(("cycled", "soaked")) if random.random() < (0.1 if bond else 0.005) else ""
        first: dict[int, dict[str, Any]] = {}
        for at in range(SERIES_A_STUDY):
            setup, joint = setups[at % len(setups)], used[at // len(setups) % len(used)]
            control = first.get(setup["id"])
            one = made.add(
                "series",
                study_id=study["id"],
                setup_id=setup["id"],
                label=f"{at + 1}",
                joint_id=joint,
                tests="bond" if bond else "joint",
                timber_id=str(timbers[0 if random.random() < 0.8 else 1]) if random.random() < 0.98 else None,
                adhesive_id=None if joint == "solid" else self.pick(ADHESIVES),
                grain_a=self.pick(("end", "side", "long")) if bond else "",
                grain_b=self.pick(("side", "long")) if bond else "",
                control_id=control["id"] if control and random.random() < 0.7 else None,
                conditioning=hard if hard and at % 2 else lived,
                typed={},
                member_thickness_mm=None if random.random() < 0.03 else size[0],
                member_depth_mm=size[1],
            )  # fmt: skip
            first.setdefault(setup["id"], one)
            log_ratio = self.level[joint] + rig + of_joint[joint] + random.normal(0, 0.08)
            self.results(made, one, setup, action, log_ratio, size, bool(control))

    def pick_joints(self, bond: bool) -> list[str]:
        if bond:
            return [*self.random.choice(["butt", "edge", "lap_plain", "scarf"], 3, replace=False).tolist()]
        control = "butt" if self.random.random() < 0.7 else "solid"
        others = [code for code in self.joints if code != control]
        return [control, *self.random.choice(others, int(self.random.integers(2, 7)), replace=False).tolist()]

    def results(self, made: Made, one: dict, setup: dict, action: str, log_ratio: float, size: Any, has: bool) -> None:
        """Specimens or a published mean, and the stored footings that go with them."""
        random = self.random
        sd = 0.14 * float(np.exp(random.normal(0, 0.25)))
        lever = None if setup["arm_mm"] is None else setup["arm_mm"] / 1000
        modulus = size[0] * size[1] ** 2 / 6 / 1000
        factors = {
            "peak_load": 1.0,
            "at_joint": lever,
            "stress": None if lever is None or one["member_thickness_mm"] is None else lever / modulus,
        }
        factors["ratio_solid"] = None if factors["stress"] is None or not one["timber_id"] else factors["stress"] / 95
        factors["ratio_solid_matched"] = None if random.random() < 0.8 else factors["ratio_solid"]
        factors["ratio_control"] = 1 / 900 if one["control_id"] and has else None
        centre = log_ratio + np.log(95 * modulus / (lever or 0.3))
        if random.random() < 0.05:
            return self.published(made, one, action, factors, centre, sd)
        n = int(random.integers(3, 19))
        load = np.exp(centre + random.normal(0, sd, n))
        outcome = np.full(n, "broke", dtype=object)
        if random.random() < 0.05:
            outcome[random.random(n) < 0.25] = "held"
        flagged = random.random(n) < 0.012
        places = random.choice(len(PLACES), n, p=(0.3, 0.25, 0.15, 0.12, 0.1, 0.08))
        for at in range(n):
            broke = outcome[at] == "broke"
            made.add(
                "specimen",
                series_id=one["id"],
                label=f"S{at + 1}",
                position=at + 1,
                reading_typed=f"{load[at]:.1f}",
                reading_unit="N",
                outcome=str(outcome[at]),
                failure_place_id=PLACES[places[at]] if broke else None,
                wood_failure_pct=float(places[at] * 20) if broke else None,
                flagged=bool(flagged[at]),
                **{
                    FIELDS.get(code) or at_joint_field(action): None if factor is None else float(load[at] * factor)
                    for code, factor in factors.items()
                },
            )
        self.void(made, one, n)
        broke, kept = outcome == "broke", ~flagged
        for code in CODES:
            factor = factors[code]
            logs = None if factor is None else np.log(load * factor)
            made.add(
                "footing",
                **self.footing(one, code, action, factor),
                **_sums(logs, broke, ""),
                **_sums(logs, broke & kept, "kept_"),
                held=int((~broke).sum()),
                kept_held=int((~broke & kept).sum()),
            )
        return None

    def void(self, made: Made, one: dict, n: int) -> None:
        if self.random.random() < 0.03:
            about = {"label": f"S{n + 1}", "position": n + 1, "outcome": "void", "void_reason": "the clamp slipped"}
            made.add("specimen", series_id=one["id"], flagged=False, **about)

    def published(self, made: Made, one: dict, action: str, factors: dict, centre: float, sd: float) -> None:
        n = None if self.random.random() < 0.2 else int(self.random.integers(3, 20))
        mean = float(np.exp(centre))
        spread = None if self.random.random() < 0.4 else mean * sd
        about = {"quantity": "force", "mean_typed": f"{mean:.0f}", "mean_si": mean}
        made.add("summary", series_id=one["id"], sd_si=spread, n=n, **about)
        count = n or 1
        for code in CODES:
            factor = factors[code]
            log = None if factor is None else centre + np.log(factor)
            squares = None if log is None or spread is None or count < 2 else (count - 1) * sd**2 + count * log**2
            sums = {"sum_log": None if log is None else count * log, "sum_sq_log": squares}
            kept = {f"kept_{name}": value for name, value in sums.items()}
            about = self.footing(one, code, action, factor)
            made.add("footing", **about, **sums, **kept, n=n, kept_n=n, held=0, kept_held=0)

    def footing(self, one: dict, code: str, action: str, factor: float | None) -> dict[str, Any]:
        unit = UNITS.get(code)
        if unit is None:
            unit = "N·m" if at_joint_field(action) == "moment_nm" else "N"
        missing = [] if factor is not None else ["control series" if code == "ratio_control" else "arm_mm (the arm)"]
        about = {"series_id": one["id"], "code": code, "unit": unit, "factor": factor, "missing": missing}
        return {**about, "basis": "made up for a bench", "steps": [], "worked": ""}


def at_joint_field(action: str) -> str:
    return "moment_nm" if action in ("bending", "torsion") else "force_n"


def _sums(logs: np.ndarray | None, which: np.ndarray, prefix: str) -> dict[str, Any]:
    return {
        f"{prefix}n": int(which.sum()),
        f"{prefix}sum_log": None if logs is None else float(logs[which].sum()),
        f"{prefix}sum_sq_log": None if logs is None else float((logs[which] ** 2).sum()),
    }


def _save(model: type[models.Model], rows: Sequence[dict[str, Any]]) -> None:
    """All rows at once, by the quickest way that each database has."""
    given = {name for row in rows[:1000] for name in row}
    fields = [field for field in model._meta.concrete_fields if field.attname in given or not field.null]
    names = ", ".join(connection.ops.quote_name(field.column) for field in fields)
    table = connection.ops.quote_name(model._meta.db_table)
    values = zip(*(_column(field, rows) for field in fields), strict=True)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            with cursor.copy(f"COPY {table} ({names}) FROM STDIN") as copy:
                for row in values:
                    copy.write_row(row)
            cursor.execute(f"SELECT setval(pg_get_serial_sequence('{model._meta.db_table}', 'id'), {len(rows) + 1})")
        else:
            marks = ", ".join(["?"] * len(fields))
            # Past the wrapper, which formats every statement anew.
            cursor.connection.executemany(f"INSERT INTO {table} ({names}) VALUES ({marks})", values)


def _column(field: models.Field, rows: Sequence[dict[str, Any]]) -> list[Any]:
    """A column as the database takes it."""
    default = "" if isinstance(field, models.CharField | models.TextField) else field.get_default()
    values = [row.get(field.attname, None if field.null else default) for row in rows]
    if isinstance(field, models.JSONField):
        return [json.dumps(value) for value in values]
    if isinstance(field, models.DateTimeField | models.UUIDField):
        return [field.get_db_prep_value(value, connection, prepared=False) for value in values]
    return values
