"""Everything a submission may say: one list that the form, the template and the readers all follow."""

from __future__ import annotations

import re
from dataclasses import dataclass

from results.models import Series, Setup, Specimen, Study
from results.models.dimensions import DIMS
from results.models.fields import field_of

from .why import WHY, of_a_size

# Kinds of column: a kind of quantity that stats.footing.units reads, or one of
# text, choice (a fixed list), word (a vocabulary row), date, count, yesno, reading (kind set by the setup), plan
# (the number of a lodged plan).


@dataclass(frozen=True)
class Column:
    """One thing that can be typed.

    Parameters
    ----------
    record : str
        ``study``, ``setup``, ``series`` or ``specimen``.
    name : str
        The name in files and on forms, in words: ``tenon length``.
    field : str
        The field of the record that it fills.
    kind : str
        What it holds, see the module's first comment.
    help : str
        One line: what it means; `why` it matters is said in `results.intake.why`.
    required : bool
        Whether a submission can't do without it.
    choices : tuple of (str, str)
        Code and label, for kind ``choice``.
    vocabulary : str
        Name of the vocabulary model, for kind ``word``.
    example : str
        A value as somebody would type it.
    """

    record: str
    name: str
    field: str
    kind: str
    help: str
    required: bool = False
    choices: tuple[tuple[str, str], ...] = ()
    vocabulary: str = ""
    example: str = ""

    @property
    def why(self) -> str:
        """Why it is asked, where `help` doesn't say so."""
        return WHY.get((self.record, self.name), of_a_size(self.field) if self.field in DIMS else "")

    @property
    def told(self) -> str:
        """What it means and why it is asked."""
        return f"{self.help} {self.why}".strip()

    @property
    def key(self) -> str:
        """The name in a flat table and on a form: ``series tenon length``."""
        return self.name if self.name == self.record else f"{self.record} {self.name}"


