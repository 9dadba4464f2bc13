"""A study's records made to say what a draft says.

Records are told apart by their labels, so that a setup, series or specimen that stays keeps its key, and with it the
photos and questions that point at it. What is renamed is taken out and put in anew; photos and questions on it fall
back to the study.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.db import models, transaction

from results.evidence import Draft, Noticed, as_findings, packing
from results.evidence.restate import SPECIMEN_FIELDS
from results.models import Finding, Photo, Question, Series, SeriesFooting, Setup, Specimen, Study, Summary, bump, rows
from results.models.fields import field_of

from .document import SERIES, SETUP, SPECIMEN, STUDY

_SETUP = (*SETUP, "rig")
_SERIES = (*SERIES, "setup", "control")
_SPECIMEN = tuple(dict.fromkeys((*SPECIMEN, "position", *SPECIMEN_FIELDS)))
# What points at a specimen or series and outlives it.
_POINTING = (Photo, Question)


@transaction.atomic
def replace(study: Study, draft: Draft, noticed: Iterable[Noticed]) -> None:
    """Put a draft in the place of a study's records, with its footings and findings.

    Parameters
    ----------
    study : Study
        The saved study; call it with the study's row locked. Its status stays as it is.
    draft : Draft
        With its footings stated. Its records become the saved ones and get their keys.
    noticed : iterable of Noticed
        All that the checks noticed about it.
    """
    _study(study, draft)
    rows.delete(Finding.objects.filter(study=study))
    for model in (SeriesFooting, Summary):
        rows.delete_of_series(model, Series.objects.filter(study=study))
    gone_setups = _setups(study, draft)
    gone_series = _series(study, draft)
    _specimens(draft, gone_series)
    _let_go("series", gone_series)
    rows.delete_by_key(Series, gone_series)
    rows.delete_by_key(Setup, gone_setups)
    Summary.objects.bulk_create(draft.summaries.values())
    SeriesFooting.objects.bulk_create(draft.footings, batch_size=rows.AT_A_TIME)
    Finding.objects.bulk_create(as_findings(draft, list(noticed)), batch_size=rows.AT_A_TIME)
    packing.store([study.pk])
    bump()


def empty(study: Study) -> None:
    """Take all of a study's records out, in bulk; the study itself stays to be deleted."""
    for one in _POINTING:
        one.objects.filter(study=study).update(series=None, specimen=None)
    rows.delete(Finding.objects.filter(study=study))
    for model in (SeriesFooting, Summary, Specimen):
        rows.delete_of_series(model, Series.objects.filter(study=study))
    Series.objects.filter(study=study).update(control=None)
    rows.delete(Series.objects.filter(study=study))
    rows.delete(Setup.objects.filter(study=study))


def _study(study: Study, draft: Draft) -> None:
    for name in STUDY:
        setattr(study, name, getattr(draft.study, name))
    study.save(update_fields=[*STUDY, "changed_at"])
    draft.study = study
    for setup in draft.setups:
        setup.study = study
    for series in draft.series:
        series.study = study


def _setups(study: Study, draft: Draft) -> list[int]:
    """Save the setups; the keys of those that are no longer there."""
    known = dict(Setup.objects.filter(study=study).values_list("label", "pk"))
    stay, new = _parted(draft.setups, known)
    rows.update(stay, _SETUP)
    Setup.objects.bulk_create(new)
    return list(known.values())


def _series(study: Study, draft: Draft) -> list[int]:
    """Save the series, pointing at their setups and controls; the keys of those that are no longer there."""
    known = dict(Series.objects.filter(study=study).values_list("label", "pk"))
    stay, new = _parted(draft.series, known)
    # A series can't point at a control that has no key yet, and none may be left pointing at what goes.
    controls = [(one, one.control) for one in draft.series]
    for one in draft.series:
        one.setup = one.setup  # takes over the key that the setup has got
        one.control = None
    Series.objects.bulk_create(new, batch_size=rows.AT_A_TIME)
    for one, control in controls:
        one.control = control
    rows.update(stay, _SERIES)
    rows.update([one for one in new if one.control is not None], ["control"])
    return list(known.values())


def _parted(records: list[Any], known: dict[str, int]) -> tuple[list[Any], list[Any]]:
    """Those whose labels are known, given their keys, and the others; `known` keeps what no record names."""
    stay: list[Any] = []
    new: list[Any] = []
    for one in records:
        key = known.pop(one.label, None)
        one.pk, one._state.adding = key, key is None
        (new if key is None else stay).append(one)
    return stay, new


def _specimens(draft: Draft, gone_series: list[int]) -> None:
    """Save the specimens: new ones, and of those that stay the ones that say something else than before."""
    fields = [field_of(Specimen, name).attname for name in _SPECIMEN]
    stay, new, gone = [], [], []
    for series in draft.series:
        before = Specimen.objects.filter(series_id=series.pk).values_list("pk", *fields).order_by()
        label = 1 + fields.index("label")
        known = {row[label]: row for row in before.iterator(chunk_size=rows.AT_A_TIME)}
        for one in draft.specimens.get(series.label, []):
            one.series = series
            row = known.pop(one.label, None)
            one.pk, one._state.adding = row and row[0], row is None
            if row is None:
                new.append(one)
            elif row[1:] != tuple(getattr(one, name) for name in fields):
                stay.append(one)
        gone += [row[0] for row in known.values()]
    gone += Specimen.objects.filter(series__in=gone_series).values_list("pk", flat=True)
    _let_go("specimen", gone)
    rows.delete_by_key(Specimen, gone)
    rows.update(stay, _SPECIMEN)
    Specimen.objects.bulk_create(new, batch_size=rows.AT_A_TIME)


def _let_go(name: str, keys: list[int]) -> None:
    """Leave what points at records that go with the study alone."""
    for start in range(0, len(keys), rows.AT_A_TIME):
        part = keys[start : start + rows.AT_A_TIME]
        for model in _POINTING:
            pointing: models.QuerySet = model.objects.filter(**{f"{name}__in": part})
            pointing.update(**{name: None})
