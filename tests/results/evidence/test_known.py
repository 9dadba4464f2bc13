"""A joint taken apart: each part is what the comparison narrowed to it says."""

from __future__ import annotations

import numpy as np
import pytest

from results.evidence import Choices, compare, restate
from results.evidence.behind import quantiles
from results.evidence.known import Apart, by_word
from results.evidence.stock import held
from tests.factories import make_series, make_setup, make_specimen, make_study
from tests.results.pages.shops import a_shop

FIGURES = ["studies", "series", "specimens", "held", "geometric_mean", "low", "high", "cv_pct", "limit_5pct"]


@pytest.mark.django_db
@pytest.mark.usefixtures("vocabulary")
def test_part_of_one_study_with_held_specimens_has_the_figures_of_its_comparison():
    a_shop("In ash", of_series={"timber": "ash_white"})
    study = make_study("In oak")
    setup = make_setup(study, typed={"arm_mm": "300 mm"})
    for label, loads, held_at in (("all broke", (300, 340, 360, 310), None), ("one held", (280, 330, 350), 400)):
        series = make_series(study, setup=setup, joint="mt_blind", label=label)
        for load in loads:
            make_specimen(series, peak_load_n=load)
        if held_at:
            make_specimen(series, peak_load_n=held_at, outcome="held")
    restate(study)

    split = Apart(compare(Choices(joints=("mt_blind",)))).split("timber", by_word("timber"))

    assert split is not None and len(split.groups) == 2
    for part in split.groups.to_dict("records"):
        (narrowed,) = compare(Choices(joints=("mt_blind",), timbers=(part["code"],))).groups.to_dict("records")
        assert [part[name] for name in FIGURES] == pytest.approx([narrowed[name] for name in FIGURES], nan_ok=True)
        assert np.isfinite(part["limit_5pct"])


@pytest.mark.django_db
@pytest.mark.usefixtures("vocabulary")
def test_book_holds_void_specimens_too_and_no_withdrawn_study():
    study = a_shop("Counts")
    make_specimen(study.series.first(), outcome="void")
    a_shop("Doesn't", status="withdrawn")

    assert held() == {"studies": 1, "series": 2, "specimens": 7}


def test_quantiles_of_many_samples_are_those_of_each():
    rng = np.random.default_rng(7)
    samples = [np.sort(rng.lognormal(size=n)) for n in (1, 2, 3, 10, 1000)]
    n = np.array([len(one) for one in samples])
    share = np.array([0.0, 0.1, 0.37, 0.9, 1.0])

    found = quantiles(np.concatenate(samples), np.cumsum(n) - n, n, share)

    assert found.tolist() == [np.quantile(one, share).tolist() for one in samples]
