"""The submission form as it is shown: which fields, in which part, with what was found beside each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.utils.translation import gettext, gettext_lazy, pgettext, pgettext_lazy

from results.evidence import Noticed
from results.intake.columns import DIMENSIONS, RECORDS, Column
from results.intake.not_known import may_be_not_known
from results.intake.words import NUMBERED, Words
from results.models import Joint
from stats.footing.units import UNITS

from .in_language import named, of_form
from .submit_field import Field, Options, Part, SeriesPart, SpecimenPart
from .submit_form import SHARED, blank_joints, column, joint_of, shared_sizes
from .submit_paste import Pasted
from .submit_typed import SERIES_MOST, SPECIMENS_MOST, SUMMARY, SeriesTyped, Typed, slug

STUDY_FIRST = ("title", "question", "workshop", "tested on", "licence")
# Figures from a publication are nothing without it, so that is asked before all else.
PUBLISHED_FIRST = ("citation", "source url", *STUDY_FIRST)
SPECIMEN_FIRST = ("reading", "outcome", "failure place", "wood failure", "void reason")
_LONG = {"question", "citation", "notes"}
_DECIMAL = {"length", "number", "angle", "percent", "density", "hours", "rate", "reading"}
_SHEAR = ("lap_shear", "block_shear")
# What a series most often differs in from the one before.
_OFTEN = ("joint", "timber", "adhesive", "moisture", "cure", "conditioning")
# What a column is called in the form, where a spreadsheet's short name would say too little.
SAID = {"sd": "standard deviation", "n": "specimens broken", **dict.fromkeys(("series", "specimen", "setup"), "name")}
# On a narrow screen the first row of specimens has labels; the others say in themselves what goes where.
_IN_ITSELF = {
    "reading": gettext_lazy("reading"),
    "failure place": gettext_lazy("broke at …"),
    "wood failure": pgettext_lazy("beside a number", "torn wood, %"),
    "void reason": gettext_lazy("it slipped, the rig gave way"),
}


class Shown:
    """The whole form for the template.

    Parameters
    ----------
    typed : Typed
        What was typed.
    words : Words
        The vocabularies.
    noticed : sequence of Noticed
        Findings, by the input's name.
    echoes : mapping of str to str
        What each input was read as.
    focus : str
        The input that typing goes on in.
    pasted : mapping of int to Pasted
        What became of text that was pasted into a series.
    """

    def __init__(
        self,
        typed: Typed,
        words: Words,
        noticed: Sequence[Noticed] = (),
        echoes: Mapping[str, str] | None = None,
        focus: str = "",
        pasted: Mapping[int, Pasted] | None = None,
    ) -> None:
        self.typed, self.words, self.pasted = typed, words, pasted or {}
        self.echoes, self.focus = echoes or {}, focus
        self._found: dict[str, list[Noticed]] = {}
        for one in noticed:
            if one.place is not None:
                self._found.setdefault(one.place.sheet, []).append(one)
        self.loading = self._word("Loading", typed.setup.get("loading", ""))
        self.instrument = self._word("Instrument", typed.setup.get("instrument", ""))
        self.sizes = shared_sizes(typed, words)
        self.study = self._study()
        self.setup = self._setup()
        self.shared = self._shared()
        self.series = [self._series(at, one) for at, one in enumerate(typed.series)]
        self.joints = list(blank_joints(words))
        self.timbers = [row.name for row in words.rows("Timber")]
        self.units = UNITS[self.reading_kind][:8]
        self.full = len(typed.series) >= SERIES_MOST
        self.differs = self._differs()
        self.rows_most = SPECIMENS_MOST
        self.study_more = gettext("Origin, notes") if typed.published else gettext("Published figures, notes")
        self.why = Field(
            "why",
            gettext("why do you change it?"),
            gettext(
                "In a few words, such as: the arm was measured wrongly. Reviewers and readers see it beside the change."
            ),
            typed.why,
            required=True,
            long=True,
            noticed=self._found.get("why", []),
            column="why",
        )

    @property
    def reading_kind(self) -> str:
        if self.typed.setup.get("reads") == "stress":
            return "stress"
        return self.instrument.reads if self.instrument else "force"

    @property
    def action(self) -> str:
        return self.loading.action if self.loading else ""

    def _word(self, vocabulary: str, text: str) -> Any:
        found = self.words.find(vocabulary, text)
        return found[0] if len(found) == 1 else None

    def _study(self) -> Part:
        names = PUBLISHED_FIRST if self.typed.published else STUDY_FIRST
        first = [self._field("study", column("study", name), self.typed.study) for name in names]
        more = [
            self._field("study", one, self.typed.study)
            for one in RECORDS["study"]
            if one.name not in (*names, "length unit")
        ]
        for made in first:
            made.required |= made.column == "citation"
        return Part(first, more)

    def _setup(self) -> Part:
        needed = {"loading", "instrument"}
        for word in (self.loading, self.instrument):
            needed |= set(word.needs.split()) if word else set()
        if "arm_mm" in needed:
            needed.add("arm_reference")
        if self.typed.published:  # a publication gives a moment or a stress as often as a load
            needed = needed - {"instrument"} | {"reads"}
        unit = self._field("study", column("study", "length unit"), self.typed.study)
        unit.label = gettext("unit of lengths")
        first, more = [], []
        for one in RECORDS["setup"]:
            made = self._field("setup", one, self.typed.setup)
            # The only rig needs no name.
            if one.field in needed or one.name == "reading unit":
                first.append(made)
            elif one.name != "setup" or made.value:
                more.append(made)
        first.insert(2, unit)
        return Part(first, more)

    def _shared(self) -> Part:
        first: list[Any] = []
        more: list[Any] = []
        visible = {"timber", "adhesive", "moisture", "cure", *self.sizes}
        if self.loading and self.loading.pk in _SHEAR:
            visible.add("tests")
        if self.action in ("axial", "shear", "torsion"):
            visible |= {"grain a", "grain b"}
        for one in RECORDS["series"]:
            if one.name in visible or one.name in SHARED or self.typed.shared.get(one.name):
                made = self._field("shared", one, self.typed.shared)
                (first if one.name in visible else more).append(made)
        return Part(first, more)

    def _series(self, at: int, one: SeriesTyped) -> SeriesPart:
        prefix = f"series-{at}"
        joint = joint_of(one, self.words)
        first, more = [], []
        for each in RECORDS["series"]:
            if each.name == "setup" or each.name in SUMMARY:
                continue
            where = self._part_of(each, joint)
            if where == "first" or self.focus == f"{prefix}-{slug(each.name)}":
                first.append(self._field(prefix, each, one.values))
            elif where == "more" or each.name in one.values:
                more.append(self._field(prefix, each, one.values))
        for made in (*first, *more):
            if made.column in SHARED or made.column in self.sizes:
                made.placeholder = gettext("as for all series")
                if made.options and made.options[0][1][:1] == [("", "—")]:
                    made.options = [("", [("", made.placeholder), *made.options[0][1][1:]]), *made.options[1:]]
        for made in first:
            if made.column == "control":
                made.options = [("", self._controls(at))]
        summary = [self._field(prefix, column("series", name), one.values) for name in SUMMARY]
        return SeriesPart(
            first,
            more,
            at=at,
            title=one.values.get("series") or (named(joint.name) if joint else ""),
            specimens=[self._specimen(at, number, row) for number, row in enumerate(one.specimens)],
            summary=summary,
            by_mean=one.by_mean,
            both=any(made.value for made in summary) and any(row.get("reading") for row in one.specimens),
            may_have_more=len(one.specimens) < SPECIMENS_MOST,
            pasted=self.pasted.get(at),
        )

    def _part_of(self, one: Column, joint: Joint | None) -> str:
        """Where a series shows a column: first, more, or only if it is filled in."""
        if one.name in ("series", "joint", "control"):
            return "first"
        if one not in DIMENSIONS:
            return "more"
        if joint is None or one.field not in joint.dims:
            return ""
        return "first" if one.field in joint.needs_dims.split() and one.name not in self.sizes else "more"

    def _controls(self, at: int) -> list[tuple[str, str]]:
        others = [
            (str(other), one.values.get("series") or gettext("series %(number)s") % {"number": other + 1})
            for other, one in enumerate(self.typed.series)
            if other != at
        ]
        return [("", pgettext("control", "none")), *others]

    def _specimen(self, at: int, number: int, values: dict[str, str]) -> SpecimenPart:
        prefix = f"specimen-{at}-{number}"
        made = [self._field(prefix, one, values) for one in RECORDS["specimen"] if one.name != "series"]
        for one in made:
            one.placeholder = str(_IN_ITSELF.get(one.column, ""))
            if one.column == "void reason":  # it shows once void is chosen, and is needed then
                one.required = values.get("outcome") == "void" or not one.value
            if one.options and one.placeholder:
                one.options = [("", [("", one.placeholder), *one.options[0][1][1:]]), *one.options[1:]]
        first = sorted(
            (one for one in made if one.column in SPECIMEN_FIRST),
            key=lambda one: SPECIMEN_FIRST.index(one.column),
        )
        more = [one for one in made if one.column not in SPECIMEN_FIRST]
        return SpecimenPart(first, more, number=number + 1, element=prefix)

    def _field(self, prefix: str, one: Column, values: dict[str, str]) -> Field:
        name = f"{prefix}-{slug(one.name)}"
        value = values.get(one.name, "")
        made = Field(
            name=name,
            label=of_form(SAID.get(one.name, one.name)),
            help=of_form(one.why) if one.help.rstrip(".").casefold() == one.name else _told(one),
            value=value,
            required=one.required and prefix != "shared",
            options=self._options(one, value),
            mode=_keypad(one, inches=self.typed.study.get("length unit") == "in"),
            long=one.name in _LONG and one.record != "specimen",
            noticed=self._found.get(name, []),
            refresh=one.name in ("loading", "instrument", "joint"),
            column=one.name,
            echo=self.echoes.get(name, ""),
            focus=name == self.focus,
        )
        if one.vocabulary == "Timber":
            made.options, made.suggestions = [], "timbers"
        if one.name == "reading unit":
            made.suggestions = "units"
        return made

    def _differs(self) -> list[tuple[str, str]]:
        """What the next series may differ in from the last one, by the input's name and in words."""
        last = self.series[-1] if self.series else None
        if last is None:
            return []
        sizes = [made.column for made in (*last.fields, *last.more) if column("series", made.column) in DIMENSIONS]
        return [(slug(name), of_form(name)) for name in (*_OFTEN, *sizes)]

    def _options(self, one: Column, value: str) -> Options:
        if one.kind == "choice":
            choices = [(code, named(label)) for code, label in one.choices]
        elif one.vocabulary == "Joint":
            families = blank_joints(self.words)
            return _kept([(named(family), [(j.pk, named(j.name)) for j in rows]) for family, rows in families], value)
        elif one.kind == "word":
            choices = [(row.pk, named(row.name)) for row in self.words.rows(one.vocabulary)]
            if one.vocabulary == NUMBERED:  # so that the number on the drawing, typed, finds it in the list
                choices = [(code, f"{number} {name}") for number, (code, name) in enumerate(choices, 1)]
        elif one.kind == "yesno":
            choices = [("no", gettext("no")), ("yes", gettext("yes"))]
        else:
            return []
        if one.name == "outcome":
            choices = [(code, label.split(" (")[0]) for code, label in choices]
        elif not (one.required and one.kind == "choice"):
            choices = [("", "—"), *choices]
        return _kept([("", choices)], value)


def _told(one: Column) -> str:
    """As `Column.told`, in the reader's language."""
    return f"{of_form(one.help)} {of_form(one.why)}".strip()


def _kept(options: Options, value: str) -> Options:
    """The options with what was typed among them, known or not: nothing typed is lost."""
    if value and not any(value == code for _, group in options for code, _ in group):
        return [*options, ("", [(value, value)])]
    return options


def _keypad(column: Column, *, inches: bool) -> str:
    """The keys that a phone shows: figures alone where nothing else can be meant.

    A size may be "not known" and a length in inches has fractions; figures' keys have neither letters nor a stroke.
    """
    if column.name == "source url":
        return "url"
    if may_be_not_known(column) or (column.kind == "length" and inches):
        return ""
    return "decimal" if column.kind in _DECIMAL else "numeric" if column.kind == "count" else ""
