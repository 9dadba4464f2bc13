"""A contributor's own rig, by the same checks as a setup in a study."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from results.evidence import Noticed
from results.models import Rig, Setup

from . import not_known
from .build import SETUP
from .columns import RECORDS
from .findings import DOUBT, Place, has_errors
from .rig import read_setup
from .rows import Cell, Row
from .typed import TypedSetup, column_of
from .values import Quantity, Values
from .words import Words

COLUMNS = RECORDS["setup"]
# These have fields of their own in a rig.
_OWN = {"label", "loading", "instrument", "notes"}


@dataclass(frozen=True)
class ReadRig:
    """A rig as it was read.

    Parameters
    ----------
    setup : TypedSetup
        Its values, and what a reading on it is.
    noticed : tuple of Noticed
        What was noticed; each place is the name of the column's input.
    cells : dict of str to str
        What was typed, by column name.
    """

    setup: TypedSetup
    noticed: tuple[Noticed, ...]
    cells: dict[str, str]

    @property
    def may_be_saved(self) -> bool:
        return not has_errors(self.noticed)

    def fill(self, rig: Rig) -> Rig:
        """Put what was read into a rig, unsaved."""
        values = self.setup.values
        rig.label, rig.loading = values["label"], values["loading"]
        rig.instrument, rig.notes = values.get("instrument"), values.get("notes", "")
        rig.typed = {
            (column.field or column.name): _kept(values[column.field or column.name], self.cells[column.name])
            for column in COLUMNS
            if column.field not in _OWN and (column.field or column.name) in values
        }
        rig.typed |= not_known.said((column, self.cells.get(column.name, "")) for column in COLUMNS)
        return rig


def _kept(value: object, typed: str) -> str:
    """What was typed, with its unit: a rig is used in studies with lengths in another one."""
    return value.typed if isinstance(value, Quantity) else typed


def input_of(column: str) -> str:
    """The name of a column's input on the form."""
    return f"setup-{column.replace(' ', '_')}"


def read_rig(cells: Mapping[str, str], length_unit: str = "", words: Words | None = None) -> ReadRig:
    """Read a rig and hold every rule for setups against it.

    Parameters
    ----------
    cells : mapping of str to str
        What was typed, by the setup's column names.
    length_unit : str
        Unit of lengths typed without one.
    words : Words, optional
        The vocabularies, if they were read before.
    """
    given = {name: text.strip() for name, text in cells.items() if text.strip()}
    row = Row(
        "setup",
        Place("setup", 0),
        {name: Cell(text, Place(input_of(name), 0)) for name, text in given.items()},
        {column.name: Place(input_of(column.name), 0) for column in COLUMNS},
    )
    values = Values(words or Words(), None, sheet=False)
    setup = read_setup(values, row, length_unit, only=False)
    _missing_lengths(values, setup)
    return ReadRig(setup, tuple(values.noticed), given)


def _missing_lengths(values: Values, setup: TypedSetup) -> None:
    """Lengths that the loading needs may be measured later; without them a reading can't be compared."""
    loading = setup.values.get("loading")
    for name in loading.needs.split() if loading else ():
        column = column_of("setup", name)
        if column is None or column.name in setup.row.cells or (name == "arm_mm" and setup.reads == "moment"):
            continue
        values.note(
            "length-missing",
            f"{column.name.capitalize()} is blank; without it readings on this rig can be compared with no other's.",
            "Measure it; the rig can be saved without it meanwhile.",
            row=setup.row,
            column=column.name,
            severity=DOUBT,
        )


def rig_cells(rig: Rig) -> dict[str, str]:
    """What a rig says, by the setup's column names: for the form, and to be read again."""
    said = {"label": rig.label, "loading": rig.loading_id, "instrument": rig.instrument_id or "", "notes": rig.notes}
    typed = said | {name: str(text) for name, text in rig.typed.items()}
    found = {column.name: typed.get(column.field or column.name, "") for column in COLUMNS}
    return {name: text for name, text in found.items() if text}


def setup_of(rig: Rig) -> Setup:
    """The setup that a rig would be in a study, unsaved: to be drawn, and to be held against one that is saved."""
    read = read_rig(rig_cells(rig))
    values = {name: read.setup.si(name) for name in SETUP if name in read.setup.values}
    typed = {name: value.typed for name, value in read.setup.values.items() if isinstance(value, Quantity)}
    return Setup(
        **{**values, "loading": rig.loading, "instrument": rig.instrument}, reads=read.setup.reads, typed=typed
    )


# What a reading is turned into a force by: a calibration holds for these as they were.
READ_BY = ("instrument_id", "reads", "ram_diameter_mm", "lever_ratio")


def reads_alike(one: Setup, other: Setup) -> bool:
    """Whether readings on two setups become forces in the same way."""
    return all(getattr(one, name) == getattr(other, name) for name in READ_BY)
