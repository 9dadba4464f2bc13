"""The methods pages: everything in use stands there, as the code has it, with numbers that are the code's."""

from __future__ import annotations

import ast
import html
import importlib
import inspect
import re
from pathlib import Path

import numpy as np
import pytest
from django.urls import reverse
from scipy import stats as scipy_stats

from results.evidence import notice
from results.models import Joint, Loading, Timber
from results.pages import methods
from results.pages.methods import entry, rig, series, shops, solid, studies
from results.pages.methods.groups import A, B, C
from results.pages.site_pages import METHODS
from stats.footing import adjust
from stats.footing.adjustment import ADJUSTMENTS
from stats.footing.comparability import VERDICTS
from stats.footing.footings import FOOTINGS
from stats.footing.input_uncertainty import InputUncertainty
from stats.footing.loading import LOADINGS
from stats.footing.reading import INSTRUMENTS
from stats.footing.section import AREA_RULES, SECTION_RULES
from stats.footing.unit_names import SI
from stats.footing.wood import PROPERTIES
from stats.inference import groups, interlab, pool, tolerance
from stats.inference.certainty import grade
from stats.practice import factors
from stats.practice.capacity import RULES
from stats.practice.caution import USES
from stats.practice.demand import PIECES
from stats.practice.loads import PRESETS

from .shops import text

ROOT = Path(methods.__file__).parents[3]
MOST_BYTES = 150_000


@pytest.fixture(scope="module")
def parts():
    return methods.parts(solid.OAK)


@pytest.fixture(scope="module")
def by_anchor(parts):
    return {one.anchor: one for part in parts for one in part.methods}


# nothing in use is missing

# Every public function that gives a factor.
FACTORS = [
    name
    for name, one in vars(factors).items()
    if inspect.isfunction(one) and name[0] != "_" and "Factor" in str(inspect.signature(one))
]

REGISTERED = {
    "unit": SI,
    "instrument": INSTRUMENTS,
    "loading": LOADINGS,
    "area": AREA_RULES,
    "section": SECTION_RULES,
    "footing": FOOTINGS,
    "wood": PROPERTIES,
    "adjustment": ADJUSTMENTS,
    "verdict": VERDICTS,
    "check": notice.CODES,
    "piece": PIECES,
    "preset": PRESETS,
    "way": RULES,
    "factor": FACTORS,
    "caution": USES,
}


@pytest.mark.parametrize("kind", REGISTERED)
def test_everything_registered_is_there(kind, by_anchor):
    assert [code for code in REGISTERED[kind] if entry.anchor(kind, code) not in by_anchor] == []


def test_certainty_has_its_five_domains(by_anchor):
    domains = [name for name in by_anchor if name.startswith("certainty-")]

    assert len(domains) == 6 and {f"certainty-{name}" for name in ("grade", "risk-of-bias", "imprecision")} < {*domains}


# Functions with a source or a formula that are parts of another method, shown there.
WITHIN = {
    "stats.inference.arms.read_arms": "network-model",
    "stats.inference.study_rows.rows_from_cells": "network-model",
    "stats.inference.study_rows.rows_from_contrasts": "network-contrasts",
    "stats.inference.ratios.ratio_from_sums": "ratio-welch",
    "stats.inference.tolerance.lower_limit": "limit-lognormal",
    "stats.inference.tolerance_factors.order_minimum_n": "limit-order",
    "stats.inference.planning.sd_log_from_cv": "plan-limit",
    "stats.footing.ladder.climb": "footing-ratio-solid",
    "stats.footing.loading.action_at_joint": "loading-cantilever-arm",
    "stats.footing.section.bonded_area": "area-tenon",
    "stats.footing.reading.to_force": "instrument-jack-gauge",
    "stats.footing.units.read": "unit-force",
    "stats.footing.adjust.stress_level_pct": "adjustment-duration",
    "stats.footing.propagation.contributions": "uncertainty-footing",
    "stats.footing.propagation.combined": "uncertainty-footing",
}


