"""Cells copied from a spreadsheet into the grid of a series, saying all that could not be taken."""

from __future__ import annotations

from dataclasses import dataclass, field

from results.intake import headings, read_csv
from results.intake.columns import Column
from results.intake.findings import Unreadable
from results.intake.words import Words

from .submit_form import column
from .submit_typed import SPECIMENS_MOST, Typed, says_something

# What the columns are taken for, where no headings say so: the grid's own order.
ORDER = ("reading", "outcome", "failure place", "wood failure", "void reason", "notes")
LINES_MOST = 12


@dataclass
class Pasted:
    """What became of pasted text.

    Parameters
    ----------
    rows, added : int
        Rows that were filled in, and those that were made for it.
    columns : list of str
        What the columns were taken for.
    left_out : list of str
        What was not taken, and why.
    """

    rows: int = 0
    added: int = 0
    columns: list[str] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)

    @property
    def told(self) -> str:
        """In one sentence."""
        if not self.rows:
            return "Nothing was put into the grid."
        more = f", {self.added} of them new" if self.added else ""
        return f"{self.rows} row{'s' if self.rows > 1 else ''} filled in{more}, read as {', '.join(self.columns)}."

    @property
    def lines(self) -> list[str]:
        """What was left out, the first of it."""
        more = len(self.left_out) - LINES_MOST
        return self.left_out[:LINES_MOST] + ([f"and {more} more like these."] if more > 0 else [])


def paste(typed: Typed, at: int, text: str, words: Words) -> Pasted:
    """Put cells into the rows of a series that are still blank, and into new ones.

    Parameters
    ----------
    typed : Typed
        The form; its rows are filled in.
    at : int
        Which series.
    text : str
        As copied from a spreadsheet: lines, with tabs or semicolons between the cells.
    words : Words
        The vocabularies.
    """
    done = Pasted()
    if not 0 <= at < len(typed.series):
        return done
    try:
        cells = read_csv.read(text.strip("\r\n"), "\t" if "\t" in text else ";")
    except Unreadable as refused:
        done.left_out.append(refused.message)
        return done
    rows = [(number, row) for number, row in enumerate(cells, 1) if any(row)]
    taken, units, rows = _columns(rows, done)
    series = typed.series[at]
    free = [one for one in series.specimens if not says_something(one)]
    for number, row in rows:
        if not free:
            if len(series.specimens) >= SPECIMENS_MOST:
                done.left_out.append(_too_many(number, rows[-1][0]))
                break
            series.specimens.append({})
            free.append(series.specimens[-1])
            done.added += 1
        free.pop(0).update(_filled(number, row, taken, units, words, done))
        done.rows += 1
    done.columns = [one.name for index, one in sorted(taken.items()) if any(len(row) > index for _, row in rows)]
    return done


Numbered = list[tuple[int, list[str]]]


def _columns(rows: Numbered, done: Pasted) -> tuple[dict[int, Column], dict[int, str], Numbered]:
    """What each column is, by headings or by its place; and the rows below the headings."""
    by_place = {index: column("specimen", name) for index, name in enumerate(ORDER)}
    if not rows:
        return by_place, {}, rows
    number, first = rows[0]
    found = headings.recognise(number, first, "specimen")
    if found.columns:
        names = [f"column {text!r}" for text in (*found.unknown.values(), *found.repeated.values())]
        done.left_out += [f"{name[0].upper()}{name[1:]}: a specimen has no such field." for name in names]
        return found.columns, found.units, rows[1:]
    if len(rows) > 1 and not any(c.isdigit() for c in first[0]) and first[0]:
        done.left_out.append(f"Row {number} looks like headings: {' | '.join(first)[:80]!r}.")
        return by_place, {}, rows[1:]
    return by_place, {}, rows


def _filled(
    number: int, row: list[str], taken: dict[int, Column], units: dict[int, str], words: Words, done: Pasted
) -> dict[str, str]:
    found = {}
    for index, text in enumerate(row):
        one = taken.get(index)
        if one is None:
            if text and index >= max(taken, default=-1) + 1:
                done.left_out.append(f"Row {number}, column {index + 1}: {text[:40]!r} has no column to go to.")
        elif text:
            unit = units.get(index, "")
            bare = unit and not any(c.isalpha() or c in "\"'%°" for c in text)
            found[one.name] = f"{text} {unit}" if bare else _chosen(one, text, words)
    return found


def _chosen(one: Column, text: str, words: Words) -> str:
    """The code of the only choice that begins with a text; the text as it is, if there are several or none."""
    options: list[tuple[str, str]]
    if one.kind == "choice":
        options = list(one.choices)
    elif one.kind == "word":
        if len(known := words.find(one.vocabulary, text)) == 1:
            return known[0].pk
        options = [(row.pk, row.name) for row in words.rows(one.vocabulary)]
    else:
        return text
    short = text.casefold()
    found = [code for code, label in options if code.casefold().startswith(short) or label.casefold().startswith(short)]
    return found[0] if len(found) == 1 else text


def _too_many(first: int, last: int) -> str:
    rows = f"Row {first} was" if first == last else f"Rows {first} to {last} were"
    return f"{rows} left out: the form holds {SPECIMENS_MOST} specimens of a series; send a spreadsheet for more."
