"""What the form understood: each quantity in SI beside what was typed, and the setup drawn from its lengths."""

from __future__ import annotations

from collections.abc import Iterator

from django.utils.safestring import SafeString, mark_safe

from results.intake.columns import Column
from results.intake.rig import parameters
from results.intake.typed import COLUMNS, Checked, Typed, TypedSetup
from results.intake.values import Quantity
from stats.charts.setup_diagram import setup_diagram
from stats.errors import StatsError
from stats.footing.units import SI

from .study_sheet import shared_sizes
from .wording import exact, tidy

DRAWING = "setup-drawing"
_READ_UNIT = {"force": "N", "moment": "N·m", "stress": "MPa"}


def echoes(checked: Checked) -> dict[str, str]:
    """What each input was read as, by the input's name, where that says more than what was typed.

    Parameters
    ----------
    checked : Checked
        The form's rows, checked.

    Returns
    -------
    dict of str to str
        ``{"setup-arm": "298.45 mm"}``.
    """
    found: dict[str, str] = {}
    for record, setup in _records(checked):
        for name, column in COLUMNS[record.row.record].items():
            cell = record.row.cells.get(name)
            value = record.values.get(column.field or name)
            if cell is None or value is None:
                continue
            told = _told(column, value, setup) if isinstance(value, Quantity) else _word(column, value)
            if told and _bare(told) != _bare(cell.text):
                found[cell.place.sheet] = told
    return found


def _records(checked: Checked) -> Iterator[tuple[Typed, TypedSetup | None]]:
    yield checked.study, None
    for setup in checked.setups:
        yield setup, None
    for one in checked.series:
        yield one, one.setup
        for specimen in one.specimens:
            yield specimen, one.setup


def _told(column: Column, value: Quantity, setup: TypedSetup | None) -> str:
    if column.kind != "reading":
        unit = SI.get(column.kind, "")
        text = exact(value.si) if column.kind == "length" else tidy(value.si)
        return f"{text}°" if unit == "°" else f"{text} {unit}".strip()
    if setup is None or not setup.kind:
        return ""
    read = f"{tidy(value.si)} {SI[setup.kind]}"
    if setup.factor is None or (setup.factor == 1.0 and setup.kind == setup.reads):
        return "" if value.bare and value.unit == SI[setup.kind] else read  # the unit's own field says so
    return f"{read}, so {tidy(value.si * setup.factor)} {_READ_UNIT[setup.reads]}"


def _word(column: Column, value: object) -> str:
    """The day, or the word of the vocabulary, that a free text was taken for."""
    if column.kind == "date":
        return str(value)
    return str(getattr(value, "name", "")) if column.vocabulary == "Timber" else ""


def _bare(text: str) -> str:
    return "".join(text.split()).casefold()


def drawing(checked: Checked) -> SafeString:
    """The form's setup, drawn from the lengths that could be read; what is missing is named on the drawing.

    Parameters
    ----------
    checked : Checked
        The form's rows, checked.

    Returns
    -------
    SafeString
        An ``<svg>`` element; empty while no loading is chosen, or if the lengths can't go together.
    """
    setup = checked.setups[0] if checked.setups else None
    loading = setup.values.get("loading") if setup else None
    if setup is None or loading is None:
        return SafeString("")
    instrument = setup.values.get("instrument")
    given = parameters(setup)
    if "arm_reference" not in setup.values:
        given["arm_reference"] = ""  # the drawing says what it is taken for
    try:
        drawn = setup_diagram(
            loading.pk,
            given,
            shared_sizes(checked.series, lambda one, name: one.si(name) if name in one.values else None),
            reads=setup.reads,
            instrument=instrument.pk if instrument else "",
            label=setup.label if setup.label != "the rig" else "",
            name=DRAWING,
        )
    except StatsError:  # lengths that can't go together are told beside them
        return SafeString("")
    return mark_safe(drawn)  # every text in it is escaped where it is drawn
