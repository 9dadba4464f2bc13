"""What can't be a setting is refused by every public function, naming the field and the value.

Text, yes or no, nothing at all, a list, and numbers that no such setting has: each in the place of a number that the
function takes as it stands in the table.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from stats.errors import StatsError
from stats.footing import adjust, calibration, fields, reading, uncertainty, units, wood
from stats.footing.input_uncertainty import InputUncertainty, defaults
from stats.inference import (
    batches,
    certainty,
    consistency,
    describe,
    interlab,
    network,
    outliers,
    planning,
    planning_one,
    pool,
    posterior,
    ratios,
    sidebyside,
    slips,
    studentized_range,
    tolerance,
    tolerance_factors,
)
from stats.practice import assembly, factors, leverage, limit, margin, movement, piece, plan, rig, shops, sizes
from stats.practice.demand import demand
from stats.practice.strength_law import (
    StrengthLaw,
    bundle_below,
    bundle_mean,
    bundle_quantile,
    weakest_quantile,
    weakest_share,
    weibull_shape,
)
from tests.stats.footing.cantilever import OAK, make_case

NO_NUMBERS = ("abc", True, [1.0])
NOWHERE = (math.nan, math.inf, -math.inf)
# What else each kind of setting can't be.
NOT_ABOVE_ZERO, NEGATIVE, NO_SHARE, NO_COUNT = (0, -1.0), (-1.0,), (0, 1, -0.1, 1.1), (0, -1, 2.5)

LAW, EVIDENCE = StrengthLaw(300.0, 0.15), shops.ShopEvidence(3.0, 0.05, 0.10, 0.15, 7, 60, 8, 68)
SCALE = calibration.fit([0.0, 98.1, 196.1, 294.2], [0.2, 97.0, 194.5, 291.0])
LOGS, BROKE = np.array([-1.0, -0.2, 0.3, 0.9]), np.array([True, True, True, False])
READINGS = [310.0, 350.0, 362.0, 371.0, 400.0]
ARM = {"arm_mm": 200}
STUDIES = pd.DataFrame({"study": list("ABCD"), "weight": 1.0, "n": 6, "direct": True, "like": True})
CONTRAST = pool.random_effects([0.1, 0.2, 0.15, 0.12], [0.01, 0.01, 0.02, 0.01])
SERIES = pd.DataFrame(
    {"series_id": [1, 2], "study_id": 1, "joint": ["a", "b"], "n": 5.0, "held": 0, "mean_log": 2.0, "sd_log": 0.1}
)
NO_SPECIMENS = pd.DataFrame({"series_id": [], "value": [], "outcome": []})
ARMS = pd.DataFrame({"study": list("AABB"), "joint": list("abab"), "y": [1, 2, 1, 2.1], "v": 0.01})
SHOPS = pd.DataFrame({"study": list("AABBCC"), "joint": "a", "y": [1.0, 1.1, 1.2, 1.25, 0.9, 1.0]})


def strength_at(**given: Any) -> object:
    return wood.strength(OAK, "mor", **given)


Row = tuple[str, Callable[[Any], object], tuple[object, ...]]
# Field, a call of it, and what it can't be besides no number and nowhere.
TABLE: list[Row] = [
    ("arm_mm", lambda x: fields.number({"arm_mm": x}, "arm_mm"), NOT_ABOVE_ZERO),
    ("frame_count", lambda x: fields.count({"frame_count": x}, "frame_count"), NO_COUNT),
    ("sg_12", lambda x: replace(OAK, sg_12=x), NOT_ABOVE_ZERO),
    ("mor_12_mpa", lambda x: replace(OAK, mor_12_mpa=x), NOT_ABOVE_ZERO),
    ("dry", lambda x: adjust.moisture(x, 66, 8), NOT_ABOVE_ZERO),
    ("green", lambda x: adjust.moisture(103, x, 8), NOT_ABOVE_ZERO),
    ("intersection_pct", lambda x: adjust.moisture(103, 66, 8, x), (12, 51)),
    ("sg_table", lambda x: adjust.density(0.6, x, 1.13), NOT_ABOVE_ZERO),
    ("exponent", lambda x: adjust.density(0.6, 0.63, x), NEGATIVE),
    ("exponent", lambda x: adjust.hankinson(51.3, 7.4, 30, x), (0.9, 3.1)),
    ("parallel", lambda x: adjust.hankinson(x, 7.4, 30), NOT_ABOVE_ZERO),
    ("across", lambda x: adjust.hankinson(51.3, x, 30), NOT_ABOVE_ZERO),
    ("depth_mm", lambda x: adjust.size_depth(x), NOT_ABOVE_ZERO),
    ("depth_mm", lambda x: strength_at(depth_mm=x), NOT_ABOVE_ZERO),
    ("level", lambda x: SCALE.interval(100.0, x), NO_SHARE),
    ("reading_n", lambda x: SCALE.interval(x), ()),
    ("half_width", InputUncertainty.rectangular, NEGATIVE),
    ("step", InputUncertainty.resolution, NEGATIVE),
    ("half_width", InputUncertainty.expanded, NEGATIVE),
    ("k", lambda x: InputUncertainty.expanded(1.0, x), NOT_ABOVE_ZERO),
    ("u", InputUncertainty, NEGATIVE),
    ("resolution", lambda x: defaults(make_case(), resolution=x), NOT_ABOVE_ZERO),
    ("full_scale", lambda x: defaults(make_case(), full_scale=x), NOT_ABOVE_ZERO),
    ("k", lambda x: uncertainty.of_footings(make_case(), {}, k=x), NOT_ABOVE_ZERO),
    ("ram_diameter_mm", lambda x: reading.to_force(10.0, "jack_gauge", ram_diameter_mm=x), (0, -1.0, 1e300)),
    ("digits", lambda x: units.show(1.0, "N", x), (0, -1, 2.5, 18)),
    ("cv", planning.sd_log_from_cv, (-0.1, 1e300)),
    ("cv", lambda x: planning.n_for_ratio(1.2, x), (0, -0.1, 1e300)),
    ("ratio", lambda x: planning.n_for_ratio(x, 0.15), (0, 1, -1.2)),
    ("power", lambda x: planning.n_for_ratio(1.2, 0.15, x), NO_SHARE),
    ("n", lambda x: planning.power_at(x, 1.2, 0.15), (*NO_COUNT, 1, 1e300)),
    ("n", lambda x: planning.detectable_ratio(x, 0.15), (*NO_COUNT, 1, 1e300)),
    ("relative_width", lambda x: planning_one.n_for_precision(x, 0.15), NOT_ABOVE_ZERO),
    ("share", lambda x: planning_one.n_for_lower_limit(0.95, 0.75, share=x), NO_SHARE),
    ("shops", consistency.critical_h, (*NO_COUNT, 1, 2)),
    ("alpha", lambda x: consistency.critical_h(6, x), NO_SHARE),
    ("own_df", lambda x: consistency.critical_k(x, 18), NOT_ABOVE_ZERO),
    ("all_df", lambda x: consistency.critical_k(3, x), (0, 3, -1)),
    ("alpha", lambda x: consistency.critical_k(3, 18, x), NO_SHARE),
    ("alpha", lambda x: interlab.precision(SHOPS, alpha=x), NO_SHARE),
    ("alpha", lambda x: interlab.poolable({"A": [1.0, 1.2], "B": [1.1, 1.3]}, alpha=x), NO_SHARE),
    ("sigma", lambda x: interlab.standing([1.0, 1.1, 1.2, 1.3], [0.01] * 4, sigma=x), NOT_ABOVE_ZERO),
    ("q", lambda x: studentized_range.tail(x, 3, 27), NEGATIVE),
    ("groups", lambda x: studentized_range.tail(3.5, x, 27), (*NO_COUNT, 1)),
    ("df", lambda x: studentized_range.tail(3.5, 3, x), NOT_ABOVE_ZERO),
    ("level", lambda x: studentized_range.critical(x, 3, 27), NO_SHARE),
    ("df", lambda x: tolerance_factors.noncentral_factor(x, 5, 0.95, 0.75), NOT_ABOVE_ZERO),
    ("m", lambda x: tolerance_factors.noncentral_factor(4, x, 0.95, 0.75), NOT_ABOVE_ZERO),
    ("coverage", lambda x: tolerance_factors.noncentral_factor(4, 5, x, 0.75), NO_SHARE),
    ("confidence", lambda x: tolerance_factors.normal_factor(5, 0.95, x), NO_SHARE),
    ("n", lambda x: tolerance_factors.normal_factor(x, 0.95, 0.75), (*NO_COUNT, 1, 1e300)),
    ("n", lambda x: tolerance_factors.order_rank(x, 0.05, 0.75), (*NO_COUNT, 1e300)),
    ("rank", lambda x: tolerance_factors.order_minimum_n(0.05, 0.75, x), (*NO_COUNT, 1e300)),
    ("coverage", lambda x: tolerance.lower_limit(READINGS, x), NO_SHARE),
    ("coverage", lambda x: batches.basis_between_batches(READINGS, [1, 1, 2, 2, 2], x), NO_SHARE),
    ("p", lambda x: posterior.weibull_lower_quantile(LOGS, BROKE, x, 0.75), NO_SHARE),
    ("confidence", lambda x: posterior.lognormal_lower_quantile(LOGS, BROKE, 0.05, x), NO_SHARE),
    ("level", lambda x: describe.from_sums(5, 29.4, 172.9, level=x), NO_SHARE),
    ("level", lambda x: describe.summary(READINGS, level=x), NO_SHARE),
    ("matters", lambda x: certainty.grade(CONTRAST, STUDIES, matters=x), (0, -0.1, 10)),
    ("level", lambda x: pool.random_effects([0.1, 0.2], [0.01, 0.01], level=x), NO_SHARE),
    ("level", lambda x: network.fit(ARMS, "a", level=x), NO_SHARE),
    ("level", lambda x: sidebyside.series_estimates(SERIES, NO_SPECIMENS, level=x), NO_SHARE),
    ("ceiling_sd_log", lambda x: outliers.impossible(READINGS, 1477.0, ceiling_sd_log=x), NEGATIVE),
    ("alpha", lambda x: outliers.generalised_esd(READINGS, 2, x), NO_SHARE),
    ("mean_log_a", lambda x: ratios.ratio_from_sums(x, 0.01, 5, 1.0, 0.01, 5), ()),
    ("var_log_b", lambda x: ratios.ratio_from_sums(1.1, 0.01, 5, 1.0, x, 5), NEGATIVE),
    ("mean_log", lambda x: slips.series_slip(x, 6, 5.5, 0.25), ()),
    ("prior", lambda x: slips.unit_slips(READINGS, prior=x), NO_SHARE),
    ("mean", lambda x: StrengthLaw(x, 0.15), NOT_ABOVE_ZERO),
    ("cv", lambda x: StrengthLaw(300.0, x), (0, -0.1, 1.1)),
    ("cv", weibull_shape, (0, -0.1, 1.1)),
    ("n", lambda x: weakest_share(LAW, x), NO_COUNT),
    ("n", lambda x: weakest_quantile(LAW, x, 0.05), NO_COUNT),
    ("share", lambda x: weakest_quantile(LAW, 4, x), NO_SHARE),
    ("n", lambda x: bundle_below(LAW, x, 90.0), NO_COUNT),
    ("load", lambda x: bundle_below(LAW, 4, x), NEGATIVE),
    ("share", lambda x: bundle_quantile(LAW, 4, x), NO_SHARE),
    ("n", lambda x: bundle_mean(LAW, x), NO_COUNT),
    ("mean", lambda x: assembly.share(x, 4), NOT_ABOVE_ZERO),
    ("n", lambda x: assembly.share(300.0, x), NO_COUNT),
    ("own factor", factors.own, (0, -1, 1.6)),
    ("lasting_s", factors.duration, NOT_ABOVE_ZERO),
    ("tested_pct", lambda x: factors.moisture(OAK, "mor", x, 16), (-1, 301)),
    ("cycles", factors.repeated_dowel, (0, 328, 131_254)),
    ("piece_mm", lambda x: factors.size_depth(x, 50), NOT_ABOVE_ZERO),
    ("moment_nm", leverage.leverage, NOT_ABOVE_ZERO),
    ("push_n", lambda x: leverage.leverage(120.0, push_n=x), NOT_ABOVE_ZERO),
    ("coverage", lambda x: limit.next_shop(EVIDENCE, x), NO_SHARE),
    ("mean", lambda x: limit.shop_tested(x, 48, 215), NOT_ABOVE_ZERO),
    ("n", lambda x: limit.shop_tested(353, 48, x), (*NO_COUNT, 1e300)),
    ("width_mm", lambda x: movement.movement(x, 0.00369, 6, 12), NOT_ABOVE_ZERO),
    ("to_pct", lambda x: movement.movement(300, 0.00369, 6, x), NEGATIVE),
    ("ring_deg", lambda x: movement.coefficient(0.00158, 0.00369, x), (-1, 91)),
    ("dynamic", lambda x: demand("arm", dynamic=x), (0, 0.9)),
    ("force_n", lambda x: piece.newton_metres(x, 400.0), ()),
    ("length_mm", lambda x: piece.newton_metres(100.0, x), ()),
    ("sitter_n", lambda x: demand("chair_leaned", {"sitter_n": x}), NOT_ABOVE_ZERO),
    ("n", lambda x: plan.controls(["dowel"], x), (*NO_COUNT, 1)),
    ("seed", lambda x: plan.running_order({"dowel": 3}, seed=x), (-1, 2.5)),
    ("affordable", lambda x: plan.power_curve(1.2, 0.15, affordable=x), (*NO_COUNT, 1)),
    ("cv", lambda x: rig.expected_load("cantilever_arm", ARM, at_joint=350, cv=x), (0, -0.1, 1.1)),
    ("at_joint", lambda x: rig.expected_load("cantilever_arm", ARM, at_joint=x), NOT_ABOVE_ZERO),
    ("least_mm", rig.arm_up, NEGATIVE),
    ("most_mm", rig.arm_down, NEGATIVE),
    ("log_ratio", lambda x: shops.through_network(EVIDENCE, x, 0.1, tau2=0.01, df=4, shops=2, specimens=9), ()),
    ("tau2", lambda x: shops.through_network(EVIDENCE, 0.1, 0.1, tau2=x, df=4, shops=2, specimens=9), NEGATIVE),
    ("tenon_length_mm", lambda x: sizes.check_sizes({"tenon_length_mm": x}), NOT_ABOVE_ZERO),
    ("step", lambda x: margin.slope(lambda dims: None, ARM, "arm_mm", x), NO_SHARE),
]
# Called otherwise by its message than by its argument.
SAID = {"affordable": "n"}


@pytest.mark.parametrize(("field", "call", "besides"), TABLE, ids=[row[0] for row in TABLE])
def test_what_can_not_be_is_refused_by_name_and_value(field, call, besides):
    for value in (*NO_NUMBERS, *NOWHERE, *besides):
        with pytest.raises(StatsError) as caught:
            call(value)
        message = str(caught.value)
        assert message.startswith(SAID.get(field, field)), (value, message)
        shown = {repr(value), str(value), *([f"{value:g}"] if isinstance(value, float | int) else [])}
        assert any(one in message for one in shown), (value, message)


WORDS: list[tuple[str, Callable[[Any], object]]] = [
    ("group", lambda x: replace(OAK, group=x)),
    ("kind", lambda x: units.factor("mm", x)),
    ("kind", lambda x: slips.unit_slips(READINGS, kind=x)),
    ("prop", lambda x: OAK.value(x)),
    ("tenon", factors.repeated_chair),
    ("model", lambda x: StrengthLaw(300.0, 0.15, x)),
    ("alternative", lambda x: planning.n_for_ratio(1.2, 0.15, alternative=x)),
    ("instrument", lambda x: reading.to_force(1.0, x)),
]


@pytest.mark.parametrize(("field", "call"), WORDS, ids=[row[0] for row in WORDS])
def test_a_word_that_is_none_of_the_choices_is_refused_by_name_and_value(field, call):
    for value in ("nonsense", "", None, 3, True):
        with pytest.raises(StatsError) as caught:
            call(value)
        assert field in str(caught.value) and repr(value) in str(caught.value)


LISTS: list[tuple[str, Callable[[Any], object]]] = [
    ("values", describe.summary),
    ("a", lambda x: ratios.ratio(x, READINGS)),
    ("reading_n", lambda x: SCALE.correct(x)),
    ("readings_n", lambda x: calibration.fit([0.0, 98.1, 196.1], x)),
    ("arms_mm", lambda x: leverage.leverage(120.0, x)),
    ("shares", lambda x: assembly.share(300.0, 3, shares=x)),
    ("rh_pct", lambda x: movement.year([20.0] * 12, x, width_mm=300, coefficient_per_pct=0.003, glued_pct=8)),
    ("values", lambda x: margin.over_size(lambda dims: None, ARM, "arm_mm", x)),
]


@pytest.mark.parametrize(("field", "call"), LISTS, ids=[row[0] for row in LISTS])
def test_a_list_that_holds_no_numbers_is_refused_by_name(field, call):
    for value in (["abc", "", "x"], [math.nan, 1.0, 2.0]):
        with pytest.raises(StatsError, match=field):
            call(value)


def test_a_temperature_or_length_that_is_no_number_is_refused():
    for call in (lambda x: units.to_si(x, "mm", "length"), lambda x: units.from_si(x, "length", "mm"), units.show):
        for value in ("abc", True, None):
            with pytest.raises(StatsError, match="value"):
                call(value)


def test_what_is_a_number_is_taken_however_it_is_written():
    same = [planning.sd_log_from_cv(cv) for cv in (1, 1.0, np.float64(1), np.int64(1), np.float32(1))]

    assert same == [same[0]] * 5
    assert tolerance_factors.normal_factor(np.int64(5), 0.95, 0.75) == tolerance_factors.normal_factor(5.0, 0.95, 0.75)
    assert math.isnan(planning.cv_from_sd_log(math.nan))
