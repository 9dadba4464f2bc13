"""The tables of a release: which columns each has, in their order, and how they hang together.

Names, units and meanings are those of the read API, so that a script moves from one to the other unchanged; each
table holds its own facts and points at the others, with the words that most questions group by on every specimen.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import partial

from django.db.models import Case, F, Model, QuerySet, When
from django.db.models.expressions import Combinable
from django.db.models.functions import Coalesce

from results.models import (
    Finding,
    Loading,
    Series,
    SeriesFooting,
    Setup,
    Specimen,
    Study,
    Summary,
    last_accepted,
)
from results.models.dimensions import DIMS
from results.models.footing import CODES
from stats.footing.fields import FIELDS

from .columns import LIST, OBJECT, Column, boolean, integer, number, text, time

_COUNTS = ("frame_count", "shear_faces", "tenon_count", "fastener_count", "finger_count")


@dataclass(frozen=True)
class Foreign:
    """Columns that point at the key of another table, or of their own where `table` is empty."""

    columns: tuple[str, ...]
    table: str
    reference: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """One released table.

    Parameters
    ----------
    name : str
        Also its file's name.
    about : str
        What a row of it is.
    model : type of Model
        The record behind a row.
    columns : tuple of Column
        In their order.
    key : tuple of str
        Columns that together name a row; empty if none do.
    foreign : tuple of Foreign
        How rows point at those of other tables.
    study : str
        Path to the row's study; empty for vocabulary.
    order : tuple
        Rows' order, complete enough to be the same every time; by numbers, since ordering by a record would take
        over that record's own order.
    """

    name: str
    about: str
    model: type[Model]
    columns: tuple[Column, ...]
    key: tuple[str, ...] = ()
    foreign: tuple[Foreign, ...] = ()
    study: str = ""
    order: tuple[str | Combinable, ...] = ("pk",)

    def rows(self) -> QuerySet:
        """Rows of accepted studies, or all words, as tuples in the columns' order."""
        found = self.model._default_manager.order_by(*self.order)
        if self.study == "pk":
            found = found.filter(status=Study.Status.ACCEPTED)
        elif self.study:
            found = found.filter(**{f"{self.study}__status": Study.Status.ACCEPTED})
        return found.values_list(*(column.expression for column in self.columns))


def measures(names: Iterable[str], prefix: str = "") -> tuple[Column, ...]:
    """Lengths and numbers of the rig or the joint, in the words that derivations use for them."""
    kinds = {name: partial(integer, low=0) if name in _COUNTS else number for name in names}
    return tuple(kind(name, prefix + name, FIELDS[name].words) for name, kind in kinds.items())


def _of_study(prefix: str) -> tuple[Column, ...]:
    """What no row goes without: whose it is, how it may be used, and whether it is made up."""
    return (
        integer("study_id", f"{prefix}id", "the study's number", required=True),
        text(
            "licence",
            f"{prefix}licence",
            "how the data may be used: CC0-1.0 or CC-BY-4.0",
            required=True,
            words=tuple(Study.Licence.values),
        ),
        boolean("invented", f"{prefix}invented", "true if made up to show how the book works", required=True),
    )


_STUDY_ID, _LICENCE, _INVENTED = _of_study("")
_TO_STUDY = Foreign(("study_id",), "studies", ("study_id",))
_TO_SERIES = Foreign(("series_id",), "series", ("series_id",))
_ACTIONS = tuple(code for code, _ in Loading.ACTIONS)


def _word(name: str, source: str, meaning: str, values: Sequence[str], *, required: bool = True) -> Column:
    return text(name, source, meaning, required=required, words=tuple(value for value in values if value))


def _points(column: str, table: str) -> Foreign:
    return Foreign((column,), table, ("code",))


