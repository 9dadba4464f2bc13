"""What the book can't say of a joint yet, and what would answer it."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from django.db.models import Count, QuerySet

from results.models import Joint, Loading, Series, Specimen

from .choices import ACTIONS

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


@dataclass(frozen=True)
class _Own:
    """One series of the joint."""

    key: int
    study: int
    workshop: str
    action: str
    tests: str
    timber: str | None
    conditioning: str
    cycles: int | None


def open_questions(joint: Joint, series: QuerySet[Series]) -> list[Question]:
    """What isn't known of a joint.

    Parameters
    ----------
    joint : Joint
    series : QuerySet of Series
        All that count, of every joint.

    Returns
    -------
    list of Question
        What matters most first; four queries whatever there is.
    """
    paths = ("pk", "study_id", "study__workshop", "setup__loading__action", "tests", "timber_id", "conditioning")
    own = [_Own(*row) for row in series.filter(joint=joint).order_by().values_list(*paths, "cycles")]
    return _Asking(joint, series, own).questions()


class _Asking:
    def __init__(self, joint: Joint, series: QuerySet[Series], own: list[_Own]) -> None:
        self.joint, self.series, self.own = joint, series, own
        self.loadings: dict[str, Loading] = {}
        for one in Loading.objects.order_by("position"):
            self.loadings.setdefault(one.action, one)
        used = [one.action for one in own]
        self.main = max(ACTIONS, key=used.count)

    def questions(self) -> list[Question]:
        name = self.joint.name.lower()
        if not self.own:
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
        if any(one.tests == "joint" for one in self.own):
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
            shops = {one.workshop for one in self.own if one.action == action}
            if len(shops) == 1:
                question = (
                    f"Under {words} all of its results are one shop's ({shops.pop()}): would another find the same?"
                )
                answer = f"The same test in another shop, {ENOUGH} specimens or more{self._beside()}."
                asked.append(self._asked("one_shop", question, answer, action))
        return asked

    def _few_specimens(self) -> list[Question]:
        told = Specimen.objects.told().filter(series__in=self.series.filter(joint=self.joint).values("pk"))
        numbers = dict(told.order_by().values_list("series_id").annotate(Count("pk")))
        if any(numbers.get(one.key, 0) >= ENOUGH for one in self.own):
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
        studies = {one.study for one in self.own}
        beside = self.series.filter(joint__in=USUAL_CONTROLS).order_by().values_list("study_id", flat=True).distinct()
        if studies & set(beside):
            return []
        return [
            self._asked(
                "no_control",
                "No study tested it beside solid bars or glued butts, so every rig's own error is in its figures.",
                "A study with both, on one rig.",
            )
        ]

    def _actions(self) -> list[Question]:
        tested = {one.action for one in self.own}
        missing = [action for action in ACTIONS if action not in tested and action in self.loadings]
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
        tested = {one.timber for one in self.own}
        rows = self.series.exclude(joint=self.joint).filter(timber__isnull=False).order_by()
        found = rows.values_list("timber", "timber__name").annotate(n=Count("study", distinct=True))
        missing = sorted(((-n, name) for code, name, n in found if code not in tested))[:MOST_TIMBERS]
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
        if not any(one.conditioning in ("cycled", "soaked") for one in self.own):
            question = "What seasons do to it isn't known: no series went through damp and dry before the test."
            answer = "Two series made alike, one of them cycled between dry and damp, the other kept indoors."
            asked.append(self._asked("never_cycled", question, answer))
        if not any(one.cycles for one in self.own):
            question = "What years of use do to it isn't known: no series was loaded again and again before the test."
            answer = "Two series made alike, one of them loaded many times below what breaks it, then both broken."
            asked.append(self._asked("never_repeated", question, answer))
        return asked
