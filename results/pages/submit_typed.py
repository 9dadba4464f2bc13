"""What was typed in the submission form: read from what a browser sends, and written as it would send it again."""

from __future__ import annotations

import re
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from results.intake.columns import RECORDS
from results.models import Joint
from results.site.choices import units_now

SERIES_MOST = 20
SPECIMENS_MOST = 100
ROWS_ADDED = 5
SUMMARY = ("mean", "sd", "n")
# What a form is laid out with, or takes over from the last one, before anything is typed in it.
_LAID_OUT = {
    "study": {"licence", "length unit", "origin", "workshop"},
    "setup": {"loading", "instrument", "reads", "arm reference", "reading unit"},
    "series": {"series", "joint", "control"},
}


def slug(column: str) -> str:
    """A column's name as part of an input's name."""
    return column.replace(" ", "_")


@dataclass
class SeriesTyped:
    """What was typed about one series.

    Parameters
    ----------
    values : dict of str to str
        By column name; ``control`` holds the number of another series.
    specimens : list of dict
        One a row of the grid, blank ones too.
    by_mean : bool
        Whether only a mean is known.
    """

    values: dict[str, str] = field(default_factory=dict)
    specimens: list[dict[str, str]] = field(default_factory=list)
    by_mean: bool = False


@dataclass
class Typed:
    """All that was typed in the form; nothing of it is judged here.

    Parameters
    ----------
    key : UUID
        Of this form: sending it twice saves once.
    study, setup, shared : dict of str to str
        By column name.
    series : list of SeriesTyped
        In order.
    change, based_on : int or None
        The study that it changes, and the number of the newest revision of it that was seen.
    why : str
        Why the study is changed.
    rig : int or None
        The contributor's own rig that the setup was filled in from.
    """

    key: uuid.UUID
    study: dict[str, str] = field(default_factory=dict)
    setup: dict[str, str] = field(default_factory=dict)
    shared: dict[str, str] = field(default_factory=dict)
    series: list[SeriesTyped] = field(default_factory=list)
    change: int | None = None
    based_on: int | None = None
    why: str = ""
    rig: int | None = None

    @classmethod
    def start(
        cls, setup: Mapping[str, str], joints: Sequence[Joint], specimens: int, *, published: bool = False
    ) -> Typed:
        """A form laid out for these joints on this setup; by means, where figures are taken from a publication."""
        typed = cls(uuid.uuid4(), setup={name: text for name, text in setup.items() if text})
        origin = "published" if published else "own"
        lengths = "in" if units_now() == "imperial" else "mm"
        typed.study = {"licence": "CC-BY-4.0", "length unit": lengths, "origin": origin}
        for joint in joints[:SERIES_MOST]:
            typed.add_series(joint, specimens)
        controls = [str(at) for at, joint in enumerate(joints) if joint.is_control_kind]
        for at, one in enumerate(typed.series):
            if controls and controls[0] != str(at):
                one.values["control"] = controls[0]
        return typed

    @classmethod
    def posted(cls, data: Mapping[str, str]) -> Typed:
        """What a sent form says."""
        try:
            key = uuid.UUID(data.get("key", ""))
        except (ValueError, AttributeError, TypeError):
            key = uuid.uuid4()
        typed = cls(key, change=number(data.get("change")), based_on=number(data.get("based_on")))
        typed.why, typed.rig = data.get("why", "").strip(), number(data.get("rig"))
        typed.study = _typed(data, "study", "study")
        typed.setup = _typed(data, "setup", "setup")
        typed.shared = _typed(data, "shared", "series")
        for at in range(_count(data.get("series-count"), SERIES_MOST)):
            prefix = f"series-{at}"
            rows = _count(data.get(f"{prefix}-rows"), SPECIMENS_MOST)
            typed.series.append(
                SeriesTyped(
                    _typed(data, prefix, "series"),
                    [_typed(data, f"specimen-{at}-{row}", "specimen") for row in range(rows)],
                    data.get(f"{prefix}-results") == "mean",
                )
            )
        return typed

    def fields(self) -> dict[str, str]:
        """By the names of the inputs, as a browser would send it: what `posted` reads."""
        about = {"key": self.key, "change": self.change, "based_on": self.based_on, "why": self.why, "rig": self.rig}
        said = {name: str(value) for name, value in about.items() if value not in (None, "")}
        parts = [("study", self.study), ("setup", self.setup), ("shared", self.shared)]
        for at, one in enumerate(self.series):
            parts.append((f"series-{at}", one.values))
            parts += [(f"specimen-{at}-{row}", values) for row, values in enumerate(one.specimens)]
            said[f"series-{at}-rows"] = str(len(one.specimens))
            said[f"series-{at}-results"] = "mean" if one.by_mean else "single"
        said["series-count"] = str(len(self.series))
        for prefix, values in parts:
            said |= {f"{prefix}-{slug(name)}": text for name, text in values.items()}
        return said

    @property
    def published(self) -> bool:
        """Whether figures are taken from a publication."""
        return self.study.get("origin") == "published"

    @property
    def begun(self) -> bool:
        """Whether anything was typed that the form was not laid out with."""
        return bool(
            self.change
            or set(self.study) - _LAID_OUT["study"]
            or set(self.setup) - _LAID_OUT["setup"]
            or self.shared
            or any(set(one.values) - _LAID_OUT["series"] for one in self.series)
            or any(says_something(row) for one in self.series for row in one.specimens)
        )

    def add_series(self, joint: Joint, specimens: int) -> None:
        """Another series, named after its joint."""
        if len(self.series) >= SERIES_MOST:
            return
        label = joint.name if joint.name not in self._labels() else self._next_label(joint.name)
        rows: list[dict[str, str]] = [{} for _ in range(max(1, min(specimens, SPECIMENS_MOST)))]
        self.series.append(SeriesTyped({"series": label, "joint": joint.pk}, rows, by_mean=self.published))

    def add_like_last(self) -> None:
        """Another series that says what the last one says, but for its name, its specimens and its figures."""
        if not self.series or len(self.series) >= SERIES_MOST:
            return
        last = self.series[-1]
        values = {name: text for name, text in last.values.items() if name not in SUMMARY}
        values["series"] = self._next_label(values.get("series", f"Series {len(self.series)}"))
        self.series.append(SeriesTyped(values, [{} for _ in last.specimens], last.by_mean))

    def _labels(self) -> set[str]:
        return {one.values.get("series", "") for one in self.series}

    def _next_label(self, label: str) -> str:
        """The name after this one that no series has: B after A, Tenon 3 after Tenon 2, Tenon 2 after Tenon."""
        taken = self._labels()
        while True:
            if re.fullmatch(r"[A-Ya-y]", label):
                label = chr(ord(label) + 1)
            elif found := re.search(r"\d{1,8}$", label):
                label = f"{label[: found.start()]}{int(found[0]) + 1}"
            else:
                label = f"{label} 2"
            if label not in taken:
                return label

    def rows_of_last(self) -> int:
        """How many rows the last series has, for one more like it."""
        return len(self.series[-1].specimens) if self.series else 0

    def add_rows(self, at: int, count: int = ROWS_ADDED) -> None:
        """More rows in the grid of a series."""
        if 0 <= at < len(self.series):
            rows = self.series[at].specimens
            rows += [{} for _ in range(min(count, SPECIMENS_MOST - len(rows)))]

    def drop_series(self, at: int) -> None:
        """Take a series out; those that were measured against it are measured against none."""
        if not 0 <= at < len(self.series):
            return
        del self.series[at]
        for one in self.series:
            control = one.values.get("control", "")
            if control == str(at):
                del one.values["control"]
            elif (other := number(control)) is not None and other > at:
                one.values["control"] = str(other - 1)


def says_something(values: Mapping[str, str]) -> bool:
    """A row of the grid counts once it says more than the outcome it was laid out with."""
    return any(name != "outcome" for name in values) or values.get("outcome", "broke") != "broke"


def number(text: str | None) -> int | None:
    """A number that a sent form says of itself: a record's, a series', a version's; None if it is none.

    Written in the ten digits only: others, such as ``²``, are digits too, and not every one of them is a number.
    """
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 19 else None


def _typed(data: Mapping[str, str], prefix: str, record: str) -> dict[str, str]:
    found = {}
    for column in RECORDS[record]:
        text = data.get(f"{prefix}-{slug(column.name)}", "")
        if text.strip():
            found[column.name] = text
    return found


def _count(text: str | None, most: int) -> int:
    found = number(text)
    return min(found, most) if found is not None and found < 100_000 else 0
