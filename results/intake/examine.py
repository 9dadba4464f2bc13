"""From what was sent to what would be saved: read, check, build and state the footings, in one call."""

from __future__ import annotations

from dataclasses import dataclass, replace

from django.contrib.auth.models import User

from results import measured
from results.evidence import Draft, Noticed, state

from .build import build
from .check import check
from .findings import by_severity, has_errors
from .read import read
from .readable import readable_part
from .rows import Row, Rows, same_label
from .typed import Checked, column_of
from .words import Words


@dataclass(frozen=True)
class Examination:
    """A submission looked at from end to end.

    Parameters
    ----------
    rows : Rows
        As typed.
    noticed : tuple of Noticed
        Every finding, gravest first, each with its place if it can be pointed at.
    draft : Draft or None
        What would be saved, footings and all; None while there are errors.
    checked : Checked or None
        Every value that could be read, as typed and in SI; None if nothing could.
    """

    rows: Rows
    noticed: tuple[Noticed, ...]
    draft: Draft | None
    checked: Checked | None = None

    @property
    def to_save(self) -> Draft:
        """What would be saved.

        Raises
        ------
        ValueError
            Where there are errors, and so nothing to save.
        """
        if self.draft is None:
            raise ValueError("A submission with errors can't be saved; mend them first.")
        return self.draft

    @property
    def may_be_saved(self) -> bool:
        return self.draft is not None and not has_errors(self.noticed)


def examine(rows: Rows, *, sheet: bool = True, words: Words | None = None, by: User | None = None) -> Examination:
    """Check rows, and if they hold, build the records and state their footings.

    Parameters
    ----------
    rows : Rows
        From a file or a form.
    sheet : bool
        Whether they came from a file.
    words : Words, optional
        The vocabularies, if they were read before.
    by : User, optional
        Who sends it, where that is known: a study follows a plan of its own contributor's only.
    """
    checked = check(rows, sheet=sheet, words=words, by=by.pk if by else None)
    if has_errors(checked.noticed):
        found = Examination(rows, tuple(by_severity(checked.noticed)), None, checked)
    else:
        found = _stated(checked, build(checked))
    measured.noticed(found.noticed)
    return found


def examine_so_far(rows: Rows, *, words: Words | None = None, by: User | None = None) -> Examination:
    """Look at a form that is still being filled in: what is wrong, and what the numbers show as far as they go.

    Parameters
    ----------
    rows : Rows
        From a form.
    words : Words, optional
        The vocabularies, if they were read before.
    by : User, optional
        Who sends it, where that is known.

    Returns
    -------
    Examination
        With every finding of the typing; and with those of the numbers too, of the series and specimens that can be
        read. Its draft holds just these: it is no draft to be saved.
    """
    checked = check(rows, sheet=False, words=words, by=by.pk if by else None)
    readable = readable_part(checked)
    if readable is None:
        return Examination(rows, tuple(by_severity(checked.noticed)), None, checked)
    found = _stated(readable, build(readable))
    return Examination(rows, tuple(by_severity([*checked.noticed, *found.noticed])), found.draft, checked)


def _stated(checked: Checked, draft: Draft) -> Examination:
    find = _Finder(checked.rows, draft)
    noticed = [*checked.noticed, *(find.placed(one) for one in state(draft))]
    return Examination(checked.rows, tuple(by_severity(noticed)), draft, checked)


def examine_file(data: bytes, name: str) -> Examination:
    """Read a file and examine it.

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        Its name; the ending tells CSV from XLSX.

    Raises
    ------
    Unreadable
        If there is nothing in it to point at.
    """
    return examine(read(data, name))


class _Finder:
    """Finds where something was typed that was noticed in the numbers only."""

    def __init__(self, rows: Rows, draft: Draft) -> None:
        self.series = {same_label(row.text("series")): row for row in rows.series}
        self.setups = {same_label(row.text("setup")): row for row in rows.setups}
        self.specimens = {row.place: row for row in rows.specimens}
        self.places = draft.places
        self.study = rows.study

    def placed(self, one: Noticed) -> Noticed:
        """The same finding with its place, if it has one."""
        if one.place is not None:
            return one
        row = self._row(one)
        if row is None:
            return one
        column = column_of(row.record, one.field)
        return replace(one, place=row.where(column.name if column else one.field))

    def _row(self, one: Noticed) -> Row | None:
        if one.specimen:
            place = self.places.get((one.series, one.specimen))
            return self.specimens.get(place) if place else None
        series = self.series.get(same_label(one.series)) if one.series else None
        if series is not None and column_of("series", one.field) is None and column_of("setup", one.field):
            return self.setups.get(same_label(series.text("setup"))) or next(iter(self.setups.values()))
        if one.record == "setup":
            return self.setups.get(same_label(one.value))
        return series or (self.study if one.record == "study" else None)
