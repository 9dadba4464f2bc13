"""The tables the API answers with: which columns each has, in their order."""

from __future__ import annotations

from django.db.models import Case, ExpressionWrapper, F, FloatField, OuterRef, Value, When
from django.db.models.functions import Cast, Coalesce, Exp, NullIf

from results.models import Series, Specimen, Study, Timber, last_accepted
from results.models.dimensions import DIMS
from stats.footing.fields import FIELDS

from .columns import Column, boolean, counted, integer, nested, number, text, time
from .stocked import Stocked

_COUNTS = ("frame_count", "shear_faces", "tenon_count", "fastener_count", "finger_count")


def _measure(name: str, prefix: str) -> Column:
    """A length or number of the rig or the joint, in the words that derivations use for it."""
    kind = integer if name in _COUNTS else number
    return kind(name, prefix + name, FIELDS[name].words)


def _study(prefix: str) -> tuple[Column, ...]:
    return (
        integer("study_id", f"{prefix}id", "the study's number"),
        text("study_title", f"{prefix}title", "the study's title"),
        text("workshop", f"{prefix}workshop", "who made the tests"),
        text("tested_on", f"{prefix}tested_on", "when, as far as known: year, year-month or date"),
        text("origin", f"{prefix}origin", "own (own tests) or published (taken from a publication)"),
        text("licence", f"{prefix}licence", "how the data may be used: CC0-1.0 or CC-BY-4.0"),
        boolean("invented", f"{prefix}invented", "true if made up to show how the book works"),
        text("study_status", f"{prefix}status", "accepted counts; withdrawn, returned, submitted and draft do not"),
    )


def _setup(prefix: str) -> tuple[Column, ...]:
    return (
        integer("setup_id", f"{prefix}id", "the setup's number"),
        text("setup", f"{prefix}label", "the setup's name within its study"),
        text("loading", f"{prefix}loading_id", "code of the loading arrangement"),
        text("action", f"{prefix}loading__action", "what the joint felt: bending, axial, shear or torsion"),
        text("instrument", f"{prefix}instrument_id", "code of what the load was read on"),
        text("reads", f"{prefix}reads", "what a reading is: force, moment or stress"),
        _measure("arm_mm", prefix),
        text("arm_reference", f"{prefix}arm_reference", FIELDS["arm_reference"].words),
        *(
            _measure(name, prefix)
            for name in (
                "span_mm",
                "load_offset_mm",
                "joint_offset_mm",
                "leg_mm",
                "leg_b_mm",
                "face_offset_mm",
                "rail_height_mm",
                "ram_diameter_mm",
                "angle_deg",
                "diagonal_deg",
                "friction",
                "frame_count",
                "shear_faces",
                "lever_ratio",
            )
        ),
        number("rate_mm_min", f"{prefix}rate_mm_min", "how fast the load was applied"),
    )


def _series(prefix: str) -> tuple[Column, ...]:
    return (
        integer("series_id", f"{prefix}id", "the series' number"),
        text("series", f"{prefix}label", "the series' name within its study"),
        text("joint", f"{prefix}joint_id", "code of the joint"),
        text("joint_family", f"{prefix}joint__family_id", "code of the joint's family"),
        text("tests", f"{prefix}tests", "joint (a joint as used) or bond (a glue bond by itself)"),
        text("timber", f"{prefix}timber_id", "code of the timber"),
        text("adhesive", f"{prefix}adhesive_id", "code of the class of glue"),
        text("adhesive_note", f"{prefix}adhesive_note", "more on the glue, in the tester's words"),
        text("grain_a", f"{prefix}grain_a", "grain of one bonded face: end, long or side"),
        text("grain_b", f"{prefix}grain_b", "grain of the other bonded face"),
        *(_measure(name, prefix) for name in DIMS),
        integer("control_series_id", f"{prefix}control_id", "the series of the study it is measured against"),
        text("conditioning", f"{prefix}conditioning", "what the joints went through before the test"),
        number("cure_hours", f"{prefix}cure_hours", "from glue-up to test"),
        integer("cycles", f"{prefix}cycles", "load cycles before the test"),
    )


