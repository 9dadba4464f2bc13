"""Lower tolerance limits of structural materials: tables and worked examples of a public handbook.

Source: CMH-17-1G, the successor of MIL-HDBK-17-1F (vol. 1, ch. 8): tables 8.5.12 to 8.5.15, normal factors,
section 8.3.11 with its data; Vangel (1994) for factors with the median. Read in a public reprint of those
tables, not in the handbook itself. Strengths in ksi; B is coverage 0.90 and A coverage 0.99, both at
confidence 0.95.
"""

from __future__ import annotations

import pytest

from stats.inference import tolerance
from tests.checks.reading import reference

HANDBOOK = reference("composite_handbook.json")
B, A, CONFIDENCE = 0.90, 0.99, 0.95


@pytest.mark.parametrize(("table", "coverage"), [("normal_factor_b", B), ("normal_factor_a", A)])
def test_normal_factors_agree_with_the_tables(table, coverage):
    for n, k in HANDBOOK[table]:
        # the tables are rounded from an approximation good to about 0.002
        assert tolerance.normal_factor(int(n), coverage, CONFIDENCE) == pytest.approx(k, abs=0.002)


def test_hanson_koopmans_factors_agree_with_table_8_5_14():
    for n, rank, k in HANDBOOK["hanson_koopmans_b"]:
        assert tolerance.hanson_koopmans_factor(n, B, CONFIDENCE, rank)[1] == pytest.approx(k, abs=6e-4)


def test_hanson_koopmans_rank_is_that_of_the_table_or_its_neighbour():
    table = HANDBOOK["hanson_koopmans_b"]
    off = [n for n, rank, _ in table if tolerance.hanson_koopmans_factor(n, B, CONFIDENCE)[0] != rank]
    assert off == [17, 20, 23, 24, 28]
    for n, rank, _ in table:
        assert abs(tolerance.hanson_koopmans_factor(n, B, CONFIDENCE)[0] - rank) <= 1


def test_hanson_koopmans_factors_with_the_highest_reading_agree_with_table_8_5_15():
    for n, k in HANDBOOK["hanson_koopmans_a_rank_n"]:
        assert tolerance.hanson_koopmans_factor(n, A, CONFIDENCE, n)[1] == pytest.approx(k, rel=1e-5)


def test_hanson_koopmans_factors_with_the_median_agree_with_vangel():
    for n, k in HANDBOOK["hanson_koopmans_median_95_95"]:
        ours = tolerance.hanson_koopmans_factor(n, 0.95, 0.95, (n + 1) // 2)[1]
        assert ours == pytest.approx(k, rel=1e-6)


def test_hanson_koopmans_limit_agrees_with_the_worked_example():
    example = HANDBOOK["hanson_koopmans_example"]
    ordered = sorted(example["strength"])
    limit = tolerance.lower_limit(ordered, B, CONFIDENCE, "hanson-koopmans")
    assert limit.value == pytest.approx(example["limit_b"], abs=0.05)
    _, k = tolerance.hanson_koopmans_factor(len(ordered), A, CONFIDENCE, len(ordered))
    by_highest = ordered[-1] * (ordered[0] / ordered[-1]) ** k
    assert by_highest == pytest.approx(example["limit_a_rank_n"], abs=0.05)


def test_hanson_koopmans_limits_of_growing_samples_agree_with_published_runs():
    runs = HANDBOOK["hanson_koopmans_runs"]
    ranks = {n: rank for n, rank, _ in HANDBOOK["hanson_koopmans_b"]}
    for size, published in runs["first_n_to_limit_b"].items():
        ordered = sorted(runs["strength"][: int(size)])
        rank, k = tolerance.hanson_koopmans_factor(int(size), B, CONFIDENCE, ranks[int(size)])
        high = ordered[rank - 1]
        assert high * (ordered[0] / high) ** k == pytest.approx(published, rel=1e-4)
        # where we choose the neighbouring rank, the limit hardly differs
        chosen = tolerance.lower_limit(ordered, B, CONFIDENCE, "hanson-koopmans").value
        assert chosen == pytest.approx(published, rel=1e-3)


@pytest.mark.parametrize(("table", "coverage"), [("order_minimum_n_b", B), ("order_minimum_n_a", A)])
def test_order_ranks_agree_with_tables_8_5_12_and_13(table, coverage):
    for n, rank in HANDBOOK[table]:
        assert tolerance.order_rank(n, 1 - coverage, CONFIDENCE) == rank
        assert tolerance.order_minimum_n(1 - coverage, CONFIDENCE, rank) == n


def test_order_limit_agrees_with_a_published_run():
    example = HANDBOOK["order_example"]
    limit = tolerance.lower_limit(example["strength"], B, CONFIDENCE, "order")
    assert (limit.value, limit.rank) == (pytest.approx(example["limit_b"], abs=1e-4), 3)


def test_between_batches_limit_agrees_with_the_worked_example():
    example = HANDBOOK["between_batches"]
    for coverage, published in ((B, example["limit_b"]), (A, example["limit_a"])):
        limit = tolerance.basis_between_batches(example["strength"], example["batch"], coverage, CONFIDENCE, "normal")
        assert limit.value == pytest.approx(published, abs=0.05)


@pytest.mark.parametrize(
    ("model", "published", "within"),
    [
        ("normal", "normal", 2e-4),
        ("lognormal", "lognormal", 2e-4),
        # the handbook's Weibull factor is an approximation; ours is exact in confidence
        ("weibull", "weibull_approximate", 5e-3),
    ],
)
def test_limits_by_model_agree_with_published_runs(model, published, within):
    example = HANDBOOK["models_example"]
    for letter, coverage in (("b", B), ("a", A)):
        limit = tolerance.lower_limit(example["strength"], coverage, CONFIDENCE, model)
        assert limit.value == pytest.approx(example[published][letter], rel=within)
