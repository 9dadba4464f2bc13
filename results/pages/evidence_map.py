"""The evidence map: how much is known of which joint, how surely, and where the gaps are."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from urllib.parse import urlencode

from django.conf import settings
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse

from results.evidence import Choices, compare, verdicts
from results.evidence.choices import ACTIONS, TESTS, WITH
from results.evidence.compare import USUAL_REFERENCES
from results.evidence.extent import BY, Counted, Tally, counted, counting
from results.evidence.sureness import LEVELS, LOW_FROM, MODERATE_FROM, MOST_DOUBTED, by_count
from results.kept import once
from results.models import AdhesiveClass, Joint, JointFamily, Loading, Timber

from . import errors
from .asked import known_only, one_of
from .wording import how_invented

SECTION = "evidence"
BIES = {"action": "how they were loaded", "timber": "timber", "adhesive": "glue"}
PARAMETERS = ("by", "tests", "action", "family", "invented")
WORDS = {"timber": Timber, "adhesive": AdhesiveClass}
# The most columns that still make a map; what more there is can be asked of the comparison and the API.
MOST_COLUMNS = 20
NOT_RECORDED = ""
MARKS = dict(zip(LEVELS, ("●●●●", "●●●○", "●●○○", "●○○○"), strict=True))


@dataclass(frozen=True)
class Asked:
    """What the address asks for."""

    by: str
    tests: str
    action: str
    family: str
    # None: as the site has it.
    invented: bool | None

    @classmethod
    def of(cls, query: QueryDict, families: Iterable[str]) -> Asked:
        """Read an address.

        Raises
        ------
        BadParameter
            For a parameter or a value that can't be used.
        """
        known_only(query, PARAMETERS)
        invented = one_of(query, "invented", list(WITH), "")
        return cls(
            by=one_of(query, "by", list(BIES), "action"),
            tests=one_of(query, "tests", [code for code in TESTS if code != "any"], "joint"),
            action=one_of(query, "action", list(ACTIONS), ""),
            family=one_of(query, "family", list(families), ""),
            invented=WITH[invented] if invented else None,
        )

    @property
    def with_invented(self) -> bool:
        return settings.DEMO if self.invented is None else self.invented

    @property
    def api_query(self) -> str:
        """The parameters that give the same cells from the API."""
        pairs = [("by", self.by)] if self.by in BY else []
        pairs += [("tests", self.tests)]
        pairs += [("action", self.action)] if self.by in BY else []
        pairs += [("family", self.family)] if self.family else []
        if self.invented is not None:
            # There "true" alone means the invented ones alone.
            pairs += [("invented", word) for word in (("true", "false") if self.invented else ("false",))]
        return urlencode(pairs)


@dataclass(frozen=True)
class Cell:
    """A joint under an action, in a timber or with a glue."""

    of: str  # what it is about, in words
    studies: int
    series: int
    specimens: int
    level: str = ""
    by_count: bool = False
    url: str = ""

    @property
    def mark(self) -> str:
        return MARKS.get(self.level, "")

    @property
    def style(self) -> str:
        return f"sure-{self.level.replace(' ', '-')}" if self.level else "gap"


@dataclass(frozen=True)
class Row:
    joint: str
    name: str
    cells: list[Cell]
    total: Cell


@dataclass(frozen=True)
class Grid:
    """The map as its table shows it."""

    columns: list[tuple[str, str]]
    families: list[tuple[str, str, list[Row]]]
    totals: list[Cell]
    total: Cell
    gaps: int
    unshown: int
    references: list[tuple[str, str]] = field(default_factory=list)
    flags: list[bool] = field(default_factory=list)


@dataclass(frozen=True)
class Grades:
    """Certainty of each joint's ratio to the reference under one action."""

    reference: str
    reference_name: str
    levels: dict[str, str]


