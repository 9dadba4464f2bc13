"""What was handed in against the book: the same as what the stored study would show, without saving anything."""

from __future__ import annotations

import math

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from results.evidence import restate
from results.evidence.beside import beside
from results.evidence.expect import expectations
from results.evidence.standing import against_book, proposed_view
from results.evidence.study import study_view
from results.models import Series, Study
from results.review.document import examined, written
from tests.factories import make_finding, make_series, make_setup, make_specimen, make_study, make_summary
from tests.results.pages.shops import a_shop

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


@pytest.fixture
def book():
    """Three shops whose rigs read a little differently."""
    return [a_shop(f"Shop {rig}", workshop=f"Shop {rig}", rig=rig) for rig in (1.0, 1.1, 0.9)]


def against(study, said=None, *, invented=False):
    return {one.label: one for one in against_book(*examined(said or written(study), study), invented=invented)}


def test_series_stand_as_the_stored_study_would_show_them(book):
    study = a_shop("One more", workshop="One more", rig=1.2)
    stored = beside(study_view(study), invented=False).rows.set_index("series")

    found = against(study)

    assert list(found) == ["butt", "mt_blind"] and len(stored) == 2
    for label, one in found.items():
        row = stored.loc[label]
        assert (one.footing, one.unit, one.n) == (row["footing"], row["unit"], 3)
        assert (one.mean, one.low, one.high) == pytest.approx((row["mean"], row["low"], row["high"]))
        for name in ("others_mean", "others_low", "others_high", "others_prediction_low", "studies", "ratio"):
            assert one.others[name] == pytest.approx(row[name])
        assert one.within == (row["others_prediction_low"] <= row["mean"] <= row["others_prediction_high"])


def test_expectation_is_that_of_the_checks(book):
    study = a_shop("One more", workshop="One more", rig=1.2)
    wanted = expectations(list(study.series.select_related("joint", "setup__loading", "study")), {})

    found = against(study)

    one = found["butt"]
    assert one.expected == wanted["butt"]
    mean, low, high = one.expected_range
    assert mean == pytest.approx(math.exp(wanted["butt"].mean_log))
    assert high / mean == pytest.approx(mean / low) == pytest.approx(math.exp(1.96 * wanted["butt"].sd_log))
    assert one.ratio_solid == pytest.approx(one.mean)


def test_proposed_change_is_told_and_not_the_stored_records_nor_saved(book):
    study = book[0]
    said = written(study)
    for specimen in said["series"][0]["specimens"]:
        specimen["peak_load_n"] *= 9.80665
    before = list(Series.objects.values()), Study.objects.count()

    one = against(study, said)["butt"]

    stored = study_view(study).series[0].footings["ratio_solid"].numbers.geometric_mean
    assert one.mean == pytest.approx(stored * 9.80665)
    assert one.others["studies"] == 2  # the study itself, as it is accepted, is not among the others
    assert (list(Series.objects.values()), Study.objects.count()) == before


def test_series_beyond_what_wood_takes_is_counted():
    study = a_shop()  # alone, so that nothing is expected which a slip of unit would explain
    said = written(study)
    for specimen in said["series"][1]["specimens"]:
        specimen["peak_load_n"] *= 12

    found = against(study, said)

    assert (found["butt"].beyond, found["butt"].tried) == (0, 3)
    assert (found["mt_blind"].beyond, found["mt_blind"].tried) == (3, 3)


def test_series_outside_what_the_next_shop_should_expect(book):
    found = against(a_shop("Far off", workshop="Far off", rig=6))

    assert found["butt"].within is False


def test_fewer_than_three_others_say_nothing_of_the_next(book):
    book[0].delete()

    found = against(a_shop("One more", workshop="One more"))

    assert found["butt"].others["studies"] == 2 and found["butt"].within is None


def test_series_that_stands_alone_says_why_and_what_it_shows():
    one = against(a_shop())["butt"]

    assert one.others is None and one.within is None and one.expected_range is None
    assert one.alone == "No other study has tested this joint under bending moment yet."
    assert one.footing == "ratio_solid" and one.mean > 0


def test_series_without_any_footing_is_told_as_that():
    study = make_study()
    make_series(study, label="empty")

    one = against(study)["empty"]

    assert (one.footing, one.mean, one.n, one.tried) == ("", None, None, 0)


def test_published_mean_is_told_with_its_count():
    study = make_study(origin="published", citation="A chapter")
    series = make_series(study, label="mean", setup=make_setup(study))
    make_summary(series, n=6, sd_typed="100", sd_si=100.0)
    restate(study)

    one = against(study)["mean"]

    assert (one.n, one.tried, one.at_least) == (6, 6, False)
    assert one.mean == pytest.approx(math.exp(study_view(study).series[0].footings["ratio_solid"].stored.sum_log / 6))


def test_series_of_which_too_few_broke_has_a_lower_bound():
    study = make_study()
    series = make_series(study, label="strong")
    for load in (400, 410, 420):
        make_specimen(series, peak_load_n=load, outcome="held")
    restate(study)

    assert against(study)["strong"].at_least


def test_findings_stand_with_their_series(book):
    study = book[0]
    make_finding(study, series=study.series.get(label="butt"), code="typed-oddly")
    make_finding(study, code="of-the-study", severity="remark")

    view = proposed_view(*examined(written(study), study))

    butt, tenon = view.series
    assert [one.code for one in butt.findings if one.code == "typed-oddly"] == ["typed-oddly"]
    assert "typed-oddly" not in [one.code for one in tenon.findings]
    assert "of-the-study" in [one.code for one in view.findings]


def test_many_series_cost_no_more_queries_than_few(book):
    def cost(series):
        study = make_study("Many", workshop="Many")
        setup = make_setup(study, label="arm")
        for number in range(series):
            one = make_series(study, setup=setup, joint="butt", label=f"{number}")
            for load in (130, 150, 160):
                make_specimen(one, peak_load_n=load)
        draft, noticed = examined(written(study), study)
        with CaptureQueriesContext(connection) as queries:
            against_book(draft, noticed, invented=False)
        return len(queries)

    assert cost(2) == cost(9)
