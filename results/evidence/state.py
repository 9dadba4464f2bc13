"""From records to footings: put them on the specimens, sum them up, and notice what the numbers show."""

from __future__ import annotations

import numpy as np

from results.models import SeriesFooting, Summary
from stats.footing.ladder import FOOTINGS

from .climb import Climbed, climb_all
from .draft import Draft, Noticed
from .expect import Book
from .frames import specimen_field
from .notice import notice


def state(draft: Draft, book: Book | None = None) -> list[Noticed]:
    """Put every footing on the draft's specimens and list the draft's stored sums.

    Parameters
    ----------
    draft : Draft
        Its specimens get their footings and `flagged`; its `footings` are replaced.
    book : Book, optional
        What other studies tell of its joints, for whoever states many drafts at once; it is read unless given.

    Returns
    -------
    list of Noticed
        What the numbers show: slips, impossible values, outliers, missing lengths and controls.
    """
    climbed = climb_all(draft)
    noticed = notice(draft, climbed, book)
    doubted = {(one.series, one.specimen) for one in noticed if one.severity == "doubt" and one.series}
    draft.footings = [
        SeriesFooting(series=one, code=code, unit=kind.unit, missing=["a specimen that broke or held"])
        for one in draft.series
        if one.label not in climbed
        for code, kind in FOOTINGS.items()
    ]
    for label, one in climbed.items():
        for specimen in one.told:
            specimen.flagged = (label, specimen.label) in doubted or (label, "") in doubted
        _onto_specimens(one)
        draft.footings += [_stored(one, code) for code in FOOTINGS]
    return noticed


def _onto_specimens(one: Climbed) -> None:
    if one.summary is not None:
        return
    action = one.series.setup.loading.action
    for code in FOOTINGS:
        values = one.values(code)
        field = specimen_field(code, action)
        for at, specimen in enumerate(one.told):
            setattr(specimen, field, None if values is None else float(values[at]))


def _stored(one: Climbed, code: str) -> SeriesFooting:
    footing = one.ladder.footings[code]
    row = SeriesFooting(
        series=one.series,
        code=code,
        unit=footing.unit,
        factor=footing.factor,
        basis=footing.basis,
        steps=[step.to_dict() for step in footing.steps],
        worked=footing.worked,
        missing=list(footing.missing),
    )
    if one.summary is not None:
        row.n = row.kept_n = one.summary.n
        if footing.values is not None:
            _summary_sums(row, one.summary, float(footing.values[0]))
        return row
    broke, kept = one.broke, np.array([not specimen.flagged for specimen in one.told], dtype=bool)
    row.held, row.kept_held = int((~broke).sum()), int((~broke & kept).sum())
    for prefix, which in (("", broke), ("kept_", broke & kept)):
        setattr(row, f"{prefix}n", int(which.sum()))
        if footing.values is not None:
            logs = np.log(footing.values[which])
            setattr(row, f"{prefix}sum_log", float(logs.sum()))
            setattr(row, f"{prefix}sum_sq_log", float((logs**2).sum()))
    return row


def _summary_sums(row: SeriesFooting, summary: Summary, mean: float) -> None:
    """Sums as the logs of `n` specimens with this mean and spread would have, taking them as lognormal.

    With no count the sums are those of one specimen; with no spread there is no sum of squares.
    """
    n = summary.n or 1
    centre, squares = np.log(mean), None
    if summary.sd_si:
        spread = np.log1p((summary.sd_si / summary.mean_si) ** 2)
        centre -= spread / 2
        squares = (n - 1) * spread + n * centre**2 if n > 1 else None
    for prefix in ("", "kept_"):
        setattr(row, f"{prefix}sum_log", float(n * centre))
        setattr(row, f"{prefix}sum_sq_log", None if squares is None else float(squares))