def documented() -> list[str]:
    """Every public function of the numbers that cites a source or states how it works."""
    found = []
    for package in ("footing", "inference", "practice"):
        for path in sorted((ROOT / "stats" / package).glob("*.py")):
            for node in ast.parse(path.read_text(encoding="utf-8")).body:
                says = isinstance(node, ast.FunctionDef) and (ast.get_docstring(node) or "")
                if says and not node.name.startswith("_") and re.search("^(Notes|References)\n-", says, re.M):
                    found.append(f"stats.{package}.{path.stem}.{node.name}")
    return found


@pytest.mark.parametrize("name", documented())
def test_every_function_with_a_source_or_a_working_is_shown(name, by_anchor):
    if "_each." in name:  # a method of the pages for many at once; its own tests hold the two together
        return
    if name in WITHIN:
        assert WITHIN[name] in by_anchor
        return
    shown = {one.code for one in by_anchor.values()}
    assert name in shown, f"{name} has notes or references, and no method of the pages shows it"


def test_code_named_is_there(by_anchor):
    for one in by_anchor.values():
        if one.code:
            module, _, name = one.code.rpartition(".")
            if module.rpartition(".")[2][:1].isupper():  # a method of a class
                module, _, owner = module.rpartition(".")
                assert hasattr(getattr(importlib.import_module(module), owner), name)
            else:
                assert hasattr(importlib.import_module(module), name), one.code


def test_every_method_has_source_example_and_check(by_anchor):
    lacking = [
        (one.anchor, what)
        for one in by_anchor.values()
        for what in ("says", "sources", "example", "checks")
        if not getattr(one, what) and (one.anchor, what) not in LACKING
    ]

    assert [gap for gap in lacking if not (gap[0].startswith("unit-") and gap[1] == "says")] == []


# What the intervals were chosen by is a simulation of hours: told, and no example.
LACKING = {("intervals-hold", "example"), ("intervals-hold", "checks")}


def test_formula_and_source_are_those_of_the_code(by_anchor):
    for code, one in LOADINGS.items():
        shown = by_anchor[entry.anchor("loading", code)]
        assert (shown.formulas, shown.sources, shown.mind) == ((one.formula,), (one.source,), one.note)
    for rules, kind in ((AREA_RULES, "area"), (SECTION_RULES, "section")):
        for code, one in rules.items():
            shown = by_anchor[entry.anchor(kind, code)]
            assert any(one.formula in formula for formula in shown.formulas)
            assert shown.sources == (one.source,) and shown.mind == one.note
    for name in ("limit-lognormal", "pool-random-effects", "network-model"):
        module, _, function = by_anchor[name].code.rpartition(".")
        said = inspect.getdoc(getattr(importlib.import_module(module), function))
        for source in by_anchor[name].sources:
            assert re.sub(r"^\[\d\] ", "", source)[:30] in " ".join(said.split())


def test_every_loading_of_the_vocabulary_and_every_rule_of_a_joint_is_shown(vocabulary, by_anchor, django_db_blocker):
    with django_db_blocker.unblock():
        loadings = list(Loading.objects.values_list("pk", flat=True))
        rules = set(Joint.objects.values_list("area_rule", "section_rule"))

    assert loadings and all(entry.anchor("loading", code) in by_anchor for code in loadings)
    for area, section in rules:
        assert not area or entry.anchor("area", area) in by_anchor
        assert not section or entry.anchor("section", section) in by_anchor


def test_setups_of_the_examples_are_all_there_and_no_others():
    assert set(rig.SETUPS) == set(LOADINGS) and set(rig.TYPED) == set(SI)


def test_nothing_unsure_is_told(parts):
    assert "unsure" not in repr(parts)


