"""All that the book keeps of one person, as one archive."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Sequence
from typing import IO, Any
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile

from allauth.account.models import EmailAddress
from allauth.mfa.utils import is_mfa_enabled
from django.contrib.auth.models import User
from django.core.serializers.json import DjangoJSONEncoder
from django.db.models import Q
from django.db.models.fields.files import FieldFile
from rest_framework.authtoken.models import Token

from results.models import Answer, FormDraft, Notice, Photo, Plan, Profile, Question, Revision, Rig, Study, Upload
from results.releases.snapshot import one_moment
from results.releases.tables import DATA, Table
from results.releases.writer import cells
from results.review.document import canonical, read, written

READ_ME = """All that Breakbook keeps of you, as it was when you asked for it.

account.json       the account itself: name, addresses, how you are told, and your studies with their states
tables/            your studies, whatever their state, as tables with the columns of the read API
studies/<number>/  each study whole, as typed and in SI; revisions/ has what was handed in, and what became of it
photos/<study>/    photos on your studies, and those that you sent to others
uploads/           the spreadsheets that you sent, as they came
questions.json     what you asked and answered, and what others asked on your studies
forms.json         forms that you have begun
rigs.json          your rigs and their calibrations
plans.json         tests that you planned and lodged
notices.json       what you were told

Your password, the secret of your second factor and your token are not in it: the book keeps the first in a way that
nobody can read, and the others would open your account to whoever finds this file.
"""


def write(user: User, file: IO[bytes]) -> None:
    """Write one person's own data as a ZIP archive.

    Parameters
    ----------
    user : User
        Whose.
    file : binary file
        Where to, open for writing; tables are written row by row.
    """
    with one_moment(), ZipFile(file, "w", ZIP_DEFLATED) as archive:
        archive.writestr("read-me.txt", READ_ME)
        _json(archive, "account.json", _account(user))
        _studies(archive, user)
        lost = _files(archive, user)
        _json(archive, "questions.json", _questions(user))
        _json(archive, "forms.json", _rows(FormDraft.objects.filter(user=user)))
        _json(archive, "rigs.json", _rigs(user))
        _json(archive, "plans.json", _rows(Plan.objects.filter(contributor=user).order_by("pk")))
        _json(archive, "notices.json", _rows(Notice.objects.filter(user=user)))
        if lost:
            archive.writestr("lost.txt", "".join(f"{name}\n" for name in lost))


def _account(user: User) -> dict[str, Any]:
    token = Token.objects.filter(user=user).first()
    return {
        "username": user.get_username(),
        "email": user.email,
        "addresses": list(EmailAddress.objects.filter(user=user).values("email", "verified", "primary")),
        "joined": user.date_joined,
        "last_login": user.last_login,
        "groups": list(user.groups.values_list("name", flat=True)),
        "second_factor": is_mfa_enabled(user),
        "told": Profile.objects.filter(user=user).values_list("digest", flat=True).first(),
        "token_made": token.created if token else None,
        "studies": list(Study.objects.filter(contributor=user).order_by("pk").values("id", "title", "status")),
    }


def _studies(archive: ZipFile, user: User) -> None:
    own = Study.objects.filter(contributor=user).order_by("pk")
    for table in DATA:
        _table(archive, table, list(own.values_list("pk", flat=True)))
    for study in own:
        archive.writestr(f"studies/{study.pk}/study.json", canonical(written(study)))
    for revision in Revision.objects.filter(Q(study__in=own) | Q(made_by=user)).iterator(chunk_size=20):
        name = f"studies/{revision.study_id}/revisions/{revision.number}"
        archive.writestr(f"{name}.json", canonical(read(revision)))
        kept = ("number", "state", "made_at", "why", "restores", "decided_at", "remarks", "document_sha256")
        _json(archive, f"{name}-about.json", {field: getattr(revision, field) for field in kept})


def _table(archive: ZipFile, table: Table, studies: Sequence[int]) -> None:
    """A table of these studies, in whatever state they are, as a release has it of accepted ones."""
    found = table.model._default_manager.filter(**{f"{table.study}__in": studies}).order_by(*table.order)
    rows = found.values_list(*(column.expression for column in table.columns)).iterator(chunk_size=2_000)
    with archive.open(f"tables/{table.name}.csv", "w") as raw, io.TextIOWrapper(raw, "utf-8", newline="") as text:
        sheet = csv.writer(text)
        sheet.writerow([column.name for column in table.columns])
        sheet.writerows(cells(rows, table.columns))


def _files(archive: ZipFile, user: User) -> list[str]:
    """Photos and uploads; returns those whose file is not there."""
    lost = []
    about = []
    for photo in Photo.objects.filter(Q(study__contributor=user) | Q(sent_by=user)):
        name = f"photos/{photo.study_id}/{photo.pk}.jpg"
        about.append({"file": name, "caption": photo.caption, "sent": photo.created_at})
        if not _copy(archive, photo.file, name, ZIP_STORED):
            lost.append(name)
    _json(archive, "photos/captions.json", about)
    about = []
    for upload in Upload.objects.filter(user=user):
        name = f"uploads/{upload.pk}.{upload.kind}"
        about.append({"file": name, "name": upload.name, "sent": upload.created_at, "study": upload.study_id})
        if not _copy(archive, upload.file, name, ZIP_DEFLATED):
            lost.append(name)
    _json(archive, "uploads/names.json", about)
    return lost


def _copy(archive: ZipFile, file: FieldFile, name: str, how: int) -> bool:
    try:
        source = file.open("rb")
    except OSError:
        return False
    with source:
        archive.writestr(name, source.read(), compress_type=how)
    return True


def _questions(user: User) -> list[dict[str, Any]]:
    """What this person asked, answered or was asked; of others' words those they were said to."""
    mine = Q(asked_by=user) | Q(answers__by=user) | Q(study__contributor=user)
    answers: dict[int, list[dict[str, Any]]] = {}
    found = Question.objects.filter(mine).distinct()
    for one in Answer.objects.filter(question__in=found).select_related("by"):
        said = {"at": one.at, "own": one.by_id == user.pk, "text": one.text}
        answers.setdefault(one.question_id, []).append(said)
    kept = ("kind", "about", "text", "asked_at", "state", "resolution", "resolved_at")
    return [
        {
            "study": one.study_id,
            "own": one.asked_by_id == user.pk,
            **{field: getattr(one, field) for field in kept},
            "answers": answers.get(one.pk, []),
        }
        for one in found
    ]


def _rigs(user: User) -> list[dict[str, Any]]:
    return [
        {**row, "calibrations": _rows(rig.calibrations.all())}
        for rig, row in ((rig, _row(rig)) for rig in Rig.objects.filter(user=user))
    ]


def _rows(records: Iterable[Any]) -> list[dict[str, Any]]:
    return [_row(record) for record in records]


def _row(record: Any) -> dict[str, Any]:
    """A record's own fields, but not whose it is."""
    hidden = ("user", "rig", "contributor")
    return {
        field.name: field.value_from_object(record)
        for field in record._meta.concrete_fields
        if field.name not in hidden
    }


def _json(archive: ZipFile, name: str, value: Any) -> None:
    archive.writestr(name, json.dumps(value, cls=DjangoJSONEncoder, indent=1, ensure_ascii=False))
