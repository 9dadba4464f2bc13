"""The form of a rig of one's own: the fields of a setup, as the form for a study shows them."""

from __future__ import annotations

import uuid
from collections.abc import Mapping

from results.evidence import Noticed
from results.intake.columns import LENGTH_UNITS
from results.intake.findings import ERROR, Place
from results.intake.rigs import COLUMNS, ReadRig, input_of, read_rig, rig_cells
from results.intake.rows import same_label
from results.intake.words import Words
from results.models import Rig

from .submit_field import Field, Part
from .submit_fields import Shown
from .submit_typed import Typed

UNIT_OF_LENGTHS = "study-length_unit"


class RigForm:
    """A rig being typed.

    Parameters
    ----------
    cells : mapping of str to str
        What is typed, by the setup's column names.
    length_unit : str
        Unit of lengths typed without one.
    """

    def __init__(self, cells: Mapping[str, str], length_unit: str = "mm") -> None:
        self.cells = dict(cells)
        self.length_unit = length_unit if length_unit in dict(LENGTH_UNITS) else "mm"
        self.words = Words()
        self.noticed: list[Noticed] = []

    @classmethod
    def of(cls, rig: Rig) -> RigForm:
        """A rig's form as it was filled in."""
        return cls(rig_cells(rig))

    @classmethod
    def posted(cls, data: Mapping[str, str]) -> RigForm:
        """What a sent form says."""
        cells = {column.name: data.get(input_of(column.name), "") for column in COLUMNS}
        return cls({name: text for name, text in cells.items() if text.strip()}, data.get(UNIT_OF_LENGTHS, "mm"))

    def read(self) -> ReadRig:
        """What was typed, checked; the findings stand beside their fields from then on."""
        found = read_rig(self.cells, self.length_unit, self.words)
        self.noticed = list(found.noticed)
        return found

    def refuse(self, code: str, column: str, message: str, remedy: str) -> None:
        """Add an error beside a field."""
        place = Place(input_of(column), 0)
        self.noticed.append(Noticed(code, ERROR, message, remedy, record="setup", field=column, place=place))

    @property
    def part(self) -> Part:
        """The fields: those that this loading and this instrument need, and the others."""
        # A name that is only for the layout: the form for a study shows none for its only rig.
        setup = {"setup": " ", **self.cells}
        typed = Typed(uuid.uuid4(), study={"length unit": self.length_unit}, setup=setup)
        self._shown = Shown(typed, self.words, self.noticed)
        part = self._shown.setup
        name = next(made for made in (*part.fields, *part.more) if made.column == "setup")
        name.value, name.help = name.value.strip(), "What you call it; a study's readers see this name."
        return Part([name, *_without(part.fields, name)], _without(part.more, name))

    @property
    def units(self) -> list[str]:
        """Units of readings to choose from; asked for after `part`."""
        return self._shown.units


def _without(fields: list[Field], one: Field) -> list[Field]:
    return [made for made in fields if made is not one]


def taken(user, label: str, but: Rig | None = None) -> Rig | None:
    """Another rig of the user's that has this name already."""
    others = Rig.objects.filter(user=user).exclude(pk__in=[but.pk] if but else [])
    return next((one for one in others if same_label(one.label) == same_label(label)), None)
