"""From a grid of texts to rows of records: a sheet a record, a list of fields, or one flat table."""

from __future__ import annotations

from dataclasses import dataclass

from .columns import RECORDS, Column, normal, unit_in
from .findings import DOUBT, ERROR, REMARK, Noticed, Place, Unreadable, where
from .headings import FLAT, Headings, find, is_ours, known, nearest
from .rows import Cell, Row, Rows, from_text, same_label


@dataclass
class Grid:
    """The texts of one sheet.

    Parameters
    ----------
    name : str
        The sheet's name; empty for a CSV file.
    rows : list of (int, list of str)
        Row number and texts, for the rows that hold any.
    """

    name: str
    rows: list[tuple[int, list[str]]]

    def place(self, number: int, index: int) -> Place:
        return Place(self.name, number, index + 1)


def study(grid: Grid, rows: Rows) -> None:
    """Read a list of fields and values, or a table with one row, into the study."""
    names = known("study")
    listed = sum(1 for _, texts in grid.rows if normal(texts[0]) in names)
    headings = find(grid.rows, "study")
    if headings and len(headings.columns) > max(listed, 1):
        read = table(grid, "study", rows)
        if read:
            rows.study = read[0]
        return
    rows.study = Row("study", Place(grid.name, 0, 0))
    blanks = {}
    for number, texts in grid.rows:
        name, value = texts[0], texts[1] if len(texts) > 1 else ""
        if normal(name) in ("field", "") or is_ours(name):
            continue
        column, _ = names.get(normal(name), (None, ""))
        place = grid.place(number, 1)
        if column is None:
            if value:
                rows.noticed.append(_unknown(name, grid.place(number, 0), "study", 1))
        elif column.name in rows.study.cells and value:
            rows.noticed.append(_contradiction("study", column, rows.study, value, place))
        elif value:
            rows.study.cells[column.name] = Cell(from_text(value), place, unit_in(name))
        else:
            blanks[column.name] = place
    rows.study.blanks = blanks


def table(grid: Grid, record: str, rows: Rows) -> list[Row]:
    """Read a sheet with a row of headings and a row for each record."""
    headings = _headings(grid, record, rows)
    blanks = {column.name: Place(grid.name, 0, index + 1) for index, column in headings.columns.items()}
    read = []
    for number, texts in grid.rows:
        if number <= headings.number:
            continue
        cells = _cells(grid, number, texts, headings)
        if cells:
            read.append(Row(record, Place(grid.name, number, 0), {c.name: one for c, one in cells}, blanks))
    return read


def flat(grid: Grid, rows: Rows) -> None:
    """Read one table with a row for each specimen, study, setup and series repeated or left blank below."""
    headings = _headings(grid, FLAT, rows)
    _Flat(grid, headings, rows).read()


class _Flat:
    """Sorts the cells of a flat table into records, and sees where repeats contradict each other."""

    def __init__(self, grid: Grid, headings: Headings, rows: Rows) -> None:
        self.grid, self.headings, self.rows = grid, headings, rows
        self.blanks: dict[str, dict[str, Place]] = {record: {} for record in RECORDS}
        for index, column in headings.columns.items():
            self.blanks[column.record][column.name] = Place(grid.name, 0, index + 1)
        rows.study = Row("study", Place(grid.name, headings.number + 1, 0), {}, self.blanks["study"])
        self.setups: dict[str, Row] = {}
        self.series: dict[str, Row] = {}
        self.setup_of: dict[str, str] = {}
        self.told: set[tuple[int, str, str]] = set()

    def read(self) -> None:
        setup = series = ""
        for number, texts in self.grid.rows:
            if number <= self.headings.number:
                continue
            cells: dict[str, dict[str, Cell]] = {record: {} for record in RECORDS}
            for column, cell in _cells(self.grid, number, texts, self.headings):
                cells[column.record][column.name] = cell
            if not any(cells.values()):
                continue
            series_label = cells["series"].get("series") or cells["specimen"].get("series")
            setup_label = cells["setup"].get("setup") or cells["series"].get("setup")
            if series_label:
                series = same_label(series_label.text)
            if setup_label:
                setup = same_label(setup_label.text)
            elif series in self.setup_of:
                setup = self.setup_of[series]
            self._merge(self.rows.study, cells["study"])
            if setup_label:
                cells["setup"].setdefault("setup", setup_label)
                cells["series"].setdefault("setup", setup_label)
            if setup not in self.setups:
                self.setups[setup] = self._row("setup", number)
            self._merge(self.setups[setup], cells["setup"])
            if series_label:
                cells["series"].setdefault("series", series_label)
            if series not in self.series:
                self.series[series] = self._row("series", number)
                self.setup_of[series] = setup
                label = self.setups[setup].cells.get("setup")
                if label:
                    cells["series"].setdefault("setup", label)
            self._merge(self.series[series], cells["series"])
            self._specimen(number, cells["specimen"], series)
        self.rows.setups = list(self.setups.values())
        self.rows.series = list(self.series.values())

    def _row(self, record: str, number: int) -> Row:
        return Row(record, Place(self.grid.name, number, 0), {}, self.blanks[record])

    def _merge(self, row: Row, cells: dict[str, Cell]) -> None:
        for name, cell in cells.items():
            old = row.cells.get(name)
            if old is None:
                row.cells[name] = cell
            elif same_label(old.text) != same_label(cell.text):
                once = (id(row), name, cell.text)
                if once not in self.told:
                    self.told.add(once)
                    column = next(one for one in RECORDS[row.record] if one.name == name)
                    self.rows.noticed.append(_contradiction(row.text(row.record), column, row, cell.text, cell.place))

    def _specimen(self, number: int, cells: dict[str, Cell], series: str) -> None:
        if set(cells) <= {"series"}:
            return
        label = self.series[series].cells.get("series")
        if label:
            cells["series"] = label
        place = Place(self.grid.name, number, 0)
        self.rows.specimens.append(Row("specimen", place, cells, self.blanks["specimen"]))


