"""The table of the evidence map: what was counted laid out in cells, and written out.

It is written out here: a template's own loop over hundreds of cells takes longer than all the counting.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from html import escape
from typing import Any
from urllib.parse import urlencode

import numpy as np
from django.conf import settings
from django.http import QueryDict
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe

from results.evidence import Choices
from results.evidence.book import Array
from results.evidence.choices import ACTIONS, TESTS, WITH
from results.evidence.compare import USUAL_REFERENCES
from results.evidence.extent import BY, Counts, Tally, words_of
from results.evidence.frames import ACTION_CODES
from results.evidence.sureness import LEVELS, by_count
from results.models import Joint, Loading
from stats.charts.look import counted

from .asked import known_only, one_of

BIES = {"action": "how they were loaded", "timber": "timber", "adhesive": "glue"}
PARAMETERS = ("by", "tests", "action", "family", "invented")
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
    """A joint under an action, in a timber or with a glue: what it is about, in words, and what there is of it."""

    of: str
    tally: Tally
    level: str = ""
    by_count: bool = False
    url: str = ""

    @property
    def style(self) -> str:
        return f"sure-{self.level.replace(' ', '-')}" if self.level else "gap"

    def markup(self, style: str, *, tell_count: bool = False) -> str:
        """The cell as the page shows it; `tell_count` says beside the level that it goes by counting."""
        return f'<td class="{style}">{self._linked(self._told(tell_count))}</td>'

    def _told(self, tell_count: bool) -> str:
        tally = self.tally
        if not tally.studies:
            return "no tests" if self.url else "–"
        number = counted(tally.specimens, "specimen") if tally.specimens else "number not told"
        told = f"<span>{counted(tally.studies, 'study')},</span> <span>{number}</span>"
        if not self.level:
            return told
        how = ", count" if self.by_count and tell_count else ""
        return f'{told} <span class="sure"><span aria-hidden="true">{MARKS[self.level]}</span> {self.level}{how}</span>'

    def _linked(self, told: str) -> str:
        if not self.url:
            return told
        return f'<a href="{escape(self.url)}"><span class="unseen">{escape(self.of)}: </span>{told}</a>'


@dataclass(frozen=True)
class Grid:
    """The map as its table shows it."""

    columns: list[tuple[str, str]]
    # Its families of joints and its totals, as rows.
    body: SafeString
    total: Tally
    gaps: int
    unshown: int
    references: list[tuple[str, str]] = field(default_factory=list)
    flags: tuple[bool, ...] = ()


@dataclass(frozen=True)
class Grades:
    """Certainty of each joint's ratio to the reference under one action."""

    reference: str
    reference_name: str
    levels: dict[str, str]


def grid_of(
    asked: Asked, found: Counts, families: dict[str, str], flags: tuple[bool, ...], graded: dict[str, Grades]
) -> Grid:
    """Lay out what was counted.

    Parameters
    ----------
    asked : Asked
    found : Counts
        Under the action asked for, unless the map is by action.
    families : dict of str to str
        Names of the families by code, in the order of the map.
    flags : tuple of bool
        Whether invented studies are among all, and real ones.
    graded : dict of str to Grades
        By action.
    """
    return _Drawn(asked, found, families, flags, graded).grid()


