"""The submission form: what was typed in it, the fields it shows, and the rows it hands to the intake."""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from results.intake.check import COLUMNS
from results.intake.columns import RECORDS, Column
from results.intake.findings import Place
from results.intake.rows import Cell, Row, Rows
from results.intake.words import Words
from results.models import Joint

SERIES_MOST = 20
SPECIMENS_MOST = 100
ROWS_ADDED = 5
# Said once for all series; a series that differs says so itself.
SHARED = (
    "timber",
    "adhesive",
    "moisture",
    "density",
    "cure",
    "conditioning",
    "tests",
    "adhesive note",
    "grain a",
    "grain b",
    "cycles",
)
SUMMARY = ("mean", "sd", "n")


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
    """

    key: uuid.UUID
    study: dict[str, str] = field(default_factory=dict)
    setup: dict[str, str] = field(default_factory=dict)
    shared: dict[str, str] = field(default_factory=dict)
    series: list[SeriesTyped] = field(default_factory=list)

    @classmethod
    def start(cls, loading: str, instrument: str, joints: Sequence[Joint], specimens: int) -> Typed:
        """A form laid out for these joints."""
        typed = cls(uuid.uuid4())
        typed.study = {"licence": "CC-BY-4.0", "length unit": "mm", "origin": "own"}
        typed.setup = {"loading": loading, "instrument": instrument}
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
        except ValueError:
            key = uuid.uuid4()
        typed = cls(key)
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

    def add_series(self, joint: Joint, specimens: int) -> None:
        """Another series, named after its joint."""
        if len(self.series) >= SERIES_MOST:
            return
        names = {one.values.get("series") for one in self.series}
        label, number = joint.name, 2
        while label in names:
            label, number = f"{joint.name} {number}", number + 1
        values = {"series": label, "joint": joint.pk}
        self.series.append(SeriesTyped(values, [{} for _ in range(max(1, min(specimens, SPECIMENS_MOST)))]))

    def add_rows(self, at: int) -> None:
        """More rows in the grid of a series."""
        if 0 <= at < len(self.series):
            rows = self.series[at].specimens
            rows += [{} for _ in range(min(ROWS_ADDED, SPECIMENS_MOST - len(rows)))]

    def drop_series(self, at: int) -> None:
        """Take a series out; those that were measured against it are measured against none."""
        if not 0 <= at < len(self.series):
            return
        del self.series[at]
        for one in self.series:
            control = one.values.get("control", "")
            if control == str(at):
                del one.values["control"]
            elif control.isdigit() and int(control) > at:
                one.values["control"] = str(int(control) - 1)


def _typed(data: Mapping[str, str], prefix: str, record: str) -> dict[str, str]:
    found = {}
    for column in RECORDS[record]:
        text = data.get(f"{prefix}-{slug(column.name)}", "")
        if text.strip():
            found[column.name] = text
    return found


def _count(text: str | None, most: int) -> int:
    return min(int(text), most) if text and text.isascii() and text.isdigit() and len(text) < 6 else 0


def rows_of(typed: Typed, words: Words) -> Rows:
    """The rows a form stands for; each cell's place is the name of its input.

    What all series share is given to each that says nothing of its own, as far as it concerns its joint.
    """
    rows = Rows(_row("study", "study", typed.study, "study"))
    rows.setups.append(_row("setup", "setup", typed.setup, "setup"))
    for at, one in enumerate(typed.series):
        row = _row("series", f"series-{at}", one.values, f"series-{at}")
        _share(row, typed.shared, one, words)
        _name_control(row, typed)
        rows.series.append(row)
        label = row.cells.get("series")
        taken = {values.get("specimen", "").strip() for values in one.specimens}
        for number, values in enumerate(one.specimens):
            if not _says_something(values):
                continue
            name = f"specimen-{at}-{number}"
            specimen = _row("specimen", name, values, name)
            if label:
                specimen.cells["series"] = label
            # A specimen without a name goes by the number of its line, as the form shows it.
            if "specimen" not in values and str(number + 1) not in taken:
                specimen.cells["specimen"] = Cell(str(number + 1), specimen.where("specimen"))
            rows.specimens.append(specimen)
    return rows


def _row(record: str, prefix: str, values: dict[str, str], element: str) -> Row:
    cells = {name: Cell(text.strip(), Place(f"{prefix}-{slug(name)}", 0)) for name, text in values.items()}
    blanks = {column.name: Place(f"{prefix}-{slug(column.name)}", 0) for column in RECORDS[record]}
    if record == "series":  # what is missing in these is filled in where it is said for all
        blanks |= {name: Place(f"shared-{slug(name)}", 0) for name in SHARED}
    return Row(record, Place(element, 0), cells, blanks)


def _share(row: Row, shared: dict[str, str], one: SeriesTyped, words: Words) -> None:
    joint = joint_of(one, words)
    for name, text in shared.items():
        if name not in row.cells and concerns(name, joint):
            row.cells[name] = Cell(text.strip(), Place(f"shared-{slug(name)}", 0))


def concerns(name: str, joint: Joint | None) -> bool:
    """Whether what is said for all series is said of a joint too: its sizes, and glue where there is any."""
    if joint is None:
        return True
    if name not in SHARED and COLUMNS["series"][name].field not in joint.dims:
        return False
    return not (joint.pk == "solid" and name.startswith("adhesive"))


def _name_control(row: Row, typed: Typed) -> None:
    cell = row.cells.get("control")
    if cell is None or not cell.text.isdigit():
        return
    at = int(cell.text)
    if at < len(typed.series):
        label = typed.series[at].values.get("series", "").strip()
        row.cells["control"] = Cell(label or f"series {at + 1}", cell.place)


def _says_something(values: dict[str, str]) -> bool:
    """A row of the grid counts once it says more than the outcome it was laid out with."""
    return any(name != "outcome" for name in values) or values.get("outcome", "broke") != "broke"


def joint_of(one: SeriesTyped, words: Words) -> Joint | None:
    """The joint of a series, if it is one."""
    found = words.find("Joint", one.values.get("joint", ""))
    return found[0] if len(found) == 1 else None


def shared_sizes(typed: Typed, words: Words) -> list[str]:
    """Columns of the sizes that two or more series need, so that they are typed once."""
    needed: dict[str, int] = {}
    for one in typed.series:
        joint = joint_of(one, words)
        for name in joint.needs_dims.split() if joint else ():
            needed[name] = needed.get(name, 0) + 1
    return [column.name for column in RECORDS["series"] if needed.get(column.field, 0) > 1]


def blank_joints(words: Words) -> Iterator[tuple[str, list[Joint]]]:
    """The joints to choose from, by family."""
    families: dict[str, list[Joint]] = {}
    for joint in words.rows("Joint"):
        families.setdefault(joint.family.name, []).append(joint)
    yield from families.items()


def column(record: str, name: str) -> Column:
    """A column of the registry."""
    return COLUMNS[record][name]
