"""The quick way of comparing gives what the long way gives, and the packs that it reads say what the records say."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from django.db import DataError, connection
from django.http import QueryDict

from results.evidence import Choices, compare, packing, restate
from results.evidence.behind import Fits, Specimens
from results.evidence.frames import looked_at
from results.models import Packed, Series, Setup, Specimen, Study
from stats.inference.censored_each import lognormal_means
from tests.factories import make_series, make_setup, make_specimen, make_study, make_summary
from tests.results.evidence.plain import plain

pytestmark = pytest.mark.django_db

ASKED = (
    "",
    "flagged=without",
    "footing=stress",
    "footing=at_joint&level=0.9",
    "footing=peak_load&reference=mt_blind",
    "footing=ratio_control",
    "action=shear&tests=bond&footing=at_joint",
)


def asked(query: str) -> Choices:
    return Choices.from_query(QueryDict(f"{query}&invented=with".lstrip("&")))


def test_figures_are_those_of_the_long_way(demo_book):
    for query in ASKED:
        choices = asked(query)
        found = compare(choices)
        assert not found.empty, query

        right = plain(choices, found.reference)

        assert sorted(found.series["series_id"]) == sorted(one.series.pk for one in right.series), query
        groups = found.groups.set_index("joint")
        assert set(groups.index) == set(right.groups), query
        for joint, told in right.groups.items():
            told = {name: value for name, value in told.items() if name != "quantiles"}
            assert groups.loc[joint, list(told)].tolist() == pytest.approx(
                list(told.values()), rel=1e-9, abs=1e-12, nan_ok=True
            ), (query, joint)
        for row in found.ratios.itertuples():
            if row.joint in right.ratios:
                near = pytest.approx(right.ratios[row.joint], rel=1e-9)
                assert (row.ratio, row.low, row.high, row.studies) == near, (query, row.joint)
        failures = {
            (row.joint, row.place): (row.n, row.geometric_mean, row.share) for row in found.failures.itertuples()
        }
        assert failures.keys() == right.failures.keys(), query
        assert all(told == pytest.approx(right.failures[key]) for key, told in failures.items()), query
        ranges = found.behind.side.specimens.ranges().set_index("joint")
        for joint, told in right.groups.items():
            if not math.isnan(told["quantiles"][0]):
                assert ranges.loc[joint].tolist() == pytest.approx(told["quantiles"]), (query, joint)


def test_the_other_way_about_flagged_specimens_is_what_asking_for_it_gives(demo_book):
    with_them, without = compare(asked("")), compare(asked("flagged=without"))

    assert with_them.groups["flagged"].sum() > 0
    for name in ("groups", "ratios"):
        other, own = (
            frame.reset_index(drop=True) for frame in (getattr(with_them, f"{name}_other"), getattr(without, name))
        )
        assert other.equals(own)


@pytest.mark.parametrize("flagged", ["with", "without"])
def test_series_fitted_bit_by_bit_are_as_fitted_together(demo_book, flagged):
    looked = looked_at(asked(f"footing=at_joint&flagged={flagged}"))
    told = Specimens(looked).readings()
    mean, variance = lognormal_means(told.value, told.broke, told.of, len(looked))
    assert np.isfinite(mean).sum() > 10

    fits = Fits(len(looked.source.packs.series))
    # Asked before of some of them, and of all of them the other way about flagged specimens.
    fits.of(looked.take(np.arange(len(looked)) % 3 == 0))
    fits.of(replace(looked, flagged=not looked.flagged))

    assert np.array_equal(np.array(fits.of(looked)), np.array([mean, variance]), equal_nan=True)


def test_series_are_told_as_their_records_have_them(demo_book):
    told = compare(asked("footing=stress")).series.set_index("series_id")

    for series in Series.objects.filter(pk__in=told.index).select_related("study", "setup__loading", "joint", "timber"):
        row = told.loc[series.pk]
        assert (row["series"], row["study"], row["workshop"]) == (
            series.label,
            series.study.title,
            series.study.workshop,
        )
        assert (row["joint_code"], row["family"]) == (series.joint_id, series.joint.family_id)
        assert (row["timber"], row["timber_name"]) == (series.timber_id, series.timber.name)
        assert (row["setup_id"], row["loading"], row["action"]) == (series.setup_id, series.setup.loading_id, "bending")
        assert row["conditioning"] == series.conditioning
        assert row["member_depth_mm"] == pytest.approx(series.member_depth_mm or np.nan, nan_ok=True)
        assert row["summary_only"] == series.is_summary


def test_a_study_without_packs_reads_as_with_them(demo_book):
    before = compare(asked("flagged=without"))
    kept = before.groups, before.failures, before.left_out

    Packed.objects.filter(study__in=Study.objects.order_by("pk")[::2]).delete()
    Packed.objects.filter(study=Study.objects.order_by("pk")[1]).update(form=packing.FORM + 1)
    Study.objects.first().save()  # raises the data version

    after = compare(asked("flagged=without"))
    assert all(a.equals(b) for a, b in zip(kept, (after.groups, after.failures, after.left_out), strict=True))


def test_packs_are_made_with_the_footings_and_are_what_the_records_give(demo_book):
    studies = list(Study.objects.order_by("pk").values_list("pk", flat=True))
    assert Packed.objects.count() == len(studies) * (1 + len(packing.CODES))

    for made in packing.packed(studies):
        stored = Packed.objects.get(study=made.study_id, code=made.code)
        assert bytes(stored.series) == made.series
        assert bytes(stored.specimens) == made.specimens
        assert stored.words == made.words


@pytest.fixture
def one_study() -> Study:
    study = make_study()
    series = make_series(study, setup=make_setup(study), joint="butt")
    for load in (300, 310, 320):
        make_specimen(series, peak_load_n=load)
    make_summary(make_series(study, setup=study.setups.get(), joint="dowel"), mean_si=500.0)
    restate(study)
    assert study.packed.exists()
    return study


@pytest.mark.usefixtures("vocabulary")
@pytest.mark.parametrize(
    "one",
    [
        lambda study: Series.objects.filter(study=study).first(),
        lambda study: Setup.objects.get(study=study),
        lambda study: Specimen.objects.filter(series__study=study).first(),
        lambda study: study.series.get(summary__isnull=False).summary,
        lambda study: study.series.first().footings.first(),
    ],
    ids=["series", "setup", "specimen", "summary", "footing"],
)
def test_a_record_saved_or_deleted_by_itself_drops_what_was_packed(one_study, one):
    record = one(one_study)
    record.save()
    assert not one_study.packed.exists()

    packing.store([one_study.pk])
    one(one_study).delete()
    assert not one_study.packed.exists()


@pytest.mark.usefixtures("vocabulary")
def test_a_change_of_a_record_is_seen_at_once(one_study):
    assert compare(Choices(footing="at_joint")).failures["place"].tolist() == [""]
    specimen = Specimen.objects.filter(series__study=one_study).first()

    specimen.failure_place_id = "member"
    specimen.save()

    assert set(compare(Choices(footing="at_joint")).failures["place"]) == {"", "member"}


@pytest.mark.usefixtures("vocabulary")
def test_series_without_a_timber_are_left_out_of_a_stress_together(one_study):
    for label in ("x", "y"):
        series = make_series(one_study, setup=one_study.setups.get(), joint="butt", label=label, timber=None)
        make_specimen(series, peak_load_n=300.0)
    restate(one_study)

    found = compare(Choices(footing="stress")).left_out

    (row,) = found[found["reason"].str.contains("timber")].itertuples()
    assert (row.reason, row.series) == ("Its timber is not recorded, and a stress is compared within one timber.", 2)


def test_database_that_fails_while_packs_are_read_fails_as_elsewhere():
    if connection.vendor != "postgresql":
        pytest.skip("packs are read past the framework's cursor on PostgreSQL alone")
    rows = Packed.objects.extra(where=["1 / (study_id - study_id) > 0"])
    packing.store([make_study().pk])

    with pytest.raises(DataError):
        packing.columns_of(rows, "series", binary=True)
