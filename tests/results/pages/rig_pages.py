"""Rigs of people's own and their calibrations, for the pages that show them."""

from __future__ import annotations

import datetime

from django.test import Client

from results.intake.rigs import read_rig
from results.models import Calibration, Rig
from tests.factories import make_user

MINE = "/mine/rigs/"
ARM = {"setup": "bench arm", "loading": "cantilever_arm", "instrument": "luggage_scale", "arm": "300 mm"}
POINTS = "0, 0.2\n10 kg, 97\n20 kg, 194.5\n30 kg, 291"


def as_(name: str | None) -> Client:
    client = Client()
    if name:
        client.force_login(make_user(name))
    return client


def a_rig(user: str = "owner", **cells: str) -> Rig:
    rig = read_rig({**ARM, **{name.replace("_", " "): text for name, text in cells.items()}}).fill(Rig())
    rig.user = make_user(user)
    rig.save()
    return Rig.objects.get(pk=rig.pk)


def a_calibration(rig: Rig, **fields) -> Calibration:
    said = {
        "made_on": datetime.date(2025, 3, 14),
        "unit": "N",
        "points": [["0", "0.2 N"], ["10 kg", "97 N"], ["20 kg", "194.5 N"], ["30 kg", "291 N"]],
        "hung_n": [0.0, 98.0665, 196.133, 294.1995],
        "read_n": [0.2, 97.0, 194.5, 291.0],
        "known_u_n": [0.0, 0.0, 0.0, 0.0],
        "weights_from": "weighed at the mill",
    }
    return Calibration.objects.create(rig=rig, **{**said, **fields})


def typed(**changes: str) -> dict[str, str]:
    cells = {**ARM, **{name.replace("_", " "): value for name, value in changes.items()}}
    return {f"setup-{name.replace(' ', '_')}": value for name, value in cells.items()} | {"study-length_unit": "mm"}


def seen(rig: Rig) -> str:
    return Rig.objects.get(pk=rig.pk).changed_at.isoformat()
