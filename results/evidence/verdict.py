"""Each ratio of a comparison as a sentence that can stand alone, with how far it can be trusted and why."""

from __future__ import annotations

import math
from dataclasses import dataclass

from stats.charts.look import low
from stats.inference.certainty import LEVELS, Certainty
from stats.inference.ratio_rows import APART, ONE_STUDY, THROUGH, Ratio, each_ratio

from .choices import ACTIONS
from .compare import Comparison
from .grades import Grades

# Below this the figure with and without flagged specimens reads the same.
SAME_WITHIN = 0.02
FEWEST_SPECIMENS = 5
# A prediction that runs over so many times says little more than that the next shop will find something.
WIDE = 10.0
LOADED = {
    "bending": "Bent until they broke",
    "axial": "Pulled until they broke",
    "shear": "Sheared until they broke",
    "torsion": "Twisted until they broke",
}


@dataclass(frozen=True)
class Verdict:
    """What a comparison says of one joint against the reference.

    Parameters
    ----------
    joint, joint_name, reference_name : str
    sentence : str
        What was found: it holds away from its page too.
    thin : str
        Why the evidence is thin; empty where it isn't. It ends the sentence.
    not_said : str
        What the sentence doesn't say.
    certainty : Certainty or None
        None where no ratio can be graded.
    invented : bool
        Whether some of what it rests on is made up.
    """

    joint: str
    joint_name: str
    reference_name: str
    sentence: str
    thin: str
    not_said: str
    certainty: Certainty | None
    invented: bool

    @property
    def marks(self) -> tuple[bool, ...]:
        """The certainty as marks out of four, to be seen at a glance."""
        if self.certainty is None:
            return ()
        reached = len(LEVELS) - LEVELS.index(self.certainty.level)
        return tuple(i < reached for i in range(len(LEVELS)))

    @property
    def whole(self) -> str:
        """All of it, to be copied."""
        graded = f"Certainty: {self.certainty.level}." if self.certainty else ""
        made_up = "The data are invented, for demonstration only." if self.invented else ""
        return " ".join(part for part in (self.sentence, self.thin, graded, self.not_said, made_up) if part)


def verdicts(found: Comparison) -> tuple[Verdict, ...]:
    """One verdict for each ratio that there is, the largest first.

    Parameters
    ----------
    found : Comparison

    Returns
    -------
    tuple of Verdict
    """
    if not len(found.ratios):
        return ()
    grades, not_said = Grades(found), _not_said(found)
    specimens, others = found.specimens, found.ratios_other
    turned = {row.joint: row for row in each_ratio(others)} if len(others) else {}
    return tuple(
        Verdict(
            joint=row.joint,
            joint_name=row.joint_name,
            reference_name=row.reference_name,
            sentence=" ".join(
                part for part in (_took(row, found, specimens), _ahead(row), _turned(row, turned, found)) if part
            ),
            thin=_thin(row, specimens),
            not_said=not_said,
            certainty=grades.of(row),
            invented=found.invented,
        )
        for row in each_ratio(found.ratios)
    )


def _took(row: Ratio, found: Comparison, specimens: dict[str, int]) -> str:
    level = f"{100 * found.choices.level:g} %"
    loaded = LOADED.get(found.action, f"Tested under {ACTIONS.get(found.action, found.action)}")
    axis = f", {found.axis}" if found.axis else ""
    return (
        f"{loaded}, and compared by {low(found.footing.name)}{axis}: the {low(row.joint_name)} took"
        f" {row.ratio:.2g} times what the {low(row.reference_name)} took ({level} interval {row.low:.2g} to"
        f" {row.high:.2g}), {_studies(row)} ({specimens[row.joint]} and {specimens[row.reference]} specimens)."
    )


def _studies(row: Ratio) -> str:
    if row.basis == APART:
        return "from different studies, with nothing in common but that"
    if row.note == ONE_STUDY:
        return "in the one study that tested both"
    if row.basis == THROUGH:
        return "from all studies together, though none tested both"
    return f"from all studies together, {row.studies} of which tested both"


def _ahead(row: Ratio) -> str:
    if not math.isnan(row.prediction_low):
        return f"The next shop should expect {row.prediction_low:.2g} to {row.prediction_high:.2g} times."
    return ""


def _turned(row: Ratio, turned: dict[str, Ratio], found: Comparison) -> str:
    """The same figure the other way round about flagged specimens, where it differs."""
    other = turned.get(row.joint)
    if other is None or abs(other.ratio / row.ratio - 1) < SAME_WITHIN:
        return ""
    which = "Without" if found.choices.flagged else "With"
    return f"{which} flagged specimens it is {other.ratio:.2g} times (interval {other.low:.2g} to {other.high:.2g})."


def _thin(row: Ratio, specimens: dict[str, int]) -> str:
    """Why the evidence is thin, in the order of what weighs most."""
    few = [
        f"only {specimens[joint]} specimens of {low(name)}"
        for joint, name in ((row.joint, row.joint_name), (row.reference, row.reference_name))
        if specimens[joint] < FEWEST_SPECIMENS
    ]
    wide = []
    if not math.isnan(row.prediction_low) and row.prediction_high / row.prediction_low > WIDE:
        wide = ["shops differ so much that the next one may find almost anything in that range"]
    reasons = [*few, *wide]
    said = f"Thin evidence: {'; '.join(reasons)}." if reasons else ""
    return f"{said} {row.note}".strip()


def _not_said(found: Comparison) -> str:
    if found.behind.tests == "bond":
        return "It says what the glue line takes by itself, not what a joint takes as it is used."
    return (
        "It doesn't say what a piece with several such joints holds, nor what other sizes, timbers and glues than"
        " those tested would do, or years of use."
    )
