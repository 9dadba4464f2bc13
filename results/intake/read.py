"""A file as sent, to rows of what was typed: nothing is converted here, and nothing typed is lost."""

from __future__ import annotations

from pathlib import PurePath

from django.conf import settings

from . import read_csv, read_xlsx, tables
from .columns import SHEETS, normal
from .findings import DOUBT, ERROR, Noticed, Place, Unreadable
from .rows import Rows

__all__ = ["KINDS", "Unreadable", "kind_of", "read", "read_rows"]

KINDS = {"csv": "CSV", "xlsx": "XLSX"}
_ENDINGS = {".csv": "csv", ".txt": "csv", ".tsv": "csv", ".xlsx": "xlsx"}
_OLD_OFFICE = b"\xd0\xcf\x11\xe0"
_OURS = ("readme", "lists")  # sheets of the template that hold nothing to read
_TAKEN = "Send a CSV file, or a workbook saved as XLSX."


def kind_of(data: bytes, name: str) -> str:
    """Whether a file is CSV or XLSX, by its ending and its content, which must agree.

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        Its name.

    Raises
    ------
    Unreadable
        For an empty or too large file, an ending that isn't taken, or a content that is something else.
    """
    most = settings.UPLOAD_MAX_MB
    if not data:
        raise Unreadable("empty", f"The file {name!r} is empty (0 bytes).", _TAKEN)
    if len(data) > most * 1_000_000:
        raise too_large(name, len(data))
    ending = PurePath(name.lower()).suffix
    kind = _ENDINGS.get(ending)
    if kind is None:
        raise Unreadable("wrong-ending", f"Files ending in {ending or 'nothing'!r} aren't taken.", _TAKEN)
    if data.startswith(_OLD_OFFICE):
        raise Unreadable(
            "old-workbook",
            f"{name!r} is an old or a password-protected workbook.",
            "Take the password off and save it as XLSX.",
        )
    is_zip = data.startswith(b"PK\x03\x04")
    if kind == "xlsx" and not is_zip:
        raise Unreadable("wrong-content", f"{name!r} ends in .xlsx but holds no workbook.", _TAKEN)
    if kind == "csv" and is_zip:
        raise Unreadable("wrong-content", f"{name!r} ends in {ending} but holds a workbook or archive.", _TAKEN)
    # A stray NUL in one cell is told by its place; a file full of them is no text at all.
    if kind == "csv" and data.count(0) > len(data) / 50 and data[:2] not in (b"\xff\xfe", b"\xfe\xff"):
        raise Unreadable("wrong-content", f"{name!r} ends in {ending} but holds bytes that are no text (NUL).", _TAKEN)
    return kind


def too_large(name: str, size: int) -> Unreadable:
    """The refusal of a file above the limit."""
    most = settings.UPLOAD_MAX_MB
    return Unreadable(
        "too-large",
        f"{name!r} has {size / 1e6:.0f} MB; at most {most} MB are taken.",
        "Take out pictures and other sheets, or send it in parts.",
    )


def read(data: bytes, name: str) -> Rows:
    """Read a file by its name's ending.

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        Its name.

    Returns
    -------
    Rows
        What was typed, each cell with its place.

    Raises
    ------
    Unreadable
        If there is nothing in it to point at.
    """
    return read_rows(data, kind_of(data, name))


def read_rows(data: bytes, kind: str) -> Rows:
    """Read a file of a known kind, see `read`."""
    if kind == "csv":
        grid, decimal, _ = read_csv.grid(data)
        rows = Rows(tables.Row("study", Place("", 0, 0)), decimal=decimal)
        tables.flat(grid, rows)
        return rows
    grids, noticed = read_xlsx.grids(data)
    rows = Rows(tables.Row("study", Place("study", 0, 0)), noticed=noticed)
    filled = [grid for grid in grids if grid.rows]
    if not filled:
        raise Unreadable("empty", "The workbook holds no text.", "Fill in the template and send that.")
    by_record = _sheets(grids)
    if by_record:
        _read_sheets(by_record, rows)
    else:
        tables.flat(filled[0], rows)
    read = list(by_record.values()) or filled[:1]
    rows.noticed += [_unread(grid) for grid in filled if grid not in read and normal(grid.name) not in _OURS]
    return rows


def _sheets(grids: list[tables.Grid]) -> dict[str, tables.Grid]:
    """The sheets named after records; "setup" and "setups" alike."""
    names = {spelling: record for record, sheet in SHEETS.items() for spelling in (record, sheet)}
    found = {names[normal(grid.name)]: grid for grid in grids if normal(grid.name) in names}
    # One flat table may well stand on a sheet called "study" or "specimens".
    return found if len(found) > 1 else {}


def _read_sheets(by_record: dict[str, tables.Grid], rows: Rows) -> None:
    for record, grid in by_record.items():
        if not grid.rows:
            continue
        if record == "study":
            tables.study(grid, rows)
        elif record == "setup":
            rows.setups = tables.table(grid, record, rows)
        elif record == "series":
            rows.series = tables.table(grid, record, rows)
        else:
            rows.specimens = tables.table(grid, record, rows)
    for record in ("study", "setup", "series"):
        if record not in by_record:
            rows.noticed.append(
                Noticed(
                    "missing-sheet",
                    ERROR,
                    f"The workbook has no sheet named {SHEETS[record]!r}.",
                    "Start from the template, or put everything into one flat table on the only sheet.",
                    record=record,
                )
            )


def _unread(grid: tables.Grid) -> Noticed:
    return Noticed(
        "unread-sheet",
        DOUBT,
        f"Sheet {grid.name!r} holds text but is not read.",
        f"Leave it if that is fine; what should be read stands on sheets named {', '.join(SHEETS.values())}, "
        "or in one flat table on the first sheet.",
        place=Place(grid.name, grid.rows[0][0], 0),
    )
