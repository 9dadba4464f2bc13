"""What was noticed in a form, said once and beside the input that it is about."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from results.evidence import Draft, Noticed
from results.intake.examine import Examination
from results.intake.findings import ERROR, Place
from results.intake.typed import column_of
from results.intake.words import Words

from .submit_form import shown_at
from .submit_typed import Typed, slug

# What nobody has to be told while they are still typing.
NOT_YET = frozenset({"missing", "no-results", "few-specimens", "all-void", "no-setup", "no-series"})
# A message on a footing names the fields that it lacks: the arm (arm_mm).
_NAMED = re.compile(r"\((\w+)\)")


def on_form(examination: Examination, typed: Typed, words: Words) -> Examination:
    """Findings once each, and where the form shows what they are about.

    Parameters
    ----------
    examination : Examination
        Of the rows that the form stands for.
    typed : Typed
        The form.
    words : Words
        The vocabularies.
    """
    once: dict[tuple[Place | None, str, str], Noticed] = {}
    place = _Places(typed, words, examination.draft)
    for one in _unit_once(examination.noticed, typed):
        found = place.placed(one)
        once.setdefault((found.place, found.code, found.message), found)
    wrong = {one.place for one in once.values() if one.severity == ERROR}
    # What can't be read is missing too, but that is no news.
    told = [one for one in once.values() if one.code != "footing-missing" or one.place not in wrong]
    return replace(examination, noticed=tuple(told))


def digest(typed: Typed, noticed: Iterable[Noticed]) -> str:
    """What was shown to somebody, so that saving saves nothing they have not seen."""
    of_series = ((one.values, one.specimens, one.by_mean) for one in typed.series)
    said: list[Any] = [typed.study, typed.setup, typed.shared, *of_series]
    said += [typed.change, typed.based_on, typed.why]
    text = "\n".join([json.dumps(said, sort_keys=True), *(f"{one.code}|{one.message}|{one.place}" for one in noticed)])
    return hashlib.sha256(text.encode()).hexdigest()


class _Places:
    """Finds the input for what was noticed of a series or a setup as a whole."""

    def __init__(self, typed: Typed, words: Words, draft: Draft | None) -> None:
        self.typed, self.words = typed, words
        self.at = {one.values.get("series", "").strip(): at for at, one in enumerate(typed.series)}
        self.series = {one.label: one for one in draft.series} if draft else {}

    def placed(self, one: Noticed) -> Noticed:
        if one.code == "no-results" and one.place is not None:
            return self._no_results(one, int(one.place.sheet.split("-")[1]))
        if one.code == "no-control":
            return replace(one, place=self._without_control() or one.place)
        at = self.at.get(one.series)
        if at is None:
            return one
        name = ""
        if one.code == "footing-missing":
            name = self._first_missing(at, one)
        elif one.code == "few-specimens":
            name = self._blank_row(at)
        elif one.field == "reading" and not one.specimen:
            name = self._readings(at)
        elif one.field in ("n", "sd"):
            name = f"series-{at}-{one.field}"
        return replace(one, place=Place(name, 0)) if name else one

    def _no_results(self, one: Noticed, at: int) -> Noticed:
        series = self.typed.series[at]
        name = f"series-{at}-mean" if series.by_mean or not series.specimens else f"specimen-{at}-0-reading"
        return replace(one, place=Place(name, 0))

    def _without_control(self) -> Place | None:
        """Where the first series that is measured against none says so."""
        used = {one.control.label for one in self.series.values() if one.control}
        for label, one in self.series.items():
            bare = one.control is None and label not in used and not one.joint.is_control_kind
            if bare and label in self.at:
                return Place(f"series-{self.at[label]}-control", 0)
        return None

    def _first_missing(self, at: int, one: Noticed) -> str:
        """The first input that a footing lacks: of the rig, the joint, or the timber."""
        for field in _NAMED.findall(one.message):
            if column := column_of("setup", field):
                return f"setup-{slug(column.name)}"
            if column := column_of("series", field):
                return shown_at(self.typed, self.words, at, column)
        return ""

    def _readings(self, at: int) -> str:
        """Where the unit of a series' readings was said: once for all, or in the first of them."""
        one = self.typed.series[at]
        if one.by_mean:
            return f"series-{at}-mean"
        rows = [(number, row["reading"]) for number, row in enumerate(one.specimens) if row.get("reading", "").strip()]
        if rows and "reading unit" in self.typed.setup and not any(c.isalpha() for c in rows[0][1]):
            return "setup-reading_unit"
        return f"specimen-{at}-{rows[0][0]}-reading" if rows else ""

    def _blank_row(self, at: int) -> str:
        rows = self.typed.series[at].specimens
        blank = next((number for number, row in enumerate(rows) if not row.get("reading", "").strip()), len(rows) - 1)
        return f"specimen-{at}-{blank}-reading"


def _unit_once(noticed: tuple[Noticed, ...], typed: Typed) -> tuple[Noticed, ...]:
    """Where all readings wait for one unit that was left blank, that unit is what is missing."""
    bare = [one for one in noticed if (one.code, one.field) == ("unit-missing", "reading")]
    if len(bare) < 2 or "reading unit" in typed.setup:
        return noticed
    said = replace(
        bare[0],
        message=f"Reading unit is blank, and {len(bare)} readings have no unit of their own.",
        record="setup",
        series="",
        specimen="",
        field="reading unit",
        value="",
        place=Place("setup-reading_unit", 0),
    )
    return (said, *(one for one in noticed if one not in bare))
