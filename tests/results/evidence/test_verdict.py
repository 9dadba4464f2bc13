"""What a comparison says in words, and how far that can be trusted."""

from __future__ import annotations

import numpy as np
import pytest

from results.evidence import Choices, compare, matrix, verdicts
from results.models import Study
from stats.inference import network

from .test_compare import a_shop

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]

BOX = {"butt": [40, 44, 48, 41, 45], "mt_blind": [90, 101, 95, 99, 92], "box": [60, 66, 63, 61, 67]}


def said_of(found, joint):
    return next(one for one in verdicts(found) if one.joint == joint)


def test_sentence_stands_alone_with_footing_interval_studies_and_specimens():
    a_shop("One")
    a_shop("Two", rig=1.1)
    found = compare(Choices())
    (ratio,) = found.ratios.itertuples()

    (told,) = verdicts(found)

    assert told.sentence.startswith(
        "Bent until they broke, and compared by ratio to solid wood (handbook): the blind mortise and tenon took 2.2 "
        f"times what the glued butt took (95 % interval {ratio.low:.2g} to {ratio.high:.2g}), from all studies "
        "together, 2 of which tested both (6 and 6 specimens)."
    )
    assert "doesn't say what a piece with several such joints holds" in told.whole
    assert told.whole.count("Certainty: ") == 1


def test_sentence_on_a_footing_of_one_size_names_the_size():
    a_shop("One")

    assert (
        "by moment or force at the joint, 20 × 40 mm: the blind"
        in verdicts(compare(Choices(footing="at_joint")))[0].sentence
    )


def test_sentence_gives_the_figure_with_and_without_flagged_specimens():
    a_shop("Slip", joints={"butt": [40, 44, 48, 42, 45], "mt_blind": [90, 101, 95, 97, 92 / 4.448]})

    with_them, without = compare(Choices()), compare(Choices(flagged=False))

    assert "in the one study that tested both" in verdicts(with_them)[0].sentence
    assert "Without flagged specimens it is 2.2 times" in verdicts(with_them)[0].sentence
    assert "With flagged specimens it is" in verdicts(without)[0].sentence
    assert with_them.ratios_other["ratio"].tolist() == without.ratios["ratio"].tolist()


def test_thin_evidence_is_said_in_the_sentence_and_graded_down():
    a_shop("Only", joints={"butt": [40, 44, 48], "mt_blind": [90, 101, 95]})

    (told,) = verdicts(compare(Choices()))

    assert "only 3 specimens of blind mortise and tenon; only 3 specimens of glued butt" in told.thin
    assert "can't say what another shop would find" in told.thin
    reasons = {domain.name: domain for domain in told.certainty.domains}
    assert (reasons["inconsistency"].steps, reasons["imprecision"].steps) == (1, 1)
    assert told.certainty.level == "low"
    assert told.marks == (True, True, False, False)


def test_four_shops_that_agree_are_graded_high_and_one_shop_four_times_lower():
    for title, rig in (("One", 0.9), ("Two", 1.0), ("Three", 1.1), ("Four", 1.05)):
        a_shop(title, rig=rig, joints=BOX)
    of_one_shop = said_of(compare(Choices()), "mt_blind").certainty
    for study in Study.objects.all():
        study.workshop = f"Shop {study.title}"
        study.save()

    told = said_of(compare(Choices()), "mt_blind")

    assert (of_one_shop.level, of_one_shop.domains[-1].reason) == (
        "moderate",
        "One contributor gave 100% of the weight.",
    )
    assert (told.certainty.level, told.certainty.studies, told.thin) == ("high", 4, "")
    assert "The next shop should expect" in told.sentence


def test_joints_that_share_no_study_are_graded_as_indirect():
    a_shop("One", joints={"butt": BOX["butt"]})
    a_shop("Two", joints={"box": BOX["box"]})

    told = said_of(compare(Choices()), "box")

    assert "from different studies, with nothing in common but that" in told.sentence
    assert {domain.name: domain.steps for domain in told.certainty.domains}["indirectness"] == 2


def test_bond_tests_are_not_spoken_of_as_joints():
    a_shop("Bonds", tests="bond", grain_a="end", grain_b="side")

    (told,) = verdicts(compare(Choices(tests="bond")))

    assert told.not_said == "It says what the glue line takes by itself, not what a joint takes as it is used."


def test_invented_data_are_owned_up_to_in_what_is_copied(settings):
    settings.DEMO = True
    study = a_shop("Made up")
    study.invented = True
    study.save()

    assert verdicts(compare(Choices()))[0].whole.endswith("The data are invented, for demonstration only.")


def test_nothing_is_said_where_nothing_may_be_compared():
    a_shop("Joints")
    a_shop("Bonds", joints={"butt": [40, 44, 48]}, tests="bond", grain_a="end", grain_b="side")

    assert verdicts(compare(Choices(tests="any"))) == ()
    assert matrix(compare(Choices(tests="any"))).empty


def test_matrix_is_the_network_both_ways_round():
    a_shop("One", joints=BOX)
    a_shop("Two", rig=1.1, joints=BOX)
    found = compare(Choices())

    cells = matrix(found).set_index(["joint", "versus"])

    arms = found.series[["study_id", "joint", "y", "v_steady"]]
    fitted = network.fit(arms.rename(columns={"study_id": "study", "v_steady": "v"}), "butt")
    assert len(cells) == 6
    for joint, versus in cells.index:
        contrast = fitted.relative(joint, versus)
        assert cells.loc[(joint, versus), "ratio"] == pytest.approx(contrast.ratio)
        assert cells.loc[(joint, versus), "high"] == pytest.approx(contrast.ratio_interval.high)


def test_matrix_of_one_study_has_its_own_contrasts():
    a_shop("Only", joints=BOX)
    found = compare(Choices())

    cells = matrix(found).set_index(["joint", "versus"])["ratio"]

    means = {joint: float(np.exp(np.mean(np.log(values)))) for joint, values in BOX.items()}
    assert len(cells) == 6
    assert cells["mt_blind", "box"] == pytest.approx(means["mt_blind"] / means["box"])
    assert cells["box", "mt_blind"] == pytest.approx(means["box"] / means["mt_blind"])
