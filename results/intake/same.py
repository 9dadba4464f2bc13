"""Whether what was sent again is what was saved before."""

from __future__ import annotations

from typing import Any

from django.db.models import Model

from results.evidence import Draft
from results.models import Specimen, Study
from results.models.fields import field_of

from .build import SERIES, SETUP, SPECIMEN, STUDY

_SUMMARY = ("quantity", "mean_typed", "mean_si", "sd_typed", "sd_si", "n")
_READING = ("reading_typed", "reading_unit")


def same(draft: Draft, study: Study) -> bool:
    """Whether a draft says what a saved study says; what is worked out from it isn't looked at.

    Parameters
    ----------
    draft : Draft
        From `build`.
    study : Study
        A saved one.
    """
    saved = study.series.select_related("setup", "control", "summary")
    specimens: dict[str, list[Specimen]] = {one.label: [] for one in saved}
    for one in Specimen.objects.filter(series__study=study).select_related("series").order_by("position", "id"):
        specimens[one.series.label].append(one)
    before = Draft(
        study=study,
        setups=list(study.setups.all()),
        series=list(saved),
        specimens=specimens,
        summaries={one.label: one.summary for one in saved if one.is_summary},
    )
    return _said(draft) == _said(before)


def _said(draft: Draft) -> tuple[Any, ...]:
    """All that was typed in a draft, in one order."""
    return (
        _values(draft.study, STUDY),
        sorted((_values(one, (*SETUP, "reads", "typed")) for one in draft.setups), key=lambda one: one["label"]),
        [
            (
                _values(one, (*SERIES, "typed")),
                one.setup.label,
                one.control.label if one.control else None,
                [_values(each, (*SPECIMEN, *_READING)) for each in draft.specimens.get(one.label, [])],
                _values(draft.summaries.get(one.label), _SUMMARY),
            )
            for one in sorted(draft.series, key=lambda one: one.label)
        ],
    )


def _values(record: Model | None, names: tuple[str, ...]) -> dict[str, Any]:
    if record is None:
        return {}
    return {name: getattr(record, field_of(type(record), name).attname) for name in names}
