"""What a joint of the book bears over what a piece asks, from saved studies."""

from __future__ import annotations

import numpy as np
import pytest
from django.core.cache import caches
from django.http import QueryDict

from results.models import Series, Specimen
from results.practice import margin as margins
from results.practice.joint import JointAsked, bears
from results.practice.strength import NETWORK, OWN, strength
from stats.errors import StatsError
from stats.practice.limit import next_shop
from stats.practice.shops import ShopEvidence, TooThin

from .oak_book import ARM_M, MEMBER, MOMENTS, SIZES, a_book

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]
MOR_RED_OAK_MPA = 99.0  # Wood Handbook FPL-GTR-190, table 5-3a, 12 %
OAK = "timber=oak_northern_red"


@pytest.fixture(autouse=True)
def nothing_kept():
    caches["answers"].clear()
    yield


def asked(query: str, action: str = "bending") -> JointAsked:
    form = JointAsked(QueryDict(query), action)
    assert form.ready, form.errors
    return form


def of(query: str, piece: str = "arm") -> margins.Answer:
    of_piece, of_joint = margins.forms(QueryDict(query), piece)
    demand = of_piece.demand()
    assert of_joint.ready and demand, (of_piece.errors, of_joint.errors)
    return margins.answer(of_joint, demand)


def test_strength_of_a_joint_is_that_of_its_shops():
    """By hand: the mean of each shop's logs of M / (Z · MOR); their mean is between the least and the most."""
    a_book()

    found = strength(asked(f"joint=mt_blind&{OAK}").wanted())

    z = 20.0 * 60.0**2 / 6
    shops = [
        np.mean(np.log(np.array(loads) * ARM_M * 1000 / z / MOR_RED_OAK_MPA))
        for loads in (
            Specimen.objects.filter(series=series).values_list("peak_load_n", flat=True)
            for series in Series.objects.filter(joint="mt_blind")
        )
    ]
    assert (found.footing, found.own.shops, found.own.specimens) == ("ratio_solid", 6, 36)
    # Shops of one size and one pooled spread weigh alike, so that the random-effects mean is the plain one.
    assert found.own.mean_log == pytest.approx(np.mean(shops), abs=1e-6)
    assert found.tested.sizes == SIZES["mt_blind"]


def test_capacity_at_the_sizes_tested_is_the_limit_times_section_and_solid_wood():
    a_book()

    found = bears(asked(f"joint=mt_blind&{OAK}"))

    expected = next_shop(found.strength.evidence).value * MOR_RED_OAK_MPA * 20.0 * 60.0**2 / 6 / 1000
    assert found.capacity.value == pytest.approx(expected)
    assert found.capacity.upper == pytest.approx(expected)  # both ways agree where it is built as tested
    assert set(found.as_tested) == set(SIZES["mt_blind"])
    assert found.capacity.value < MOMENTS["mt_blind"] < found.capacity.typical * 1.25


def test_a_limit_of_more_joints_more_surely_lies_lower():
    a_book()
    usual = bears(asked(f"joint=mt_blind&{OAK}")).limit
    other = bears(asked(f"joint=mt_blind&{OAK}&limit=90-90")).limit

    assert (usual.coverage, usual.confidence) == (0.95, 0.75)
    assert (other.coverage, other.confidence) == (0.90, 0.90)
    assert usual.value != other.value


def test_margin_is_capacity_over_demand_and_names_what_raises_it_most():
    a_book()
    found = of(f"joint=mt_blind&{OAK}&load_n=300&arm_mm=300")

    assert found.margin.value == pytest.approx(found.bears.capacity.value / 90.0)
    told = [one for one in found.changes if not one.refused]
    assert [one.gain for one in told] == sorted((one.gain for one in told), reverse=True)
    names = {one.code for one in found.changes}
    assert {"deeper", "longer_tenon", "joint:Dowel", "joint:Glued butt"} <= names
    assert not any("solid" in name.lower() for name in names)
    dowel = next(one for one in told if one.code == "joint:Dowel")
    assert dowel.after < found.margin.value


def test_margin_is_drawn_over_depth_and_over_the_tenon():
    a_book()
    found = of(f"joint=mt_blind&{OAK}&load_n=300&arm_mm=300")

    assert [one.name for one in found.over] == ["member_depth_mm", "tenon_length_mm"]
    for one in found.over:
        planned = one.frame[one.frame["size_mm"] == SIZES["mt_blind"][one.name]]
        assert planned.empty or planned["margin"].iloc[0] == pytest.approx(found.margin.value)
        assert one.frame["size_mm"].is_monotonic_increasing


