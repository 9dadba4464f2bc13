"""What somebody who plans a test says in an address: joints, loading, spread, instrument."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any, cast
from urllib.parse import urlencode

from django import forms
from django.conf import settings
from django.http import QueryDict

from results.evidence.choices import WITH, nearest
from results.intake.limits import RANGES
from results.models import AdhesiveClass, Instrument, Joint, Loading, Series, Setup, Timber
from results.models.alphabet import Alphabetical
from stats.errors import MissingInputs, StatsError
from stats.footing.fields import DIM_FIELDS, SETUP_FIELDS
from stats.footing.loading import ACTION_UNITS, LOADINGS, action_at_joint
from stats.footing.reading import INSTRUMENTS
from stats.footing.units import ReadingError, read, show

from .asked import Asked, CountField, QuantityField, WordField

JOINTS = (2, 6)
"""Fewest and most joints that one plan compares."""
CONTROLS = {
    "both": "solid and butt",
    "solid": "solid bars",
    "butt": "glued butt",
    "none": "none",
}
MEMBER = ("member_thickness_mm", "member_depth_mm")
LENGTHS = (*SETUP_FIELDS, "other_depth_mm")
"""What a loading may need, by name."""
COUNTS = {"frame_count": (1, 100), "shear_faces": (1, 2)}
_KINDS = {"angle_deg": "angle", "diagonal_deg": "angle", "friction": "number"}
# The most that an instrument in a shop shows, in SI, by what it reads; our own bounds.
FULL_SCALES = {"force": (10.0, 1e6), "pressure": (0.1, 250.0), "moment": (1.0, 5_000.0)}
_EXAMPLES = {"force": "150 kg", "pressure": "250 bar", "moment": "200 N·m"}


class JointsField(forms.MultipleChoiceField):
    """Joints to compare, each once; blank ones are passed over."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, **kwargs)

    def to_python(self, value: Any) -> list[str]:
        return list(dict.fromkeys(one.strip() for one in super().to_python(value) if one.strip()))

    def validate(self, value: list[str]) -> None:
        known = [str(code) for code, _ in cast(Iterable[tuple[Any, Any]], self.choices)]
        for code in value:
            if code not in known:
                raise forms.ValidationError(f"{code[:80]!r} is no joint of the vocabulary.{nearest(code, known)}")
        if len(value) < JOINTS[0]:
            raise forms.ValidationError(
                f"{len(value)} of {JOINTS[0]} joints given. A plan compares two to six; one of them may be a control, "
                "such as solid or butt."
            )
        if len(value) > JOINTS[1]:
            raise forms.ValidationError(f"{len(value)} joints given; one plan takes {JOINTS[1]} at most.")


def _length(name: str, label: str, **more: Any) -> QuantityField:
    usual = RANGES[name].usual if name in RANGES else None
    low, high = usual or (1.0, 4_000.0)
    return QuantityField("length", low, high, label=label, **more)


def _setup_field(name: str) -> forms.Field:
    """A field for a length or number of the rig."""
    words = {**SETUP_FIELDS, **DIM_FIELDS}[name].words
    label = name.rpartition("_")[0] if name.endswith(("_mm", "_deg")) else name
    label = {"leg_b": "second leg", "diagonal": "push angle", "frame_count": "frames"}.get(label, label)
    label, help_text = label.replace("_", " ").capitalize(), f"{words[0].upper()}{words[1:]}."
    if name == "arm_reference":
        help_text = "Which point of the joint the arm is measured to."
        return WordField(Setup.ArmReference.choices, label=label, help_text=help_text, initial="face")
    if name in COUNTS:
        return CountField(*COUNTS[name], label=label, help_text=help_text)
    if name in _KINDS:
        held = RANGES[name]
        return QuantityField(_KINDS[name], held.low, held.high, label=label, help_text=help_text)
    return _length(name, label, help_text=help_text)


# The fields of a rig come first, made from the names that the statics know.
_Lengths: Any = type(Asked)(  # type: ignore[misc]  # a class made by its metaclass, which types can't follow
    "_Lengths", (Asked,), {name: _setup_field(name) for name in LENGTHS}
)