class _Drawn:
    def __init__(
        self,
        asked: Asked,
        found: Counts,
        families: dict[str, str],
        flags: tuple[bool, ...],
        graded: dict[str, Grades],
    ) -> None:
        self.asked, self.families, self.flags, self.graded = asked, families, flags, graded
        rows = Joint.objects.order_by("family__position", "position", "code")
        self.joints = [row for row in rows if not asked.family or row.family_id == asked.family]
        self.loading = dict(Loading.objects.order_by("-position").values_list("action", "code"))
        codes = found.source.vocabulary.joints.codes
        on_ratio = np.unique(found.joint[found.on_ratio] * len(ACTION_CODES) + found.action[found.on_ratio]).tolist()
        self.on_ratio = {(codes[at // len(ACTION_CODES)], ACTION_CODES[at % len(ACTION_CODES)]) for at in on_ratio}
        row_of = {row.pk: at for at, row in enumerate(self.joints)}
        row = np.array([row_of.get(code, -1) for code in codes], dtype=np.intp)[found.joint]
        self.found, self.row = found.take(row >= 0), row[row >= 0]
        self.columns, self.column, self.unshown = self._columns()
        self.comparison, self.plan = reverse("compare:compare"), reverse("plan:plan")

    def grid(self) -> Grid:
        found, row, column, width = self.found, self.row, self.column, len(self.columns)
        shown = column >= 0
        tallies = found.take(shown).tallies(row[shown] * width + column[shown], len(self.joints) * width)
        of_row = found.tallies(row, len(self.joints))
        of_column = found.take(shown).tallies(column[shown], width)
        (whole,) = found.tallies(np.zeros(len(found), dtype=np.intp), 1)
        gaps, family = 0, None
        parts: list[Any] = []
        for at, joint in enumerate(self.joints):
            if joint.family_id != family:
                family = joint.family_id
                parts.append(self._family(self.families[family], first=not parts))
            own = tallies[at * width : (at + 1) * width]
            cells = [self._cell(joint, *of, tally) for of, tally in zip(self.columns, own, strict=True)]
            gaps += sum(not tally.studies for tally in own)
            parts.append(self._row(joint, cells, Cell(f"{joint.name}, all", of_row[at])))
        totals = [Cell(f"All joints, {name}", tally) for (_, name), tally in zip(self.columns, of_column, strict=True)]
        ends = "".join(cell.markup("total") for cell in (*totals, Cell("All", whole)))
        parts.append(f'</tbody>\n<tfoot><tr><th scope="row">All joints</th>{ends}</tr></tfoot>' if parts else "")
        return Grid(
            columns=self.columns,
            body=mark_safe("\n".join(parts)),
            total=whole,
            gaps=gaps,
            unshown=self.unshown,
            references=[(ACTIONS[code], one.reference_name) for code, one in self.graded.items() if one.reference_name],
            flags=self.flags,
        )

    def _family(self, name: str, *, first: bool) -> str:
        rest = f'<td colspan="{len(self.columns) + 1}"></td>'
        row = f'<tr class="family"><th scope="rowgroup">{escape(name)}</th>{rest}</tr>'
        return f"{'' if first else '</tbody>'}<tbody>{row}"

    def _row(self, joint: Joint, cells: list[Cell], total: Cell) -> str:
        tell = self.asked.by == "action"
        own = "".join(cell.markup(cell.style, tell_count=tell) for cell in cells)
        name = f'<a href="{reverse("browse:joint", args=[joint.pk])}">{escape(joint.name)}</a>'
        return f'<tr><th scope="row">{name}</th>{own}{total.markup("total")}</tr>'

    def _columns(self) -> tuple[list[tuple[str, str]], Array, int]:
        """Code and name of each column, the column of each series (-1 for none), and how many more there would be."""
        if self.asked.by == "action":
            return list(ACTIONS.items()), self.found.action, 0
        words = words_of(self.found.source, self.asked.by)
        place = self.found.places(self.asked.by)
        *studies, unknown = (
            tally.studies for tally in self.found.tallies(place % (len(words.codes) + 1), len(words.codes) + 1)
        )
        ranked = sorted((at for at, n in enumerate(studies) if n), key=lambda at: (-studies[at], words.names[at]))
        shown = ranked[:MOST_COLUMNS]
        columns = [(words.codes[at], words.names[at]) for at in shown]
        if unknown:
            columns.append((NOT_RECORDED, "not recorded"))
            shown.append(len(words.codes))
        column = np.full(len(words.codes) + 1, -1, dtype=np.intp)
        column[shown] = np.arange(len(shown))
        return columns, column[place], len(ranked[MOST_COLUMNS:])

    def _cell(self, joint: Joint, code: str, name: str, tally: Tally) -> Cell:
        of = f"{joint.name}, {name}"
        action = code if self.asked.by == "action" else self.asked.action
        if not tally.studies:
            # What wasn't written down is no gap that a test could fill.
            return Cell(of, tally, url=self._to_test(joint.pk, action) if code != NOT_RECORDED else "")
        graded = self.graded[action].levels.get(joint.pk, "") if action in self.graded else ""
        url = self._to_compare(joint.pk, action, code)
        return Cell(of, tally, graded or by_count(tally), by_count=not graded, url=url)

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
        return f"{self.comparison}?{choices.query()}"

    def _reference(self, action: str) -> str:
        """The joint to set others against: the one that cells are graded by, else a usual control."""
        if action in self.graded:
            return self.graded[action].reference
        return next((code for code in USUAL_REFERENCES if (code, action) in self.on_ratio), "")

    def _to_test(self, joint: str, action: str) -> str:
        """The plan of a test that would fill the gap, with a glued butt beside as a control."""
        pairs = [("joint", joint), ("joint", "butt" if joint != "butt" else "solid")]
        pairs += [("loading", self.loading.get(action, "")), ("tests", self.asked.tests)]
        return f"{self.plan}?{urlencode(pairs)}"
