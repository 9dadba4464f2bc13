"""Known weights hung from a rig's instrument, and what it read: as typed, to a calibration or to what is wrong."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import cast

from results.models import Calibration, Rig
from stats.errors import StatsError
from stats.footing import calibration, units
from stats.footing.reading_errors import ReadingError
from stats.inference.slip_factors import FACTORS, Kind

from . import dates
from .rigs import read_rig, rig_cells
from .typed import TypedSetup

POINTS_MOST = 200
WEIGHTS_LEAST = calibration.LEAST_WEIGHTS["zero and gain"]
FELL_MOST = 0.1
"""A reading that falls by more than so much of all readings' range while the weights rise is a mistake, no scatter."""
SLIP_WITHIN = 0.12
"""A gain this near to the factor between two units is a slip of units: instruments are seldom as far off."""
WITHIN_MOST = 0.2
"""Weights known no better than this calibrate nothing."""
YEAR_LEAST = 1950
_KIND_WORDS = {"force": "a weight or a force, such as 20 kg", "moment": "a moment, or a weight at a distance"}
_AT = re.compile(r"\s+(?:at|@)\s+|@", re.IGNORECASE)


@dataclass(frozen=True)
class Fault:
    """What is wrong with something typed.

    Parameters
    ----------
    code : str
        A stable name for this kind of fault.
    field : str
        The name of its input.
    message : str
        What was found and what would be right.
    """

    code: str
    field: str
    message: str


@dataclass(frozen=True)
class Pair:
    """A weight and its reading as typed, and the inputs that they were typed in."""

    hung: str
    read: str
    hung_in: str
    read_in: str


@dataclass
class ReadCalibration:
    """A calibration as it was read.

    Parameters
    ----------
    points : list of (str, str)
        What was hung and read, as typed, each with its unit.
    hung_n, read_n, known_u_n : list of float
        The same as forces or moments, and the weights' standard uncertainties [N or N·m].
    made_on : date or None
        When.
    faults : list of Fault
        What stands in the way.
    """

    points: list[tuple[str, str]] = field(default_factory=list)
    hung_n: list[float] = field(default_factory=list)
    read_n: list[float] = field(default_factory=list)
    known_u_n: list[float] = field(default_factory=list)
    made_on: datetime.date | None = None
    faults: list[Fault] = field(default_factory=list)

    def fault(self, code: str, name: str, message: str) -> None:
        self.faults.append(Fault(code, name, message))


def pairs_in(text: str, name: str) -> list[Pair]:
    """The pairs in lines such as ``20 kg, 19.6``; a part that a line lacks is blank.

    Parameters
    ----------
    text : str
        A pair a line: parted by a tab, a semicolon, a comma and a space, or the line's only comma.
    name : str
        The input that they were typed in.
    """
    found = []
    for line in text.splitlines():
        if not line.strip():
            continue
        signs = [sign for sign in ("\t", ";", ", ") if sign in line] or [","] * (line.count(",") == 1)
        hung, _, read = line.partition(signs[0]) if signs else (line, "", "")
        found.append(Pair(hung.strip(), read.strip(), name, name))
    return found


def read_calibration(
    rig: Rig,
    pairs: Sequence[Pair],
    *,
    hung_unit: str = "",
    read_unit: str = "",
    made_on: str = "",
    within: str = "",
    today: datetime.date | None = None,
) -> ReadCalibration:
    """Read a calibration and hold it against what can't be.

    Parameters
    ----------
    rig : Rig
        The rig, whose instrument says what a reading is.
    pairs : sequence of Pair
        Weights and readings, in the order in which they were taken.
    hung_unit, read_unit : str
        Units of those typed without one.
    made_on : str
        When, as 2025-03-14.
    within : str
        How well the weights are known: a share (1 %) or a weight (50 g); as exact if blank.
    today : date, optional
        The day after which nothing was made yet.
    """
    read = ReadCalibration()
    setup = read_rig(rig_cells(rig)).setup
    if setup.kind not in ("force", "moment", "pressure") or setup.factor is None:
        read.fault("rig", "points", "The rig has to say first what its readings are: mend its instrument and its ram.")
        return read
    read.made_on = _date(read, made_on, today or datetime.date.today())
    pairs = [pair for pair in pairs if pair.hung or pair.read]
    if len(pairs) > POINTS_MOST:
        read.fault("too-many", pairs[-1].hung_in, f"There are {len(pairs)} pairs; {POINTS_MOST} are taken.")
        return read
    for pair in pairs:
        _point(read, pair, setup, hung_unit.strip(), read_unit.strip())
    if not [one for one in read.faults if one.field != "made_on"]:
        _weights(read, pairs)
    if read.hung_n and not [one for one in read.faults if one.field != "made_on"]:
        read.known_u_n = _uncertainties(read, setup, within.strip())
        _line(read, pairs, setup)
    return read


