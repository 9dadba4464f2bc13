"""What holds between records: names, who belongs to whom, controls, results."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from typing import TypeVar

from .columns import RECORDS
from .findings import ERROR, REMARK, Noticed
from .limits import SERIES_MOST, SETUPS_MOST, SPECIMENS_MOST
from .rows import Cell, Row, Rows, same_label
from .typed import Typed, TypedSeries, TypedSetup
from .values import Values

T = TypeVar("T", bound=Typed)


def tie(values: Values, rows: Rows, setups: list[TypedSetup], series: list[TypedSeries]) -> None:
    """Give each series its setup and control, and see that names are unique and counts within bounds."""
    _some(values, rows, setups, "setup", SETUPS_MOST)
    _some(values, rows, series, "series", SERIES_MOST)
    if len(rows.specimens) > SPECIMENS_MOST:
        values.noticed.append(_too_many("specimens", len(rows.specimens), SPECIMENS_MOST))
    by_setup = _unique(values, setups)
    by_label = _unique(values, series)
    for one in series:
        one.setup = _setup_of(values, one, setups, by_setup)
    for one in series:
        one.control = _control_of(values, one, by_label)
    _circles(values, series)


def _some(values: Values, rows: Rows, found: list, record: str, most: int) -> None:
    if not found:
        values.noticed.append(
            Noticed(
                f"no-{record}",
                ERROR,
                f"There is no {record}.",
                f"Give at least one, with its {', '.join(c.name for c in RECORDS[record] if c.required)}.",
                record=record,
                place=rows.study.place if rows.study.place.row else None,
            )
        )
    if len(found) > most:
        values.noticed.append(_too_many(f"{record} records", len(found), most))


def _too_many(what: str, count: int, most: int) -> Noticed:
    return Noticed(
        "too-many",
        ERROR,
        f"There are {count} {what}; {most} are taken in one study.",
        "Split it into several studies.",
    )


def _unique(values: Values, records: list[T]) -> dict[str, T]:
    """Records by label; a label used twice is told at its second place."""
    found: dict[str, T] = {}
    for one in records:
        if not one.label:
            continue
        first = found.setdefault(same_label(one.label), one)
        if first is not one:
            record = one.row.record
            values.note(
                "duplicate-label",
                f"{record.capitalize()} {one.label!r} is there twice{_also(first.row)}.",
                "Give each a name of its own.",
                row=one.row,
                column=record,
            )
    return found


def _also(row: Row) -> str:
    return f" (also in row {row.place.row})" if row.place.row else ""


def _setup_of(
    values: Values, series: TypedSeries, setups: list[TypedSetup], by_label: dict[str, TypedSetup]
) -> TypedSetup | None:
    text = series.row.text("setup")
    if not text:
        if len(setups) == 1:
            return setups[0]
        if setups:
            values.note(
                "missing",
                f"Setup is blank, and there are {len(setups)}: {_names(by_label)}.",
                "Name the one this series was broken on.",
                row=series.row,
                column="setup",
            )
        return None
    found = by_label.get(same_label(text))
    if found is None and len(setups) == 1 and not setups[0].row.text("setup"):
        return setups[0]  # a single rig that only the series give a name to
    if found is None:
        _unknown(values, series.row, "setup", text, by_label)
    return found


def _control_of(values: Values, series: TypedSeries, by_label: dict[str, TypedSeries]) -> TypedSeries | None:
    text = series.row.text("control")
    if not text:
        return None
    found = by_label.get(same_label(text))
    if found is None:
        _unknown(values, series.row, "control", text, by_label)
    elif found is series:
        values.note(
            "own-control",
            f"Control {text!r} is the series itself.",
            "Name another series, or leave it blank.",
            row=series.row,
            column="control",
        )
    elif series.setup is not None and found.setup is not None and found.setup is not series.setup:
        values.note(
            "control-elsewhere",
            f"Control {text!r} was tested on setup {found.setup.label!r}, this series on {series.setup.label!r}.",
            "A control is broken on the same rig; name one that was, or leave it blank.",
            row=series.row,
            column="control",
        )
    else:
        return found
    return None


def _circles(values: Values, series: list[TypedSeries]) -> None:
    """Controls of controls must come to an end."""
    for one in series:
        path, at = [one], one.control
        while at is not None and at is not one and len(path) <= len(series):
            path.append(at)
            at = at.control
        if at is one:
            names = " → ".join(repr(step.label) for step in [*path, one])
            values.note(
                "circular-control",
                f"Control {one.row.text('control')!r} goes round in a circle: {names}.",
                "Leave the control of the plainest of these blank.",
                row=one.row,
                column="control",
            )


def _unknown(values: Values, row: Row, column: str, text: str, by_label: Mapping[str, Typed]) -> None:
    near = difflib.get_close_matches(same_label(text), by_label, n=1, cutoff=0.6)
    record = "setup" if column == "setup" else "series"
    remedy = f"Did you mean {by_label[near[0]].label!r}?" if near else f"There is {_names(by_label) or 'none yet'}."
    values.note(
        f"unknown-{record}",
        f"{column.capitalize()} {text[:80]!r} is no {record} of this study.",
        remedy,
        row=row,
        column=column,
    )


def _names(by_label: Mapping[str, Typed]) -> str:
    shown = [repr(one.label) for one in list(by_label.values())[:8]]
    return ", ".join(shown) + (" …" if len(by_label) > 8 else "")


def settle_specimens(values: Values, rows: list[Row], by_label: dict[str, TypedSeries]) -> None:
    """Give each specimen's row its series, the one above if it leaves that blank, and its name or number."""
    only = next(iter(by_label.values())).label if len(by_label) == 1 else ""
    last = Cell(only, rows[0].where("series")) if only and rows else None
    for row in rows:
        cell = row.cells.get("series")
        if cell is not None:
            last = cell
            if same_label(cell.text) not in by_label:
                _unknown(values, row, "series", cell.text, by_label)
        elif last is not None:
            row.cells["series"] = Cell(last.text, row.where("series"))
        else:
            values.note(
                "missing",
                "Series is blank; a specimen belongs to a series.",
                f"There is {_names(by_label) or 'none yet'}.",
                row=row,
                column="series",
            )
    _number(rows)


