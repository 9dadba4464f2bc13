"""Taking one's own data along, and leaving."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from zipfile import ZipFile

import pytest
from django.contrib.auth import get_user_model
from django.core.files.base import ContentFile
from django.core.files.storage import FileSystemStorage, default_storage
from django.db.models.signals import post_delete
from django.utils import timezone
from rest_framework.authtoken.models import Token

from results.accounts.leave import leave
from results.models import (
    Answer,
    Calibration,
    Entry,
    FormDraft,
    Photo,
    Profile,
    Question,
    Revision,
    Rig,
    Specimen,
    Study,
    Upload,
    data_version,
)
from results.review.document import packed, written
from tests.factories import make_loading, make_user

from .people import log_in, second_factor
from .shops import a_shop, text

pytestmark = pytest.mark.django_db
STATES = ("draft", "submitted", "returned", "accepted", "withdrawn")


@pytest.fixture(autouse=True)
def media(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


@pytest.fixture
def owner():
    return make_user("owner", email="owner@shop.example")


def a_photo(study: Study, **fields) -> Photo:
    """A photo with its two files."""
    photo = Photo(study=study, caption=f"break in {study.title}", width=2, height=2, size_bytes=3, **fields)
    photo.sha256 = f"{photo.pk.hex}"
    photo.file.save("x", ContentFile(b"jpg"), save=False)
    photo.thumbnail.save("x", ContentFile(b"small"), save=False)
    photo.save()
    return photo


def a_revision(study: Study, number: int = 1, state: str = "submitted", **fields) -> Revision:
    """A revision with a document that can be read."""
    data, mark = packed(written(study))
    return Revision.objects.create(
        study=study, number=number, state=state, document=data, document_sha256=mark, **fields
    )


def kept_of(user) -> dict[str, Study]:
    """One study in each state, and one of everything else that is kept of a person."""
    studies = {state: a_shop(f"A {state} one", status=state, contributor=user) for state in STATES}
    other = make_user("other")
    for study in studies.values():
        a_photo(study, sent_by=user)
    a_revision(studies["submitted"], made_by=user)
    a_revision(studies["accepted"], state="accepted", made_by=user, decided_by=other)
    a_revision(studies["accepted"], 2, made_by=user, why="the arm was 310 mm")
    rig = Rig.objects.create(user=user, label="my rig", loading=make_loading(), typed={"arm_mm": "300 mm"})
    Calibration.objects.create(
        rig=rig, made_on="2025-03-01", unit="kg", points=[["1", "1.1"]], hung_n=[9.8], read_n=[10.8]
    )
    studies["accepted"].setups.update(rig=rig)
    FormDraft.objects.create(user=user, title="half a study", typed={"study-title": "half a study"})
    upload = Upload(user=user, kind="csv", name="tenons.csv", size_bytes=3, sha256="0" * 64, study=studies["accepted"])
    upload.file.save("x", ContentFile(b"a,b"), save=False)
    upload.save()
    theirs = a_shop("Somebody else's", contributor=other)
    Question.objects.create(study=theirs, kind="question", text="Which glue?", asked_by=user)
    asked = Question.objects.create(study=studies["accepted"], kind="doubt", text="Was it level?", asked_by=other)
    Answer.objects.create(question=asked, by=user, text="It was.")
    Token.objects.create(user=user)
    Profile.objects.create(user=user, digest="weekly")
    second_factor(user)
    return studies


def archive_of(client) -> ZipFile:
    response = client.get("/account/own-data.zip")
    assert response.headers["Content-Type"] == "application/zip"
    assert response.headers["Content-Disposition"] == 'attachment; filename="breakbook-own-data.zip"'
    assert response.headers["Cache-Control"] == "no-store, private"
    return ZipFile(io.BytesIO(response.getvalue()))


def table(archive: ZipFile, name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(archive.read(f"tables/{name}.csv").decode(), newline="")))


def test_own_data_has_everything_of_oneself(client, owner):
    studies = kept_of(owner)
    client.force_login(owner)

    archive = archive_of(client)
    account = json.loads(archive.read("account.json"))

    assert archive.testzip() is None
    assert account["username"] == "owner" and account["told"] == "weekly" and account["second_factor"] is True
    assert [(one["id"], one["status"]) for one in account["studies"]] == [
        (study.pk, state) for state, study in studies.items()
    ]
    assert [int(row["study_id"]) for row in table(archive, "studies")] == [study.pk for study in studies.values()]
    assert len(table(archive, "specimens")) == Specimen.objects.filter(series__study__contributor=owner).count()
    for study in studies.values():
        whole = json.loads(archive.read(f"studies/{study.pk}/study.json"))
        assert whole["study"]["title"] == study.title
        assert sum(len(one.get("specimens", ())) for one in whole["series"]) == 6
        assert archive.read(f"photos/{study.pk}/{study.photos.get().pk}.jpg") == b"jpg"
    accepted = studies["accepted"].pk
    assert len([name for name in archive.namelist() if name.endswith("-about.json")]) == 3
    assert json.loads(archive.read(f"studies/{accepted}/revisions/2-about.json"))["why"] == "the arm was 310 mm"
    assert json.loads(archive.read(f"studies/{accepted}/revisions/1.json"))["study"]["title"] == "A accepted one"
    (upload,) = (name for name in archive.namelist() if name.startswith("uploads/") and name.endswith(".csv"))
    assert archive.read(upload) == b"a,b"
    asked = json.loads(archive.read("questions.json"))
    assert {(one["text"], one["own"]) for one in asked} == {("Which glue?", True), ("Was it level?", False)}
    assert [one["typed"] for one in json.loads(archive.read("forms.json"))] == [{"study-title": "half a study"}]
    (rig,) = json.loads(archive.read("rigs.json"))
    assert rig["label"] == "my rig" and rig["calibrations"][0]["points"] == [["1", "1.1"]]


def test_own_data_has_no_secrets_and_nothing_of_others(client, owner):
    kept_of(owner)
    secret, key = "JBSWY3DPEHPK3PXPJBSWY3DPEHPK3PXP", Token.objects.get(user=owner).key
    client.force_login(owner)

    archive = archive_of(client)
    everything = b"\n".join(archive.read(name) for name in archive.namelist()).decode()

    assert secret not in everything and key not in everything and owner.password not in everything
    assert "Somebody else's" not in everything and "other" not in archive.read("questions.json").decode()
    client.force_login(make_user("other"))
    own = archive_of(client)
    assert "A draft one" not in b"\n".join(own.read(name) for name in own.namelist()).decode()


def test_own_data_names_the_files_that_are_lost(client, owner, media):
    photo = a_photo(a_shop("Mine", contributor=owner), sent_by=owner)
    Path(photo.file.path).unlink()
    client.force_login(owner)

    assert archive_of(client).read("lost.txt").decode() == f"photos/{photo.study_id}/{photo.pk}.jpg\n"


def test_the_page_says_first_what_goes_and_what_stays(client, owner):
    kept_of(owner)
    client.force_login(owner)

    page = text(client.get("/account/delete/"))
    goes, stays = page[page.index("What goes") : page.index("What stays")], page[page.index("What stays") :]

    for state, named in (("draft", "draft"), ("submitted", "submitted"), ("returned", "returned with remarks")):
        assert f"The study A {state} one , {named}." in goes
    for said in ("token", "3 photos", "1 change to", "1 form that", "1 rig with", "1 spreadsheet as you sent it"):
        assert said in goes
    for said in ("A accepted one , accepted", "A withdrawn one , withdrawn", "2 photos", "(2 texts)"):
        assert said in stays
    assert "it stays under “former contributor”" in stays
    assert get_user_model().objects.filter(pk=owner.pk).exists()


def test_leaving_takes_what_was_never_accepted_and_leaves_the_rest(client, owner, django_capture_on_commit_callbacks):
    studies = kept_of(owner)
    files = {state: [one.photos.get().file.name, one.photos.get().thumbnail.name] for state, one in studies.items()}
    upload = Upload.objects.get().file.name
    before = data_version().number
    log_in(client, "owner", "sawdust")
    client.force_login(owner)

    with django_capture_on_commit_callbacks(execute=True):
        response = client.post("/account/delete/", {"name": "owner", "password": "sawdust"}, follow=True)

    assert response.redirect_chain[-1][0] == "/account/deleted/"
    assert "You are logged out." in text(response) and "_auth_user_id" not in client.session
    assert not get_user_model().objects.filter(username="owner").exists()
    left = Study.objects.filter(pk__in=[one.pk for one in studies.values()])
    assert set(left.values_list("status", "contributor")) == {("accepted", None), ("withdrawn", None)}
    assert [(one.study_id, one.number, one.made_by_id) for one in Revision.objects.all()] == [
        (studies["accepted"].pk, 1, None)
    ]
    assert not any(one.objects.exists() for one in (FormDraft, Rig, Calibration, Upload, Profile, Token))
    assert Question.objects.get(text="Which glue?").asked_by is None
    assert Answer.objects.get(text="It was.").by is None
    kept = {state: [default_storage.exists(name) for name in names] for state, names in files.items()}
    assert kept == {state: [state in ("accepted", "withdrawn")] * 2 for state in STATES}
    assert not default_storage.exists(upload)
    assert data_version().number > before
    page = text(client.get(studies["accepted"].get_absolute_url()))
    assert "former contributor" in page and "owner" not in page


def test_a_study_with_its_contributor_names_no_former_one(client, owner):
    assert "former contributor" not in text(client.get(a_shop(contributor=owner).get_absolute_url()))


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"name": "owner", "password": "wrong"}, "This is not your password."),
        ({"name": "Owner", "password": "sawdust"}, "“Owner” is not this account's name, which is owner."),
        ({"name": "", "password": "sawdust"}, "This field is required."),
        ({"name": "owner"}, "This field is required."),
    ],
)
def test_leaving_by_a_slip_is_refused(client, owner, typed, said):
    client.force_login(owner)

    response = client.post("/account/delete/", typed)

    assert response.status_code == 422 and said in text(response)
    assert get_user_model().objects.filter(pk=owner.pk).exists()


def test_wrong_passwords_on_the_way_out_are_counted(client, owner):
    client.force_login(owner)
    typed = {"name": "owner", "password": "wrong"}

    tries = [client.post("/account/delete/", typed).status_code for _ in range(6)]

    assert tries == [422] * 5 + [429]


def test_an_account_without_a_password_leaves_by_its_name(client):
    user = make_user("owner")
    user.set_unusable_password()
    user.save()
    client.force_login(user)

    client.post("/account/delete/", {"name": "owner"})

    assert not get_user_model().objects.exists()


def test_leaving_is_all_or_nothing(owner):
    studies = kept_of(owner)

    def lights_out(**kwargs):
        raise RuntimeError("the lights went out")

    # Nearly all is deleted by then.
    post_delete.connect(lights_out, sender=get_user_model())
    try:
        with pytest.raises(RuntimeError):
            leave(owner)
    finally:
        post_delete.disconnect(lights_out, sender=get_user_model())

    assert Study.objects.filter(contributor=owner).count() == len(studies)
    assert Upload.objects.count() == 1 and default_storage.exists(Upload.objects.get().file.name)


@pytest.mark.django_db(transaction=True)
def test_each_file_goes_once_and_one_that_can_not_go_keeps_no_other(owner, monkeypatch, caplog):
    kept_of(owner)
    stuck = Photo.objects.get(study__status="draft").file.name
    goes = {Upload.objects.get().file.name}
    for photo in Photo.objects.exclude(study__status__in=("accepted", "withdrawn")):
        goes |= {photo.file.name, photo.thumbnail.name}
    asked, really = [], FileSystemStorage.delete

    def delete(storage, name):
        asked.append(name)
        if name == stuck:
            raise PermissionError("that folder may not be written")
        really(storage, name)

    monkeypatch.setattr(FileSystemStorage, "delete", delete)

    leave(owner)  # in a transaction of its own, which ends here

    assert not get_user_model().objects.filter(username="owner").exists()
    assert sorted(asked) == sorted(goes)
    assert [name for name in goes if default_storage.exists(name)] == [stuck]
    assert "that folder may not be written" in caplog.text


def test_entries_of_the_chain_stay_when_who_made_them_leaves(owner):
    study = a_shop(contributor=owner)
    revision = a_revision(study, state="accepted", made_by=owner)
    Entry.objects.create(
        number=1,
        at=timezone.now(),
        study=study,
        revision=revision,
        what="accepted",
        by=owner.pk,
        before="0" * 64,
        hash="1" * 64,
    )

    leave(owner)

    assert Entry.objects.get().by == owner.pk
