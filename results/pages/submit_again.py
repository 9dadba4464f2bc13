"""A study back in the form, as it was typed: to be changed, or for a new one to begin from it."""

from __future__ import annotations

import uuid
from collections.abc import Sequence

from django.db.models import Count

from results.evidence import Draft
from results.intake import written
from results.intake.words import Words
from results.models import Setup, Study

from .submit_form import SHARED, concerns, joint_of, shared_sizes
from .submit_typed import SERIES_MOST, SPECIMENS_MOST, SeriesTyped, Typed

# What these say is said by leaving them blank too.
_UNSAID = {"conditioning": "unknown", "tests": "joint", "origin": "own", "invented": "no"}
_SHEAR = ("lap_shear", "block_shear")


def form_holds(study: Study) -> bool:
    """Whether the form has room for a study: one rig, not too many series and specimens."""
    counted = study.series.order_by().annotate(many=Count("specimens")).values_list("many", flat=True)
    return _room(study.setups.count(), list(counted))


def fits(draft: Draft) -> bool:
    """Whether the form has room for what a draft says."""
    return _room(len(draft.setups), [len(draft.specimens.get(one.label, ())) for one in draft.series])


def _room(setups: int, specimens: Sequence[int]) -> bool:
    """Whether the form has room for so many setups, and series with so many specimens each."""
    return setups == 1 and 1 <= len(specimens) <= SERIES_MOST and max(specimens) <= SPECIMENS_MOST


def typed_again(draft: Draft, words: Words) -> Typed:
    """A form with a key of its own that holds what a study says.

    Parameters
    ----------
    draft : Draft
        A study read back whole, of a size that `fits`.
    words : Words
        The vocabularies.
    """
    (setup,) = draft.setups
    typed = Typed(uuid.uuid4(), study=_said(written.study_cells(draft.study)), rig=setup.rig_id)
    typed.study |= {"length unit": "mm", "origin": draft.study.origin}
    typed.setup = _tidy(written.setup_cells(draft, setup), setup)
    unit = typed.setup.get("reading unit", "")
    at = {one.label: str(number) for number, one in enumerate(draft.series)}
    for one in draft.series:
        values = _said(written.series_cells(draft, one))
        del values["setup"]
        if one.control is not None:
            values["control"] = at[one.control.label]
        if setup.loading_id in _SHEAR:
            values["tests"] = one.tests
        rows = [_numbered(cells, number) for number, cells in enumerate(written.specimens_cells(draft, one, unit), 1)]
        typed.series.append(SeriesTyped(values, rows, by_mean=one.label in draft.summaries))
    _share(typed, words)
    return typed


def _said(cells: dict[str, str]) -> dict[str, str]:
    return {name: text for name, text in cells.items() if text != _UNSAID.get(name)}


def _numbered(cells: dict[str, str], number: int) -> dict[str, str]:
    """Without the name, where that is the line's own number."""
    return {name: text for name, text in cells.items() if (name, text) != ("specimen", str(number))}


def _tidy(cells: dict[str, str], setup: Setup) -> dict[str, str]:
    """Without what a setup says by itself."""
    shown = setup.instrument.reads if setup.instrument else "force"
    if setup.reads == (shown if shown in ("moment", "stress") else "force"):
        cells.pop("reads", None)
    if setup.arm_mm is None:
        cells.pop("arm reference", None)
    if setup.label == "the rig":
        cells.pop("setup", None)
    return cells


def _share(typed: Typed, words: Words) -> None:
    """Say once what all series say alike that it concerns."""
    for name in (*SHARED, *shared_sizes(typed, words)):
        those = [one for one in typed.series if concerns(name, joint_of(one, words))]
        texts = {one.values.get(name) for one in those}
        if len(texts) == 1 and (text := texts.pop()) is not None:
            typed.shared[name] = text
            for one in those:
                del one.values[name]