STUDIES = Table(
    "studies",
    "one set of tests made to answer one question",
    Study,
    (
        _STUDY_ID,
        text("study_title", "title", "the study's title", required=True),
        text("workshop", "workshop", "who made the tests", required=True),
        text("tested_on", "tested_on", "when, as far as known: year, year-month or date"),
        _word("origin", "origin", "own (own tests) or published (taken from a publication)", Study.Origin.values),
        _LICENCE,
        _INVENTED,
        text("question", "question", "what the tests were made to answer", required=True),
        text("citation", "citation", "the publication the figures are taken from"),
        text("source_url", "source_url", "where it can be read"),
        integer("plan_id", "plan_id", "number of the plan that the study says it follows", low=1),
        time("accepted_at", "accepted_at", "since when it counts", required=True),
        time("changed_at", "changed_at", "when the study's own record last changed", required=True),
        integer("revision", last_accepted(), "the number of the revision that was accepted last", low=1),
        text("study_notes", "notes", "anything else a reader should know"),
    ),
    key=("study_id",),
    study="pk",
)

SETUPS = Table(
    "setups",
    "how load was applied and read in a study",
    Setup,
    (
        integer("setup_id", "id", "the setup's number", required=True),
        *_of_study("study__"),
        text("setup", "label", "the setup's name within its study", required=True),
        text("loading", "loading_id", "code of the loading arrangement", required=True),
        _word("action", "loading__action", "what the joint felt: bending, axial, shear or torsion", _ACTIONS),
        text("instrument", "instrument_id", "code of what the load was read on"),
        _word("reads", "reads", "what a reading is: force, moment or stress", Setup.Reads.values),
        *measures(["arm_mm"]),
        _word("arm_reference", "arm_reference", FIELDS["arm_reference"].words, Setup.ArmReference.values),
        *measures([*Setup.LENGTHS[1:], *Setup.NUMBERS]),
        number("rate_mm_min", "rate_mm_min", "how fast the load was applied"),
        Column("setup_typed", "typed", OBJECT, "each length as it was typed, by column"),
        text("setup_notes", "notes", "what the tester wrote about the setup"),
    ),
    key=("setup_id",),
    foreign=(_TO_STUDY, _points("loading", "loadings"), _points("instrument", "instruments")),
    study="study",
    order=("study_id", "pk"),
)

SERIES = Table(
    "series",
    "specimens of a study made alike and tested on one setup, or a published mean of such",
    Series,
    (
        integer("series_id", "id", "the series' number", required=True),
        *_of_study("study__"),
        integer("setup_id", "setup_id", "the setup's number", required=True),
        text("series", "label", "the series' name within its study", required=True),
        text("joint", "joint_id", "code of the joint", required=True),
        text("joint_family", "joint__family_id", "code of the joint's family", required=True),
        _word("tests", "tests", "joint (a joint as used) or bond (a glue bond by itself)", Series.Tests.values),
        text("timber", "timber_id", "code of the timber"),
        text("adhesive", "adhesive_id", "code of the class of glue"),
        text("adhesive_note", "adhesive_note", "more on the glue, in the tester's words"),
        _word("grain_a", "grain_a", "grain of one bonded face: end, long or side", Series.Grain.values, required=False),
        _word("grain_b", "grain_b", "grain of the other bonded face", Series.Grain.values, required=False),
        *measures(DIMS),
        integer("control_series_id", "control_id", "the series of the study it is measured against"),
        _word(
            "conditioning",
            "conditioning",
            "what the joints went through before the test",
            Series.Conditioning.values,
        ),
        number("cure_hours", "cure_hours", "from glue-up to test", low=0),
        integer("cycles", "cycles", "load cycles before the test", low=0),
        number("moisture_pct", "moisture_pct", "moisture content given for the series", low=0, high=200),
        number("density_kgm3", "density_kgm3", "density given for the series", low=0),
        Column("series_typed", "typed", OBJECT, "each dimension as it was typed, by column"),
        text("series_notes", "notes", "what the tester wrote about the series"),
    ),
    key=("series_id",),
    foreign=(
        _TO_STUDY,
        Foreign(("setup_id",), "setups", ("setup_id",)),
        Foreign(("control_series_id",), "", ("series_id",)),
        _points("joint", "joints"),
        _points("joint_family", "joint_families"),
        _points("timber", "timbers"),
        _points("adhesive", "adhesives"),
    ),
    study="study",
    order=("study_id", "pk"),
)

