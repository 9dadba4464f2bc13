"""Studies with photos, and the people who look at them."""

from __future__ import annotations

from django.contrib.auth.models import Permission
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from results.models import Photo, Study
from results.photos.keep import Sent, add
from results.photos.remake import remake
from tests.factories import make_series, make_specimen, make_study, make_user
from tests.results.photos.pictures import photo

STATUSES = ["draft", "submitted", "returned", "accepted", "withdrawn"]
PEOPLE = ["nobody", "owner", "other", "reviewer"]


def person(name: str):
    user = make_user(name)
    if name == "reviewer":
        user.user_permissions.add(Permission.objects.get(codename="review_study"))
    return user


def as_(name: str) -> Client:
    client = Client()
    if name != "nobody":
        client.force_login(person(name))
    return client


def a_study(status: str = "accepted") -> Study:
    study = make_study(status=status, contributor=person("owner"))
    series = make_series(study, label="Oak tenons")
    make_specimen(series, label="A1")
    make_specimen(series, label="A2")
    return study


def a_photo(study: Study, seed: int = 1, caption: str = "Tenon broken off", **of) -> Photo:
    add(study, study.contributor, [Sent(remake(photo(seed=seed), 12), caption, **of)])
    return Photo.objects.get(caption=caption)


def file(data: bytes, name: str = "IMG_0001.HEIC") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, data)


def row(at: int, data: bytes | None, caption: str = "Tenon broken off", series: str = "", specimen: str = "") -> dict:
    said = {f"caption-{at}": caption, f"series-{at}": series, f"specimen-{at}": specimen}
    return said if data is None else said | {f"photo-{at}": file(data)}


def address(study: Study) -> str:
    return f"/studies/{study.pk}/photos/"