SPECIMENS: tuple[Column, ...] = (
    integer("specimen_id", "id", "the specimen's number"),
    *_study("series__study__"),
    *_setup("series__setup__"),
    *_series("series__"),
    text("specimen", "label", "the specimen's name within its series"),
    text("reading_typed", "reading_typed", "the highest reading, as it was typed"),
    text("reading_unit", "reading_unit", "the unit the reading was typed in"),
    text("outcome", "outcome", "broke, held (stopped first: it is stronger than this) or void"),
    text("void_reason", "void_reason", "why a void specimen says nothing"),
    text("failure_place", "failure_place_id", "code of where it broke"),
    number("wood_failure_pct", "wood_failure_pct", "share of the bonded face covered with torn wood"),
    number(
        "moisture_pct",
        Coalesce("moisture_pct", "series__moisture_pct"),
        "moisture content: the specimen's own, else that given for its series",
    ),
    number(
        "density_kgm3",
        Coalesce("density_kgm3", "series__density_kgm3"),
        "density: the specimen's own, else that given for its series",
    ),
    number("peak_load_n", "peak_load_n", "peak load; means little without arm and section"),
    number("moment_nm", "moment_nm", "moment at the joint, for bending and torsion"),
    number("force_n", "force_n", "force at the joint, for axial load and shear"),
    number("stress_mpa", "stress_mpa", "nominal stress on the section or the bonded area"),
    number("ratio_solid", "ratio_solid", "stress over the handbook's strength of the timber"),
    number("ratio_solid_matched", "ratio_solid_matched", "stress over that of the study's own solid bars"),
    number("ratio_control", "ratio_control", "strength over the mean of the series' own control"),
    boolean("flagged", "flagged", "true if a check doubts it (why: table findings); it is kept"),
    text("specimen_notes", "notes", "what the tester wrote about the specimen"),
)


def _published(quantity: str, field: str) -> Case:
    """A published figure in the column of its own unit."""
    return Case(When(summary__quantity=quantity, then=f"summary__{field}"))


_own_specimens = Specimen.objects.filter(series=OuterRef("pk"))
SERIES: tuple[Column, ...] = (
    *_series(""),
    *_study("study__"),
    *_setup("setup__"),
    number("moisture_pct", "moisture_pct", "moisture content given for the series"),
    number("density_kgm3", "density_kgm3", "density given for the series"),
    integer("broke", counted(_own_specimens.filter(outcome="broke"), "series"), "specimens that broke"),
    integer("held", counted(_own_specimens.filter(outcome="held"), "series"), "specimens that held"),
    integer("void", counted(_own_specimens.filter(outcome="void"), "series"), "specimens that are void"),
    integer("flagged", counted(_own_specimens.filter(flagged=True), "series"), "specimens a check doubts"),
    number("published_mean_n", _published("force", "mean_si"), "a published mean peak load"),
    number("published_sd_n", _published("force", "sd_si"), "its standard deviation"),
    number("published_mean_nm", _published("moment", "mean_si"), "a published mean moment at the joint"),
    number("published_sd_nm", _published("moment", "sd_si"), "its standard deviation"),
    number("published_mean_mpa", _published("stress", "mean_si"), "a published mean stress"),
    number("published_sd_mpa", _published("stress", "sd_si"), "its standard deviation"),
    integer("published_count", "summary__n", "how many specimens the published mean is of"),
    text("series_notes", "notes", "what the tester wrote about the series"),
)

