"""The methods pages: everything in use stands there, as the code has it, with numbers that are the code's."""

from __future__ import annotations

import ast
import html
import importlib
import inspect
import re
from pathlib import Path

import pytest
from django.urls import reverse

from results.evidence import notice
from results.models import Joint, Loading, Timber
from results.pages import methods
from results.pages.methods import entry, rig, solid
from results.pages.site_pages import METHODS
from stats.footing.adjustment import ADJUSTMENTS
from stats.footing.comparability import VERDICTS
from stats.footing.footings import FOOTINGS
from stats.footing.loading import LOADINGS
from stats.footing.reading import INSTRUMENTS
from stats.footing.section import AREA_RULES, SECTION_RULES
from stats.footing.timber import PROPERTIES
from stats.footing.unit_names import SI
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