def test_anchors_are_unique_and_names_are_told_once(parts):
    anchors = [one.anchor for part in parts for one in part.methods]

    assert len(anchors) == len(set(anchors))
    assert [part.code for part in parts] == list(methods.PARTS)
    assert not {f"part-{part.code}" for part in parts} & {*anchors, "checked", "example"}


# the numbers are the code's, and follow from the formulas shown


def line(by_anchor, anchor, at=0):
    return by_anchor[anchor].example[at]


def test_series_example_follows_from_its_formula(by_anchor):
    m, s, t = np.log(A).mean(), np.log(A).std(ddof=1), scipy_stats.t.ppf(0.975, 4)
    ends = np.exp([m - t * s / 5**0.5, m + t * s / 5**0.5])

    assert f"= {np.exp(m):.1f} N·m" in line(by_anchor, "series-geometric-mean")
    assert line(by_anchor, "series-geometric-mean", 1).endswith(f"{ends[0]:.0f} N·m to {ends[1]:.0f} N·m")
    k = tolerance.normal_factor(5, 0.95, 0.75)
    assert line(by_anchor, "limit-lognormal").endswith(f"= {np.exp(m - k * s):.0f} N·m")


def test_welch_formula_shown_is_the_codes():
    parts = [np.log(x) for x in (A, B, C)]
    n, m, v = (np.array([f(p) for p in parts]) for f in (np.size, np.mean, lambda p: p.var(ddof=1)))
    w, g = n / v, 3
    mean = (w * m).sum() / w.sum()
    spread = ((1 - w / w.sum()) ** 2 / (n - 1)).sum()
    f = (w * (m - mean) ** 2).sum() / (g - 1) / (1 + 2 * (g - 2) / (g**2 - 1) * spread)
    found = groups.welch_anova(np.concatenate(parts), [*"AAAAABBBBBCCCCC"])

    assert found.statistic == pytest.approx(f) and found.df == pytest.approx((2, (g**2 - 1) / (3 * spread)))


def test_kruskal_and_games_howell_formulas_shown_are_the_codes():
    values, labels = [*A, *B, *C], [*"AAAAABBBBBCCCCC"]
    ranks = scipy_stats.rankdata(values)
    h = 12 / (15 * 16) * sum(ranks[i : i + 5].sum() ** 2 / 5 for i in (0, 5, 10)) - 3 * 16
    logs = [np.log(x) for x in (A, B)]
    v = [x.var(ddof=1) / 5 for x in logs]
    q = abs(logs[0].mean() - logs[1].mean()) / (sum(v) / 2) ** 0.5
    df = sum(v) ** 2 / sum(x**2 / 4 for x in v)
    pairs = groups.games_howell(np.log(values), labels)

    assert groups.kruskal(values, labels).statistic == pytest.approx(h)
    assert pairs["p"].iloc[0] == pytest.approx(scipy_stats.studentized_range.sf(q, 3, df), rel=1e-6)


def test_pooling_formulas_shown_are_the_codes(by_anchor):
    y, v = np.array(studies.Y), np.array(studies.V)
    found = pool.random_effects(y, v)
    w = 1 / (v + found.tau2)
    mean = (w * y).sum() / w.sum()
    se = ((w * (y - mean) ** 2).sum() / (len(y) - 1) / w.sum()) ** 0.5
    u = 1 / v
    q = (u * (y - (u * y).sum() / u.sum()) ** 2).sum()
    laird = (q - 4) / (u.sum() - (u**2).sum() / u.sum())
    mandel = pool.random_effects(y, v, method="PM").tau2
    w_pm = 1 / (v + mandel)

    assert (found.estimate, found.se) == pytest.approx((mean, se))
    assert pool.random_effects(y, v, method="DL").tau2 == pytest.approx(laird) and laird > 0
    assert (w_pm * (y - (w_pm * y).sum() / w_pm.sum()) ** 2).sum() == pytest.approx(4)
    assert f"μ = {mean:.3f}, se {se:.4f}: ratio {np.exp(mean):.3f}" in line(by_anchor, "pool-random-effects")