def _headings(grid: Grid, which: str, rows: Rows) -> Headings:
    headings = find(grid.rows, which)
    if headings is None:
        wanted = ", ".join(
            column.key if which == FLAT else column.name
            for record in (RECORDS if which == FLAT else [which])
            for column in RECORDS[record]
            if column.required
        )
        sheet = f"sheet {grid.name}" if grid.name else "the file"
        first = ", ".join(repr(text) for text in grid.rows[0][1] if text)[:120] if grid.rows else "nothing"
        raise Unreadable(
            "no-headings",
            f"No row of headings was found in {sheet}; its first row holds {first}.",
            f"One row must hold the names of the columns, one cell each and none merged: {wanted} at least.",
        )
    _complain(grid, headings, which, rows)
    return headings


def _complain(grid: Grid, headings: Headings, which: str, rows: Rows) -> None:
    """Notice what stands above, beside and under headings that are not the book's."""
    above = [(n, text) for n, texts in grid.rows if n < headings.number for text in texts if text]
    if above:
        rows.noticed.append(
            Noticed(
                "above-headings",
                REMARK,
                f"What stands above the headings is not read: {above[0][1][:80]!r}.",
                "Nothing, if it is a title only; move anything else into notes.",
                record="study",
                value=above[0][1][:80],
                place=Place(grid.name, above[0][0], 1),
            )
        )
    filled: dict[int, int] = {}
    first: dict[int, int] = {}
    for number, texts in grid.rows:
        if number > headings.number:
            for index, text in enumerate(texts):
                if text and index not in headings.columns:
                    filled[index] = filled.get(index, 0) + 1
                    first.setdefault(index, number)
    titles = dict(enumerate(next(texts for n, texts in grid.rows if n == headings.number)))
    for index, count in sorted(filled.items()):
        place = grid.place(headings.number, index)
        title = titles.get(index, "")
        if index in headings.repeated:
            rows.noticed.append(_repeated(title, place, which))
        elif index in headings.unknown:
            rows.noticed.append(_unknown(title, place, which, count))
        elif not is_ours(title):
            rows.noticed.append(
                Noticed(
                    "no-heading",
                    ERROR,
                    f"{where(place) or 'A column'} has no heading, but {count} cells below it hold something "
                    f"(the first in row {first[index]}).",
                    "Give the column its own heading; one merged over several columns names the first only.",
                    record="" if which == FLAT else which,
                    place=place,
                )
            )


def _unknown(title: str, place: Place, which: str, count: int) -> Noticed:
    near = nearest(title, which)
    if near:
        return Noticed(
            "unknown-heading",
            ERROR,
            f"{title!r} is not a name the book knows.",
            f"Did you mean {near!r}?",
            record="" if which == FLAT else which,
            field=title[:60],
            value=title[:200],
            place=place,
        )
    return Noticed(
        "unread-column",
        DOUBT,
        f"{title!r} is not a name the book knows, so what it holds ({count} cells) would not be saved.",
        "Leave it if that is fine; move what matters into notes.",
        record="" if which == FLAT else which,
        field=title[:60],
        value=title[:200],
        place=place,
    )


def _repeated(title: str, place: Place, which: str) -> Noticed:
    return Noticed(
        "repeated-heading",
        ERROR,
        f"{title!r} is the heading of two columns.",
        "Keep one of them.",
        record="" if which == FLAT else which,
        field=title[:60],
        value=title[:200],
        place=place,
    )


def _contradiction(label: str, column: Column, row: Row, value: str, place: Place) -> Noticed:
    old = row.cells[column.name]
    who = "The study" if column.record == "study" else f"{column.record.capitalize()} {label!r}"
    return Noticed(
        "contradiction",
        ERROR,
        f"{who} has {column.name} {old.text[:80]!r} in row {old.place.row} but {value[:80]!r} in row {place.row}.",
        "Make them the same, or leave the second blank; if they are two, give each a name of its own."
        if column.record != "study"
        else "One file holds one study: make them the same, or leave the second blank.",
        record=column.record,
        series=label if column.record in ("setup", "series") else "",
        field=column.name,
        value=value[:200],
        place=place,
    )


def _cells(grid: Grid, number: int, texts: list[str], headings: Headings) -> list[tuple[Column, Cell]]:
    return [
        (column, Cell(from_text(texts[index]), Place(grid.name, number, index + 1), headings.units[index]))
        for index, column in headings.columns.items()
        if index < len(texts) and texts[index]
    ]
