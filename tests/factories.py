"""Made records with sensible defaults; words of the vocabulary are made on first use if they aren't there."""

from __future__ import annotations

from itertools import count
from typing import Any

from django.contrib.auth import get_user_model
from django.contrib.auth.models import Permission
from django.utils import timezone

from results.models import (
    AdhesiveClass,
    FailurePlace,
    Finding,
    Joint,
    JointFamily,
    Loading,
    Series,
    SeriesFooting,
    Setup,
    Specimen,
    Study,
    Summary,
    Timber,
)
from results.review import decide
from results.review.hand_in import waiting

# Labels are unique within their study or series; a running number keeps them so.
_numbers = count(1)
_SOURCE = "common practice"


def make_user(username: str = "maker", **fields: Any) -> Any:
    """The user of that name, made if need be; the password is ``sawdust``."""
    users = get_user_model().objects
    return users.filter(username=username).first() or users.create_user(username, password="sawdust", **fields)


def make_reviewer(username: str = "judge", **fields: Any) -> Any:
    """A user who may review; the same one for the same name."""
    user = make_user(username, **fields)
    user.user_permissions.add(Permission.objects.get(content_type__app_label="results", codename="review_study"))
    return user


def accept(study: Study, reviewer: Any = None, remarks: str = "") -> Study:
    """The study, after a reviewer accepted the revision of it that waits."""
    decide.accept(waiting(study), reviewer or make_reviewer(), remarks)
    study.refresh_from_db()
    return study


def make_joint(code: str = "mt_blind", *, family: str = "mortise_tenon", **fields: Any) -> Joint:
    """The joint of that code; a family of its own is made with it."""
    found = Joint.objects.filter(code=code).first()
    if found:
        return found
    group, _ = JointFamily.objects.get_or_create(code=family, defaults={"name": family, "source": _SOURCE})
    return Joint.objects.create(
        **{"code": code, "name": code.replace("_", " "), "family": group, "source": _SOURCE, **fields}
    )


def make_loading(code: str = "cantilever_arm", *, action: str = "bending", **fields: Any) -> Loading:
    """The loading of that code."""
    defaults = {"name": code.replace("_", " "), "action": action, "formula": "M = F a", "source": _SOURCE}
    return Loading.objects.get_or_create(code=code, defaults={**defaults, **fields})[0]


def make_timber(code: str = "oak_northern_red", **fields: Any) -> Timber:
    """The timber of that code."""
    defaults = {
        "name": code.replace("_", " "),
        "group": "hardwood",
        "mor_12_mpa": 99.0,
        "provenance": "made for a test",
        "source": _SOURCE,
    }
    return Timber.objects.get_or_create(code=code, defaults={**defaults, **fields})[0]


def make_adhesive(code: str = "pva", **fields: Any) -> AdhesiveClass:
    """The class of glue of that code."""
    return AdhesiveClass.objects.get_or_create(code=code, defaults={"name": code, "source": _SOURCE, **fields})[0]


def make_failure_place(code: str = "bond_line", **fields: Any) -> FailurePlace:
    """The failure place of that code."""
    defaults = {"name": code.replace("_", " "), "source": _SOURCE}
    return FailurePlace.objects.get_or_create(code=code, defaults={**defaults, **fields})[0]


def make_study(title: str = "Rails into posts", **fields: Any) -> Study:
    """An accepted study of a shop's own tests; another ``status`` gets what the status needs."""
    status = fields.setdefault("status", Study.Status.ACCEPTED)
    if status == Study.Status.WITHDRAWN:
        fields.setdefault("withdrawn_reason", "the arm was measured wrongly")
    if status in (Study.Status.ACCEPTED, Study.Status.WITHDRAWN):
        fields.setdefault("accepted_at", timezone.now())
    if "contributor" not in fields:
        fields["contributor"] = make_user()
    defaults = {
        "question": "Which joint takes more?",
        "workshop": "Shop by the river",
        "tested_on": "2025-03",
    }
    return Study.objects.create(**{"title": title, **defaults, **fields})


def make_setup(study: Study | None = None, *, loading: str = "cantilever_arm", **fields: Any) -> Setup:
    """A setup with an arm of 300 mm."""
    fields.setdefault("label", f"rig {next(_numbers)}")
    fields.setdefault("arm_mm", 300.0)
    return Setup.objects.create(study=study or make_study(), loading=make_loading(loading), **fields)


def make_series(
    study: Study | None = None,
    *,
    setup: Setup | None = None,
    joint: str = "mt_blind",
    timber: str | None = "oak_northern_red",
    adhesive: str | None = "pva",
    **fields: Any,
) -> Series:
    """A series of blind mortise and tenon in oak, 20 mm by 40 mm, on a setup of its own unless given one."""
    study = study or (setup.study if setup else make_study())
    defaults = {
        "label": f"series {next(_numbers)}",
        "member_thickness_mm": 20.0,
        "member_depth_mm": 40.0,
    }
    return Series.objects.create(
        study=study,
        setup=setup or make_setup(study),
        joint=make_joint(joint),
        timber=make_timber(timber) if timber else None,
        adhesive=make_adhesive(adhesive) if adhesive else None,
        **{**defaults, **fields},
    )


def make_specimen(
    series: Series | None = None,
    *,
    peak_load_n: float | None = 1240.0,
    failure_place: str | None = None,
    **fields: Any,
) -> Specimen:
    """A specimen that broke at 1240 N, read in newtons; a void one has a reason instead of a reading."""
    number = next(_numbers)
    defaults = {"label": f"S{number}", "position": number, "outcome": Specimen.Outcome.BROKE}
    if fields.get("outcome") == Specimen.Outcome.VOID:
        defaults |= {"void_reason": "the clamp slipped"}
        peak_load_n = None
    else:
        defaults |= {"reading_typed": f"{peak_load_n:g}" if peak_load_n else "read", "reading_unit": "N"}
    return Specimen.objects.create(
        series=series or make_series(),
        peak_load_n=peak_load_n,
        failure_place=make_failure_place(failure_place) if failure_place else None,
        **{**defaults, **fields},
    )


def make_summary(series: Series, **fields: Any) -> Summary:
    """A published mean peak load of 1000 N with neither count nor spread."""
    return Summary.objects.create(
        series=series, **{"quantity": "force", "mean_typed": "1000", "mean_si": 1000.0, **fields}
    )


def make_footing(series: Series, code: str = "at_joint", **fields: Any) -> SeriesFooting:
    """A stored footing, with two broken specimens unless told otherwise."""
    defaults = {"unit": "N·m", "n": 2, "sum_log": 11.0, "sum_sq_log": 60.6}
    return SeriesFooting.objects.create(series=series, code=code, **{**defaults, **fields})


def make_finding(study: Study, **fields: Any) -> Finding:
    """A doubt about a study."""
    defaults = {"code": "far_from_others", "severity": "doubt", "message": "It lies far from the others."}
    return Finding.objects.create(study=study, **{**defaults, **fields})
