"""A generated book of any size for the bench, made by the database itself: a million specimens in seconds."""

# ruff: noqa: E501  (SQL reads better in its own lines)
from __future__ import annotations

from django.db import connection, transaction

SERIES_A_STUDY, SPECIMENS_A_SERIES = 20, 25
JOINTS = (
    "butt",
    "solid",
    "mt_blind",
    "mt_through",
    "lap_half",
    "dowel",
    "mitre_plain",
    "spline_mitre",
    "screw",
    "finger",
)
TIMBERS = ("oak_northern_red", "ash_white", "maple_sugar", "cherry_black")

_NUMBERS = "WITH RECURSIVE numbers(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM numbers WHERE i < %s) "
_STUDIES = (
    _NUMBERS
    + """
INSERT INTO results_study (id, title, question, workshop, tested_on, origin, citation, source_url, licence, invented,
    notes, status, withdrawn_reason, submission_key, created_at, changed_at, accepted_at)
SELECT i, 'Study ' || i || ', rails into posts', 'Which joint takes more?', 'Shop ' || (i %% 300), '2025-03', 'own', '',
    '', 'CC-BY-4.0', {true}, '', 'accepted', '', {key}, {now}, {now}, {now} FROM numbers"""
)
_SETUPS = """
INSERT INTO results_setup (id, study_id, label, loading_id, reads, arm_mm, arm_reference, rate_mm_min, typed, notes)
SELECT id, id, 'jack and arm', 'cantilever_arm', 'force', 250.0 + id %% 100, 'face', 12.5, '{{}}', '' FROM results_study"""
_SERIES = (
    _NUMBERS
    + """
INSERT INTO results_series (id, study_id, setup_id, label, joint_id, tests, timber_id, adhesive_id, adhesive_note,
    grain_a, grain_b, moisture_pct, density_kgm3, cure_hours, conditioning, typed, notes, member_thickness_mm,
    member_depth_mm, tenon_length_mm, tenon_depth_mm, tenon_thickness_mm)
SELECT (s.id - 1) * %s + i, s.id, s.id, 'series ' || i, {joint}, 'joint', {timber}, 'pva', '', '', '', 8.5 + i %% 3,
    690.5, 48, 'indoors', '{{}}', '', 20, 40, 30, 30.5, 8 FROM results_study s CROSS JOIN numbers"""
)
_SPECIMENS = (
    _NUMBERS
    + """, told AS (SELECT s.id AS series_id, i, 150.0 + (s.id * 7919 + i * 104729 + s.id %% 97 * i) %% 4000 / 8.7 AS lbf
    FROM results_series s CROSS JOIN numbers)
INSERT INTO results_specimen (series_id, label, position, reading_typed, reading_unit, peak_load_n, outcome, void_reason,
    failure_place_id, wood_failure_pct, notes, moment_nm, stress_mpa, ratio_solid, flagged)
SELECT series_id, 'S' || i, i, {whole} || ' lbf', 'lbf', lbf * 4.4482216152605, 'broke', '', 'bond_line', i * 2.5, '',
    lbf * 4.4482216152605 * 0.3, lbf * 4.4482216152605 * 0.05625, lbf * 4.4482216152605 * 0.05625 / 99,
    {flagged} FROM told"""
)
_FOOTINGS = """
INSERT INTO results_seriesfooting (series_id, code, unit, n, held, sum_log, sum_sq_log, kept_n, kept_held, kept_sum_log,
    kept_sum_sq_log, factor, basis, steps, worked, missing)
SELECT series_id, %s, %s, count(*), 0, sum(ln({field})), sum(ln({field}) * ln({field})), count(*), 0, sum(ln({field})),
    sum(ln({field}) * ln({field})), %s, 'made up', '[]', '', '[]' FROM results_specimen GROUP BY series_id"""


def fill(specimens: int) -> int:
    """Make a book of about that many specimens; returns how many there are."""
    from results.evidence import packing
    from results.models import FailurePlace, Joint, bump
    from results.vocabulary import load_vocabulary

    load_vocabulary()
    known = set(Joint.objects.values_list("pk", flat=True))
    joints = [code for code in JOINTS if code in known] + sorted(known - set(JOINTS))[: len(JOINTS)]
    assert FailurePlace.objects.filter(pk="bond_line").exists()
    postgres = connection.vendor == "postgresql"
    studies = max(specimens // (SERIES_A_STUDY * SPECIMENS_A_SERIES), 1)
    words = {
        "true": "true" if postgres else "1",
        "now": "now()" if postgres else "strftime('%%Y-%%m-%%d %%H:%%M:%%S', 'now')",
        "key": "gen_random_uuid()" if postgres else "lower(hex(randomblob(16)))",
        "whole": "cast(lbf AS integer)",
        "flagged": "(series_id + i) %% 50 = 7",
        "joint": _pick(joints[:10], "s.id + i"),
        "timber": _pick(TIMBERS, "s.id"),
    }
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(_STUDIES.format(**words), [studies])
        cursor.execute(_SETUPS.format(**words), [])
        cursor.execute(_SERIES.format(**words), [SERIES_A_STUDY, SERIES_A_STUDY])
        cursor.execute(_SPECIMENS.format(**words), [SPECIMENS_A_SERIES])
        for code, unit, field in (
            ("peak_load", "N", "peak_load_n"),
            ("at_joint", "N·m", "moment_nm"),
            ("stress", "MPa", "stress_mpa"),
            ("ratio_solid", "", "ratio_solid"),
        ):
            cursor.execute(_FOOTINGS.format(field=field), [code, unit, 0.3])
        packing.store(range(1, studies + 1))
        bump()
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    return studies * SERIES_A_STUDY * SPECIMENS_A_SERIES


def _pick(codes: list[str] | tuple[str, ...], number: str) -> str:
    cases = " ".join(f"WHEN {at} THEN '{code}'" for at, code in enumerate(codes))
    return f"CASE ({number}) %% {len(codes)} {cases} END"