def test_one_shop_gives_no_figure_and_says_so():
    a_book(1)

    with pytest.raises(TooThin) as thin:
        bears(asked(f"joint=mt_blind&{OAK}"))

    assert "Only 1 shop" in " ".join(thin.value.reasons)


def test_a_joint_that_nobody_tested_gives_no_figure_and_says_so():
    a_book(3)

    with pytest.raises(TooThin, match="No accepted study tells how strong bridle is"):
        bears(asked(f"joint=bridle&{OAK}"))


def test_two_studies_of_one_workshop_are_one_shop():
    a_book(3)
    Series.objects.first().study.__class__.objects.update(workshop="All in one")

    with pytest.raises(TooThin, match="Only 1 shop"):
        bears(asked(f"joint=mt_blind&{OAK}"))


def test_a_joint_of_few_shops_is_known_through_one_that_many_tested():
    a_book(2, ("mt_blind", "butt"))
    a_book(8, ("butt", "dowel"), seed=9)

    found = strength(asked(f"joint=mt_blind&{OAK}").wanted())

    assert found.route == NETWORK and found.beside == "Glued butt"
    assert found.network.mean_log == pytest.approx(found.own.mean_log, abs=0.25)
    assert found.network.between_df > found.own.between_df
    assert bears(asked(f"joint=mt_blind&{OAK}")).other_limit is not None
    assert strength(asked(f"joint=butt&{OAK}").wanted()).route == OWN


def test_invented_studies_stay_out_unless_asked_for(settings):
    settings.DEMO = False
    a_book(3, invented=True)

    with pytest.raises(TooThin, match="No accepted study"):
        bears(asked(f"joint=mt_blind&{OAK}"))
    assert all(bears(asked(f"joint=mt_blind&{OAK}&invented=with")).strength.inventions)


def test_what_use_takes_off_is_named():
    a_book()
    plain = bears(asked(f"joint=mt_blind&{OAK}")).capacity
    used = bears(asked(f"joint=mt_blind&{OAK}&moisture_pct=16&lasting=decade&own_factor=0.9&repeated=chair")).capacity

    product = np.prod([one.value for one in used.factors])
    assert [one.name for one in used.factors] == ["size", "moisture", "duration", "repeated", "own"]
    assert used.value == pytest.approx(plain.value * product)
    assert "Not taken off" in " ".join(plain.notes) and "Not taken off" not in " ".join(used.notes)


@pytest.mark.parametrize(
    ("query", "error", "says"),
    [
        ("joint=mt_blind&tenon_depth_mm=70", StatsError, "tenon_depth_mm"),
        ("joint=mt_blind&tenon_length_mm=90", StatsError, "longer than its member"),
        ("joint=dowel&repeated=dowels", StatsError, "cycles"),
        ("joint=dowel&fastener_count=1", StatsError, "two to make a couple"),
        ("joint=mt_blind&footing=stress&timber=balsa", TooThin, "No accepted study"),
    ],
)
def test_what_cannot_be_is_refused_in_words(query, error, says):
    a_book(3)
    timber = "" if "timber=" in query else f"&{OAK}"

    with pytest.raises(error, match=says):
        bears(asked(query + timber))


def test_built_as_tested_takes_no_size():
    a_book()
    found = bears(asked(f"joint=mt_blind&{OAK}&footing=at_joint"))

    assert found.capacity.value == pytest.approx(found.limit.value)
    assert found.capacity.dims == {}
    assert of(f"joint=mt_blind&{OAK}&footing=at_joint").over == ()


def test_a_stress_is_of_this_timber_alone():
    a_book()
    found = strength(asked(f"joint=mt_blind&{OAK}&footing=stress").wanted())

    assert (found.footing, found.unit, found.solid_mpa) == ("stress", "MPa", None)


def test_evidence_is_what_the_numbers_take():
    a_book()
    found = strength(asked(f"joint=dowel&{OAK}").wanted())

    assert isinstance(found.evidence, ShopEvidence)
    assert found.tested.sizes["fastener_spacing_mm"] == SIZES["dowel"]["fastener_spacing_mm"]
    assert {name: found.tested.sizes[name] for name in MEMBER} == MEMBER
