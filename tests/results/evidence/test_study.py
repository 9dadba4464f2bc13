"""The numbers of a study's page: the full summary's own, at less cost."""

from __future__ import annotations

import numpy as np
import pytest

from results.evidence import restate
from results.evidence.study import described, study_view
from stats.inference import describe
from tests.factories import make_series, make_specimen, make_study

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def test_numbers_shown_are_those_of_the_full_summary():
    rng = np.random.default_rng(4)
    for held in (0, 1, 7, 8):
        values = np.exp(rng.normal(6.0, 0.15, 9))
        broke = np.arange(9) >= held
        ours, full = described(values, broke), describe.summary(values, broke)
        best = full.censored
        assert (ours.n, ours.held) == (full.n, full.held)
        assert ours.geometric_mean == pytest.approx(best.geometric_mean if best else full.geometric_mean)
        interval = best.interval if best else full.geometric_interval
        assert (ours.interval is None) == (interval is None)
        if interval:
            assert (ours.interval.low, ours.interval.high) == pytest.approx((interval.low, interval.high))
        assert ours.limit == pytest.approx(full.limit_95_75.value) if full.limit_95_75 else ours.limit is None
        assert ours.at_least == (held > 0 and best is None)
        if not held:
            assert ours.cv == pytest.approx(full.cv)


def test_numbers_follow_a_footing_by_its_factor_or_are_worked_anew():
    study = make_study()
    even, uneven = make_series(study, label="even"), make_series(study, label="uneven")
    for series, moisture in ((even, (None,) * 4), (uneven, (8.0, 10.0, 12.0, 16.0))):
        for load, own in zip((400, 450, 470, 520), moisture, strict=True):
            make_specimen(series, peak_load_n=load, moisture_pct=own)
    restate(study)

    for view in study_view(study).series:
        for code, name in (("at_joint", "moment_nm"), ("stress", "stress_mpa"), ("ratio_solid", "ratio_solid")):
            full = describe.summary([getattr(one, name) for one in view.specimens])
            ours = view.footings[code].numbers
            assert ours.geometric_mean == pytest.approx(full.geometric_mean)
            assert ours.interval.high == pytest.approx(full.geometric_interval.high)
            assert ours.limit == pytest.approx(full.limit_95_75.value)
            assert ours.cv == pytest.approx(full.cv)