def evidence(request: HttpRequest) -> HttpResponse:
    families = dict(JointFamily.objects.order_by("position").values_list("code", "name"))
    try:
        asked = Asked.of(request.GET, families)
    except errors.BadParameter as bad:
        return errors.bad_parameter(request, bad, SECTION)
    # Not within the map's own answer: one that is kept may not wait for another.
    graded = grades(asked.tests, invented=asked.with_invented) if asked.by == "action" else {}
    asked, grid = once(f"evidence map {asked} {asked.with_invented}", lambda: _worked_out(asked, families, graded))
    context = {
        "section": SECTION,
        "asked": asked,
        "grid": grid,
        "bies": BIES,
        "kinds": {code: words for code, words in TESTS.items() if code != "any"},
        "actions": ACTIONS,
        "action_name": ACTIONS[asked.action],
        "family_names": families,
        "marks": MARKS,
        "rule": {"moderate": MODERATE_FROM, "low": LOW_FROM, "doubted": MOST_DOUBTED * 100},
        "how_invented": how_invented(grid.flags),
    }
    return render(request, "browse/evidence.html", context)


def _worked_out(asked: Asked, families: dict[str, str], graded: dict[str, Grades]) -> tuple[Asked, Grid]:
    """The map, and what was asked with the action filled in."""
    series = counting(invented=asked.with_invented)
    flags = list(series.order_by().values_list("study__invented", flat=True).distinct())
    found = [
        one for one in counted(series, asked.by if asked.by in BY else "", doubts=True) if one.tests == asked.tests
    ]
    action = asked.action or _best_stocked(found)
    asked = Asked(asked.by, asked.tests, action, asked.family, asked.invented)
    if asked.by in BY:
        found = [one for one in found if one.action == action]
    return asked, _Drawn(asked, found, families, flags, graded).grid()


def _best_stocked(found: Iterable[Counted]) -> str:
    """The action with the most series behind it."""
    numbers = dict.fromkeys(ACTIONS, 0)
    for one in found:
        numbers[one.action] += 1
    return max(numbers, key=lambda code: numbers[code])


