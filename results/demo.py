"""The demonstration: invented people and studies, handed in and reviewed the way everybody's are."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import cast

from django.conf import settings
from django.contrib.auth import get_user_model
from django.contrib.auth.models import Group, User
from django.db import transaction
from django.http import QueryDict
from django.utils import timezone

from results.evidence import Noticed
from results.intake.examine import examine_file
from results.intake.findings import ERROR, where
from results.models import Notice, Plan, Revision, Series, Specimen, Study
from results.practice.lodge import lodge
from results.practice.plan import plan
from results.practice.plan_asked import PlanAsked
from results.review.decide import accept
from results.review.hand_in import hand_in, waiting

FOLDER: Path = settings.BASE_DIR / "fixtures" / "demo"
MAKER, READER, REVIEWER = "maker", "reader", "reviewer"
PASSWORD = "sawdust-demo"
# What nobody has reviewed yet, so that there is something to review.
WAITS = "16_bench_stretchers.csv"
# Plans lodged before the tests: by the file of the study that followed, and one that none followed.
PLANS = {
    "14_evening_class.csv": (
        datetime(2025, 2, 20, 18, tzinfo=UTC),
        "title=What an evening class can make&joint=mt_blind&joint=loose_tenon&joint=dowel&joint=plate"
        "&joint=pocket_screw&loading=cantilever_arm&arm_mm=1 ft&timber=maple_red&adhesive=pva&ratio=1.25&cv_pct=15"
        "&member_thickness_mm=3/4 in&member_depth_mm=2 in&afford=8&blocks=2&instrument=force_gauge&full_scale=1000 lb",
    ),
    "": (
        datetime(2024, 9, 15, 9, tzinfo=UTC),
        "title=Open joints after a wet summer&joint=bridle&joint=lap_half&loading=cantilever_arm&arm_mm=300"
        "&timber=ash_white&adhesive=pva&member_thickness_mm=22&member_depth_mm=45&cv_pct=20&ratio=1.4"
        "&instrument=luggage_scale&full_scale=50 kg",
    ),
}
# The key of each file's study, so that loading it again finds the study saved first.
_KEYS = uuid.UUID("6f0b1c1e-6a2b-4f0e-9a53-0d6f1f3c7a11")


class DemoError(RuntimeError):
    """A demonstration file that the intake refuses, with its findings."""


@dataclass(frozen=True)
class Loaded:
    """What a load did, and what is there after it.

    Parameters
    ----------
    added, kept : int
        Studies saved now, and those that were there already.
    waiting : int
        Of these, studies that wait for review.
    series, specimens : int
        Records of all demonstration studies together.
    """

    added: int
    kept: int
    waiting: int
    series: int
    specimens: int


def load_demo(folder: Path = FOLDER) -> Loaded:
    """Hand in every demonstration study that is not there yet, and let the demonstration's reviewer accept it.

    Parameters
    ----------
    folder : Path
        Where the spreadsheets are.

    Returns
    -------
    Loaded
        Counts.

    Raises
    ------
    DemoError
        If the intake finds an error in a file; nothing is saved then.
    """
    files = sorted(path for path in folder.iterdir() if path.suffix in (".csv", ".xlsx"))
    if not files:
        raise DemoError(f"{folder} holds no spreadsheets.")
    with transaction.atomic():
        people = _people()
        keys = {path: uuid.uuid5(_KEYS, path.name) for path in files}
        saved = set(Study.objects.filter(submission_key__in=keys.values()).values_list("submission_key", flat=True))
        new = [path for path in files if keys[path] not in saved]
        for path in new:
            _save(path, people, keys[path])
        _lodged("", people[MAKER])
        # They would only say what happened before anybody was there to be told.
        told = Notice.objects.filter(user=people[MAKER], study__submission_key__in=[keys[path] for path in new])
        told.update(seen_at=timezone.now(), sent_at=timezone.now())
    return Loaded(
        added=len(new),
        kept=len(files) - len(new),
        waiting=Study.objects.filter(submission_key__in=keys.values(), status=Study.Status.SUBMITTED).count(),
        series=Series.objects.filter(study__submission_key__in=keys.values()).count(),
        specimens=Specimen.objects.filter(series__study__submission_key__in=keys.values()).count(),
    )


def _save(path: Path, people: dict[str, User], key: uuid.UUID) -> None:
    examined = examine_file(path.read_bytes(), path.name)
    if examined.draft is None or not examined.may_be_saved:
        raise DemoError("\n".join(_told(path, examined.noticed)))
    if path.name in PLANS:
        examined.draft.study.plan = _lodged(path.name, people[MAKER])
    study = hand_in(examined.draft, people[MAKER], examined.noticed, key)
    if path.name != WAITS:
        accept(cast(Revision, waiting(study)), people[REVIEWER])


def _lodged(name: str, maker: User) -> Plan:
    """A plan of the demonstration, lodged when it is said to have been."""
    at, query = PLANS[name]
    key = uuid.uuid5(_KEYS, f"plan {name}")
    found = Plan.objects.filter(key=key).first()
    if found is not None:
        return found
    asked = PlanAsked(QueryDict(query))
    planned = plan(asked)
    if planned is None:
        raise DemoError(f"The plan {name or 'that none followed'} can't be made: {asked.faults}.")
    return lodge(planned, maker, key, invented=True, at=at)


def _told(path: Path, noticed: Iterable[Noticed]) -> Iterator[str]:
    for one in noticed:
        if one.severity == ERROR:
            yield f"{path.name}, {where(one.place) or one.record}: {one.message}"


def _people() -> dict[str, User]:
    """Who contributes, who only reads and who reviews, by name, with the password that the demonstration prints."""
    found = {}
    for name in (MAKER, READER, REVIEWER):
        user, new = get_user_model().objects.get_or_create(username=name)
        if new:
            user.set_password(PASSWORD)
            user.save(update_fields=["password"])
        found[name] = user
    found[REVIEWER].groups.add(Group.objects.get(name="reviewers"))
    return found
