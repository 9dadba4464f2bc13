"""The methods of a piece and of the next test: the code's own formulas and sources, and numbers that follow."""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import pytest
from scipy import stats as scipy_stats

from results.pages.methods import entry, next_test, piece, piece_bears, piece_limit, solid
from results.practice import strength
from stats.practice import factors
from stats.practice.caution import ALWAYS, TESTING, USES, caution
from stats.practice.demand import PIECES, demand
from stats.practice.loads import KINDS, PRESETS

from .test_methods import FACTORS
from .test_methods_numbers import line


@pytest.fixture(scope="module")
def by_anchor():
    return {one.anchor: one for part in (piece.pieces(), next_test.planned()) for one in part.methods}


@pytest.mark.parametrize("code", PIECES)
def test_piece_is_shown_with_the_codes_own_formulas_symbols_and_source(code, by_anchor):
    shown, kind = by_anchor[entry.anchor("piece", code)], PIECES[code]
    symbols = [one.partition(" = ")[0] for one in shown.symbols]

    assert shown.name == kind.name and kind.joint in shown.says and shown.mind == kind.assumption
    assert ("Equilibrium alone gives it." in shown.says) == kind.determinate
    assert set(symbols) >= {one.symbol for one in kind.inputs} and len(symbols) == len(set(symbols))
    assert set(piece.GIVEN) == set(PIECES)
    for given in piece.GIVEN[code]:
        found = demand(code, given)
        assert set(given) == {one.name for one in kind.inputs}
        for step in found.lines:
            assert f"{step.symbol} = {step.formula}" in shown.formulas and step.source in shown.sources
            assert any(one.startswith(step.worked) for one in shown.example)


def test_both_forms_of_a_formula_that_changes_with_a_count_are_shown(by_anchor):
    assert {"M = V · h", "M = V · h / 2"} < set(by_anchor["piece-table-racking"].formulas)
    assert {"M = H · s / 2", "M = H · s / 4"} < set(by_anchor["piece-bookcase-racking"].formulas)


@pytest.mark.parametrize("code", PRESETS)
def test_load_to_start_from_is_shown_with_its_source_and_what_it_rests_on(code, by_anchor):
    shown, one = by_anchor[entry.anchor("preset", code)], PRESETS[code]

    assert (shown.sources, shown.mind) == ((one.source,), one.note)
    assert shown.says.lower().startswith(KINDS[one.kind].lower())
    assert [told.partition(":")[0] for told in shown.example] == [PIECES[of].name for of in one.sets]
    for values, told in zip(one.sets.values(), shown.example, strict=True):
        assert all(f"{value:,.4g}".replace(",", " ") in told for value in values.values())


def test_every_kind_of_factor_and_every_caution_is_shown(by_anchor):
    made = [
        factors.moisture(solid.OAK, "mor", 12, 16),
        factors.duration(3600),
        factors.repeated_chair(),
        factors.repeated_dowel(1000),
        factors.size_depth(60, 50),
        factors.own(0.5),
    ]

    assert {one.name for one in made} == set(factors.NAMES) and len(made) == len(FACTORS)
    for name, one in zip(FACTORS, ("own", "moisture", "duration", "repeated", "repeated", "size"), strict=True):
        assert {each.source for each in made if each.name == one} & set(by_anchor[entry.anchor("factor", name)].sources)
    said = {sentence for use in USES for sentence in by_anchor[entry.anchor("caution", use)].example}
    assert said == {sentence for use in USES for sentence in caution(use).sentences} and set(ALWAYS) < said
    assert by_anchor["plan-caution"].example == TESTING


# the numbers


