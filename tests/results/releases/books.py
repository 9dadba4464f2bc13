"""A small book to release, with something in every table."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from results.evidence import restate
from results.models import Release, Study
from results.releases import make, shelf
from tests.factories import make_finding, make_series, make_setup, make_specimen, make_study, make_summary

ACCEPTED_AT = datetime(2025, 3, 14, 10, 30, 15, 123456, tzinfo=UTC)


def a_study(title: str = "Rails into posts", *, at: datetime = ACCEPTED_AT, **fields) -> Study:
    """Butt joints and tenons, one of each kind of outcome, with footings and a finding."""
    study = make_study(title, accepted_at=at, **fields)
    setup = make_setup(study, label="jack and arm", typed={"arm_mm": "300 mm"}, notes="built of scrap")
    control = make_series(study, setup=setup, joint="butt", label="butt")
    tenons = make_series(
        study, setup=setup, label="tenons", control=control, typed={"member_depth_mm": '1 1/2"'}, moisture_pct=8.0
    )
    for load in (120.0, 140.5, 133.25):
        make_specimen(control, peak_load_n=load, reading_typed=f"{load} N", failure_place="bond_line")
    make_specimen(tenons, peak_load_n=310.0, reading_typed="310 N", notes='a "wide" board,\nö')
    make_specimen(tenons, peak_load_n=400.0, reading_typed="400 N", outcome="held", notes="=1+1")
    make_specimen(tenons, outcome="void")
    restate(study)
    make_finding(study, series=tenons)
    dated(study, at)
    return study


def a_published(title: str = "A chapter", *, at: datetime = ACCEPTED_AT, **fields) -> Study:
    """A mean with count and spread instead of specimens, under the other licence."""
    study = make_study(
        title, accepted_at=at, origin="published", citation="Somebody, 1998", licence="CC0-1.0", **fields
    )
    make_summary(make_series(study, label="means"), sd_typed="100", sd_si=100.0, n=12)
    restate(study)
    dated(study, at)
    return study


def dated(study: Study, at: datetime) -> None:
    """Let the study have last changed then, whatever the clock says."""
    Study.objects.filter(pk=study.pk).update(changed_at=at)


def folder(release: Release) -> Path:
    return shelf.folder() / release.name


def released() -> Release:
    """A new release; it fails if nothing has changed."""
    made = make()
    assert made.new
    return made.release


def bytes_of(release: Release) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder(release).iterdir()}
