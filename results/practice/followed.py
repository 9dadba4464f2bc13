"""What became of a plan: the studies that follow it, whether they were planned before tested, and what differs."""

from __future__ import annotations

import calendar
import datetime
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Prefetch, QuerySet
from django.utils.formats import date_format

from results.models import AdhesiveClass, Joint, Loading, Plan, Series, Setup, Specimen, Study, Timber
from stats.charts.look import counted, low

# The latest clocks on earth are twelve hours behind UTC: it may have been the day before where the plan was made.
LATEST_CLOCK = datetime.timedelta(hours=12)
# A length off by less was measured, not changed.
SAME_LENGTH = 0.02


@dataclass(frozen=True)
class Deviation:
    """Something that was done otherwise than planned.

    Parameters
    ----------
    about : str
        What, in words.
    planned, tested : str
        As planned, and as the study says.
    """

    about: str
    planned: str
    tested: str


@dataclass(frozen=True)
class Followed:
    """A study beside the plan that it follows.

    Parameters
    ----------
    plan : Plan
    study : Study
    before : bool
        Whether it was planned before tested.
    why : str
        When it was lodged and tested; for one that isn't marked, why not.
    deviations : tuple of Deviation
    """

    plan: Plan
    study: Study
    before: bool
    why: str
    deviations: tuple[Deviation, ...]


def followed(study: Study) -> Followed | None:
    """A study beside its plan; None for a study that follows none."""
    return None if study.plan is None else _beside(study.plan, study)


def followers(plan: Plan, studies: QuerySet[Study]) -> list[Followed]:
    """The studies that follow a plan, of those that a reader may see; the first handed in first."""
    return [_beside(plan, study) for study in studies.filter(plan=plan).order_by("created_at", "pk")]


def waiting_for(plans: Iterable[Plan]) -> dict[int, list[Study]]:
    """The public studies that follow each of some plans; a plan without any is evidence that is missing."""
    keys = [plan.pk for plan in plans]
    found: dict[int, list[Study]] = {key: [] for key in keys}
    for study in Study.objects.public().filter(plan__in=keys).order_by("created_at", "pk"):
        if study.plan_id is not None:
            found[study.plan_id].append(study)
    return found


def _beside(plan: Plan, study: Study) -> Followed:
    before, why = planned_before(plan, study)
    return Followed(plan, study, before, why, tuple(deviations(plan, study)))


def planned_before(plan: Plan, study: Study) -> tuple[bool, str]:
    """Whether a study was planned before tested, and what that is told by.

    Parameters
    ----------
    plan : Plan
    study : Study

    Notes
    -----
    By the day of testing that the study gives, of which the book knows no hour: the day the plan was lodged counts as
    after it. A year or a month counts by its first day, so that only a day tells within the month of lodging.
    """
    day = (plan.lodged_at - LATEST_CLOCK).date()
    lodged = date_format(plan.lodged_at, "j F Y")
    if study.created_at < plan.lodged_at:
        return False, f"The study was in the book before the plan was lodged on {lodged}."
    if not study.tested_on:
        return False, f"The study doesn't say when it was tested; the plan was lodged on {lodged}."
    first, last = _days(study.tested_on)
    if first >= day:
        return True, f"Lodged on {lodged}, tested {study.tested_on}."
    if last < day:
        return False, f"The tests, of {study.tested_on}, are from before the plan was lodged on {lodged}."
    return False, (
        f"The study says {study.tested_on}, and the plan was lodged on {lodged}: which came first can't be told "
        "without the day of testing."
    )


def _days(tested_on: str) -> tuple[datetime.date, datetime.date]:
    """The first and the last day that a date of some parts may mean."""
    parts = [int(part) for part in tested_on.split("-")]
    year, month, day = (*parts, 0, 0)[:3]
    last_month = month or 12
    last = calendar.monthrange(year, last_month)[1]
    return datetime.date(year, month or 1, day or 1), datetime.date(year, last_month, day or last)


def deviations(plan: Plan, study: Study) -> list[Deviation]:
    """What a study did otherwise than its plan says; what the plan leaves open is no deviation."""
    planned = plan.planned
    told = Specimen.objects.order_by("position").only("series_id", "outcome")
    series = list(
        study.series.select_related("joint", "timber", "adhesive", "setup__loading", "summary").prefetch_related(
            Prefetch("specimens", queryset=told)
        )
    )
    joints = dict(Joint.objects.values_list("pk", "name"))
    found = list(_counts(planned["series"], series, joints))
    found += _words(planned, series)
    found += _rig(planned, series)
    found += _sizes(planned, series)
    return found