class PlanAsked(_Lengths):
    """The question of a plan; page, sheet, spreadsheet, lodging and API read it alike."""

    joint = JointsField(label="Joints to compare")
    tests = WordField(Series.Tests.choices, label="What is tested", initial="joint")
    loading = WordField((), label="Loading", initial="cantilever_arm")
    timber = WordField((), label="Timber", empty="not said")
    adhesive = WordField((), label="Glue", empty="not said")
    member_thickness_mm = _length(
        "member_thickness_mm", "Member thickness", help_text="Across the bending plane, such as 20 mm or 3/4 in."
    )
    member_depth_mm = _length("member_depth_mm", "Member depth", help_text="In the bending plane.")
    ratio = QuantityField(
        "number", 0.2, 5.0, label="Ratio worth telling", initial="1.25", help_text="1.25: one takes a quarter more."
    )
    cv_pct = QuantityField(
        "percent", 1.0, 80.0, label="Spread of specimens alike", help_text="Blank: as like series of the book have it."
    )
    power_pct = QuantityField("percent", 50.0, 99.0, label="Chance wanted of telling it", initial="80 %")
    afford = CountField(2, 200, label="Specimens you can make", help_text="Of each joint. Blank: as many as needed.")
    controls = WordField(CONTROLS.items(), label="Controls", initial="both")
    blocks = CountField(1, 50, label="Days, boards or glue-ups", initial=1, help_text="Each gets its share of all.")
    seed = CountField(1, 999_999, label="Number of the order", initial=1, help_text="Another number, another order.")
    instrument = WordField((), label="What reads the load", empty="not said")
    full_scale = forms.CharField(
        required=False, max_length=60, label="The most it shows", help_text="Such as 150 kg, 250 bar or 200 N·m."
    )
    ram_diameter_mm = _length("ram_diameter_mm", "Bore of the ram", help_text="For a jack with a pressure gauge.")
    lever_ratio = QuantityField(
        "number", 0.05, 50.0, label="Lever ratio", help_text="For a lever press: load on the joint for one read."
    )
    rated_n = QuantityField(
        "force", 10.0, 1e6, label="The most the jack gives", help_text="Such as 2000 kg, where the rig gives less."
    )
    expect_nm = QuantityField(
        "moment",
        0.1,
        50_000.0,
        label="Moment to expect",
        help_text="If you know better than the book. A bare number: N·m.",
    )
    expect_n = QuantityField(
        "force",
        1.0,
        500_000.0,
        label="Force to expect",
        help_text="If you know better than the book. A bare number: N.",
    )
    title = forms.CharField(required=False, max_length=200, label="Title", help_text="Blank: named for you.")
    question = forms.CharField(
        required=False, max_length=1_000, label="Question", help_text="What the test is to answer. Blank: said for you."
    )
    workshop = forms.CharField(
        required=False, max_length=120, label="Who tests", help_text="A shop, a class, a lab; for the spreadsheet."
    )
    invented = WordField(
        [("with", "with"), ("without", "without")], label="Invented studies", empty="as the site has it"
    )

    def __init__(self, query: QueryDict, beside: Collection[str] = ()) -> None:
        super().__init__(query, beside)
        joints = Joint.objects.order_by("family__position", "position", "code")
        self.fields["joint"].choices = list(joints.values_list("pk", "name"))
        for name, model in (("loading", Loading), ("instrument", Instrument), ("adhesive", AdhesiveClass)):
            self._words(name, model.objects.order_by("position", "code").values_list("pk", "name"))
        self._words("timber", Timber.objects.order_by(Alphabetical()).values_list("pk", "name"))
        self.action = ""

    def _words(self, name: str, rows: Any) -> None:
        field = self.fields[name]
        field.choices = [*(pair for pair in field.choices if not pair[0]), *rows]

    def pairs(self) -> list[tuple[str, str]]:
        """What was asked as an address has it, without what is blank or the loading doesn't use."""
        unused = {name for name in LENGTHS if name not in self.lengths_shown}
        return [
            (name, value.strip())
            for name in self.fields
            if name not in unused
            for value in self.asked.getlist(name)
            if value.strip()
        ]

    def query(self, **changes: Any) -> str:
        """The address's parameters that ask for the same, or for the same with some changed."""
        pairs = [(name, value) for name, value in self.pairs() if name not in changes]
        return urlencode(pairs + [(name, value) for name, value in changes.items() if value not in (None, "")])

    @property
    def with_invented(self) -> bool:
        """Whether invented studies are looked at."""
        chosen = self.cleaned_data.get("invented")
        return WITH[chosen] if chosen else settings.DEMO

    @property
    def lengths_shown(self) -> list[str]:
        """The lengths that the chosen loading needs or may have; those of the first loading while none is chosen."""
        code = self.data.get("loading", "")
        one = LOADINGS.get(code, LOADINGS["cantilever_arm"])
        more = ("other_depth_mm",) if "arm_reference" in one.optional else ()
        return [*one.needs, *one.optional, *more]

    @property
    def setup(self) -> dict[str, Any]:
        """What was given of the lengths that the loading uses."""
        given = {name: self.cleaned_data.get(name) for name in self.lengths_shown}
        if given.get("arm_reference") == Setup.ArmReference.FACE:
            given.pop("other_depth_mm", None)
        return {name: value for name, value in given.items() if value not in (None, "")}

    def clean(self) -> dict[str, Any]:
        super().clean()
        loading = self.cleaned_data.get("loading")
        if loading:
            self.action = LOADINGS[loading].action
            self._statics(loading)
            self._expected()
        ratio = self.cleaned_data.get("ratio")
        if ratio is not None and abs(ratio - 1) < 0.005:
            self.add_error("ratio", f"A ratio of {show(ratio, digits=4)} is no difference; 1.25 is a quarter more.")
        for name in ("ratio", "power_pct", "blocks", "seed"):
            if name not in self.errors and self.cleaned_data.get(name) is None:
                self.add_error(name, "This is blank; a number is needed.")
        for name in ("title", "question", "workshop"):
            self.cleaned_data[name] = " ".join(self.cleaned_data.get(name, "").split())
        self._instrument()
        return self.cleaned_data

    def _statics(self, loading: str) -> None:
        """Hold the lengths against each other, where the statics refuse them."""
        names = self.lengths_shown
        if any(name in self.errors for name in names):
            return
        for name in LOADINGS[loading].needs:
            if name not in self.setup:
                self.add_error(
                    name, f"{LOADINGS[loading].name} needs {SETUP_FIELDS[name].words}, such as {_such_as(name)}."
                )
        if any(name in self.errors for name in names):
            return
        try:
            action_at_joint(loading, self.setup)
        except MissingInputs as error:
            words = f"{error.what[0].upper()}{error.what[1:]} needs it."
            for name in error.missing:
                self.add_error(name if name in self.fields else None, words)
        except StatsError as error:
            self.blame(error)

    def _expected(self) -> None:
        unit = ACTION_UNITS[self.action]
        wrong, right = ("expect_n", "expect_nm") if unit == "N·m" else ("expect_nm", "expect_n")
        if self.cleaned_data.get(wrong) is not None:
            label = str(self.fields[right].label).lower()
            self.add_error(wrong, f"Joints are tested in {self.action} here; give the {label} instead.")

    @property
    def expect(self) -> float | None:
        """What the joints should bear by who plans it [N·m or N]."""
        return self.cleaned_data.get("expect_nm") or self.cleaned_data.get("expect_n")

    def _instrument(self) -> None:
        code, text = self.cleaned_data.get("instrument"), self.cleaned_data.get("full_scale")
        self.cleaned_data["full_scale_si"] = None
        if not text or "full_scale" in self.errors:
            return
        if not code:
            if "instrument" not in self.errors:
                self.add_error("instrument", f"Say what it is that shows {text} at the most.")
            return
        kind = INSTRUMENTS[code].reads
        low, high = FULL_SCALES[kind]
        try:
            value = read(text, kind).si
        except ReadingError as error:
            self.add_error("full_scale", str(error))
            return
        if not low <= value <= high:
            unit = {"force": "N", "pressure": "MPa", "moment": "N·m"}[kind]
            taken = f"{show(low)} to {show(high, unit)} is taken, such as {_EXAMPLES[kind]}"
            self.add_error("full_scale", f"{text} is {show(value, unit)}; {taken}.")
            return
        self.cleaned_data["full_scale_si"] = value
        for name in INSTRUMENTS[code].needs:
            if self.cleaned_data.get(name) is None and name not in self.errors:
                self.add_error(name, f"A {INSTRUMENTS[code].name.lower()} tells no force without it.")


def _such_as(name: str) -> str:
    return {"arm_mm": "300 mm or 12 in", "frame_count": "1"}.get(name, "400 mm or 16 in")