def test_critical_values_of_shops_follow_from_the_formulas_shown(by_anchor):
    t = scipy_stats.t.ppf(1 - 0.005 / 2, 4)
    f = scipy_stats.f.ppf(1 - 0.005, 3, 15)

    assert f"{5 * t / (6 * (t**2 + 4)) ** 0.5:.2f}" in line(by_anchor, "shops-critical-h")
    assert f"{(18 / (3 + 15 / f)) ** 0.5:.2f}" in line(by_anchor, "shops-critical-k")


def test_formulas_of_shops_shown_are_the_codes():
    frame = shops._specimens()
    found, cells = interlab.precision(frame), frame.groupby("study")["y"].agg(["mean", "std"])
    level, rows = found.levels.loc["dowel"], found.shops.set_index("study")
    standing = interlab.standing(cells["mean"], cells["std"] ** 2 / 4, labels=list(cells.index)).set_index("study")
    off = standing["y"] - standing["assigned"]

    assert rows["h"].to_numpy() == pytest.approx((cells["mean"] - cells["mean"].mean()) / cells["mean"].std())
    assert rows["k"].to_numpy() == pytest.approx(cells["std"] / level["s_r"])
    assert level["s_R"] ** 2 == pytest.approx(level["s_r"] ** 2 + level["s_L"] ** 2)
    assert standing["z"].to_numpy() == pytest.approx(off / np.hypot(standing["sigma"], standing["u_assigned"]))


def test_small_formulas_shown_are_the_codes(by_anchor):
    rank, k = tolerance.hanson_koopmans_factor(5, 0.95, 0.75)
    low, other = sorted(A)[0], sorted(A)[rank - 1]
    v = np.array(studies.V)
    found, u = pool.random_effects(studies.Y, v), 1 / v
    typical = 4 * u.sum() / (u.sum() ** 2 - (u**2).sum())

    assert line(by_anchor, "limit-hanson-koopmans").endswith(f"= {other * (low / other) ** k:.0f} N·m")
    assert found.i2 == pytest.approx(found.tau2 / (found.tau2 + typical))
    assert InputUncertainty.rectangular(1).u == pytest.approx(1 / 3**0.5)
    assert InputUncertainty.resolution(1).u == pytest.approx(1 / 12**0.5)
    assert InputUncertainty.expanded(1, 2).u == pytest.approx(0.5)


@pytest.mark.parametrize(("t", "rh"), [(20, 65), (5, 90), (35, 20)])
def test_moisture_formula_shown_is_the_codes(t, rh):
    assert solid.emc_by_formula(t, rh) == pytest.approx(adjust.emc(t, rh), rel=1e-12)


def test_held_formula_shown_is_what_the_fit_makes_greatest():
    from stats.inference import censored

    fit = censored.fit_lognormal(A, series.HELD)
    x, broke = np.log(A), np.array(series.HELD)

    def likelihood(m, s):
        z = (x - m) / s
        return (scipy_stats.norm.logpdf(z[broke]) - np.log(s)).sum() + scipy_stats.norm.logsf(z[~broke]).sum()

    best = likelihood(fit.mean_log, fit.sd_log)
    for dm, ds in ((0.003, 0), (-0.003, 0), (0, 0.003), (0, -0.003)):
        assert likelihood(fit.mean_log + dm, fit.sd_log + ds) < best


def test_loading_examples_are_worked_by_statics(by_anchor):
    assert line(by_anchor, "loading-cantilever-arm").endswith("372 N·m at the joint face, a shear of 1 240 N")
    assert "193 N·m" in line(by_anchor, "loading-corner-closing")  # 1240 · 0.22 / √2
    assert "124 N·m at each corner" in line(by_anchor, "loading-frame-racking")  # 1240 · 0.4 / 4