def _counts(planned: Sequence[dict[str, Any]], series: Sequence[Series], joints: dict[str, str]) -> Iterable[Deviation]:
    """Specimens of each joint: fewer, more, void, or another joint."""
    wanted: Counter[str] = Counter()
    for group in planned:
        wanted[group["joint"]] += group["n"]
    broken, void = Counter[str](), Counter[str]()
    for one in series:
        outcomes = Counter(each.outcome for each in one.specimens.all())
        void[one.joint_id] += outcomes["void"]
        summed = one.summary.n or 0 if one.is_summary else 0
        broken[one.joint_id] += outcomes["broke"] + outcomes["held"] + summed
    for joint, n in wanted.items():
        name, there = joints.get(joint, joint), broken[joint] + void[joint]
        if not there:
            yield Deviation(f"specimens of {low(name)}", counted(n, "specimen"), "none")
        elif there != n:
            yield Deviation(f"specimens of {low(name)}", str(n), str(there))
        if void[joint]:
            yield Deviation(f"void, {low(name)}", "none", f"{void[joint]} of {there}: the rig failed")
    for joint in broken:
        if joint not in wanted:
            there = broken[joint] + void[joint]
            yield Deviation("another joint", "not planned", f"{joints.get(joint, joint)}, {counted(there, 'specimen')}")


def _words(planned: dict[str, Any], series: Sequence[Series]) -> Iterable[Deviation]:
    """Timber, glue, and what was tested."""
    for about, code, model, field in (
        ("timber", planned["timber"], Timber, "timber"),
        ("glue", planned["adhesive"], AdhesiveClass, "adhesive"),
    ):
        # A bar without a joint has no glue.
        rows = [one for one in series if about != "glue" or one.joint_id != "solid"]
        names = dict(model._default_manager.values_list("pk", "name"))
        said = [(one.label, names.get(getattr(one, f"{field}_id"), "not said")) for one in rows]
        differ = [pair for one, pair in zip(rows, said, strict=True) if getattr(one, f"{field}_id") != code]
        if code and differ:
            yield Deviation(about, names.get(code, code), _of_series(differ, len(rows)))
    words = dict(Series.Tests.choices)
    tested = [(one.label, words[one.tests]) for one in series if one.tests != planned["tests"]]
    if tested:
        about = words.get(planned["tests"], planned["tests"])
        yield Deviation("what was tested", about, _of_series(tested, len(series)))


def _rig(planned: dict[str, Any], series: Sequence[Series]) -> Iterable[Deviation]:
    """The loading, its lengths and the instrument."""
    names = dict(Loading.objects.values_list("pk", "name"))
    others = [(one, one.setup.loading_id) for one in series if one.setup.loading_id != planned["loading"]]
    if others:
        said = _of_series([(one.label, names.get(code, code)) for one, code in others], len(series))
        yield Deviation("loading", names.get(planned["loading"], planned["loading"]), said)
        return
    for name, said in planned["lengths"].items():
        if not hasattr(Setup, name):
            continue
        values = [(one.label, getattr(one.setup, name)) for one in series]
        differ = [(label, _shown(name, value)) for label, value in values if not _same(value, said["si"])]
        if differ:
            about = name.rpartition("_")[0].replace("_", " ") or name
            yield Deviation(about, said["typed"], _of_series(differ, len(series)))
    wanted = planned["instrument"]
    read = [(one.label, _shown("", one.setup.instrument_id)) for one in series if one.setup.instrument_id != wanted]
    if wanted and read:
        yield Deviation("read on", wanted.replace("_", " "), _of_series(read, len(series)))


def _sizes(planned: dict[str, Any], series: Sequence[Series]) -> Iterable[Deviation]:
    for name, said in planned["sizes"].items():
        values = [(one.label, getattr(one, name)) for one in series]
        differ = [(label, _shown(name, value)) for label, value in values if not _same(value, said["si"])]
        if differ:
            about = name.removesuffix("_mm").replace("_", " ")
            yield Deviation(about, said["typed"], _of_series(differ, len(series)))


def _same(value: Any, planned: Any) -> bool:
    if isinstance(value, int | float) and isinstance(planned, int | float):
        return abs(value - planned) <= SAME_LENGTH * abs(planned)
    return bool(value == planned)


def _shown(name: str, value: Any) -> str:
    if value in (None, ""):
        return "not said"
    unit = "mm" if name.endswith("_mm") else "°" if name.endswith("_deg") else ""
    return f"{value:.4g} {unit}".strip() if isinstance(value, float) else str(value).replace("_", " ")


def _of_series(differ: Sequence[tuple[str, str]], of: int) -> str:
    """What was found, each with the series that have it: ``60 mm (series A, C)``."""
    labels: dict[str, list[str]] = {}
    for label, text in differ:
        labels.setdefault(text, []).append(label)
    told = []
    for text, found in sorted(labels.items()):
        told.append(f"{text} (all series)" if len(found) == of > 1 else f"{text} (series {', '.join(sorted(found))})")
    return ", ".join(told)