def test_limit_for_another_shop_follows_from_the_formulas_shown(by_anchor):
    known, found = piece_limit.evidence(), piece_limit.limit()
    between, within, se, fb = known.between_sd, known.within_sd, known.mean_se, known.between_df
    total = between**2 + within**2
    b = min(max((fb + 1) * se**2, between**2), total)
    u = max(1.0, fb / scipy_stats.chi2.ppf(0.25, fb))
    f = (u * b + total - b) ** 2 / ((u * b) ** 2 / fb + (total - b) ** 2 / known.within_df)
    m = (u * b + total - b) / (u * se**2)
    k = scipy_stats.nct.ppf(0.75, f, scipy_stats.norm.ppf(0.95) * m**0.5) / m**0.5

    assert u > 1
    assert found.value == pytest.approx(np.exp(known.mean_log - k * total**0.5), rel=1e-9)
    assert f"another shop: {found.value:.1f} MPa" in line(by_anchor, "another-shop-limit", 4)
    spread = (total + se**2) ** 0.5
    t = scipy_stats.t.ppf(0.95, found.df) * spread
    ends = (found.single.low, found.single.high)
    assert ends == pytest.approx((np.exp(known.mean_log - t), np.exp(known.mean_log + t)))
    below = scipy_stats.t.cdf((np.log(15.0) - known.mean_log) / spread, found.df)
    assert found.chance_below(15.0) == pytest.approx(below)
    assert line(by_anchor, "another-shop-single", 1).endswith(f"{100 * below:.2g} %")


def test_way_to_a_strength_shown_is_the_one_taken():
    for one in (piece_limit.evidence(), dataclasses.replace(piece_limit.evidence(), between_df=1.0)):
        assert piece_limit.reach(one) == pytest.approx(strength._reach(one))


def test_capacity_example_is_worked_by_hand(by_anchor):
    stress = piece_limit.limit().value
    section, faces = 20 * 60**2 / 6, (25, 30, 30, 40)
    modulus = [2 * b * h * (b**2 + h**2) / 12 / (np.hypot(b, h) / 2) for b, h in (faces[:2], faces[2:])]
    by_section = stress * section / 1000 * (50 / 60) ** (1 / 9)
    by_faces = stress * 20 * 50**2 / 6 / 1000 * modulus[1] / modulus[0]
    found = piece_bears.moment()

    assert (found.value, found.upper) == pytest.approx((by_section, by_faces))
    assert f"{by_section:.0f} N·m" in line(by_anchor, "capacity") and f"{by_faces:.0f} N·m" in line(
        by_anchor, "capacity"
    )
    asked = (1000 * np.sin(np.radians(20)) * 0.4 + 400 * 0.3) / 2
    assert line(by_anchor, "margin").endswith(f"= {by_section / asked:.2f}")


def test_power_shown_is_the_noncentral_t_of_its_formula(by_anchor):
    for at, n in enumerate((6, 12, 18), 1):
        df, delta = 2 * n - 2, np.log(1.2) / np.log(1 + 0.15**2) ** 0.5 * (n / 2) ** 0.5
        chance = scipy_stats.nct.sf(scipy_stats.t.ppf(0.975, df), df, delta)
        assert next_test._noncentral(n) == pytest.approx(delta)
        assert line(by_anchor, "plan-power", at).endswith(f"chance {100 * chance:.1f} %")


def test_examples_of_sharing_movement_and_rigs_are_worked_by_hand(by_anchor):
    sd = np.log(1 + 0.2**2) ** 0.5
    drawn = np.random.default_rng(1).lognormal(np.log(1000) - sd**2 / 2, sd, (200_000, 4))
    least = 4 * drawn.min(axis=1).mean()
    shown = float(re.search(r"first: ([\d ]+) N", line(by_anchor, "sharing", 4))[1].replace(" ", ""))

    assert shown == pytest.approx(least, rel=0.01)
    assert line(by_anchor, "movement").endswith("= 4.20 mm")  # 300 · 0.0035 · 4
    assert line(by_anchor, "movement-cross-grain", 2).split(" = ")[3].startswith("26.3 MPa")  # 0.0175 · 0.12 · 12 500
    assert "400 mm: 300 N" in line(by_anchor, "leverage")  # 120 / 0.4
    assert "= 1 000 N" in line(by_anchor, "plan-load", 1)  # 0.25 · 100 · 20 · 60² / 6 / 0.3 / 1000
    assert "An arm of 280 mm or more would do." in line(by_anchor, "plan-rig")  # 200 · 2 021 / 1 471 = 275