def _date(read: ReadCalibration, text: str, today: datetime.date) -> datetime.date | None:
    try:
        day = datetime.date.fromisoformat(dates.iso(text))
    except ValueError:
        shown = f"{text.strip()[:20]!r} is no date" if text.strip() else "The date is blank"
        read.fault("date", "made_on", f"{shown}; write the day it was made on, such as 2025-03-14.")
        return None
    if day > today:
        read.fault("date", "made_on", f"{day} lies in the future; write the day it was made on.")
    elif day.year < YEAR_LEAST:
        read.fault("date", "made_on", f"{day} is long ago; check the year.")
    return day


def _point(read: ReadCalibration, pair: Pair, setup: TypedSetup, hung_unit: str, read_unit: str) -> None:
    for what, text, name in (("weight", pair.hung, pair.hung_in), ("reading", pair.read, pair.read_in)):
        if not text:
            other = pair.read if what == "weight" else pair.hung
            read.fault(
                "missing", name, f"The {what} that goes with {other[:40]!r} is blank; give both, as 20 kg, 19.6 kg."
            )
            return
    kind = "moment" if setup.kind == "moment" else "force"
    hung = _quantity(read, "weight", pair.hung, kind, hung_unit, pair.hung_in)
    shown = _quantity(read, "reading", pair.read, setup.kind, read_unit, pair.read_in)
    if hung is None or shown is None:
        return
    if hung[0] < 0:
        read.fault("negative", pair.hung_in, f"The weight {pair.hung[:40]!r} is less than nothing; write 0 for none.")
        return
    read.points.append((hung[1], shown[1]))
    read.hung_n.append(hung[0])
    # The factor is that of the ram or the lever: it gives the force that the reading stands for in the book.
    read.read_n.append(float(f"{shown[0] * (setup.factor or 1.0):.12g}"))


def _quantity(read: ReadCalibration, what: str, text: str, kind: str, unit: str, name: str) -> tuple[float, str] | None:
    """A weight or reading in SI, and as typed with its unit."""
    try:
        if kind == "moment" and what == "weight" and _AT.search(text):
            return _at_a_distance(text, unit), text
        if _is_zero(text):  # nothing is nothing in any unit
            return 0.0, text
        found = units.read(text, kind, default_unit=unit or None)
    except ReadingError as error:
        said = str(error).removesuffix(error.hint).strip()
        wanted = f" A {what} here is {_KIND_WORDS[kind]}." if kind in _KIND_WORDS and what == "weight" else ""
        read.fault(error.code, name, f"{what.capitalize()} {text[:40]!r}: {said} {error.hint}{wanted}")
        return None
    return found.si, text if found.unit or not unit else f"{text} {unit}"


def _is_zero(text: str) -> bool:
    return bool(re.fullmatch(r"[+-]?0*(?:[.,]0*)?", text.strip())) and "0" in text


def _at_a_distance(text: str, unit: str) -> float:
    """The moment of a weight hung from a bar: 20 kg at 500 mm."""
    weight, distance = _AT.split(text, maxsplit=1)
    try:
        force = units.read(weight, "force").si
    except units.UnitMissing:
        force = units.read(weight, "force", default_unit=unit or None).si
    return float(f"{force * units.read(distance, 'length').si / 1000:.12g}")