SPECIMENS = Table(
    "specimens",
    "one joint, tested once, with the words that most questions group by",
    Specimen,
    (
        integer("specimen_id", "id", "the specimen's number", required=True),
        *_of_study("series__study__"),
        integer("setup_id", "series__setup_id", "the setup's number", required=True),
        text("loading", "series__setup__loading_id", "code of the loading arrangement", required=True),
        _word(
            "action",
            "series__setup__loading__action",
            "what the joint felt: bending, axial, shear or torsion",
            _ACTIONS,
        ),
        integer("series_id", "series_id", "the series' number", required=True),
        text("series", "series__label", "the series' name within its study", required=True),
        text("joint", "series__joint_id", "code of the joint", required=True),
        _word("tests", "series__tests", "joint (a joint as used) or bond (a glue bond by itself)", Series.Tests.values),
        text("timber", "series__timber_id", "code of the timber"),
        text("adhesive", "series__adhesive_id", "code of the class of glue"),
        text("specimen", "label", "the specimen's name within its series", required=True),
        text("reading_typed", "reading_typed", "the highest reading, as it was typed"),
        text("reading_unit", "reading_unit", "the unit the reading was typed in"),
        _word(
            "outcome",
            "outcome",
            "broke, held (stopped first: it is stronger than this) or void",
            Specimen.Outcome.values,
        ),
        text("void_reason", "void_reason", "why a void specimen says nothing"),
        text("failure_place", "failure_place_id", "code of where it broke"),
        number(
            "wood_failure_pct",
            "wood_failure_pct",
            "share of the bonded face covered with torn wood",
            low=0,
            high=100,
        ),
        number(
            "moisture_pct",
            Coalesce("moisture_pct", "series__moisture_pct"),
            "moisture content: the specimen's own, else that given for its series",
            low=0,
            high=200,
        ),
        number(
            "density_kgm3",
            Coalesce("density_kgm3", "series__density_kgm3"),
            "density: the specimen's own, else that given for its series",
            low=0,
        ),
        number("peak_load_n", "peak_load_n", "peak load; means little without arm and section", low=0),
        number("moment_nm", "moment_nm", "moment at the joint, for bending and torsion", low=0),
        number("force_n", "force_n", "force at the joint, for axial load and shear", low=0),
        number("stress_mpa", "stress_mpa", "nominal stress on the section or the bonded area", low=0),
        number("ratio_solid", "ratio_solid", "stress over the handbook's strength of the timber", low=0),
        number(
            "ratio_solid_matched",
            "ratio_solid_matched",
            "stress over that of the study's own solid bars",
            low=0,
        ),
        number("ratio_control", "ratio_control", "strength over the mean of the series' own control", low=0),
        boolean("flagged", "flagged", "true if a check doubts it (why: table findings); it is kept", required=True),
        text("specimen_notes", "notes", "what the tester wrote about the specimen"),
    ),
    key=("specimen_id",),
    foreign=(
        _TO_STUDY,
        Foreign(("setup_id",), "setups", ("setup_id",)),
        _TO_SERIES,
        _points("loading", "loadings"),
        _points("joint", "joints"),
        _points("timber", "timbers"),
        _points("adhesive", "adhesives"),
        _points("failure_place", "failure_places"),
    ),
    study="series__study",
    order=("series__study_id", "series_id", "position", "pk"),
)


def _published(quantity: str, field: str) -> Case:
    """A published figure in the column of its own unit."""
    return Case(When(quantity=quantity, then=field))


