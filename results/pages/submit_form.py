"""The rows that the submission form hands to the intake, each cell with the name of its input as its place."""

from __future__ import annotations

from collections.abc import Iterator

from results.intake.check import COLUMNS
from results.intake.columns import RECORDS, Column
from results.intake.findings import Place
from results.intake.rows import Cell, Row, Rows
from results.intake.words import Words
from results.models import Joint

from .submit_typed import SeriesTyped, Typed, number, says_something, slug

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
        for line, values in enumerate(one.specimens):
            if not says_something(values):
                continue
            name = f"specimen-{at}-{line}"
            specimen = _row("specimen", name, values, name)
            if label:
                specimen.cells["series"] = label
            # A specimen without a name goes by the number of its line, as the form shows it.
            if "specimen" not in values and str(line + 1) not in taken:
                specimen.cells["specimen"] = Cell(str(line + 1), specimen.where("specimen"))
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
    at = number(cell.text) if cell is not None else None
    if cell is not None and at is not None and at < len(typed.series):
        label = typed.series[at].values.get("series", "").strip()
        row.cells["control"] = Cell(label or f"series {at + 1}", cell.place)


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


def shown_at(typed: Typed, words: Words, at: int, one: Column) -> str:
    """The input of a series that is left blank: among what all series share, where the form asks for it there."""
    if one.name in typed.series[at].values or one.name not in (*SHARED, *shared_sizes(typed, words)):
        return f"series-{at}-{slug(one.name)}"
    return f"shared-{slug(one.name)}"