def _choice(choices: list[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    return tuple((str(code), str(label)) for code, label in choices if code)


LENGTH_UNITS = (("mm", "millimetres"), ("cm", "centimetres"), ("in", "inches"))

STUDY = (
    Column("study", "title", "title", "text", "A short name for the study.", True, example="Rails into posts"),
    Column("study", "question", "question", "text", "What the tests were made to answer.", True),
    Column("study", "workshop", "workshop", "text", "Who made the tests: a shop, a class, a lab.", True),
    Column(
        "study", "tested on", "tested_on", "date", "When: 2025, March 2025, 2025-03 or 2025-03-14.", example="2025-03"
    ),
    Column("study", "plan", "plan", "plan", "The number of the plan it follows, if you lodged one.", example="12"),
    Column(
        "study",
        "origin",
        "origin",
        "choice",
        "Your own tests, or figures from a publication.",
        choices=_choice(Study.Origin.choices),
        example="own",
    ),
    Column("study", "citation", "citation", "text", "For published figures: who, what, where, when."),
    Column("study", "source url", "source_url", "text", "Where it can be read (http or https)."),
    Column(
        "study",
        "licence",
        "licence",
        "choice",
        "How others may use the data.",
        True,
        choices=_choice(Study.Licence.choices),
        example="CC-BY-4.0",
    ),
    Column("study", "invented", "invented", "yesno", "Yes if the numbers are made up to try the book."),
    Column(
        "study",
        "length unit",
        "",
        "choice",
        "The unit of lengths typed without one.",
        choices=LENGTH_UNITS,
        example="mm",
    ),
    Column("study", "notes", "notes", "text", "Anything else a reader should know."),
)

SETUP = (
    Column(
        "setup",
        "setup",
        "label",
        "text",
        "A name for the rig, to refer to from the series.",
        True,
        example="jack and arm",
    ),
    Column(
        "setup",
        "loading",
        "loading",
        "word",
        "How the load reaches the joint.",
        True,
        vocabulary="Loading",
        example="cantilever_arm",
    ),
    Column(
        "setup",
        "instrument",
        "instrument",
        "word",
        "What the load was read on.",
        vocabulary="Instrument",
        example="luggage_scale",
    ),
    Column(
        "setup",
        "reads",
        "reads",
        "choice",
        "What a reading is, once converted.",
        choices=_choice(Setup.Reads.choices),
        example="force",
    ),
    Column("setup", "reading unit", "", "text", "The unit of readings typed without one.", example="kg"),
    Column("setup", "ram diameter", "ram_diameter_mm", "length", "Jack with a pressure gauge: bore of the ram."),
    Column(
        "setup",
        "lever ratio",
        "lever_ratio",
        "number",
        "Load at the joint for each unit read, if a lever is between.",
    ),
    Column(
        "setup",
        "arm",
        "arm_mm",
        "length",
        "Joint to load, square to the load: a load means little without it.",
        example="300 mm",
    ),
    Column(
        "setup",
        "arm reference",
        "arm_reference",
        "choice",
        "Which point of the joint the arm is measured to.",
        choices=_choice(Setup.ArmReference.choices),
        example="face",
    ),
    Column("setup", "angle", "angle_deg", "angle", "Load line away from square, in degrees."),
    Column("setup", "span", "span_mm", "length", "Distance between the supports."),
    Column("setup", "load offset", "load_offset_mm", "length", "Two-point bending: support to the nearer load."),
    Column(
        "setup",
        "joint offset",
        "joint_offset_mm",
        "length",
        "Nearer support to the joint, if it is not at mid-span.",
    ),
    Column("setup", "leg", "leg_mm", "length", "Corner test: corner centre to load point, along the leg."),
    Column("setup", "second leg", "leg_b_mm", "length", "The other leg, if it differs."),
    Column("setup", "face offset", "face_offset_mm", "length", "Corner centre to the face of the joint."),
    Column("setup", "friction", "friction", "number", "Friction at rollers, 0 to 0.99."),
    Column("setup", "rail height", "rail_height_mm", "length", "Racking: between the rails' centre lines."),
    Column("setup", "frames", "frame_count", "count", "Racking: frames pushed at once."),
    Column("setup", "push angle", "diagonal_deg", "angle", "Racking: push away from the rail's line, in degrees."),
    Column("setup", "shear faces", "shear_faces", "count", "Lap shear: 1 for a single lap, 2 for a double."),
    Column("setup", "rate", "rate_mm_min", "rate", "Speed of loading, mm/min."),
    Column("setup", "notes", "notes", "text", "Anything odd about the rig."),
)

_DIM_KIND = {
    "tenon_count": "count",
    "fastener_count": "count",
    "finger_count": "count",
    "slope_deg": "angle",
    "scarf_ratio": "number",
}
_DIM_NAME = {
    "tenon_count": "tenons",
    "fastener_count": "fasteners",
    "finger_count": "fingers",
    "slope_deg": "slope",
    "scarf_ratio": "scarf ratio",
}


def _dimension(field: str) -> Column:
    name = _DIM_NAME.get(field, field.removesuffix("_mm").replace("_", " "))
    help_text = str(field_of(Series, field).verbose_name)
    return Column("series", name, field, _DIM_KIND.get(field, "length"), help_text[0].upper() + help_text[1:] + ".")


DIMENSIONS = tuple(_dimension(field) for field in DIMS)

SERIES = (
    Column("series", "series", "label", "text", "A name for the specimens made alike.", True, example="A"),
    Column("series", "setup", "setup", "text", "Which rig they were broken on, if there are several."),
    Column("series", "joint", "joint", "word", "The kind of joint.", True, vocabulary="Joint", example="mt_blind"),
    Column(
        "series",
        "tests",
        "tests",
        "choice",
        "A joint as it is used, or a glue bond by itself.",
        choices=_choice(Series.Tests.choices),
        example="joint",
    ),
    Column(
        "series",
        "timber",
        "timber",
        "word",
        "The timber; without it nothing compares with solid wood.",
        vocabulary="Timber",
        example="oak_northern_red",
    ),
    Column(
        "series",
        "adhesive",
        "adhesive",
        "word",
        "The class of glue.",
        vocabulary="AdhesiveClass",
        example="pva",
    ),
    Column("series", "adhesive note", "adhesive_note", "text", "More on the glue, without brand names."),
    Column(
        "series",
        "grain a",
        "grain_a",
        "choice",
        "Grain of one bonded face.",
        choices=_choice(Series.Grain.choices),
    ),
    Column("series", "grain b", "grain_b", "choice", "Grain of the other.", choices=_choice(Series.Grain.choices)),
    Column(
        "series",
        "control",
        "control",
        "text",
        "The series on the same rig that this one is measured against.",
    ),
    *DIMENSIONS,
    Column("series", "moisture", "moisture_pct", "percent", "Moisture content of the wood, %."),
    Column("series", "density", "density_kgm3", "density", "Density of the wood."),
    Column("series", "cure", "cure_hours", "hours", "From glue-up to test; fresh glue-ups hide what seasons do."),
    Column(
        "series",
        "conditioning",
        "conditioning",
        "choice",
        "What the joints went through before the test.",
        choices=_choice(Series.Conditioning.choices),
        example="indoors",
    ),
    Column("series", "cycles", "cycles", "count", "Load cycles before the test."),
    Column("series", "mean", "mean", "reading", "Summary only: the mean, where single results aren't known."),
    Column("series", "sd", "sd", "reading", "Summary only: the standard deviation, in the mean's unit."),
    Column("series", "n", "n", "count", "Summary only: how many were broken."),
    Column("series", "notes", "notes", "text", "Anything else about these specimens."),
)

SPECIMEN = (
    Column("specimen", "series", "series", "text", "The series it belongs to.", True, example="A"),
    Column("specimen", "specimen", "label", "text", "A name or number; numbered for you if empty.", example="A1"),
    Column(
        "specimen",
        "reading",
        "reading",
        "reading",
        "The highest reading before it broke or you stopped.",
        example="280 lbf",
    ),
    Column(
        "specimen",
        "outcome",
        "outcome",
        "choice",
        "Broke, held (you or the rig stopped first) or void.",
        choices=_choice(Specimen.Outcome.choices),
        example="broke",
    ),
    Column("specimen", "void reason", "void_reason", "text", "If void: it slipped, the rig gave way."),
    Column(
        "specimen",
        "failure place",
        "failure_place",
        "word",
        "Where it broke, or its number on the drawing of the places; this isn't how strong it was.",
        vocabulary="FailurePlace",
        example="bond_line",
    ),
    Column(
        "specimen",
        "wood failure",
        "wood_failure_pct",
        "percent",
        "Share of the bonded face with torn wood, 0 to 100 %.",
    ),
    Column("specimen", "moisture", "moisture_pct", "percent", "Moisture content, if it differs from the series."),
    Column("specimen", "density", "density_kgm3", "density", "Density, if it differs from the series."),
    Column("specimen", "notes", "notes", "text", "Anything you saw."),
)

RECORDS: dict[str, tuple[Column, ...]] = {
    "study": STUDY,
    "setup": SETUP,
    "series": SERIES,
    "specimen": SPECIMEN,
}
SHEETS = {"study": "study", "setup": "setups", "series": "series", "specimen": "specimens"}


def normal(text: str) -> str:
    """A heading without case, underscores, doubled spaces and the unit in brackets."""
    bare = re.sub(r"[(\[][^)\]]*[)\]]", " ", text)
    return " ".join(bare.replace("_", " ").casefold().split())


def unit_in(text: str) -> str:
    """The unit in brackets of a heading, or nothing."""
    found = re.search(r"[(\[]([^)\]]+)[)\]]", text)
    return found.group(1).strip() if found else ""
