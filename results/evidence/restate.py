"""Stored footings made anew for a study that is already in the book."""

from __future__ import annotations

from django.db import transaction

from results.models import Finding, Series, SeriesFooting, Study, bump, rows

from . import packing
from .draft import Draft, Noticed
from .notice import CODES
from .state import state

SPECIMEN_FIELDS = [
    "peak_load_n",
    "moment_nm",
    "force_n",
    "stress_mpa",
    "ratio_solid",
    "ratio_solid_matched",
    "ratio_control",
    "flagged",
]


def as_findings(draft: Draft, noticed: list[Noticed]) -> list[Finding]:
    """What was noticed, as rows that point at the draft's records."""
    series = {one.label: one for one in draft.series}
    specimens = {(label, one.label): one for label, own in draft.specimens.items() for one in own}
    return [
        Finding(
            study=draft.study,
            series=series.get(one.series),
            specimen=specimens.get((one.series, one.specimen)),
            code=one.code,
            severity=one.severity,
            field=one.field[:60],
            value=one.value[:200],
            message=one.message,
            remedy=one.remedy,
        )
        for one in noticed
    ]


@transaction.atomic
def restate(study: Study) -> bool:
    """Climb the ladder again for every series of a study and replace what was stored.

    Returns
    -------
    bool
        Whether any stored number or finding changed.
    """
    before = _stored(study)
    draft = Draft.of(study)
    noticed = state(draft)
    rows.delete_of_series(SeriesFooting, Series.objects.filter(study=study))
    SeriesFooting.objects.bulk_create(draft.footings, batch_size=500)
    specimens = [one for own in draft.specimens.values() for one in own]
    rows.update(specimens, SPECIMEN_FIELDS)
    # Findings about what was typed stand; only those that the numbers gave are made again.
    rows.delete(study.findings.filter(code__in=CODES))
    Finding.objects.bulk_create(as_findings(draft, noticed), batch_size=500)
    packing.store([study.pk])
    bump()
    return before != _stored(study)


def _stored(study: Study) -> tuple[list, list]:
    footings = SeriesFooting.objects.filter(series__study=study).order_by("series_id", "code")
    findings = study.findings.filter(code__in=CODES).order_by("code", "message")
    return (
        list(footings.values_list("series_id", "code", "n", "held", "sum_log", "sum_sq_log", "kept_n", "missing")),
        list(findings.values_list("code", "message")),
    )