class _Drawn:
    """Lays out what was counted."""

    def __init__(
        self,
        asked: Asked,
        found: list[Counted],
        families: dict[str, str],
        flags: list[bool],
        graded: dict[str, Grades],
    ) -> None:
        self.asked, self.families, self.flags, self.graded = asked, families, flags, graded
        rows = Joint.objects.order_by("family__position", "position", "code")
        self.joints = [row for row in rows if not asked.family or row.family_id == asked.family]
        names = {row.pk for row in self.joints}
        self.loading = dict(Loading.objects.order_by("-position").values_list("action", "code"))
        self.on_ratio = {(one.joint, one.action) for one in found if one.on_ratio}
        self.found = [one for one in found if one.joint in names]
        self.columns, self.unshown = self._columns()

    def grid(self) -> Grid:
        tallies: dict[tuple[str, str], Tally] = {}
        of_column: dict[str, Tally] = {}
        of_row: dict[str, Tally] = {}
        whole = Tally()
        for one in self.found:
            column = self._column_of(one)
            for tally in (
                tallies.setdefault((one.joint, column), Tally()),
                of_column.setdefault(column, Tally()),
                of_row.setdefault(one.joint, Tally()),
                whole,
            ):
                tally.add(one)
        groups: dict[str, list[Row]] = {}
        for joint in self.joints:
            cells = [self._cell(joint, code, name, tallies.get((joint.pk, code))) for code, name in self.columns]
            total = _total(f"{joint.name}, all", of_row.get(joint.pk))
            groups.setdefault(joint.family_id, []).append(Row(joint.pk, joint.name, cells, total))
        return Grid(
            columns=self.columns,
            families=[(code, self.families[code], members) for code, members in groups.items()],
            totals=[_total(f"All joints, {name}", of_column.get(code)) for code, name in self.columns],
            total=_total("All", whole),
            gaps=sum(not cell.studies for rows in groups.values() for row in rows for cell in row.cells),
            unshown=self.unshown,
            references=[(ACTIONS[code], one.reference_name) for code, one in self.graded.items() if one.reference_name],
            flags=self.flags,
        )

    def _column_of(self, one: Counted) -> str:
        return one.action if self.asked.by == "action" else one.split or NOT_RECORDED

    def _columns(self) -> tuple[list[tuple[str, str]], int]:
        """Code and name of each column, and how many more there would be."""
        if self.asked.by == "action":
            return list(ACTIONS.items()), 0
        studies: dict[str, set[int]] = {}
        for one in self.found:
            studies.setdefault(self._column_of(one), set()).add(one.study)
        names = dict(WORDS[self.asked.by].objects.filter(pk__in=studies).values_list("pk", "name"))
        ranked = sorted(names, key=lambda code: (-len(studies[code]), names[code]))
        columns = [(code, names[code]) for code in ranked[:MOST_COLUMNS]]
        if NOT_RECORDED in studies:
            columns.append((NOT_RECORDED, "not recorded"))
        return columns, len(ranked[MOST_COLUMNS:])

    def _cell(self, joint: Joint, code: str, name: str, tally: Tally | None) -> Cell:
        of = f"{joint.name}, {name}"
        action = code if self.asked.by == "action" else self.asked.action
        if tally is None:
            # What wasn't written down is no gap that a test could fill.
            return Cell(of, 0, 0, 0, url=self._to_test(joint.pk, action) if code != NOT_RECORDED else "")
        graded = self.graded[action].levels.get(joint.pk, "") if action in self.graded else ""
        return Cell(
            of,
            len(tally.studies),
            tally.series,
            tally.specimens,
            graded or by_count(tally),
            by_count=not graded,
            url=self._to_compare(joint.pk, action, code),
        )

    def _to_compare(self, joint: str, action: str, code: str) -> str:
        if code == NOT_RECORDED:
            return ""
        reference = self._reference(action)
        glued = self.asked.by == "adhesive"
        if glued and reference == "solid":  # which has no glue to choose it by
            reference = ""
        choices = Choices(
            joints=tuple(dict.fromkeys((joint, reference))) if reference else (joint,),
            action=action,
            footing="ratio_solid" if (joint, action) in self.on_ratio else "at_joint",
            tests=self.asked.tests,
            timbers=(code,) if self.asked.by == "timber" else (),
            adhesives=(code,) if glued else (),
            reference=reference,
            invented=self.asked.invented,
        )
        return f"{reverse('compare:compare')}?{choices.query()}"

    def _reference(self, action: str) -> str:
        """The joint to set others against: the one that cells are graded by, else a usual control."""
        if action in self.graded:
            return self.graded[action].reference
        return next((code for code in USUAL_REFERENCES if (code, action) in self.on_ratio), "")

    def _to_test(self, joint: str, action: str) -> str:
        """The form for a study that would fill the gap, with a glued butt beside as a control."""
        pairs = [("loading", self.loading.get(action, "")), ("joint", joint)]
        pairs += [("joint", "butt")] if joint != "butt" else []
        return f"{reverse('submit:form')}?{urlencode([*pairs, ('specimens', '5')])}"


def _total(of: str, tally: Tally | None) -> Cell:
    tally = tally or Tally()
    return Cell(of, len(tally.studies), tally.series, tally.specimens)


def grades(tests: str, *, invented: bool) -> dict[str, Grades]:
    """By action, what the comparison of all joints says of how sure each ratio is; once for each state of the data."""

    def work_out() -> dict[str, Grades]:
        rows = counting(invented=invented).filter(tests=tests).order_by()
        tested = set(rows.values_list("setup__loading__action", flat=True).distinct())
        return {action: _grade(action, tests, invented) for action in ACTIONS if action in tested}

    return once(f"grades {tests} {invented}", work_out)


def _grade(action: str, tests: str, invented: bool) -> Grades:
    found = compare(Choices(action=action, tests=tests, invented=invented))
    if not len(found.ratios):
        return Grades("", "", {})
    # A cell is about the joint itself; its soaked and cycled kinds are graded on the comparison's own page.
    plain = found.ratios[[joint == joint.partition("+")[0] for joint in found.ratios["joint"]]]
    told = verdicts(found.having(ratios=plain))
    code = str(found.series.loc[found.series["joint"] == found.reference, "joint_code"].iloc[0])
    levels = {one.joint: str(one.certainty.level) for one in told if one.certainty}
    return Grades(code, str(found.ratios["reference_name"].iloc[0]), levels)
