"""What a study's numbers show: slips of unit, impossible values, outliers, and what is missing for comparing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, get_args

import numpy as np

from results.models import Series, Specimen
from stats.charts.look import counted
from stats.errors import StatsError
from stats.footing.ladder import FOOTINGS
from stats.footing.units import show
from stats.inference import outliers
from stats.inference.slip_factors import Kind

from .climb import Climbed
from .draft import Draft, Noticed
from .expect import Book, Expected, expectations

CODES = (
    "unit-slip-series",
    "unit-slip",
    "impossible",
    "outlier",
    "footing-missing",
    "short-arm",
    "fresh-glue",
    "no-spread",
    "no-count",
    "few-specimens",
    "no-control",
)

# Coefficient of variation of clear wood in bending, from memory of the Wood Handbook's table 5-6 (16 %);
# shear (14 %) is close enough to share it.
WOOD_SD_LOG = 0.16
LEAST_ODDS = 2.0
# A unit is set once for a whole series, so that a slip of it is likelier than in one reading (our judgement).
SERIES_SLIP_PRIOR = 0.03
FEWEST_FOR_OUTLIERS = 5
# Per series; at the usual 5 % one sound series in twenty would be doubted.
OUTLIER_ALPHA = 0.01
# Below about twice the member's depth, shear and the rig's grip carry much of the load (common practice).
SHORT_ARM_DEPTHS = 2.0
FRESH_GLUE_HOURS = 24.0


def notice(draft: Draft, climbed: dict[str, Climbed], book: Book | None = None) -> list[Noticed]:
    """List what the numbers of a study show.

    Parameters
    ----------
    draft : Draft
    climbed : dict
        The ladder of each series, by label.
    book : Book, optional
        What other studies tell of its joints; it is read unless given.

    Returns
    -------
    list of Noticed
        Doubts name the series or specimens that `state` then flags; remarks flag nothing.
    """
    centres = {label: one.centre("ratio_solid") for label, one in climbed.items()}
    expected = expectations(draft.series, centres, book)
    found: list[Noticed] = []
    for label, one in climbed.items():
        found += _doubts(one, expected.get(label))
        found += _what_is_missing(one)
        void = len(draft.specimens.get(label, ())) - len(one.told)
        found += _cautions(one, void)
    return found + list(_controls(draft))


def _doubts(one: Climbed, expected: Expected | None) -> list[Noticed]:
    """What is doubted: single specimens first, then the series by what is left of it."""
    single = _specimen_slips(one)
    single += _outliers(one, {doubt.specimen for doubt in single})
    odd = {doubt.specimen for doubt in single}
    whole = _series_slip(one, expected, odd) if expected else []
    # A slip of the whole series explains why all of it is beyond the timber.
    return whole + single + ([] if whole else _impossible(one, odd))


def _readings(one: Climbed) -> np.ndarray:
    """The readings in SI, on the rung where they came in."""
    values = one.values({"force": "peak_load", "moment": "at_joint", "stress": "stress"}[one.reads])
    return np.array([]) if values is None else values


def _typed(specimen: Specimen) -> str:
    unit = specimen.reading_unit
    return specimen.reading_typed if unit in specimen.reading_typed else f"{specimen.reading_typed} {unit}"


def _series_slip(one: Climbed, expected: Expected, odd: set[str]) -> list[Noticed]:
    values = one.values("ratio_solid")
    if values is None:
        return []
    if one.summary is None:
        told = [s.outcome == "broke" and s.label not in odd for s in one.told]
        values = values[np.array(told, dtype=bool)]
    if not len(values):
        return []
    # The median, so that one specimen that nothing explains doesn't speak for the series.
    centre, n = float(np.median(np.log(values))), (one.summary.n or 1) if one.summary else len(values)
    slip = outliers.series_slip(centre, n, expected.mean_log, expected.sd_log, kind=_kind(one), prior=SERIES_SLIP_PRIOR)
    if slip.odds < LEAST_ODDS:
        return []
    return [
        Noticed(
            "unit-slip-series",
            "doubt",
            f"The whole of series {one.series.label} is {_times(slip.residual_log)} what {expected.source} would "
            f"lead one to expect. A slip would explain it: {slip.likely} (odds {_odds(slip.odds)}).",
            f"Check the unit of the readings. Multiplied by {slip.factor:.3g} they would agree.",
            record="series",
            series=one.series.label,
            field="reading",
            value=_typed(one.told[0]) if one.told else _mean_typed(one),
        )
    ]


def _mean_typed(one: Climbed) -> str:
    return one.summary.mean_typed if one.summary else ""


_KINDS: dict[str, Kind] = {kind: kind for kind in get_args(Kind)}


def _kind(one: Climbed) -> Kind:
    """The kind of number that was read off the instrument, which says what slips could be made."""
    instrument = one.series.setup.instrument
    if one.summary is None and instrument is not None and instrument.reads == "pressure":
        return "pressure"
    return _KINDS[one.reads]


def _specimen_slips(one: Climbed) -> list[Noticed]:
    if one.summary or len(one.told) < 2:
        return []
    readings = _readings(one)
    at = _worth_judging(readings)
    report = outliers.unit_slips(readings[at], kind=_kind(one), least_odds=LEAST_ODDS)
    found = []
    for slip in report.slips:
        specimen = one.told[at[slip.index]] if slip.index is not None else None
        which = f"Specimen {specimen.label}" if specimen else "Some specimen"
        found.append(
            Noticed(
                "unit-slip",
                "doubt" if specimen else "remark",
                f"{which} of series {one.series.label} is {_times(slip.residual_log)} the others. "
                f"A slip would explain it: {slip.likely} (odds {_odds(slip.odds)}).",
                f"Check its unit. Multiplied by {slip.factor:.3g} it would agree with the others.",
                record="specimen" if specimen else "series",
                series=one.series.label,
                specimen=specimen.label if specimen else "",
                field="reading",
                value=_typed(specimen) if specimen else "",
            )
        )
    return found


def _worth_judging(readings: np.ndarray) -> np.ndarray:
    """Indices to judge for slips: all of a shop's series; of a long one those far out, with some that are not.

    The smallest slip, pounds for kilograms, is 0.79 on logs; what lies within 0.55 of the median is none.
    """
    if len(readings) <= 100:
        return np.arange(len(readings))
    far = np.abs(np.log(readings) - np.median(np.log(readings))) > 0.55
    near = np.flatnonzero(~far)
    return np.sort(np.concatenate([np.flatnonzero(far)[:100], near[:: max(1, len(near) // 60)]]))


def _impossible(one: Climbed, seen: set[str]) -> list[Noticed]:
    ratios = one.values("ratio_solid")
    if ratios is None or "" in seen:
        return []
    timber = one.series.timber
    name = timber.name if timber else ""
    found = []
    for at in outliers.impossible(ratios, 1.0, ceiling_sd_log=WOOD_SD_LOG):
        label = one.told[at].label if one.told else ""
        if label and label in seen:
            continue
        what = f"Specimen {label}" if label else "The mean"
        found.append(
            Noticed(
                "impossible",
                "doubt",
                f"{what} of series {one.series.label} is {ratios[at]:.2g} times what solid {name} of this size "
                "takes; fewer than one such member in a thousand would bear it.",
                "Check the reading, its unit, the lengths of the setup and the sizes of the joint.",
                record="specimen" if label else "series",
                series=one.series.label,
                specimen=label,
                field="reading",
                value=_typed(one.told[at]) if one.told else _mean_typed(one),
            )
        )
    return found


def _outliers(one: Climbed, seen: set[str]) -> list[Noticed]:
    """Generalised ESD on the logs of the broken specimens that nothing else has explained."""
    kept = [
        (specimen, value)
        for specimen, value, broke in zip(one.told, _readings(one), one.broke, strict=True)
        if broke and specimen.label not in seen
    ] if one.summary is None else []  # fmt: skip
    if len(kept) < FEWEST_FOR_OUTLIERS:
        return []
    logs = np.log([value for _, value in kept])
    try:
        test = outliers.generalised_esd(logs, max(1, len(kept) // 5), OUTLIER_ALPHA)
    except StatsError:  # all equal: a coarse scale, nothing stands out
        return []
    return [
        Noticed(
            "outlier",
            "doubt",
            f"Specimen {kept[at][0].label} of series {one.series.label} lies far from its fellows "
            f"({_times(float(logs[at] - np.median(logs)))} their median; generalised ESD test on logs, 1 %).",
            "Look at the specimen and its notes. It stays in the book; results are given with and without it.",
            record="specimen",
            series=one.series.label,
            specimen=kept[at][0].label,
            field="reading",
            value=_typed(kept[at][0]),
        )
        for at in test.indices
    ]


def _what_is_missing(one: Climbed) -> Iterator[Noticed]:
    for code in ("at_joint", "stress", "ratio_solid"):
        footing = one.ladder.footings[code]
        if footing.values is None and footing.missing:
            yield Noticed(
                "footing-missing",
                "remark",
                f"Series {one.series.label}: {FOOTINGS[code].name} can't be had, since this is missing: "
                f"{'; '.join(footing.missing).rstrip('.')}.",
                "The record is welcome as it is. Add what is missing and it will compare with more of the book.",
                record="series",
                series=one.series.label,
                field=code,
            )
            return  # what is above it lacks the same thing


def _cautions(one: Climbed, void: int) -> Iterator[Noticed]:
    series = one.series
    about: dict[str, Any] = {"record": "series", "series": series.label}
    arm, depth = series.setup.arm_mm, series.member_depth_mm
    if series.setup.loading.action == "bending" and arm and depth and arm < SHORT_ARM_DEPTHS * depth:
        yield Noticed(
            "short-arm",
            "remark",
            f"Series {series.label}: the arm ({show(arm, 'mm')}) is under twice the member's depth "
            f"({show(depth, 'mm')}); so short an arm hides what leverage does to the joint.",
            "Read the result as a short-arm test, or test again with a longer arm.",
            field="arm_mm",
            **about,
        )
    if series.cure_hours and series.cure_hours < FRESH_GLUE_HOURS:
        yield Noticed(
            "fresh-glue",
            "remark",
            f"Series {series.label}: broken {show(series.cure_hours, 'h')} after glue-up; fresh joints say nothing "
            "of what seasons and use do.",
            "Keep a few joints and break them after a year.",
            field="cure_hours",
            **about,
        )
    if one.summary and one.summary.sd_si is None:
        yield Noticed(
            "no-spread",
            "remark",
            f"Series {series.label}: a mean without a standard deviation; its spread is borrowed from like series, "
            "and it carries less weight.",
            "Add the standard deviation if the source gives it.",
            field="sd",
            **about,
        )
    if one.summary and one.summary.n is None:
        yield Noticed(
            "no-count",
            "remark",
            f"Series {series.label}: a mean without a count; it weighs as a single specimen.",
            "Add the number of specimens if the source gives it.",
            field="n",
            **about,
        )
    if not one.summary and 0 < len(one.told) < 3:
        yield Noticed(
            "few-specimens",
            "remark",
            f"Series {series.label} has {_telling(len(one.told), void)}; "
            "three are the fewest that show a spread worth the name.",
            "Break a few more of the same if you can.",
            **about,
        )


def _controls(draft: Draft) -> Iterator[Noticed]:
    measured: dict[str, list[Series]] = {}
    used = {one.control.label for one in draft.series if one.control}
    for one in draft.series:
        if not one.control and one.label not in used and not one.joint.is_control_kind:
            measured.setdefault(one.setup.label, []).append(one)
    for setup, series in measured.items():
        names = ", ".join(repr(one.label) for one in series[:5]) + (" …" if len(series) > 5 else "")
        yield Noticed(
            "no-control",
            "remark",
            f"There is no control on setup {setup!r} for series {names}: a plain glued butt joint or a solid bar "
            "broken on the same rig would let others compare whatever the rig reads.",
            "Name the control series if there is one; if not, break a few next time.",
            record="setup",
            field="control",
            value=setup,
        )


def _telling(count: int, void: int) -> str:
    """How many specimens a series has; void ones that stand there too are told apart."""
    specimens = counted(count, "specimen")
    return f"{specimens} that {'tells' if count == 1 else 'tell'} ({void} void)" if void else specimens


def _times(log: float) -> str:
    factor = float(np.exp(log))
    return f"{show(factor, digits=2)} times" if factor >= 0.095 else f"1/{1 / factor:.0f} of"


def _odds(odds: float) -> str:
    return "over 1000 to 1" if odds > 1000 else f"{odds:.0f} to 1"
