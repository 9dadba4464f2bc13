"""A setup's values: what its readings are, and whether its lengths go together."""

from __future__ import annotations

from typing import Any

from results.models import Instrument, Setup
from stats.errors import MissingInputs, NotCovered, StatsError
from stats.footing import loading as statics
from stats.footing import reading as instruments
from stats.footing import units
from stats.footing.reading_errors import ReadingError

from .not_known import is_not_known
from .rows import Row
from .typed import TypedSetup, column_of, read_all, the_column_of
from .values import Values


def read_setup(values: Values, row: Row, unit: str | None, *, only: bool) -> TypedSetup:
    """Read one setup; the only one of a study may go without a name."""
    skip = ("setup",) if only and "setup" not in row.cells else ()
    setup = TypedSetup(row, read_all(values, row, skip, unit))
    if skip:
        setup.values["label"] = "the rig"
    _readings(values, setup)
    found = setup.values.get("loading")
    if found is not None:
        geometry(values, setup.row, found.pk, parameters(setup))
    return setup


def _name_of(instrument: Instrument | None) -> str:
    return instrument.name if instrument else "it"


def _readings(values: Values, setup: TypedSetup) -> None:
    """Settle what a reading on this setup is, and its factor."""
    instrument: Instrument | None = setup.values.get("instrument")
    said = setup.values.get("reads")
    if any(name in setup.row.cells and name not in setup.values for name in ("instrument", "reads")):
        setup.kind = ""  # told already; what the readings are can't be told before that is mended
        return
    shown = instrument.reads if instrument else said or "force"
    natural = "moment" if shown == "moment" else "stress" if shown == "stress" else "force"
    setup.reads = said or natural
    setup.kind = "stress" if setup.reads == "stress" else shown
    if said and said != "stress" and said != natural:
        values.note(
            "reads-contradicts-instrument",
            f"Reads {said!r} does not fit the instrument: {_name_of(instrument)} shows a {shown}.",
            f"Write {natural}, or name the instrument that was used.",
            row=setup.row,
            column="reads",
        )
    _unit(values, setup)
    if setup.reads == "stress":
        return
    try:
        code = instrument.pk if instrument else "torque_wrench" if shown == "moment" else "force_gauge"
        setup.factor = instruments.to_force(
            1.0, code, ram_diameter_mm=setup.si("ram_diameter_mm"), lever_ratio=setup.si("lever_ratio")
        ).factor
    except MissingInputs as error:
        setup.factor = None
        for name in error.missing:
            column = the_column_of("setup", name)
            text = setup.row.text(column.name)
            if not text or is_not_known(column, text):
                values.note(
                    "missing",
                    f"{column.name.capitalize()} is {repr(text) if text else 'blank'}; "
                    f"{_name_of(instrument)} needs it to give a force.",
                    "Measure it; or convert the readings to a force and name no instrument.",
                    row=setup.row,
                    column=column.name,
                )
    except StatsError as error:
        setup.factor = None
        values.note("rig", str(error), row=setup.row, column=_named(error, setup.row, "instrument"))


def _unit(values: Values, setup: TypedSetup) -> None:
    text = setup.row.text("reading unit")
    if not text or "reading unit" not in setup.values:
        return
    try:
        units.factor(text, setup.kind)
        setup.unit = text
    except ReadingError as error:
        setup.unit = None
        found = str(error).removesuffix(error.hint).strip()
        values.note(
            error.code,
            f"Reading unit {text[:40]!r}: {found}",
            error.hint,
            row=setup.row,
            column="reading unit",
        )


def geometry(values: Values, row: Row, code: str, lengths: dict[str, Any], again: TypedSetup | None = None) -> None:
    """Ask the statics themselves whether they would take these lengths."""
    try:
        statics.action_at_joint(code, lengths)
    except (MissingInputs, NotCovered):
        return  # what is missing is told with the footings
    except StatsError as error:
        if again is not None and _refused(code, parameters(again)):
            return  # told with the setup
        row = again.row if again else row
        name = _named(error, row, "loading")
        message = f"{name} {str(error).partition(' ')[2]}" if name != "loading" else str(error)
        message = message[0].upper() + message[1:]
        values.note("geometry", message, "Check these lengths.", row=row, column=name)


def _refused(code: str, lengths: dict[str, Any]) -> bool:
    try:
        statics.action_at_joint(code, lengths)
    except (MissingInputs, NotCovered):
        return False
    except StatsError:
        return True
    return False


def parameters(setup: TypedSetup) -> dict[str, Any]:
    """The lengths and numbers that were given, as the statics know them."""
    names = (*Setup.LENGTHS, *Setup.NUMBERS)
    given = {name: setup.si(name) for name in names if name in setup.values}
    return {**given, "arm_reference": setup.values.get("arm_reference", "face")}


def _named(error: Exception, row: Row, otherwise: str) -> str:
    """The column of the field that a message begins with."""
    column = column_of(row.record, str(error).split(" ")[0])
    return column.name if column else otherwise