_own_series = Series.objects.filter(study=OuterRef("pk"))
STUDIES: tuple[Column, ...] = (
    *_study(""),
    text("question", "question", "what the tests were made to answer"),
    text("citation", "citation", "the publication the figures are taken from"),
    text("source_url", "source_url", "where it can be read"),
    text("withdrawn_reason", "withdrawn_reason", "why a withdrawn study no longer counts"),
    integer("plan_id", "plan_id", "number of the plan that the study says it follows"),
    time("accepted_at", "accepted_at", "since when it counts"),
    time("changed_at", "changed_at", "when the study's own record last changed"),
    integer("revision", last_accepted(), "the number of the revision that was accepted last"),
    integer("series", counted(_own_series, "study"), "series in the study"),
    integer(
        "specimens",
        counted(Specimen.objects.filter(series__study=OuterRef("pk")), "series__study"),
        "specimens in the study",
    ),
    text("study_notes", "notes", "anything else a reader should know"),
)


PLANS: tuple[Column, ...] = (
    integer("plan_id", "id", "the plan's number"),
    text("plan_title", "title", "the plan's title"),
    text("question", "question", "what the test is to answer"),
    text("plan_status", "status", "lodged, or withdrawn with a reason"),
    time("lodged_at", "lodged_at", "when it was lodged; nothing of it changed since"),
    time("withdrawn_at", "withdrawn_at", "when it was withdrawn"),
    text("withdrawn_reason", "withdrawn_reason", "why it was withdrawn"),
    boolean("invented", "invented", "true if made up to show how the book works"),
    integer(
        "studies",
        counted(Study.objects.public().filter(plan=OuterRef("pk")), "plan"),
        "studies that follow it, accepted or withdrawn; 0 is evidence that is missing",
    ),
    nested("planned", "planned", "what was planned: parameters as asked, series, order of testing"),
)


def _geometric_mean(prefix: str) -> ExpressionWrapper:
    """From the sum of logs; a summary that gives no count stores the sums of one specimen."""
    count = NullIf(Coalesce(F(f"{prefix}n"), Value(1)), Value(0))
    return ExpressionWrapper(Exp(F(f"{prefix}sum_log") / Cast(count, FloatField())), output_field=FloatField())


FOOTINGS: tuple[Column, ...] = (
    integer("footing_id", "id", "the number of the series on this footing"),
    integer("series_id", "series_id", "the series' number"),
    text("series", "series__label", "the series' name within its study"),
    *_study("series__study__"),
    text("joint", "series__joint_id", "code of the joint"),
    text("joint_family", "series__joint__family_id", "code of the joint's family"),
    text("tests", "series__tests", "joint (a joint as used) or bond (a glue bond by itself)"),
    text("timber", "series__timber_id", "code of the timber"),
    text("adhesive", "series__adhesive_id", "code of the class of glue"),
    text("loading", "series__setup__loading_id", "code of the loading arrangement"),
    text("action", "series__setup__loading__action", "what the joint felt: bending, axial, shear or torsion"),
    text("footing", "code", "the quantity the numbers are on"),
    text("unit", "unit", "the unit of a value; empty for a ratio"),
    number("geometric_mean", _geometric_mean(""), "geometric mean of the specimens that broke, in the unit"),
    integer("broke", "n", "specimens that broke; empty if a published mean gives no count"),
    integer("held", "held", "specimens that held: they are stronger than the load they were given"),
    number("sum_log", "sum_log", "sum of natural logarithms over those that broke"),
    number("sum_sq_log", "sum_sq_log", "sum of their squares; empty if a published mean gives no spread"),
    number("kept_geometric_mean", _geometric_mean("kept_"), "the geometric mean without flagged specimens"),
    integer("kept_broke", "kept_n", "specimens that broke, without flagged ones"),
    integer("kept_held", "kept_held", "specimens that held, without flagged ones"),
    number("kept_sum_log", "kept_sum_log", "sum of logarithms without flagged specimens"),
    number("kept_sum_sq_log", "kept_sum_sq_log", "sum of their squares"),
    number("factor", "factor", "value for one unit of reading, where it is the same for all specimens"),
    text("basis", "basis", "what the numbers stand on"),
    text("worked", "worked", "the last step with the first specimen's numbers"),
    nested("missing", "missing", "what is missing where the footing can't be had"),
    nested("steps", "steps", "the derivation: each step's formula, inputs, factor and source"),
)