def _number(rows: list[Row]) -> None:
    """Number the specimens that have no name, within their series."""
    taken: dict[str, set[str]] = {}
    for row in rows:
        taken.setdefault(same_label(row.text("series")), set()).add(same_label(row.text("specimen")))
    position: dict[str, int] = {}
    for row in rows:
        series = same_label(row.text("series"))
        position[series] = number = position.get(series, 0) + 1
        if not row.text("specimen"):
            while str(number) in taken[series]:
                number += 1
            taken[series].add(str(number))
            row.cells["specimen"] = Cell(str(number), row.where("specimen"))


def unique_specimens(values: Values, series: TypedSeries) -> None:
    """See that a series has no two specimens of one name."""
    seen: dict[str, Typed] = {}
    for one in series.specimens:
        first = seen.setdefault(same_label(one.label), one) if one.label else one
        if first is not one:
            values.note(
                "duplicate-label",
                f"Specimen {one.label!r} is there twice in series {series.label!r}{_also(first.row)}.",
                "Give each a name of its own, or leave the names blank to have them numbered.",
                row=one.row,
                column="specimen",
            )


def results_of(values: Values, series: TypedSeries) -> None:
    """A series has single results or a mean, never both or neither."""
    summary = "mean" in series.row.cells
    if summary and series.specimens:
        values.note(
            "both-results",
            f"Mean {series.row.text('mean')!r} was given, and {len(series.specimens)} single results too.",
            "Keep the single results and leave mean, sd and n blank; the mean is worked out.",
            row=series.row,
            column="mean",
        )
    elif not summary and not series.specimens:
        values.note(
            "no-results",
            f"Series {series.label!r} has no results: no specimens and no mean.",
            "Give its specimens; or the mean, where single results aren't known.",
            row=series.row,
            column="mean",
        )
    elif series.specimens and all(one.values.get("outcome") == "void" for one in series.specimens):
        values.note(
            "all-void",
            f"All specimens of series {series.label!r} are void, so it says nothing.",
            "Leave the series out, or keep it as a record of what went wrong.",
            row=series.row,
            column="series",
            severity=REMARK,
        )