def test_certainty_rule_shown_is_the_functions_own(by_anchor):
    assert "three quarters" in by_anchor["certainty-risk-of-bias"].says
    assert grade.__module__ in by_anchor["certainty-grade"].code


# the pages


@pytest.fixture
def pages(client, vocabulary, db):
    addresses = {"": reverse("browse:methods")}
    addresses |= {code: reverse("browse:methods-part", args=[code]) for code in methods.PARTS}
    return {code: client.get(address) for code, address in addresses.items()}


def test_overview_names_every_method_and_every_check(pages, parts):
    page = html.unescape(pages[""].content.decode())

    for part in parts:
        assert f'id="part-{part.code}"' in page
        for one in part.methods:
            assert f'id="{one.anchor}"' in page and f"/methods/{part.code}/#{one.anchor}" in page and one.name in page
    for check in methods.checks():
        assert check.method in page


def test_part_shows_each_method_whole(pages, parts):
    timber = Timber.objects.get(pk="oak_northern_red")
    for part in parts:
        page = html.unescape(pages[part.code].content.decode())
        shown = text(pages[part.code])
        for one in part.methods:
            assert f'id="{one.anchor}"' in page
            for formula in one.formulas:
                assert formula in page
            for said in (*one.symbols, *one.sources, one.mind):
                assert " ".join(said.split()) in shown or part.code == "footings"
            for check in one.checks:
                assert f"Checked by {check.test} against {check.against}" in shown
    assert timber.name in text(pages["footings"])


def test_ladder_example_is_climbed_in_the_vocabularys_timber(pages):
    from results.pages.methods.joint import ladder_example

    ladder = ladder_example(Timber.objects.get(pk="oak_northern_red").wood)
    shown = text(pages["footings"])

    for code in list(FOOTINGS)[1:]:
        assert ladder[code].worked in shown


def test_pages_are_light_and_have_nothing_twice(pages):
    for code, response in pages.items():
        page = response.content.decode()
        ids = re.findall(r'\bid="([^"]+)"', page)
        assert response.status_code == 200
        assert len(response.content) < MOST_BYTES, code
        assert len(ids) == len(set(ids)), code


def test_every_link_within_the_methods_leads_somewhere(pages):
    ids = {code: set(re.findall(r'\bid="([^"]+)"', page.content.decode())) for code, page in pages.items()}
    for code, page in pages.items():
        for part, anchor in re.findall(r'href="(?:/methods/(?:([a-z-]+)/)?)?#([^"]+)"', page.content.decode()):
            assert anchor in ids[part or code], (code, part, anchor)


def test_pages_work_without_the_vocabulary(client, db):
    assert "can't be had" in text(client.get(reverse("browse:methods"))).lower()


def test_part_that_is_not_there_is_not_found(client, db):
    assert client.get(reverse("browse:methods-part", args=["nonsense"])).status_code == 404


def test_search_calls_each_part_as_it_is_called(parts):
    assert {part.code: part.name for part in parts} == METHODS


def test_pages_ask_the_database_once(client, vocabulary, db, django_assert_max_num_queries):
    client.get(reverse("browse:methods"))
    loadings = reverse("browse:methods-part", args=["loadings"])
    with django_assert_max_num_queries(2):
        client.get(loadings, headers={"authorization": "somebody, to whom no kept page is given"})
    client.get(loadings)
    with django_assert_max_num_queries(1):
        client.get(loadings)


# what was checked


@pytest.mark.parametrize("row", methods.checks(), ids=lambda row: row.method[:40])
def test_checked_method_names_source_and_a_test_that_exists(row, by_anchor):
    assert all((row.part, row.method, row.source, row.against, row.difference, row.covers))
    assert list((ROOT / "tests").rglob(row.test)), f"{row.test} is named but isn't there"
    for cover in row.covers:
        assert [name for name in by_anchor if re.fullmatch(cover.replace("*", ".*"), name)], f"{cover} covers nothing"
