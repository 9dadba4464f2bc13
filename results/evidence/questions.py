"""What the book can't say of a joint yet, and what would answer it."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

import numpy as np

from results.models import Joint, Loading, Series

from .book import Array
from .choices import ACTIONS
from .extent import Counts, every
from .frames import ACTION_CODES, HARD_LIVES
from .packing import CONDITIONINGS

USUAL_CONTROLS = ("solid", "butt")
ENOUGH = 5
# Timbers named at most: those that most studies of other joints used.
MOST_TIMBERS = 3


@dataclass(frozen=True)
class Question:
    """An open question.

    Parameters
    ----------
    code : str
        Names its kind.
    question, answer : str
        What isn't known, and what would tell.
    query : str
        Parameters of the submission form for a study that would.
    """

    code: str
    question: str
    answer: str
    query: str


def open_questions(joint: Joint, *, invented: bool) -> list[Question]:
    """What isn't known of a joint.

    Parameters
    ----------
    joint : Joint
    invented : bool
        Whether invented studies count.

    Returns
    -------
    list of Question
        What matters most first.
    """
    return _Asking(joint, every(invented=invented), invented).questions()


class _Asking:
    def __init__(self, joint: Joint, series: Counts, invented: bool) -> None:
        self.joint, self.invented = joint, invented
        of_it = series.of("joint", joint.pk)
        self.own, self.others, self.series = series.take(of_it), series.take(~of_it), series
        self.loadings: dict[str, Loading] = {}
        for one in Loading.objects.order_by("position"):
            self.loadings.setdefault(one.action, one)
        used = np.bincount(self.own.action, minlength=len(ACTION_CODES))
        self.main = ACTION_CODES[int(np.argmax(used))]
        self.tested = {action for action, number in zip(ACTION_CODES, used.tolist(), strict=True) if number}

    def questions(self) -> list[Question]:
        name = self.joint.name.lower()
        if not len(self.own):
            answer = f"Any study of it: {ENOUGH} specimens or more{self._beside()}, and the rig's lengths."
            return [self._asked("untested", f"Nobody has sent in a test of the {name} yet.", answer)]
        return [
            *self._bonds_only(),
            *self._one_shop(),
            *self._few_specimens(),
            *self._no_control(),
            *self._actions(),
            *self._timbers(),
            *self._never_cycled(),
        ]

    def _asked(self, code: str, question: str, answer: str, action: str = "") -> Question:
        loading = self.loadings.get(action or self.main)
        pairs = [("loading", loading.pk)] if loading else []
        pairs.append(("joint", self.joint.pk))
        if self.joint.pk != "butt":
            pairs.append(("joint", "butt"))
        return Question(code, question, answer, urlencode([*pairs, ("specimens", str(ENOUGH))]))

    def _beside(self) -> str:
        controls = [word for code, word in (("butt", "glued butts"), ("solid", "solid bars")) if code != self.joint.pk]
        return f" beside {' or '.join(controls)}"

    def _bonds_only(self) -> list[Question]:
        if not self.own.bond.all():
            return []
        return [
            self._asked(
                "bonds_only",
                "Only its glue bond was tested by itself, never the joint as it is used.",
                "A test of the whole joint, loaded as a piece would load it.",
            )
        ]

    def _one_shop(self) -> list[Question]:
        asked = []
        for action, words in ACTIONS.items():
            studies = np.unique(self.own.study[self.own.action == ACTION_CODES.index(action)]).tolist()
            shops = {self.own.source.studies.workshop[at] for at in studies}
            if len(shops) == 1:
                question = (
                    f"Under {words} all of its results are one shop's ({shops.pop()}): would another find the same?"
                )
                answer = f"The same test in another shop, {ENOUGH} specimens or more{self._beside()}."
                asked.append(self._asked("one_shop", question, answer, action))
        return asked

    def _few_specimens(self) -> list[Question]:
        if (self.own.column("told") >= ENOUGH).any():
            return []
        return [
            self._asked(
                "few_specimens",
                f"No series of it has {ENOUGH} specimens told one by one, so its own scatter is hardly known.",
                f"One series of {ENOUGH} or more; ten or more for a lower limit worth the name.",
            )
        ]

    def _no_control(self) -> list[Question]:
        if self.joint.pk in USUAL_CONTROLS:
            return []
        if any(np.isin(self.own.study, self._studies_with(code)).any() for code in USUAL_CONTROLS):
            return []
        return [
            self._asked(
                "no_control",
                "No study tested it beside solid bars or glued butts, so every rig's own error is in its figures.",
                "A study with both, on one rig.",
            )
        ]

    def _studies_with(self, joint: str) -> Array:
        return np.unique(self.series.study[self.series.of("joint", joint)])

    def _actions(self) -> list[Question]:
        missing = [action for action in ACTIONS if action not in self.tested and action in self.loadings]
        return [
            self._asked(
                "no_action",
                f"Nobody has tested it under {ACTIONS[action]}.",
                f"{ENOUGH} specimens or more{self._beside()}, by {self.loadings[action].name.lower()} for one.",
                action,
            )
            for action in missing
        ]

    def _timbers(self) -> list[Question]:
        words, tested = self.series.source.vocabulary.timbers, set(self.own.places("timber").tolist())
        timber = self.others.places("timber")
        tallies = self.others.take(timber >= 0).tallies(timber[timber >= 0], len(words.codes))
        found = ((-tally.studies, words.names[at]) for at, tally in enumerate(tallies) if at not in tested)
        missing = sorted(one for one in found if one[0])[:MOST_TIMBERS]
        return [
            self._asked(
                "no_timber",
                f"Nobody has tested it in {name}, in which {-less} {'study' if less == -1 else 'studies'} tested other"
                " joints.",
                f"A series of it in {name}{self._beside()} of the same boards.",
            )
            for less, name in missing
        ]

    def _never_cycled(self) -> list[Question]:
        asked = []
        hard = [CONDITIONINGS.index(code) for code in HARD_LIVES]
        if not np.isin(self.own.column("conditioning"), hard).any():
            question = "What seasons do to it isn't known: no series went through damp and dry before the test."
            answer = "Two series made alike, one of them cycled between dry and damp, the other kept indoors."
            asked.append(self._asked("never_cycled", question, answer))
        loaded = Series.objects.counting().filter(joint=self.joint, cycles__gt=0)
        if not (loaded if self.invented else loaded.filter(study__invented=False)).exists():
            question = "What years of use do to it isn't known: no series was loaded again and again before the test."
            answer = "Two series made alike, one of them loaded many times below what breaks it, then both broken."
            asked.append(self._asked("never_repeated", question, answer))
        return asked