FINDINGS: tuple[Column, ...] = (
    integer("finding_id", "id", "the finding's number"),
    integer("study_id", "study_id", "the study it is about"),
    text("study_title", "study__title", "the study's title"),
    integer("series_id", "series_id", "the series it is about, if it is about one"),
    text("series", "series__label", "the series' name within its study"),
    integer("specimen_id", "specimen_id", "the specimen it is about, if it is about one"),
    text("specimen", "specimen__label", "the specimen's name within its series"),
    text("code", "code", "the check that noticed it"),
    text("severity", "severity", "error, doubt or remark"),
    text("field", "field", "the field it is about"),
    text("value", "value", "what was typed there"),
    text("message", "message", "what was found and what it means"),
    text("remedy", "remedy", "what to do about it"),
)


_NAMED = "accepted series that name it"


def _counting(field: str) -> Column:
    """How often a word is used by series that count."""
    return integer(
        "series",
        counted(Series.objects.counting().filter(**{field: OuterRef("pk")}), field),
        _NAMED,
    )


def _word(*more: Column) -> tuple[Column, ...]:
    """The columns every vocabulary table begins and ends with."""
    return (
        text("code", "code", "the code that records and filters use; it never changes"),
        text("name", "name", "its name to read"),
        *more,
        text("description", "description", "what it is"),
        text("source", "source", "where the row comes from"),
    )


_PROVENANCE = text("provenance", "provenance", "how the source was read")

JOINTS = _word(
    text("family", "family_id", "code of the joint's family"),
    text("family_name", "family__name", "name of the family"),
    text("also_known_as", "also_known_as", "other names in use"),
    text("area_rule", "area_rule", "how its bonded area is computed"),
    text("section_rule", "section_rule", "how its section is computed"),
    text("needs_dims", "needs_dims", "dimensions those rules need, by column of specimens"),
    text("optional_dims", "optional_dims", "dimensions that say more"),
    boolean("is_control_kind", "is_control_kind", "true if it is usual as a control"),
    _counting("joint"),
    _PROVENANCE,
)
LOADINGS = _word(
    text("action", "action", "what the joint feels: bending, axial, shear or torsion"),
    text("needs", "needs", "lengths it needs, by column of specimens"),
    text("optional", "optional", "lengths that say more"),
    text("formula", "formula", "from load to the action at the joint"),
    # No index leads from a loading to the series that name it: they would all be gone through, once for each loading.
    integer("series", Stocked("loading"), _NAMED),
    _PROVENANCE,
)
ADHESIVES = _word(
    text("en204", "en204", "EN 204 durability class, where it has one"), _counting("adhesive"), _PROVENANCE
)
FAILURE_PLACES = _word()
TIMBERS = _word(
    text("scientific_name", "scientific_name", "its botanical name"),
    text("group", "group", "hardwood or softwood"),
    *(
        number(field.name, field.name, str(field.verbose_name))
        for field in Timber._meta.concrete_fields
        if field.name.startswith(("mor_", "shear_", "tension_", "comp_", "moe_", "hardness_", "shrink_"))
        and field.get_internal_type() == "FloatField"
    ),
    number("sg_12", "sg_12", "specific gravity, ovendry mass over volume at 12 % (imports: green volume)"),
    number("sg_green", "sg_green", "specific gravity, ovendry mass over green volume"),
    number("intersection_mc_pct", "intersection_mc_pct", "moisture where strength stops changing"),
    text("source_green", "source_green", "where the green properties come from"),
    text("shrink_source", "shrink_source", "where the shrinkage comes from"),
    _counting("timber"),
    _PROVENANCE,
    text("shrink_provenance", "shrink_provenance", "how the source of the shrinkage was read"),
)
