"""Facts of the trade that the footings must reproduce.

Source: common practice. The loads are round figures of the kind people report, not one published series.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from stats.footing.comparability import SeriesFacts, best, partition, pool_key, verdict
from stats.footing.ladder import FACES, Ladder, LoadCase, climb
from stats.footing.timber import Timber
from stats.footing.units import LBF_N, read

BOND_MM2 = {"bond_length_mm": 50.0, "bond_width_mm": 20.0}


def _arm(peak_load_n: float, arm_mm: float) -> Ladder:
    setup = {"arm_mm": arm_mm, "arm_reference": "face"}
    return climb(LoadCase("force", "cantilever_arm", [peak_load_n], setup))


def test_the_same_bond_takes_half_the_load_at_twice_the_arm():
    near, far = _arm(1200.0, 200.0), _arm(600.0, 400.0)

    assert near["peak_load"].values[0] == 2 * far["peak_load"].values[0]
    assert near["at_joint"].values == pytest.approx(far["at_joint"].values)
    assert near["at_joint"].values == pytest.approx([240.0])


def test_loads_of_two_rigs_are_not_compared_but_their_moments_are():
    size = (19.0, 50.0)
    near, far = (
        SeriesFacts(rig, rig, rig, "mt_blind", "bending", size=size, footings=_arm(1.0, 200.0).available)
        for rig in ("near", "far")
    )

    assert verdict(near, far, "peak_load").kind == "not comparable"
    assert "rigs differ" in verdict(near, far, "peak_load").reasons[0]
    assert verdict(near, far, "at_joint").kind == "normalised"


def test_blind_mortise_and_tenon_takes_about_twice_a_plain_glued_butt():
    # on one rig: 470 lbf for the butt, 990 lbf for the mortise and tenon
    butt_n, tenon_n = (read(text, "force").si for text in ("470 lbf", "990 lbf"))
    ladder = climb(LoadCase("force", "cantilever_arm", [tenon_n], control_value=butt_n))

    # the rig's arm is not known, and a ratio to control on one rig does without it
    assert ladder["at_joint"].values is None
    assert ladder["ratio_control"].values[0] == pytest.approx(2.1, abs=0.05)
    assert butt_n == pytest.approx(470 * LBF_N)


def test_ratio_to_control_is_the_same_on_loads_and_at_the_joint():
    setup = {"arm_mm": 305.0, "arm_reference": "face"}
    butt, tenon = (climb(LoadCase("force", "cantilever_arm", loads, setup)) for loads in ([2090.0], [4404.0]))
    against = climb(LoadCase("force", "cantilever_arm", [4404.0], setup, control_value=2090.0))

    at_joint = tenon["at_joint"].values / butt["at_joint"].values
    assert against["ratio_control"].values == pytest.approx(at_joint)


def _grain_loads() -> dict[str, Ladder]:
    """Bonds of one size pulled apart on one rig, against the side-to-side bond."""
    loads_n = {"side-side": 1000.0, "end-side": 1200.0, "end-end": 3000.0}
    return {
        faces: climb(
            LoadCase(
                "force",
                "withdrawal",
                [load_n],
                dims=BOND_MM2,
                area_rule="face",
                faces=faces,
                timber=Timber("maple", "maple", "hardwood", tension_perp_12_mpa=8.0),
                control_value=loads_n["side-side"],
            )
        )
        for faces, load_n in loads_n.items()
    }


def test_end_grain_bonds_keep_their_order_on_one_rig():
    found = _grain_loads()
    end_end, end_side, side_side = (found[faces]["ratio_control"].values[0] for faces in FACES)

    assert side_side == 1.0
    assert end_side == pytest.approx(1.2)  # end to side about 20 % above side to side
    assert 2.0 <= end_end / end_side <= 3.0  # end to end two to three times end to side
    stresses = [found[faces]["stress"].values[0] for faces in FACES]
    assert stresses == pytest.approx([3.0, 1.2, 1.0])


def test_only_a_side_grain_bond_is_set_against_tabled_wood_when_pulled_apart():
    found = _grain_loads()

    assert found["side-side"]["ratio_solid"].values == pytest.approx([1.0 / 8.0])
    for faces in ("end-end", "end-side"):
        assert found[faces]["ratio_solid"].values is None
        assert "no tension along the grain" in found[faces]["ratio_solid"].missing[0]


def _grain_facts(bond_or_joint: str = "bond") -> list[SeriesFacts]:
    return [
        SeriesFacts(
            id=faces,
            study="grain",
            setup="pull",
            joint="butt",
            action="axial",
            bond_or_joint=bond_or_joint,
            size=(50.0, 20.0),
            footings=frozenset({"peak_load", "at_joint", "stress", "ratio_control"}),
            control="side-side",
            control_joint="butt",
            faces=faces,
        )
        for faces in FACES
    ]


def test_grain_pairs_are_distinct_tests_that_may_share_an_axis():
    facts = _grain_facts()

    assert len({pool_key(f) for f in facts}) == 3
    for a, b in combinations(facts, 2):
        found = verdict(a, b, "peak_load")
        assert found.kind == "same"
        assert any("grain of the faces differs" in caution for caution in found.cautions)


def test_strong_end_grain_bond_says_nothing_of_a_joint():
    bonds, joints = _grain_facts(), _grain_facts("joint")

    for footing in ("peak_load", "at_joint", "ratio_control"):
        assert verdict(bonds[0], joints[0], footing).kind == "not comparable"
        assert len(partition([*bonds, *joints], footing).groups) == 2
    assert best(bonds[0], joints[0])[0] is None


def test_clean_break_and_run_out_do_not_change_the_footing():
    # how it ended is another finding than how much it took
    broke = climb(LoadCase("force", "withdrawal", [1000.0, 1500.0]))
    held = climb(LoadCase("force", "withdrawal", [1000.0, 1500.0], broke=[True, False]))

    np.testing.assert_array_equal(broke["at_joint"].values, held["at_joint"].values)
    assert held.broke.tolist() == [True, False]
