from __future__ import annotations

from dataclasses import replace
from itertools import combinations, product

import pytest

from stats.errors import StatsError
from stats.footing.comparability import VERDICTS, SeriesFacts, best, partition, place, pool_key, verdict
from stats.footing.footings import FOOTINGS

ALL = frozenset(FOOTINGS)
A = SeriesFacts(
    id="a",
    study="one",
    setup="rig",
    joint="mt_blind",
    action="bending",
    size=(22.2, 63.5),
    timber="red_oak",
    adhesive="pva",
    footings=ALL,
    control="c1",
    control_joint="butt",
)


def other(**changes):
    return replace(A, id="b", joint="dowel", **changes)


@pytest.mark.parametrize("footing", FOOTINGS)
def test_series_on_one_rig_and_size_are_the_same(footing):
    assert verdict(A, other(), footing).kind == "same"


@pytest.mark.parametrize("footing", FOOTINGS)
@pytest.mark.parametrize(
    ("change", "reason"),
    [({"bond_or_joint": "bond"}, "bond test says nothing of a joint"), ({"action": "axial"}, "no axis in common")],
)
def test_bonds_and_joints_and_actions_are_never_on_one_axis(footing, change, reason):
    found = verdict(A, other(**change), footing)

    assert found.kind == "not comparable"
    assert any(reason in r for r in found.reasons)


REACH = {
    # what differs -> footings on which the two may still be compared, each with its verdict
    "rig": ({"study": "two", "setup": "rig2", "control": "c2"}, {
        "at_joint": "normalised", "stress": "normalised", "ratio_solid": "normalised",
        "ratio_solid_matched": "normalised", "ratio_control": "through a control"}),
    "size": ({"size": (19.0, 50.0)}, {
        "stress": "normalised", "ratio_solid": "normalised", "ratio_solid_matched": "normalised",
        "ratio_control": "same"}),
    "timber, size and rig": (
        {"timber": "beech", "size": (19.0, 50.0), "study": "two", "setup": "rig2", "control": "c2"},
        {"ratio_solid": "normalised", "ratio_solid_matched": "normalised",
         "ratio_control": "through a control"}),
    "control": ({"study": "two", "setup": "rig2", "control": "c2", "control_joint": "solid"}, {
        "at_joint": "normalised", "stress": "normalised", "ratio_solid": "normalised",
        "ratio_solid_matched": "normalised"}),
}  # fmt: skip


@pytest.mark.parametrize("what", REACH)
def test_each_footing_reaches_as_far_as_it_takes_account_of(what):
    changes, expected = REACH[what]

    found = {code: verdict(A, other(**changes), code).kind for code in FOOTINGS}

    assert found == dict.fromkeys(FOOTINGS, "not comparable") | expected


def test_other_rig_with_the_same_setup_code_is_another_rig():
    assert verdict(A, other(study="two"), "peak_load").kind == "not comparable"


def test_missing_footing_is_the_reason():
    found = verdict(A, other(footings=frozenset({"peak_load"})), "stress")

    assert found.kind == "not comparable"
    assert found.reasons == ("b: It has no nominal stress.",)


@pytest.mark.parametrize(
    ("change", "footing", "reason"),
    [
        ({"size": None}, "peak_load", "sizes are not recorded"),
        ({"size": None}, "at_joint", "sizes are not recorded"),
        ({"timber": None}, "stress", "timber is not recorded"),
        ({"control_joint": None}, "ratio_control", "joint of its control is not recorded"),
    ],
)
def test_what_is_not_recorded_is_never_taken_as_equal(change, footing, reason):
    one, two = replace(A, **change), other(**change)

    found = verdict(one, two, footing)

    assert found.kind == "not comparable"
    assert reason in found.reasons[0]


def test_cautions_name_what_no_footing_takes_out():
    found = verdict(A, other(adhesive="epoxy", conditioning="soaked", summary_only=True), "at_joint")

    assert found.kind == "same"
    assert found.cautions == (
        "The adhesive differs: pva and epoxy.",
        "The conditioning differs: not recorded and soaked.",
        "At least one is known only as a published summary.",
    )


def test_opening_and_closing_are_told():
    found = verdict(replace(A, sense="opening"), other(sense="closing"), "at_joint")

    assert "The sense differs: opening and closing." in found.cautions


def some_facts():
    """Every mix of two values of each fact, with some not recorded."""
    choices = product(
        ("one", "two"), ((22.2, 63.5), (19.0, 50.0), None), ("red_oak", None), ("joint", "bond"),
        ("bending", "axial"), ("butt", "solid", None), (ALL, frozenset({"peak_load", "ratio_control"})),
    )  # fmt: skip
    return [
        SeriesFacts(i, study, "rig", "dowel", action, kind, size, timber, None, footings, study, control)
        for i, (study, size, timber, kind, action, control, footings) in enumerate(choices)
    ][::5]


@pytest.mark.parametrize("footing", FOOTINGS)
def test_partition_groups_just_what_the_verdict_lets_be_compared(footing):
    facts = some_facts()
    found = partition(facts, footing)

    where = {s.id: i for i, group in enumerate(found.groups) for s in group.members}
    left = {s.id for s, _ in found.left_out}
    assert where.keys() | left == {s.id for s in facts}
    assert not where.keys() & left
    for a, b in combinations(facts, 2):
        together = a.id in where and where[a.id] == where.get(b.id)
        assert verdict(a, b, footing).comparable == together


@pytest.mark.parametrize("footing", FOOTINGS)
def test_verdict_is_the_same_from_either_side(footing):
    for a, b in combinations(some_facts()[::3], 2):
        one, two = verdict(a, b, footing), verdict(b, a, footing)

        assert one.kind == two.kind
        assert len(one.reasons) == len(two.reasons) > 0


def test_partition_puts_the_largest_group_first_and_names_it():
    beech = [other(timber="beech"), replace(other(timber="beech"), id="d")]
    found = partition([A, *beech], "stress")

    assert [group.label for group in found.groups] == [
        "joint tests in bending, beech",
        "joint tests in bending, red_oak",
    ]


def test_best_is_the_lowest_footing_with_the_closest_verdict():
    assert best(A, other())[0] == "peak_load"
    assert best(A, other(study="two", setup="r", control="c2"))[0] == "at_joint"
    footing, found = best(A, other(bond_or_joint="bond"))
    assert (footing, found.kind) == (None, "not comparable")
    assert found.reasons


def test_best_through_a_control_where_nothing_else_is_left():
    controls = frozenset({"ratio_control"})
    one, two = replace(A, footings=controls), other(study="two", control="c2", footings=controls)

    footing, found = best(one, two)

    assert (footing, found.kind) == ("ratio_control", "through a control")
    assert "butt" in found.reasons[0]


def test_pool_key_is_stricter_than_an_axis():
    assert pool_key(A) == pool_key(replace(A, id="z", study="two", size=None))
    for change in ({"joint": "dowel"}, {"faces": "end-end"}, {"bond_or_joint": "bond"}, {"conditioning": "soaked"}):
        assert pool_key(A) != pool_key(replace(A, **change))


def test_refusals_name_the_field():
    with pytest.raises(StatsError, match="footing \\('feel'\\) must be one of peak_load"):
        place(A, "feel")
    with pytest.raises(StatsError, match="bond_or_joint \\('glue'\\) must be joint or bond"):
        replace(A, bond_or_joint="glue")


def test_verdicts_run_from_the_closest_to_none():
    assert VERDICTS == ("same", "normalised", "through a control", "not comparable")