SUMMARIES = Table(
    "summaries",
    "a published mean, with or without count and spread, that stands for a series without specimens",
    Summary,
    (
        integer("series_id", "series_id", "the series' number", required=True),
        *_of_study("series__study__"),
        _word("quantity", "quantity", "what the mean is of: force, moment or stress", Summary.Quantity.values),
        text("mean_typed", "mean_typed", "the mean, as it was typed", required=True),
        text("sd_typed", "sd_typed", "its standard deviation, as it was typed"),
        number("published_mean_n", _published("force", "mean_si"), "a published mean peak load", low=0),
        number("published_sd_n", _published("force", "sd_si"), "its standard deviation", low=0),
        number("published_mean_nm", _published("moment", "mean_si"), "a published mean moment at the joint", low=0),
        number("published_sd_nm", _published("moment", "sd_si"), "its standard deviation", low=0),
        number("published_mean_mpa", _published("stress", "mean_si"), "a published mean stress", low=0),
        number("published_sd_mpa", _published("stress", "sd_si"), "its standard deviation", low=0),
        integer("published_count", "n", "how many specimens the published mean is of", low=1),
    ),
    key=("series_id",),
    foreign=(_TO_STUDY, _TO_SERIES),
    study="series__study",
    order=("series__study_id", "series_id"),
)

FOOTINGS = Table(
    "footings",
    "a series on one footing: sums over the natural logarithms of its specimens, and how they were obtained",
    SeriesFooting,
    (
        integer("series_id", "series_id", "the series' number", required=True),
        *_of_study("series__study__"),
        _word("footing", "code", "the quantity the numbers are on", CODES),
        text("unit", "unit", "the unit of a value; empty for a ratio"),
        integer("broke", "n", "specimens that broke; empty if a published mean gives no count", low=0),
        integer(
            "held", "held", "specimens that held: they are stronger than the load they were given", required=True, low=0
        ),
        number("sum_log", "sum_log", "sum of natural logarithms over those that broke"),
        number("sum_sq_log", "sum_sq_log", "sum of their squares; empty if a published mean gives no spread"),
        integer("kept_broke", "kept_n", "specimens that broke, without flagged ones", low=0),
        integer("kept_held", "kept_held", "specimens that held, without flagged ones", required=True, low=0),
        number("kept_sum_log", "kept_sum_log", "sum of logarithms without flagged specimens"),
        number("kept_sum_sq_log", "kept_sum_sq_log", "sum of their squares"),
        number("factor", "factor", "value for one unit of reading, where it is the same for all specimens"),
        text("basis", "basis", "what the numbers stand on"),
        Column("steps", "steps", LIST, "the derivation: each step's formula, inputs, factor and source"),
        text("worked", "worked", "the last step with the first specimen's numbers"),
        Column("missing", "missing", LIST, "what is missing where the footing can't be had"),
    ),
    key=("series_id", "footing"),
    foreign=(_TO_STUDY, _TO_SERIES),
    study="series__study",
    order=("series__study_id", "series_id", "code"),
)

FINDINGS = Table(
    "findings",
    "what a check noticed about a study; nothing is removed for it",
    Finding,
    (
        *_of_study("study__"),
        integer("series_id", "series_id", "the series it is about, if it is about one"),
        integer("specimen_id", "specimen_id", "the specimen it is about, if it is about one"),
        text("code", "code", "the check that noticed it", required=True),
        _word("severity", "severity", "error, doubt or remark", Finding.Severity.values),
        text("field", "field", "the field it is about"),
        text("value", "value", "what was typed there"),
        text("message", "message", "what was found and what it means", required=True),
        text("remedy", "remedy", "what to do about it"),
    ),
    foreign=(_TO_STUDY, _TO_SERIES, Foreign(("specimen_id",), "specimens", ("specimen_id",))),
    study="study",
    # Not by number: findings about the numbers are made anew when footings are restated.
    order=(
        "study_id",
        F("series_id").asc(nulls_first=True),
        F("specimen_id").asc(nulls_first=True),
        "code",
        "field",
        "message",
    ),
)

DATA: tuple[Table, ...] = (STUDIES, SETUPS, SERIES, SPECIMENS, SUMMARIES, FOOTINGS, FINDINGS)