def _weights(read: ReadCalibration, pairs: Sequence[Pair]) -> None:
    """Enough different weights, and readings that rise with them."""
    name = pairs[-1].hung_in if pairs else "points"
    different = len(set(read.hung_n))
    if different < WEIGHTS_LEAST:
        there = "there are none yet" if not different else f"there {'is' if different == 1 else 'are'} {different}"
        read.fault(
            "too-few",
            name,
            f"{WEIGHTS_LEAST} different weights are needed, and {there}: two would fix a line, and only a third can "
            "show whether there is one. What is read with nothing hung on counts: write 0 for its weight.",
        )
        return
    reach = max(read.read_n) - min(read.read_n)
    if reach == 0:
        read.fault(
            "no-answer", pairs[-1].read_in, f"All readings are {pairs[-1].read!r}; the instrument didn't answer."
        )
        return
    _falls(read, pairs, reach)


def _falls(read: ReadCalibration, pairs: Sequence[Pair], reach: float) -> None:
    """Name the worst pair of points in which the heavier weight has by far the smaller reading."""
    worst: float = FELL_MOST
    where: tuple[int, int] | None = None
    for i, light in enumerate(read.hung_n):
        for j, heavy in enumerate(read.hung_n):
            fell = (read.read_n[i] - read.read_n[j]) / reach
            if light < heavy and fell > worst:
                worst, where = fell, (i, j)
    if where is not None:
        lighter, heavier = (read.points[at] for at in where)
        read.fault(
            "falls",
            pairs[where[1]].read_in,
            f"{heavier[0]} was read as {heavier[1]}, but {lighter[0]}, which is less, as {lighter[1]}: readings must "
            "rise with the weights. Check these two, and which column is which.",
        )


def _uncertainties(read: ReadCalibration, setup: TypedSetup, within: str) -> list[float]:
    """Standard uncertainties of the weights: anywhere within the limits alike, u = a/√3 (JCGM 100:2008, 4.3.7)."""
    if not within:
        return [0.0] * len(read.hung_n)
    kind = "moment" if setup.kind == "moment" else "force"
    try:
        if within.rstrip().endswith("%"):
            share = units.read(within, "percent").si / 100
            limits = [share * hung for hung in read.hung_n]
        else:
            half = units.read(within, kind).si
            limits = [half if hung else 0.0 for hung in read.hung_n]
            share = half / max(read.hung_n)
    except ReadingError as error:
        read.fault(error.code, "within", f"{error} Write a share, such as 1 %, or a weight, such as 50 g.")
        return []
    if not 0 <= share <= WITHIN_MOST:
        most = f"{100 * WITHIN_MOST:g} %"
        read.fault("within", "within", f"{within[:40]!r} must be from 0 to {most} of the weights; check its unit.")
    return [limit / math.sqrt(3) for limit in limits]


def _line(read: ReadCalibration, pairs: Sequence[Pair], setup: TypedSetup) -> None:
    """The line itself, which must not be that of another unit."""
    name = pairs[-1].read_in
    try:
        gain = calibration.fit(read.hung_n, read.read_n).gain
    except StatsError as error:
        read.fault("calibration", name, str(error))
        return
    for one in FACTORS[cast(Kind, setup.kind)]:
        for value, likely in ((one.value, one.too_low), (1 / one.value, one.too_high)):
            if abs(math.log(gain / value)) < SLIP_WITHIN:
                small = value > 1
                times = value if small else 1 / value
                read.fault(
                    "unit-slip",
                    name,
                    f"The readings are about {times:.3g} times too {'small' if small else 'large'} for the weights: "
                    f"{likely}. Check the units of both; an instrument is seldom as far off.",
                )
                return


def calibration_of(rig: Rig, read: ReadCalibration, *, unit: str, weights_from: str, within: str) -> Calibration:
    """The record of a calibration without faults, unsaved."""
    return Calibration(
        rig=rig,
        made_on=cast(datetime.date, read.made_on),  # one without faults has its day
        unit=unit.strip(),
        points=[list(point) for point in read.points],
        hung_n=read.hung_n,
        read_n=read.read_n,
        known_u_n=read.known_u_n,
        weights_from=weights_from.strip(),
        weights_within=within.strip(),
    )
